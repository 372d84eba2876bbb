//! NMRA standards S-9 (which rail is positive) and S-9.1 (DCC half-bits).

use approx::assert_relative_eq;
use gapwright::findings::check;
use gapwright::layout::{Layout, Rail, load};
use gapwright::rails::{Plan, Polarity, polarity_now};

use super::bench::{Bench, booster, bridge, smooth};

/// Two runs eastwards; the second is laid from its far end, so that its own left rail is the northern one's mate.
fn turned(direction: &str) -> Layout {
    let text = format!(
        "(version: 1, joints: [(id: \"j1\", x_mm: 0, y_mm: 0), (id: \"j2\", x_mm: 1000, y_mm: 0),
         (id: \"j3\", x_mm: 2000, y_mm: 0)],
         runs: [(id: \"r4\", from: \"j1\", to: \"j2\"), (id: \"r5\", from: \"j3\", to: \"j2\")],
         supplies: [(id: \"s6\", open_v: 14, source_ohm: 0.1)],
         drivers: [(id: \"d7\", supply: \"s6\", drive: PwmBridge(clock: (hz: 490), idle: BrakeLow), high_ohm: 0.1,
         low_ohm: 0.1, diode_v: 0.7, diode_ohm: 0.05, setting: (direction: {direction}, throttle: 0.5))],
         feeds: [(id: \"f8\", driver: \"d7\", run: \"r4\", at_mm: 500, p: Right, m: Left, ohm: 0.1)])"
    );
    load(&text).unwrap().layout
}

fn polarity(layout: &Layout, run: usize, rail: Rail) -> Polarity {
    let plan = Plan::derive(layout);
    let run = *layout.runs.keys().nth(run).unwrap();
    let piece = &plan.pieces_of(run)[0];
    polarity_now(layout, &plan)[piece.nets[usize::from(rail == Rail::Right)]]
}

/// NMRA S-9: positive on the right-hand rail, seen standing between the rails with the back to the locomotive's front,
/// moves it forward. A normal feed puts P on the right-hand rail of the direction in which "forward" drives.
#[test]
fn positive_on_the_right_hand_rail_drives_forward() {
    let forward = turned("Forward");
    assert_eq!(polarity(&forward, 0, Rail::Right), Polarity::Plus);
    assert_eq!(polarity(&forward, 0, Rail::Left), Polarity::Minus);
    // A run laid the other way round has the same rail on its other hand.
    assert_eq!(polarity(&forward, 1, Rail::Left), Polarity::Plus);
    assert_eq!(polarity(&forward, 1, Rail::Right), Polarity::Minus);
    let reverse = turned("Reverse");
    assert_eq!(polarity(&reverse, 0, Rail::Right), Polarity::Minus);
    assert_eq!(polarity(&reverse, 1, Rail::Left), Polarity::Minus);
}

/// The same in currents: going forward, P drives the right-hand rail, and the current comes back by M.
#[test]
fn current_leaves_by_p_when_going_forward() {
    let p_mean = |way| {
        let neighbour = smooth(false, true, "Stopped", 0.0);
        let bench = Bench::two(bridge(500.0, "HighImpedance", way, 0.5), neighbour);
        let now = check(&bench.layout()).cuts.swap_remove(0).now;
        (now.drivers[0].p.mean, now.drivers[0].m.mean)
    };
    let (p, m) = p_mean("Forward");
    assert!(p > 1.0 && m < -1.0, "{p} {m}");
    let (p, m) = p_mean("Reverse");
    assert!(p < -1.0 && m > 1.0, "{p} {m}");
}

/// NMRA S-9.1: a command station sends halves of a "1" of 55 to 61 µs (58 nominal), equal, and halves of a "0" of 95 to
/// 9900 µs (100 or more nominal).
const ONE_S: (f64, f64) = (55e-6, 61e-6);
const ZERO_NOMINAL_S: f64 = 100e-6;
const ZERO_LONGEST_S: f64 = 9900e-6;

#[test]
fn skew_counts_against_the_shortest_half_of_a_one() {
    let skew_s = 5e-6;
    let bench = Bench::two(booster(false, 0.0), booster(false, skew_s));
    let now = check(&bench.layout()).cuts.swap_remove(0).now;
    // Once per half-bit the two differ for as long as the skew; the halves are equal.
    assert_relative_eq!(now.share, skew_s / ONE_S.0, max_relative = 1e-6);
    assert!(now.share >= skew_s / ONE_S.1, "no station's ones are worse than that");
    assert_relative_eq!(now.longest_s.seconds().unwrap(), skew_s, max_relative = 1e-6);
}

#[test]
fn beside_dc_the_longest_half_of_a_zero_counts() {
    for (stretched, half_s) in [(false, ZERO_NOMINAL_S), (true, ZERO_LONGEST_S)] {
        let mut dcc = booster(false, 0.0);
        dcc.drive = dcc.drive.replace(')', &format!(", stretched_zeros: {stretched})"));
        let bench = Bench::two(dcc, smooth(false, false, "Forward", 1.0));
        let now = check(&bench.layout()).cuts.swap_remove(0).now;
        assert_relative_eq!(now.share, 0.5, max_relative = 1e-6);
        assert_relative_eq!(now.longest_s.seconds().unwrap(), half_s, max_relative = 1e-6);
    }
}
