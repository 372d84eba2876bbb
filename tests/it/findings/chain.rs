//! Devices of the feed chain: what they add to a circuit, when they act, and what their positions feed.

use super::*;
use gapwright::findings::{DeviceFigures, GuardId, Reversing, SelectorAt, SelectorId, Trips};
use gapwright::layout::{DeviceId, DeviceKind};

fn now(report: &Report) -> &Situation {
    &cut(report, C1).now
}

fn device(situation: &Situation, id: DeviceId) -> &DeviceFigures {
    situation.devices.iter().find(|d| d.id == id).unwrap()
}

fn how(finding: &Finding) -> &Reversing {
    let Evidence::ReversersRace(e) = &finding.evidence else { panic!("{finding:?}") };
    &e.how
}

fn why(report: &Report, layout: &Layout, kind: Kind) -> String {
    let words = words(of_kind(report, kind)[0], report, layout, Units::Metric);
    format!("{} {} {}", words.says, words.why, words.more)
}

#[test]
fn a_device_adds_its_resistance_to_each_pole_and_a_resistor_its_own_to_one() {
    // d1 at zero brakes, d2 drives: 1.73 Ω, and a device of 0.1 Ω per pole in the way of d2.
    let low = brake_low_pair();
    let from_x1 =
        r#"(id: "f2", driver: "x1", run: "r1", at_mm: 1700, p: Right, m: Left, ohm: 0.35)"#;
    let build = |kind: &str| {
        yard(&format!(
            r#"
            (id: "d1", supply: "s1", $PWM(490, BrakeLow), $STAGE, $TRIP, $F(0.4))
            (id: "x1", kind: {kind}, ohm: 0.1)
            {from_x1}"#
        ))
    };
    let peak = |layout: &Layout| cut(&check(layout), C1).agree.as_ref().unwrap().peak_a();
    assert_abs_diff_eq!(peak(&low), 14.0 / 1.73, epsilon = 1e-6);
    let switch = build(r#"ReversingSwitch(from: "d2")"#);
    assert_abs_diff_eq!(peak(&switch), 14.0 / 1.93, epsilon = 1e-6);
    let lamp = build(r#"Resistor(from: "d2", ohm: 2)"#);
    assert_abs_diff_eq!(peak(&lamp), 14.0 / 3.93, epsilon = 1e-6);
    // Either way one diode of the pair conducts: 0.7 V and 0.05 Ω.
    let pair = build(r#"DiodePair(from: "d2", volts: 0.7, ohm: 0.05)"#);
    assert_abs_diff_eq!(peak(&pair), 13.3 / 1.98, epsilon = 1e-6);
}

#[test]
fn a_device_that_two_blocks_share_is_one_resistance() {
    // West and East behind one breaker of 0.5 Ω per pole, East turned by a switch of 0.02 Ω: the breaker carries all of
    // 14 / (0.05 + 0.12 + 2·0.5 + (0.7 + 0.02 + 0.02) / 2) = 14 / 1.54 A, the switch half of it.
    let layout = yard(
        r#"
        -d2
        -s2
        (id: "d1", supply: "s1", $DCC, $STAGE, $TRIP, setting: (direction: On))
        (id: "x1", kind: Breaker(from: "d1", amps: 2, trip: Instant(blanking_s: 0.00001)), ohm: 0.5)
        (id: "x2", kind: ReversingSwitch(from: "x1"), ohm: 0.02, position: 1)
        (id: "f1", driver: "x1", run: "r1", at_mm: 300, p: Right, m: Left, ohm: 0.35)
        (id: "f2", driver: "x2", run: "r1", at_mm: 1700, p: Right, m: Left, ohm: 0.35)"#,
    );
    let report = check(&layout);
    let now = now(&report);
    assert_eq!(now.verdict, Verdict::Short);
    assert_abs_diff_eq!(device(now, X1).current.peak, 14.0 / 1.54, epsilon = 1e-6);
    assert_abs_diff_eq!(device(now, X2).current.peak, 7.0 / 1.54, epsilon = 1e-6);
    assert_abs_diff_eq!(now.peak_a(), 14.0 / 1.54, epsilon = 1e-6);
    // The breaker is quicker than the booster, and nothing flows once it is open.
    assert_eq!((now.first.clone(), now.first_devices.clone()), (vec![], vec![X1]));
    assert!(!now.after_first.as_ref().unwrap().conflict);
    // The other way round nothing is opposed.
    let straight = edited(&layout, Edit::Throw { selector: X2.into(), position: 0 });
    let report = check(&straight);
    assert_eq!(report.verdict, Verdict::Clear, "{:#?}", report.findings);
}

#[test]
fn a_breaker_guards_where_the_driver_does_not() {
    let bare = |trip: &str| {
        yard(&format!(
            r#"
            (id: "d1", supply: "s1", $PWM(490, BrakeLow), $STAGE, $F(0.4))
            (id: "d2", supply: "s2", $PWM(125, HighImpedance), $STAGE, $F(0.8))
            (id: "x1", kind: Breaker(from: "d2", amps: {trip}, trip: Instant(blanking_s: 0.00002)), ohm: 0.02)
            (id: "f2", driver: "x1", run: "r1", at_mm: 1700, p: Right, m: Left, ohm: 0.35)"#
        ))
    };
    // 14 / 1.77 = 7.9096 A.
    let report = check(&bare("3"));
    let agree = cut(&report, C1).agree.as_ref().unwrap();
    assert_eq!((agree.verdict, agree.first_devices.clone()), (Verdict::Short, vec![X1]));
    assert_abs_diff_eq!(agree.margin.unwrap(), 1.0 - 14.0 / 1.77 / 3.0, epsilon = 1e-6);
    assert_eq!(device(agree, X1).trips, Trips::Yes);
    assert_abs_diff_eq!(device(agree, X1).trip_after_s.unwrap(), 2e-5, epsilon = 1e-9);
    assert!(why(&report, &bare("3"), Kind::IdleClamp).contains("Breaker x1 trips first"));
    // One that is set far above lets it flow: nothing else is known to bear it, but it guards, so it is no short.
    let report = check(&bare("20"));
    assert_eq!(cut(&report, C1).agree.as_ref().unwrap().verdict, Verdict::Clear);
}

#[test]
fn an_auto_reverser_that_is_first_ends_the_fault() {
    let layout = district(&reverser(1, "d1", 2.0, 1e-5, 1));
    let report = check(&layout);
    assert_eq!(report.verdict, Verdict::Clear, "{:?}", kinds(&report));
    let now = now(&report);
    assert!(now.resolved);
    assert_eq!(now.first_devices, [X1]);
    assert_eq!(now.verdict, Verdict::Clear);
    // What flows until then, by the same sum as for two: 14 / (0.17 + (0.7 + 0.02 + 0.02) / 2), half of it in each pole.
    assert_abs_diff_eq!(now.peak_a(), 14.0 / 0.54, epsilon = 1e-6);
    assert_abs_diff_eq!(device(now, X1).current.peak, 7.0 / 0.54, epsilon = 1e-6);
    assert!(!now.after_first.as_ref().unwrap().conflict);
    // No train stops on it either.
    let passes = &cut(&report, C1).passes_now;
    assert!(passes.iter().all(|p| p.slow.trips == Trips::No && p.standing.trips == Trips::No));
    // A switch in its place does not turn by itself.
    let switch = with_device(&layout, X1, |d| {
        d.kind = DeviceKind::ReversingSwitch { from: D1.into(), centre_off: false };
    });
    assert_eq!(check(&switch).verdict, Verdict::Short);
}

#[test]
fn an_auto_reverser_that_is_late_or_blind_is_told_with_what_acts_instead() {
    // The booster acts after 100 µs, before the reverser's 1 ms.
    let late = district(&reverser(1, "d1", 2.0, 1e-3, 1));
    let report = check(&late);
    let finding = the_one(&report, Kind::ReversersRace, Class::Fault, Verdict::Short);
    assert!(matches!(
        how(finding),
        Reversing::TooLate { device: X1, before: GuardId::Driver(D1), .. }
    ));
    assert_eq!(report.verdict, Verdict::Short);
    assert!(
        why(&report, &late, Kind::ReversersRace)
            .contains("acts before auto-reverser x1 has turned")
    );
    // It matches now, but it will not always: a train from the other end meets it turned.
    let other = check(&with_device(&late, X1, |d| d.position = 0));
    the_one(&other, Kind::ReversersRace, Class::Fault, Verdict::Short);
    // 12.96 A do not move one that waits for 20 A.
    let blind = district(&reverser(1, "d1", 20.0, 1e-5, 1));
    let report = check(&blind);
    let finding = the_one(&report, Kind::ReversersRace, Class::Fault, Verdict::Short);
    let Reversing::Unseen { carried_a, .. } = how(finding) else { panic!("{finding:?}") };
    assert_abs_diff_eq!(*carried_a, 7.0 / 0.54, epsilon = 1e-6);
    // A breaker before it that is quicker takes the section down.
    let behind =
        district(&format!("{}\n{}", breaker(2, "d1", 3.0, 1e-6), reverser(1, "x2", 2.0, 1e-5, 1)));
    let report = check(&behind);
    let finding = the_one(&report, Kind::ReversersRace, Class::Fault, Verdict::Short);
    assert!(matches!(how(finding), Reversing::TooLate { before: GuardId::Device(X2), .. }));
}

#[test]
fn of_two_reversers_the_sooner_wins_and_the_race_is_told() {
    let race = |second_s: f64| {
        district(&format!(
            "{}\n{}\n{}",
            reverser(1, "d1", 2.0, 1e-5, 1),
            reverser(2, "d1", 2.0, second_s, 0),
            r#"(id: "f1", driver: "x2", run: "r1", at_mm: 300, p: Right, m: Left, ohm: 0.35)"#
        ))
    };
    let together = check(&race(1e-5));
    assert_eq!(now(&together).verdict, Verdict::Short);
    assert!(!now(&together).resolved);
    let apart = check(&race(3e-5));
    assert!(now(&apart).resolved);
    the_one(&apart, Kind::ReversersRace, Class::Fault, Verdict::Caution);
}

#[test]
fn the_order_of_a_chain_tells_what_goes_down_with_it() {
    // Two districts; the booster is quicker than the breaker of the second.
    let layout = district(&breaker(1, "d1", 2.0, 1e-3));
    let report = check(&layout);
    let finding = the_one(&report, Kind::TripOutOfOrder, Class::Fault, Verdict::Caution);
    let Evidence::TripOutOfOrder(e) = &finding.evidence else { panic!("{finding:?}") };
    assert_eq!((e.lower, e.upper), (GuardId::Device(X1), GuardId::Driver(D1)));
    assert_eq!((finding.blocks.len(), e.takes_down.len()), (1, 2));
    // A dead short of 2 mΩ: 14 / (0.05 + 0.12 + 2·0.02 + 0.7 + 0.002).
    assert_abs_diff_eq!(e.amps, 14.0 / 0.912, epsilon = 1e-6);
    assert!(why(&report, &layout, Kind::TripOutOfOrder).contains("takes down West too"));
    // A fuse in the place of the breaker is judged alike.
    let fuse = with_device(&layout, X1, |d| {
        d.kind = DeviceKind::Fuse {
            from: D1.into(),
            amps: Quantity::given(2.0),
            trip: TripKind::Averaged { tau_s: 1.0 },
        };
    });
    the_one(&check(&fuse), Kind::TripOutOfOrder, Class::Fault, Verdict::Caution);
}

#[test]
fn a_supply_that_holds_its_limit_keeps_a_breaker_from_acting() {
    // 15 A would flow; the supply holds 4 A, the breaker waits for 5 A and nothing else guards.
    let layout = |rating: &str| {
        yard(&format!(
            r#"
            (id: "s2", open_v: 14, source_ohm: 0.05, limit: (amps: 4))
            (id: "d2", supply: "s2", $PWM(125, HighImpedance), $STAGE, rating_a: {rating}, $F(0.8))
            {}
            (id: "f2", driver: "x1", run: "r1", at_mm: 1700, p: Right, m: Left, ohm: 0.35)"#,
            breaker(1, "d2", 5.0, 1e-5)
        ))
    };
    let report = check(&layout("3"));
    let finding = the_one(&report, Kind::TripOutOfOrder, Class::Fault, Verdict::Overload);
    let Evidence::TripOutOfOrder(e) = &finding.evidence else { panic!("{finding:?}") };
    assert_eq!((e.upper, e.lower_s), (GuardId::Supply(SupplyId(2)), None));
    the_one(&check(&layout("6")), Kind::TripOutOfOrder, Class::Fault, Verdict::Caution);
    let larger = with_supply(&layout("3"), 2, |s| s.limit = None);
    assert!(of_kind(&check(&larger), Kind::TripOutOfOrder).is_empty());
}

#[test]
fn a_block_that_some_position_feeds_is_dead_and_not_unfed() {
    let cab = r#"
        (id: "x1", kind: CabSelector(cabs: [Some("d1"), Some("d2"), None]), ohm: 0.02, position: 2)
        (id: "f2", driver: "x1", run: "r1", at_mm: 1700, p: Right, m: Left, ohm: 0.35)"#;
    let layout = yard(cab);
    let report = check(&layout);
    assert!(of_kind(&report, Kind::Unfed).is_empty(), "{:?}", kinds(&report));
    assert!(report.blocks[1].drivers.is_empty());
    // Two cabs of one selector never feed it together.
    assert!(of_kind(&report, Kind::DoublyFed).is_empty());
    let thrown = edited(&layout, Edit::Throw { selector: X1.into(), position: 1 });
    assert_eq!(check(&thrown).blocks[1].drivers, [D2]);
    // A selector whose cabs all drive nothing leaves it unfed in every position.
    let nothing = with_driver(&with_driver(&layout, D1, |d| d.drive = Drive::Nothing), D2, |d| {
        d.drive = Drive::Nothing;
    });
    assert_eq!(
        of_kind(&check(&nothing), Kind::Unfed)
            .iter()
            .filter(|f| f.blocks[0] == report.blocks[1].id)
            .count(),
        1
    );
}

#[test]
fn two_switches_that_may_both_be_on_feed_a_block_doubly() {
    let layout = yard(
        r#"
        (id: "x1", kind: CabSelector(cabs: [None, Some("d1")]), ohm: 0.02)
        (id: "x2", kind: CabSelector(cabs: [None, Some("d2")]), ohm: 0.02, position: 1)
        (id: "f2", driver: "x2", run: "r1", at_mm: 1700, p: Right, m: Left, ohm: 0.35)
        (id: "f3", driver: "x1", run: "r1", at_mm: 1800, p: Right, m: Left, ohm: 0.35)"#,
    );
    let report = check(&layout);
    let finding = the_one(&report, Kind::DoublyFed, Class::Rule, Verdict::Short);
    assert_eq!(finding.selectors(), [SelectorAt { id: SelectorId::Device(X1), position: 1 }]);
    assert!(why(&report, &layout, Kind::DoublyFed).contains("cab selector x1 on d1"));
    // Both on now: a fault.
    let both = edited(&layout, Edit::Throw { selector: X1.into(), position: 1 });
    the_one(&check(&both), Kind::DoublyFed, Class::Fault, Verdict::Short);
    // Ganged so that one is off where the other is on, they never do.
    let ganged = yard(
        r#"
        (id: "x1", kind: CabSelector(cabs: [Some("d1"), None]), ohm: 0.02, gang: "cabs", position: 1)
        (id: "x2", kind: CabSelector(cabs: [None, Some("d2")]), ohm: 0.02, gang: "cabs", position: 1)
        (id: "f2", driver: "x2", run: "r1", at_mm: 1700, p: Right, m: Left, ohm: 0.35)
        (id: "f3", driver: "x1", run: "r1", at_mm: 1800, p: Right, m: Left, ohm: 0.35)"#,
    );
    assert!(of_kind(&check(&ganged), Kind::DoublyFed).is_empty());
}

#[test]
fn an_assumed_value_of_a_device_may_decide() {
    // d1 at zero brakes, d2 drives through a lamp of 1 to 5 Ω: 14 / (1.77 + R) is 5.05 to 2.07 A against 3 A.
    let layout = yard(
        r#"
        (id: "d1", supply: "s1", $PWM(490, BrakeLow), $STAGE, $TRIP, $F(0.4))
        (id: "x1", kind: Resistor(from: "d2", ohm: (value: 2, source: Assumed, from: 1, to: 5)), ohm: 0.02)
        (id: "f2", driver: "x1", run: "r1", at_mm: 1700, p: Right, m: Left, ohm: 0.35)"#,
    );
    let report = check(&layout);
    the_one(&report, Kind::ValueNotKnown, Class::Fault, Verdict::NotKnown);
    assert!(why(&report, &layout, Kind::ValueNotKnown).contains("the resistance of resistor x1"));
    // And where a breaker behind it is what decides.
    let guarded = yard(
        r#"
        (id: "d1", supply: "s1", $PWM(490, BrakeLow), $STAGE, $F(0.4))
        (id: "d2", supply: "s2", $PWM(125, HighImpedance), $STAGE, $F(0.8))
        (id: "x1", kind: Resistor(from: "d2", ohm: (value: 2, source: Assumed, from: 1, to: 5)), ohm: 0.02)
        (id: "x2", kind: Breaker(from: "x1", amps: 3, trip: Instant(blanking_s: 0.00001)), ohm: 0.02)
        (id: "f2", driver: "x2", run: "r1", at_mm: 1700, p: Right, m: Left, ohm: 0.35)"#,
    );
    the_one(&check(&guarded), Kind::ValueNotKnown, Class::Fault, Verdict::NotKnown);
}
