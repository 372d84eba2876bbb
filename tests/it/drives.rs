//! Kinds of drive seen from the outside: parking states, and what a smooth throttle does to its supply.

use super::support::edits::poles_exchanged;
use super::support::normal::json;
use super::support::yards::{D1, D2, set, with_driver, yard};
use approx::assert_abs_diff_eq;
use gapwright::findings::{CutReport, SetWord, Situation, Verdict, check};
use gapwright::layout::{Direction, Drive, Idle, InputLine, InputLines, InputTable, Layout};

fn cut(layout: &Layout) -> CutReport {
    check(layout).cuts.remove(0)
}

/// The second bridge on control inputs: the first line carries the PWM, the second the direction. At zero throttle it
/// coasts as set forward (lines 00) and drives as set in reverse (01).
fn with_a_direction_line(layout: &Layout) -> Layout {
    let lines = |other_high| InputLines { pwm: InputLine::First, other_high };
    with_driver(layout, D2, |driver| {
        let Drive::PwmBridge { idle, .. } = &mut driver.drive else { panic!("no bridge") };
        *idle = Idle::ByInputs {
            table: InputTable::TwoInput,
            forward: lines(false),
            reverse: lines(true),
            first_inverted: false,
            second_inverted: false,
        };
    })
}

fn cell(report: &CutReport, a: SetWord, b: SetWord) -> &Situation {
    &report.card.iter().find(|cell| (cell.a, cell.b) == (a, b)).unwrap().situation
}

#[test]
fn a_stopped_bridge_on_control_inputs_is_judged_in_both_its_parking_states() {
    let layout = with_a_direction_line(&set(&yard(""), D1, Direction::Forward, 1.0));
    let stopped = set(&layout, D2, Direction::Stopped, 0.0);
    let report = cut(&stopped);
    // Parked as in reverse it drives against the other: 28 V over 0.05 + 0.05 + 4·0.06 + 4·0.35 + 2·0.02 = 1.78 Ω.
    let opposed = 28.0 / 1.78;
    for situation in [cell(&report, SetWord::Forward, SetWord::Stopped), &report.now] {
        assert_eq!(situation.verdict, Verdict::Short);
        assert_abs_diff_eq!(situation.peak_a(), opposed, epsilon = 1e-6);
        assert_eq!(situation.settings[&D2].throttle, 0.0);
    }
    // The twin coasts however it is parked.
    let twin = with_driver(&stopped, D2, |driver| {
        let Drive::PwmBridge { idle, .. } = &mut driver.drive else { panic!("no bridge") };
        *idle = Idle::HighImpedance;
    });
    let report = cut(&twin);
    assert_eq!(report.now.verdict, Verdict::Clear);
    assert_eq!(cell(&report, SetWord::Forward, SetWord::Stopped).verdict, Verdict::Clear);
}

#[test]
fn parking_states_are_the_same_with_the_poles_exchanged() {
    use SetWord::{Forward, Reverse, Stopped};
    let layout = set(&with_a_direction_line(&yard("")), D2, Direction::Stopped, 0.0);
    let exchanged = poles_exchanged(&layout);
    let (one, other) = (cut(&layout), cut(&exchanged));
    for (a, turned) in [(Forward, Reverse), (Reverse, Forward), (Stopped, Stopped)] {
        let (x, y) = (cell(&one, a, Stopped), cell(&other, turned, Stopped));
        assert_eq!(x.verdict, y.verdict, "{a:?}");
        assert_abs_diff_eq!(x.peak_a(), y.peak_a(), epsilon = 1e-9);
    }
    assert_eq!(one.now.verdict, other.now.verdict);
}

/// A bridge at full on 18 V beside a smooth throttle on 14 V, at half.
fn beside_smooth(throttle_sinks: bool, supply_sinks: bool) -> Layout {
    yard(&format!(
        r#"
        (id: "s1", open_v: 18, source_ohm: 0.05)
        (id: "s2", open_v: 14, source_ohm: 0.05, can_sink: {supply_sinks})
        (id: "d1", supply: "s1", $PWM(490, HighImpedance), $STAGE, $TRIP, $F(1))
        (id: "d2", supply: "s2", drive: SmoothDc(output_ohm: 0.5, can_sink: {throttle_sinks}), $STAGE, $TRIP, $F(0.5))
        "#
    ))
}

