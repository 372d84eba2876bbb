use super::*;
use proptest::prelude::*;
use twice::Twice;

#[derive(Debug, Clone, Copy)]
pub struct Spec {
    kind: u8,
    from: usize,
    to: usize,
    volts: f64,
    ohm: f64,
}

pub fn build(nodes: usize, specs: &[Spec]) -> Network {
    let mut net = Network::default();
    let nodes: Vec<Node> = (0..nodes).map(|_| net.node()).collect();
    for s in specs {
        let (from, to) = (nodes[s.from % nodes.len()], nodes[s.to % nodes.len()]);
        match s.kind {
            0 => net.resistor(from, to, s.ohm),
            1 => net.source(from, to, s.volts, s.ohm),
            2 => net.one_way_source(from, to, s.volts, s.ohm),
            _ => net.diode(from, to, s.volts.abs() / 20.0, s.ohm),
        };
    }
    net
}

/// Voltages from half a volt up (forward voltages from 25 mV), or none: below some 10⁻⁵ of the largest, what a part
/// floats at is not promised.
pub fn spec(kinds: std::ops::Range<u8>, least_ohm: f64) -> impl Strategy<Value = Spec> {
    let ohm = prop_oneof![Just(least_ohm), 0.01..10.0_f64, 10.0..1e4_f64];
    let volts = prop_oneof![1 => Just(0.0), 4 => 0.5..20.0_f64, 2 => -20.0..-0.5_f64];
    (kinds, 0..15_usize, 0..15_usize, volts, ohm).prop_map(move |(kind, from, to, volts, ohm)| {
        Spec { kind, from, to, volts, ohm: ohm.max(least_ohm) }
    })
}

/// Up to seven nodes and nine branches of all kinds, 1 mΩ to 10 kΩ.
fn network() -> impl Strategy<Value = Network> {
    (2..8_usize, prop::collection::vec(spec(0..5, MIN_OHM), 1..10))
        .prop_map(|(nodes, specs)| build(nodes, &specs))
}

/// Up to fifteen nodes and forty branches.
fn larger_network() -> impl Strategy<Value = Network> {
    (2..16_usize, prop::collection::vec(spec(0..5, MIN_OHM), 1..41))
        .prop_map(|(nodes, specs)| build(nodes, &specs))
}

/// What a current of this network may be uncertain by, A: its own rounding and the leaks.
fn slack(net: &Network, amps: f64) -> f64 {
    let volts: f64 = net.branches().iter().map(|b| b.volts.abs()).sum();
    1e-8 * volts + 1e-9 * amps.abs()
}

/// What a voltage that only leaks hold may be uncertain by, V. Within a conducting part the currents tell far more.
fn floating(net: &Network) -> f64 {
    1e-5 * net.branches().iter().fold(0.0, |most, b| b.volts.abs().max(most))
}

fn same(net: &Network, a: &Solution, b: &Solution) -> Result<(), TestCaseError> {
    for k in (0..net.branches().len()).map(BranchId) {
        let (a, b) = (a.amps(k), b.amps(k));
        prop_assert!((a - b).abs() <= slack(net, a), "branch {}: {a} A, {b} A", k.0);
    }
    for m in (0..net.node_count()).map(Node) {
        for n in (0..net.node_count()).map(Node) {
            let (a, b) = (a.between(m, n), b.between(m, n));
            prop_assert_eq!(a.is_some(), b.is_some());
            let (a, b) = (a.unwrap_or(0.0), b.unwrap_or(0.0));
            prop_assert!((a - b).abs() <= floating(net), "{} to {}: {a} V, {b} V", m.0, n.0);
        }
    }
    Ok(())
}

