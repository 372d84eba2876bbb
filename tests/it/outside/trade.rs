//! Facts that people of the trade know: common practice, no source; the model was not tuned to them.
//!
//! An ordinary hobby set-up: bridges fed at about 14 V, PWM near 490 Hz on one block and near 125 Hz on the next, trips at
//! a momentary 3 A.

use gapwright::findings::{CutReport, Kind, Report, Trips, Verdict, check};
use gapwright::rails::Plan;
use gapwright::study::cut::case_of;

use super::bench::*;

const THIRD: f64 = 1.0 / 3.0;
const IDLES: [&str; 4] = ["BrakeLow", "BrakeHigh", "HighImpedance", "Opposed"];

fn hobby(idle: &str, way_b: &'static str, a: f64, b: f64) -> Bench {
    let mut bench = Bench::two(bridge(490.0, idle, "Forward", a), bridge(125.0, idle, way_b, b));
    // Wheels as they are: clean to dirty.
    for v in &mut bench.vehicles {
        v.contact = (0.02, 0.5);
    }
    bench
}

fn with(mut bench: Bench, vehicles: &[V]) -> Bench {
    bench.vehicles = vehicles.iter().map(|v| V { contact: (0.02, 0.5), ..v.clone() }).collect();
    bench
}

fn shared(mut bench: Bench) -> Bench {
    for s in &mut bench.supplies {
        s.tie = Some(("board", 0.02));
    }
    bench
}

fn report(bench: &Bench) -> Report {
    check(&bench.layout())
}

fn cut(bench: &Bench) -> CutReport {
    report(bench).cuts.swap_remove(0)
}

#[test]
fn high_impedance_in_one_direction_is_clear() {
    let bench = with(
        hobby("HighImpedance", "Forward", THIRD, 2.0 * THIRD),
        &[V { load: "Motor(ohm: 12, emf_v: 5)", ..railcar() }, long_locomotive()],
    );
    let now = cut(&bench).now;
    assert_eq!(now.verdict, Verdict::Clear);
    assert_eq!(now.share, 0.0);
}

#[test]
fn opposed_directions_short_whatever_the_idle_state() {
    for idle in IDLES {
        let mut bench = with(hobby(idle, "Reverse", THIRD, 2.0 * THIRD), &[long_locomotive()]);
        // Two boards are never quite equally quick.
        bench.drivers[1].trip = "(amps: 3, senses: LargerLeg, kind: Instant(blanking_s: 0.00005))";
        let now = cut(&bench).now;
        assert_eq!(now.verdict, Verdict::Short, "{idle}");
        for driver in &now.drivers {
            assert!(driver.p.peak > 3.0 && driver.m.peak > 3.0, "{idle}: {} carries it", driver.id);
        }
        let first: Vec<String> = now.first.iter().map(ToString::to_string).collect();
        assert_eq!(first, ["d31"], "{idle}: one of the two trips first");
    }
}

#[test]
fn brake_low_trips_a_long_locomotive_in_one_direction() {
    let bench = with(hobby("BrakeLow", "Forward", THIRD, 2.0 * THIRD), &[long_locomotive()]);
    let now = cut(&bench).now;
    assert_eq!(now.verdict, Verdict::Short);
    assert!(now.drivers.iter().any(|d| d.trips != Trips::No));
}

/// Two set-ups that differ in the trips alone.
#[test]
fn an_averaged_trip_can_miss_a_railcar_at_speed() {
    let mut bench =
        with(hobby("BrakeLow", "Forward", THIRD, 2.0 * THIRD), &[railcar(), long_locomotive()]);
    let instant = cut(&bench).passes_now;
    for d in &mut bench.drivers {
        d.trip = "(amps: 3, senses: LargerLeg, kind: Averaged(tau_s: 0.2))";
    }
    let averaged = cut(&bench).passes_now;
    let of = |passes: &[gapwright::findings::PassReport], id: &str| {
        passes.iter().find(|p| p.vehicle.is_some_and(|v| v.to_string() == id)).unwrap().clone()
    };
    assert_ne!(of(&instant, "v51").fast.trips, Trips::No, "an instant trip sees the railcar");
    assert_eq!(of(&averaged, "v51").fast.trips, Trips::No, "at speed the averaged one does not");
    assert_ne!(of(&averaged, "v51").standing.trips, Trips::No, "standing it does");
    assert_ne!(of(&averaged, "v52").fast.trips, Trips::No, "and the long one at any speed");
    // What must touch for the short to be: one wheel at each end, on both sides.
    assert_eq!(of(&averaged, "v51").wheels, [vec![1, 1], vec![1, 1]]);
}

#[test]
fn on_isolated_supplies_one_joined_rail_is_no_short() {
    for side in ["Left", "Right"] {
        let bench = with(hobby("BrakeLow", "Forward", THIRD, 2.0 * THIRD), &[one_sided(side)]);
        let now = cut(&bench).now;
        assert_eq!(now.verdict, Verdict::Clear, "{side}");
        assert!(now.peak_a() < 1e-3, "{side}: {}", now.peak_a());
    }
}

#[test]
fn a_meter_reads_a_tenth_of_what_trips() {
    let bench = with(hobby("BrakeLow", "Forward", 0.1, 0.1), &[long_locomotive()]);
    let now = cut(&bench).now;
    assert_eq!(now.verdict, Verdict::Short);
    for driver in &now.drivers {
        let tripped_it = driver.sensed.unwrap().peak;
        assert!(tripped_it > 3.0);
        let fraction = driver.supply.mean / tripped_it;
        assert!((0.07..0.13).contains(&fraction), "{}: {fraction}", driver.id);
    }
}

/// Two bridges of one supply over a whole rail fight with no train anywhere once their directions differ.
#[test]
fn independent_directions_need_both_rails_cut() {
    let fights = |rails: &'static str, way: &'static str| {
        let mut bench = hobby("BrakeLow", way, THIRD, 2.0 * THIRD);
        bench.supplies.truncate(1);
        bench.drivers[1].supply = 0;
        bench.cuts = vec![rails];
        let report = report(&bench);
        report
            .findings
            .iter()
            .any(|f| f.kind == Kind::CommonRailFight && f.verdict == Verdict::Short)
    };
    assert!(fights("Left", "Reverse"));
    assert!(fights("Right", "Reverse"));
    assert!(!fights("Both", "Reverse"));
}

#[test]
fn on_a_shared_negative_one_bridged_rail_can_be_enough() {
    let short = |bench: Bench| cut(&bench).now.verdict == Verdict::Short;
    let ride = |side| with(hobby("BrakeLow", "Forward", THIRD, 2.0 * THIRD), &[one_sided(side)]);
    assert!(short(shared(ride("Right"))), "the rail of P");
    assert!(!short(ride("Right")));
    // Both M rails are on the same potential all the time: joining them alone does nothing, and the check says so.
    let layout = shared(ride("Right")).layout();
    let plan = Plan::derive(&layout);
    let cut = layout.cuts.values().next().unwrap();
    let by_join = case_of(&layout, &plan, cut).unwrap().0.solve().now.by_join;
    assert_eq!(by_join, [None, Some(Verdict::Clear), Some(Verdict::Short)]);
    // One supply for both is a shared negative all the more.
    let mut one = ride("Right");
    one.supplies.truncate(1);
    one.drivers[1].supply = 0;
    assert!(short(one));
}
