//! Causes of small layouts, each known by hand: a run with a gap, a driver on each side.

#![allow(clippy::unwrap_used)]
use super::{Cause, Counterfactual};
use crate::layout;
use crate::study::{Memo, Relation, Study};

const BRAKES: &str = "drive: PwmBridge(clock: (hz: 490), idle: BrakeLow)";
const COASTS: &str = "drive: PwmBridge(clock: (hz: 490), idle: HighImpedance)";
const OPPOSES: &str = "drive: PwmBridge(clock: (hz: 490), idle: Opposed)";
const SMOOTH: &str = "drive: SmoothDc(output_ohm: 0.1, can_sink: true)";
const DCC: &str = "drive: DccBooster(station: \"yard\")";
const DCC_SWAPPED: &str = "drive: DccBooster(station: \"yard\", swapped: true)";
const DCC_LATE: &str = "drive: DccBooster(station: \"yard\", skew_s: 4e-6)";
const DCC_OTHER: &str = "drive: DccBooster(station: \"harbour\")";

/// What differs between layouts.
struct Bench {
    drives: [&'static str; 2],
    volts: [f64; 2],
    sinks: bool,
    crossed: bool,
    tied: bool,
}

impl Bench {
    fn of(first: &'static str, second: &'static str) -> Bench {
        let drives = [first, second];
        Bench { drives, volts: [18.0; 2], sinks: false, crossed: false, tied: false }
    }

    /// Causes at settings of a relation, with the changes that prove them.
    fn causes(&self, relation: Relation) -> Vec<(Cause, Vec<Counterfactual>)> {
        let driver = |at: usize| {
            let setting = if self.drives[at].contains("Dcc") { "On" } else { "Stopped" };
            format!(
                "(id: \"d{n}\", supply: \"s{n}\", {drive}, high_ohm: 0.1, low_ohm: 0.1, diode_v: 0.7, diode_ohm: 0.05, \
                 setting: (direction: {setting}))",
                n = at + 1,
                drive = self.drives[at]
            )
        };
        let supply = |at: usize| {
            let tie = if self.tied { ", negative: (name: \"earth\", ohm: 0.01)" } else { "" };
            format!(
                "(id: \"s{}\", open_v: {}, source_ohm: 0.1, can_sink: {}{tie})",
                at + 1,
                self.volts[at],
                self.sinks
            )
        };
        let (p, m) = if self.crossed { ("Left", "Right") } else { ("Right", "Left") };
        let text = format!(
            r#"(version: 1, joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 2000, y_mm: 0)],
            runs: [(id: "r1", from: "j1", to: "j2")], cuts: [(id: "c1", run: "r1", at_mm: 1000, rails: Both)],
            supplies: [{}, {}], drivers: [{}, {}],
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 100, p: Right, m: Left),
                (id: "f2", driver: "d2", run: "r1", at_mm: 1900, p: {p}, m: {m})])"#,
            supply(0),
            supply(1),
            driver(0),
            driver(1)
        );
        let layout = layout::load(&text).unwrap_or_else(|e| panic!("{e:?}")).layout;
        let study = Study::of(&layout, &Memo::default());
        let now = study.now();
        let known = now.known.values().next().unwrap();
        let causes = known.result.causes.iter().filter(|cause| cause.relation == relation);
        causes.map(|cause| (cause.cause, cause.changes.clone())).collect()
    }

    fn kinds(&self, relation: Relation) -> Vec<Cause> {
        self.causes(relation).into_iter().map(|(cause, _)| cause).collect()
    }
}

use Relation::{Agree, Disagree};

#[test]
fn two_bridges_that_coast_conflict_by_polarity_only() {
    let bench = Bench::of(COASTS, COASTS);
    assert_eq!(bench.kinds(Agree), []);
    assert_eq!(bench.kinds(Disagree), [Cause::Polarity]);
    let crossed = Bench { crossed: true, ..bench };
    assert_eq!(crossed.kinds(Agree), [Cause::Polarity]);
    assert_eq!(crossed.kinds(Disagree), []);
}