/// An unevaluated sum of two floats, some 32 digits: for plain Gaussian elimination of the nodal matrix that can afford
/// the cancellation.
mod twice {
    #[derive(Clone, Copy, PartialEq)]
    pub struct Twice(pub f64, pub f64);
    fn two_sum(a: f64, b: f64) -> Twice {
        let s = a + b;
        let t = s - a;
        Twice(s, (a - (s - t)) + (b - t))
    }
    impl Twice {
        pub const ZERO: Twice = Twice(0.0, 0.0);
        pub fn plus(self, o: Twice) -> Twice {
            let s = two_sum(self.0, o.0);
            let t = two_sum(self.1, o.1);
            let s = two_sum(s.0, s.1 + t.0);
            two_sum(s.0, s.1 + t.1)
        }
        pub fn minus(self, o: Twice) -> Twice {
            self.plus(Twice(-o.0, -o.1))
        }
        pub fn times(self, o: Twice) -> Twice {
            let p = self.0 * o.0;
            let e = self.0.mul_add(o.0, -p) + (self.0 * o.1 + self.1 * o.0);
            two_sum(p, e)
        }
        pub fn over(self, o: Twice) -> Twice {
            let q = Twice(self.0 / o.0, 0.0);
            let r = self.minus(o.times(q));
            let q = q.plus(Twice(r.0 / o.0, 0.0));
            let r = self.minus(o.times(q));
            q.plus(Twice(r.0 / o.0, 0.0))
        }
    }
}