#[test]
fn a_smooth_throttle_that_may_sink_does_so_only_where_its_supply_may() {
    let now = |throttle, supply| cut(&beside_smooth(throttle, supply)).now;
    // Both may: 18 V against 7 V through two sources, the output, four switches, four feeder legs and two joined rails.
    let flows = 11.0 / (0.05 + 0.05 + 0.5 + 4.0 * 0.06 + 4.0 * 0.35 + 2.0 * 0.02);
    assert_abs_diff_eq!(now(true, true).peak_a(), flows, epsilon = 1e-6);
    for (throttle, supply) in [(true, false), (false, false), (false, true)] {
        let situation = now(throttle, supply);
        assert!(situation.peak_a() < 1e-4, "{throttle} {supply}: {}", situation.peak_a());
    }
}

#[test]
fn a_pole_is_lifted_to_what_the_rails_hold_and_no_further() {
    let pole_v = |throttle, supply| {
        let now = cut(&beside_smooth(throttle, supply)).now;
        now.drivers.iter().find(|driver| driver.id == D2).unwrap().positive_pole_v.unwrap()
    };
    // Without a diode in the output the pole follows the rails through the switch, a diode's 0.7 V below.
    assert_abs_diff_eq!(pole_v(true, false), 18.0 - 0.7, epsilon = 1e-3);
    // With one it stays at its own voltage.
    assert_abs_diff_eq!(pole_v(false, false), 14.0, epsilon = 1e-3);
}

#[test]
fn a_frozen_phase_gives_means_and_rms_as_ranges() {
    // Drives for 0.4 and 0.8 of one period overlap for 0.2 to 0.4 of it; while one alone drives, it feeds the other's clamp.
    let clock = r#"drive: PwmBridge(clock: (hz: 490, shared: "board"), idle: BrakeLow)"#;
    let layout = yard(&format!(
        r#"
        (id: "d1", supply: "s1", {clock}, $STAGE, $TRIP, $F(0.4))
        (id: "d2", supply: "s2", {clock}, $STAGE, $TRIP, $F(0.8))
        "#
    ));
    let now = cut(&layout).now;
    let [least, most] = now.share_range.unwrap();
    assert_abs_diff_eq!(least, 0.4, epsilon = 1e-9);
    assert_abs_diff_eq!(most, 0.8, epsilon = 1e-9);
    let p = &now.drivers.iter().find(|driver| driver.id == D1).unwrap().p;
    let range = p.over_phases.unwrap();
    assert_abs_diff_eq!(range.rms[0], p.peak * 0.4_f64.sqrt(), epsilon = 1e-6);
    assert_abs_diff_eq!(range.rms[1], p.peak * 0.8_f64.sqrt(), epsilon = 1e-6);
    // Its own drive and that of the other make up the mean, wherever they lie.
    assert_abs_diff_eq!(range.mean[0], -0.4 * p.peak, epsilon = 1e-6);
    assert_abs_diff_eq!(range.mean[1], -0.4 * p.peak, epsilon = 1e-6);
    let rms = |layout: &Layout| json(layout)["cuts"][0]["now"]["drivers"][0]["p"]["rms"].clone();
    assert_eq!(rms(&layout).as_array().unwrap().len(), 2);
    // Clocks of their own drift through every phase: one figure each.
    let free = layout.drivers.keys().fold(layout.clone(), |layout, &id| {
        with_driver(&layout, id, |driver| {
            let Drive::PwmBridge { clock, .. } = &mut driver.drive else { panic!("no bridge") };
            clock.shared = None;
        })
    });
    let p = cut(&free).now.drivers[0].p;
    assert_eq!(p.over_phases, None);
    assert!(rms(&free).is_number());
}