#[test]
fn every_idle_state_that_is_needed_is_named() {
    let both = Bench::of(BRAKES, BRAKES).causes(Agree);
    let [(Cause::Idle, changes)] = &both[..] else { panic!("{both:?}") };
    assert_eq!(changes.len(), 2, "{changes:?}");
    let one = Bench::of(BRAKES, COASTS).causes(Agree);
    let [(Cause::Idle, changes)] = &one[..] else { panic!("{one:?}") };
    assert_eq!(changes.len(), 1, "{changes:?}");
    assert_eq!(changes[0].driver().unwrap().0, 0);
}

#[test]
fn bridges_that_are_set_against_each_other_conflict_by_polarity_and_idle_states() {
    assert_eq!(Bench::of(BRAKES, BRAKES).kinds(Disagree), [Cause::Polarity, Cause::Idle]);
}

#[test]
fn opposed_idle_on_unequal_supplies_is_no_crossed_feeder() {
    let bench = Bench { volts: [12.0, 18.0], sinks: true, ..Bench::of(OPPOSES, OPPOSES) };
    assert_eq!(bench.kinds(Agree), [Cause::Idle, Cause::Voltage]);
}

#[test]
fn four_causes_at_one_gap_are_all_named() {
    let bench =
        Bench { volts: [12.0, 18.0], sinks: true, crossed: true, ..Bench::of(BRAKES, BRAKES) };
    let causes = bench.causes(Agree);
    let changes: Vec<&Counterfactual> = causes.iter().flat_map(|(_, changes)| changes).collect();
    let kinds: Vec<Cause> = causes.iter().map(|(cause, _)| *cause).collect();
    assert_eq!(kinds, [Cause::Polarity, Cause::Idle, Cause::Voltage], "{causes:?}");
    assert_eq!(changes.len(), 4, "{changes:?}");
}

#[test]
fn a_source_that_sinks_is_fed_by_a_higher_one() {
    let unequal = Bench { volts: [12.0, 18.0], sinks: true, ..Bench::of(COASTS, COASTS) };
    assert_eq!(unequal.kinds(Agree), [Cause::Voltage]);
    let blocks = Bench { sinks: false, ..unequal };
    assert_eq!(blocks.kinds(Agree), []);
    // Two smooth throttles stand at any two voltages.
    let smooth = Bench { sinks: true, ..Bench::of(SMOOTH, SMOOTH) };
    assert_eq!(smooth.kinds(Agree), [Cause::Voltage]);
}

#[test]
fn boosters_conflict_by_phase_delay_station_or_voltage() {
    assert_eq!(Bench::of(DCC, DCC).kinds(Agree), []);
    assert_eq!(Bench::of(DCC, DCC_SWAPPED).kinds(Disagree), [Cause::Phase]);
    assert_eq!(Bench::of(DCC, DCC_LATE).kinds(Agree), [Cause::Delay]);
    assert_eq!(Bench::of(DCC, DCC_OTHER).kinds(Disagree), [Cause::Stations]);
    let unequal = Bench { volts: [14.0, 18.0], sinks: true, ..Bench::of(DCC, DCC) };
    assert_eq!(unequal.kinds(Agree), [Cause::Voltage]);
}

#[test]
fn dcc_beside_dc_is_cured_by_silence_alone() {
    assert_eq!(Bench::of(DCC, COASTS).kinds(Disagree), [Cause::Mixed]);
    assert_eq!(Bench::of(SMOOTH, DCC).kinds(Disagree), [Cause::Mixed]);
}

#[test]
fn tied_negatives_are_no_cause_where_polarity_is() {
    let bench = Bench { tied: true, ..Bench::of(COASTS, COASTS) };
    assert_eq!(bench.kinds(Disagree), [Cause::Polarity]);
    assert_eq!(bench.kinds(Agree), []);
}