/// Nodal voltages in one state of the one-way branches, by textbook elimination in doubled precision; independent of the
/// solver but for the leaks' values.
fn textbook(net: &Network, on: &[bool]) -> Vec<Twice> {
    let n = net.node_count();
    let mut part: Vec<usize> = (0..n).collect();
    for _ in 0..n {
        for b in net.branches() {
            let least = part[b.from.0].min(part[b.to.0]);
            part[b.from.0] = least;
            part[b.to.0] = least;
        }
    }
    let mut a = vec![vec![Twice::ZERO; n + 1]; n];
    for (b, &on) in net.branches().iter().zip(on) {
        let one = Twice(1.0, 0.0);
        let through = one.over(Twice(b.ohm, 0.0));
        let mut stamp = |g: Twice, emf: f64| {
            let (f, t, j) = (b.from.0, b.to.0, g.times(Twice(emf, 0.0)));
            a[f][f] = a[f][f].plus(g);
            a[t][t] = a[t][t].plus(g);
            a[f][t] = a[f][t].minus(g);
            a[t][f] = a[t][f].minus(g);
            a[f][n] = a[f][n].minus(j);
            a[t][n] = a[t][n].plus(j);
        };
        if on {
            stamp(through, b.volts);
        } else if !b.diode {
            stamp(Twice(SOURCE_LEAK_SIEMENS, 0.0), b.volts);
        }
        if b.one_way && b.diode {
            stamp(Twice(DIODE_LEAK_SIEMENS, 0.0), 0.0);
        }
    }
    for k in 0..n {
        if part[k] == k {
            a[k] = vec![Twice::ZERO; n + 1];
            a[k][k] = Twice(1.0, 0.0);
        }
    }
    for k in 0..n {
        let pivot = (k..n).max_by(|&i, &j| a[i][k].0.abs().total_cmp(&a[j][k].0.abs())).unwrap();
        a.swap(k, pivot);
        let row = a[k].clone();
        for below in &mut a[k + 1..] {
            let factor = below[k].over(row[k]);
            for (entry, &above) in below.iter_mut().zip(&row).skip(k) {
                *entry = entry.minus(factor.times(above));
            }
        }
    }
    let mut v = vec![Twice::ZERO; n];
    for k in (0..n).rev() {
        let known = (k + 1..n).fold(a[k][n], |sum, j| sum.minus(a[k][j].times(v[j])));
        v[k] = known.over(a[k][k]);
    }
    v
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// Every state of the one-way branches that does not contradict itself gives the solver's currents and voltages, and
    /// there is one.
    #[test]
    fn all_states_tried_give_the_same(net in network()) {
        let solution = solve(&net).unwrap();
        let one_way: Vec<usize> =
            (0..net.branches().len()).filter(|&k| net.branches()[k].one_way).collect();
        let mut found = 0;
        for state in 0..1_usize << one_way.len() {
            let mut on = vec![true; net.branches().len()];
            for (bit, &k) in one_way.iter().enumerate() {
                on[k] = state >> bit & 1 == 1;
            }
            let v = textbook(&net, &on);
            let across = |b: &Branch| v[b.from.0].minus(v[b.to.0]);
            let drive: Vec<f64> = net
                .branches()
                .iter()
                .map(|b| across(b).plus(Twice(b.volts, 0.0)).0)
                .collect();
            // A leak of 10 pS through 1 mΩ is a real drive of some 10⁻¹⁴ V, so a conducting branch is held to far less.
            if one_way.iter().any(|&k| if on[k] { drive[k] < -1e-22 } else { drive[k] > 1e-14 }) {
                continue;
            }
            found += 1;
            for (k, b) in net.branches().iter().enumerate() {
                let expected = if on[k] { drive[k] / b.ohm } else { 0.0 };
                let amps = solution.amps(BranchId(k));
                prop_assert!(
                    (amps - expected).abs() <= slack(&net, expected),
                    "branch {k}: {amps} A for {expected} A"
                );
                let settled = solution.between(b.from, b.to).unwrap();
                let expected = across(b).0;
                prop_assert!(
                    (settled - expected).abs() <= floating(&net),
                    "branch {k}: {settled} V for {expected} V"
                );
            }
        }
        prop_assert!(found > 0, "no state of {} stands", one_way.len());
    }

    /// Kirchhoff at every node, and what the sources give is what the resistances turn to heat.
    #[test]
    fn currents_and_power_balance(net in larger_network()) {
        let solution = solve(&net).unwrap();
        let mut sum = vec![0.0; net.node_count()];
        let mut size = vec![0.0; net.node_count()];
        let (mut given, mut heat) = (0.0, 0.0);
        for (k, b) in net.branches().iter().enumerate() {
            let amps = solution.amps(BranchId(k));
            sum[b.from.0] -= amps;
            sum[b.to.0] += amps;
            size[b.from.0] += amps.abs();
            size[b.to.0] += amps.abs();
            given += b.volts * amps;
            heat += amps * amps * b.ohm;
            prop_assert!(!b.one_way || amps >= 0.0);
            prop_assert!(solution.conducting()[k] || amps == 0.0);
        }
        for (sum, size) in sum.iter().zip(&size) {
            prop_assert!(sum.abs() <= slack(&net, *size), "{sum} A left over of {size} A");
        }
        prop_assert!(heat >= 0.0 && (given - heat).abs() <= 1e-5 + 1e-9 * heat, "{given} W, {heat} W");
    }

    #[test]
    fn a_hint_never_changes_the_answer(net in larger_network(), hint in prop::collection::vec(any::<bool>(), 0..42)) {
        same(&net, &solve(&net).unwrap(), &solve_from(&net, &hint).unwrap())?;
    }

    /// Pivoting alone and trying all states alone, the fall-backs, find the same currents.
    #[test]
    fn the_slow_ways_lead_to_the_same(net in network(), hint in prop::collection::vec(any::<bool>(), 0..12)) {
        let solution = solve(&net).unwrap();
        for other in super::solve::solve_the_slow_ways(&net, &hint) {
            let other = other.unwrap();
            for k in (0..net.branches().len()).map(BranchId) {
                let (a, b) = (solution.amps(k), other.amps(k));
                prop_assert!((a - b).abs() <= slack(&net, a), "branch {}: {a} A, {b} A", k.0);
            }
        }
    }

    #[test]
    fn the_order_of_nodes_and_branches_never_changes_the_answer(
        net in larger_network(),
        keys in prop::collection::vec(any::<u32>(), 55),
    ) {
        let mut places: Vec<usize> = (0..net.node_count()).collect();
        places.sort_by_key(|&k| keys[k]);
        let mut order: Vec<usize> = (0..net.branches().len()).collect();
        order.sort_by_key(|&k| keys[54 - k]);
        let mut other = Network::default();
        for _ in &places {
            other.node();
        }
        for &k in &order {
            let b = net.branches()[k];
            other.add(Branch { from: Node(places[b.from.0]), to: Node(places[b.to.0]), ..b });
        }
        let (solution, shuffled) = (solve(&net).unwrap(), solve(&other).unwrap());
        for (place, &k) in order.iter().enumerate() {
            let (a, b) = (solution.amps(BranchId(k)), shuffled.amps(BranchId(place)));
            prop_assert!((a - b).abs() <= slack(&net, a), "{a} A, {b} A");
            let (a, b) = (net.branches()[k], other.branches()[place]);
            let a = solution.between(a.from, a.to).unwrap();
            let b = shuffled.between(b.from, b.to).unwrap();
            prop_assert!((a - b).abs() <= floating(&net), "{a} V, {b} V");
        }
    }

    #[test]
    fn raising_a_source_never_lowers_its_own_current(
        net in larger_network(), which in any::<prop::sample::Index>(), more in 0.0..30.0_f64,
    ) {
        let k = BranchId(which.index(net.branches().len()));
        let before = solve(&net).unwrap().amps(k);
        let mut raised = net.clone();
        raised.set_volts(k, net.branches()[k.0].volts + more);
        let after = solve(&raised).unwrap().amps(k);
        prop_assert!(after >= before - slack(&raised, before), "{before} A, then {after} A");
    }

    #[test]
    fn currents_scale_with_voltages_and_against_resistances(net in larger_network(), by in 1.0..50.0_f64) {
        let solution = solve(&net).unwrap();
        let (mut stronger, mut stiffer) = (net.clone(), net.clone());
        for (k, b) in net.branches().iter().enumerate() {
            stronger.set_volts(BranchId(k), b.volts * by);
            stiffer.set_ohm(BranchId(k), b.ohm * by);
        }
        let (stronger, stiffer) = (solve(&stronger).unwrap(), solve(&stiffer).unwrap());
        for k in (0..net.branches().len()).map(BranchId) {
            let (amps, slack) = (solution.amps(k), by * slack(&net, solution.amps(k)));
            prop_assert!((stronger.amps(k) - by * amps).abs() <= slack);
            prop_assert!((by * stiffer.amps(k) - amps).abs() <= slack);
        }
    }

    /// Without one-way branches, the currents of two sets of sources add.
    #[test]
    fn sources_superpose(
        specs in prop::collection::vec(spec(0..2, MIN_OHM), 1..12),
        extra in prop::collection::vec(-20.0..20.0_f64, 12),
    ) {
        let net = build(5, &specs);
        let (mut second, mut sum) = (net.clone(), net.clone());
        for (k, b) in net.branches().iter().enumerate() {
            second.set_volts(BranchId(k), extra[k]);
            sum.set_volts(BranchId(k), b.volts + extra[k]);
        }
        let [one, two, both] = [&net, &second, &sum].map(|net| solve(net).unwrap());
        for k in (0..net.branches().len()).map(BranchId) {
            let expected = one.amps(k) + two.amps(k);
            prop_assert!((both.amps(k) - expected).abs() <= 2.0 * slack(&sum, expected) + slack(&net, expected));
        }
    }

    /// The adjoint's slopes are what small changes give.
    #[test]
    fn sensitivities_are_slopes(
        specs in prop::collection::vec(spec(0..5, 0.05), 1..12),
        weights in prop::collection::vec(-2.0..2.0_f64, 12),
    ) {
        let net = build(5, &specs);
        let solution = solve(&net).unwrap();
        let figure: Vec<(BranchId, f64)> =
            (0..specs.len()).map(|k| (BranchId(k), weights[k])).collect();
        let value = |s: &Solution| figure.iter().map(|&(k, w)| w * s.amps(k)).sum::<f64>();
        let slopes = solution.sensitivity(&net, &figure);
        for (k, b) in net.branches().iter().enumerate() {
            let id = BranchId(k);
            let slope = |step: f64, set: &dyn Fn(&mut Network, f64)| {
                let [low, high] = [-step, step].map(|step| {
                    let mut net = net.clone();
                    set(&mut net, step);
                    solve(&net).unwrap()
                });
                let steady = low.conducting() == solution.conducting()
                    && high.conducting() == solution.conducting();
                steady.then(|| (value(&high) - value(&low)) / (2.0 * step))
            };
            let step = 1e-4 * b.ohm;
            if let Some(expected) = slope(step, &|net, step| net.set_ohm(id, b.ohm + step)) {
                let slack = 1e-6 * expected.abs() + 1e-6 * (value(&solution).abs() + 400.0) / b.ohm;
                prop_assert!((slopes.per_ohm[k] - expected).abs() <= slack, "{} {expected}", slopes.per_ohm[k]);
            }
            if let Some(expected) = slope(1e-3, &|net, step| net.set_volts(id, b.volts + step)) {
                prop_assert!((slopes.per_volt[k] - expected).abs() <= 1e-6 * (1.0 + expected.abs()), "{} {expected}", slopes.per_volt[k]);
            }
        }
    }
}
