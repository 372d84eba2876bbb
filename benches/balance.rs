//! Polarity balance of a layout of 200 turnouts with 60 and more independent unbalanced cycles.
use divan::Bencher;
use gapwright::rails::balance::{
    Budget, Conditions, directions, neighbours, reversing_sections, unbalanced,
};

#[path = "../tests/it/outside/large.rs"]
mod large;

fn main() {
    divan::main();
}

#[divan::bench]
fn reference_directions(bencher: Bencher) {
    let track = large::club(1);
    bencher.bench_local(|| directions(divan::black_box(&track)));
}

#[divan::bench]
fn unbalanced_cycles(bencher: Bencher) {
    let track = large::club(1);
    bencher.bench_local(|| unbalanced(divan::black_box(&track)));
}

#[divan::bench(args = [1, 2, 3, 4])]
fn sections(bencher: Bencher, seed: u64) {
    let track = large::club(seed);
    let conditions = Conditions::default();
    bencher.bench_local(|| {
        reversing_sections(divan::black_box(&track), &conditions, &Budget::default())
    });
}

#[divan::bench(args = [1, 2, 3, 4])]
fn sections_without_neighbours(bencher: Bencher, seed: u64) {
    let track = large::club(seed);
    let conditions = Conditions { apart: neighbours(&track), ..Conditions::default() };
    bencher.bench_local(|| {
        reversing_sections(divan::black_box(&track), &conditions, &Budget::default())
    });
}
