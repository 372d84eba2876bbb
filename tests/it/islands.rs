//! Track that nothing joins to the rest changes nothing there, whatever is wrong with it.

use gapwright::findings::{CutReport, check};
use gapwright::layout;
use gapwright::rails::SelectorId;

/// Two cabs on one supply, each put on either end of a run by a selector of its own, with a gap in one rail between them.
/// Far away, or not at all: a terminus of which some positions short its driver.
fn branch(with_island: bool) -> Vec<CutReport> {
    let island = |text: &'static str| if with_island { text } else { "" };
    let driver = |id: &str, supply: &str, hz: u32, set: &str| {
        format!(
            r#"(id: "{id}", supply: "{supply}", drive: PwmBridge(clock: (hz: {hz}), idle: HighImpedance), high_ohm: 0.15,
                low_ohm: 0.15, diode_v: 0.7, diode_ohm: 0.05, setting: ({set})),"#
        )
    };
    let text = format!(
        r#"(version: 1,
        joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 1500, y_mm: 0), (id: "j3", x_mm: 2300, y_mm: -800),
            (id: "j4", x_mm: 2300, y_mm: -2300), {}],
        runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j2", to: "j3"), (id: "r3", from: "j3", to: "j4"), {}],
        cuts: [(id: "c1", run: "r2", at_mm: 600, rails: Right)],
        supplies: [(id: "s1", open_v: 14, source_ohm: 0.1), {}],
        drivers: [{}{}{}],
        devices: [(id: "x1", kind: CabSelector(cabs: ["d1", "d2", None])),
            (id: "x2", kind: CabSelector(cabs: ["d1", "d2", None]))],
        feeds: [(id: "f1", driver: "x1", run: "r1", at_mm: 1000, p: Right, m: Left),
            (id: "f2", driver: "x2", run: "r3", at_mm: 500, p: Right, m: Left), {}],
        specials: [{}],
        )"#,
        island(
            r#"(id: "j11", x_mm: -1500, y_mm: 50000), (id: "j12", x_mm: 0, y_mm: 50000),
               (id: "j13", x_mm: 500, y_mm: 50000), (id: "j14", x_mm: 2500, y_mm: 50000),
               (id: "j15", x_mm: 2500, y_mm: 49820), (id: "j16", x_mm: 2500, y_mm: 50180)"#
        ),
        island(
            r#"(id: "r11", from: "j11", to: "j12"), (id: "r12", from: "j12", to: "j13"), (id: "r13", from: "j13", to: "j14"),
               (id: "r14", from: "j12", to: "j15"), (id: "r15", from: "j13", to: "j16")"#
        ),
        island(r#"(id: "s2", open_v: 14, source_ohm: 0.1)"#),
        driver("d1", "s1", 490, "direction: Forward, throttle: 0.5"),
        driver("d2", "s1", 125, "direction: Reverse, throttle: 0.4"),
        if with_island {
            driver("d3", "s2", 490, "direction: Forward, throttle: 0.5")
        } else {
            String::new()
        },
        island(r#"(id: "f3", driver: "d3", run: "r15", at_mm: 1500, p: Right, m: Left)"#),
        island(
            r#"(id: "w1", work: Turnout(toe: (run: "r11", end: End), exits: [(run: "r12", end: Start),
                (run: "r14", end: Start)], frog: PowerRouting, frog_mm: 200)),
               (id: "w2", work: Turnout(toe: (run: "r12", end: End), exits: [(run: "r13", end: Start),
                (run: "r15", end: Start)], frog: PowerRouting, frog_mm: 200))"#
        ),
    );
    let layout = layout::load(&text).unwrap_or_else(|e| panic!("{e:?}")).layout;
    check(&layout).cuts
}

#[test]
fn a_driver_shorted_far_away_silences_nothing_here() {
    let (alone, beside) = (&branch(false)[0], &branch(true)[0]);
    // The cabs are put on the two ends either way round, and then they can be set against each other.
    assert!(alone.disagree.is_some() && alone.shorted_positions.is_empty());
    assert_eq!(alone, beside);
}

#[test]
fn positions_that_short_a_driver_of_the_place_itself_are_said_to_be_left_out() {
    let text = include_str!("../../sample-layouts/terminus.gapwright");
    let layout = layout::load(text).unwrap().layout;
    let report = check(&layout);
    let left_out: Vec<_> = report.cuts.iter().flat_map(|cut| &cut.shorted_positions).collect();
    assert_eq!(left_out.len(), 1);
    assert!(matches!(left_out[0][0].id, SelectorId::Points(_)));
    let words =
        gapwright::report::text("a file", &layout, &report, gapwright::report::Units::Metric);
    assert!(words.contains("one set of positions not judged"), "{words}");
}

/// Three blocks in a row, the last one 20 m long and fed by the driver of the first, or by nobody.
fn three_blocks(feeds_the_last: bool) -> Vec<CutReport> {
    let driver = |id: &str, supply: &str, idle: &str| {
        format!(
            r#"(id: "{id}", supply: "{supply}", drive: PwmBridge(clock: (hz: 490), idle: {idle}), high_ohm: 0.15,
                low_ohm: 0.15, diode_v: 0.7, diode_ohm: 0.05, trip: (amps: 3, senses: LargerLeg, kind: Averaged(tau_s: 0.05)),
                setting: (direction: Forward, throttle: 0.5)),"#
        )
    };
    let text = format!(
        r#"(version: 1,
        joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 24000, y_mm: 0)],
        runs: [(id: "r1", from: "j1", to: "j2")],
        cuts: [(id: "c1", run: "r1", at_mm: 1000, rails: Both), (id: "c2", run: "r1", at_mm: 4000, rails: Both)],
        supplies: [(id: "s1", open_v: 14, source_ohm: 0.1), (id: "s2", open_v: 14, source_ohm: 0.1)],
        drivers: [{}{}],
        feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 500, p: Right, m: Left),
            (id: "f2", driver: "d2", run: "r1", at_mm: 2000, p: Right, m: Left), {}],
        )"#,
        driver("d1", "s1", "BrakeLow"),
        driver("d2", "s2", "HighImpedance"),
        if feeds_the_last {
            r#"(id: "f3", driver: "d1", run: "r1", at_mm: 20000, p: Left, m: Right)"#
        } else {
            ""
        },
    );
    let layout = layout::load(&text).unwrap_or_else(|e| panic!("{e:?}")).layout;
    check(&layout).cuts
}

/// What a driver feeds elsewhere, out of the train's reach, is no part of a gap: neither its currents nor the time that its
/// wires take to let them through.
#[test]
fn a_feeder_to_a_rail_that_no_train_reaches_changes_nothing() {
    let (with, without) = (three_blocks(true), three_blocks(false));
    assert!(with[0].agree.as_ref().is_some_and(|worst| worst.peak_a() > 5.0));
    assert_eq!(with[0].agree, without[0].agree);
    assert_eq!(with[0].disagree, without[0].disagree);
    assert_eq!(with[0].now, without[0].now);
    // At the other gap it does.
    assert_ne!(with[1].agree.is_some(), without[1].agree.is_some());
}
