//! How long one solve takes, on two and on twelve bridges whose rails are joined.
use gapwright::circuit::{Network, Node, Solution, Unsolved, solve, solve_from};

fn main() {
    divan::main();
}

/// A row of bridges, each on its own supply; every other one brakes low, the others drive.
fn row(bridges: usize) -> Network {
    let mut net = Network::default();
    let mut last: Option<[Node; 2]> = None;
    for k in 0..bridges {
        let (low, high) = (net.node(), net.node());
        net.one_way_source(low, high, 14.0, 0.05);
        let rails = [k % 2 == 0, false].map(|to_high| {
            let (out, rail) = (net.node(), net.node());
            net.resistor(if to_high { high } else { low }, out, 0.06);
            net.diode(low, out, 0.7, 0.05);
            net.diode(out, high, 0.7, 0.05);
            net.resistor(out, rail, 0.1);
            rail
        });
        if let Some(last) = last {
            net.resistor(last[0], rails[0], 0.02);
            net.resistor(last[1], rails[1], 0.02);
        }
        last = Some(rails);
    }
    net
}

#[divan::bench(args = [2, 12])]
fn cold(bencher: divan::Bencher, bridges: usize) {
    let net = row(bridges);
    bencher.bench_local(|| solve(divan::black_box(&net)));
}

#[divan::bench(args = [2, 12])]
fn from_the_last_state(bencher: divan::Bencher, bridges: usize) {
    let net = row(bridges);
    let hint = solve(&net).map(|solution| solution.conducting().to_vec()).unwrap_or_default();
    bencher.bench_local(|| -> Result<Solution, Unsolved> {
        solve_from(divan::black_box(&net), &hint)
    });
}

#[divan::bench(args = [2, 12])]
fn first_of_its_graph(bencher: divan::Bencher, bridges: usize) {
    let nets = [row(bridges), row(bridges + 1)];
    let mut turn = 0;
    bencher.bench_local(|| {
        turn = 1 - turn;
        solve(divan::black_box(&nets[turn]))
    });
}
