//! The rules of the check that hold for every layout. That every kind is found is tested beside the rules
//! (`src/findings/`).

mod chain;

use super::support::yards::*;
use approx::assert_abs_diff_eq;
use gapwright::findings::{
    Class, Evidence, Facing, Finding, Kind, Motion, Relation, Report, SetWord, Situation, Trips,
    Verdict, check, words,
};
use gapwright::layout::{
    self, AfterTrip, CutId, Direction, Drive, DriverId, Edit, FeedId, Idle, Layout, Quantity, Rail,
    Rails, RunId, SharedNegative, SupplyId, TripKind, TripPoints,
};
use gapwright::report::Units;

fn situation(finding: &Finding) -> &Situation {
    finding.situation().unwrap_or_else(|| panic!("no situation in {finding:?}"))
}

fn tied(layout: &Layout, supply: u32) -> Layout {
    with_supply(layout, supply, |s| {
        s.negative = Some(SharedNegative { name: "board".into(), ohm: Quantity::given(0.01) });
    })
}

/// The card's situation for a pair of settings.
fn cell(report: &Report, id: CutId, a: SetWord, b: SetWord) -> (Relation, &Situation) {
    let cell = cut(report, id).card.iter().find(|c| (c.a, c.b) == (a, b)).unwrap();
    (cell.relation, &cell.situation)
}

// ---- Classes: agree, disagree, one dead, now.

#[test]
fn settings_fall_into_the_classes_by_their_labels() {
    use SetWord::{Forward, Off, Reverse, Stopped, Unpowered};
    let report = check(&yard(""));
    for (a, b, relation) in [
        (Forward, Forward, Relation::Agree),
        (Reverse, Reverse, Relation::Agree),
        (Forward, Stopped, Relation::Agree),
        (Stopped, Reverse, Relation::Agree),
        (Stopped, Stopped, Relation::Agree),
        (Forward, Reverse, Relation::Disagree),
        (Reverse, Forward, Relation::Disagree),
        (Off, Forward, Relation::OneDead),
        (Stopped, Off, Relation::OneDead),
        (Unpowered, Reverse, Relation::OneDead),
    ] {
        assert_eq!(cell(&report, C1, a, b).0, relation, "{a:?} {b:?}");
    }
    let card = &cut(&report, C1).card;
    // Both dead is no class.
    assert!(!card.iter().any(|c| c.a.is_dead() && c.b.is_dead()));
    assert_eq!(card.len(), 25 - 4);
    // A swapped feed changes rails, not labels.
    let swapped = check(&edited(&yard(""), Edit::Swap { feed: FeedId(1) }));
    assert_eq!(cell(&swapped, C1, Forward, Forward).0, Relation::Agree);
    assert_eq!(cell(&swapped, C1, Forward, Forward).1.verdict, Verdict::Short);
    assert_eq!(cell(&swapped, C1, Forward, Reverse).1.verdict, Verdict::Clear);
}

#[test]
fn disagreeing_is_a_rule_until_it_is_set() {
    let plain = yard("");
    let report = check(&plain);
    the_one(&report, Kind::OpposedPolarity, Class::Rule, Verdict::Short);
    assert_eq!(report.verdict, Verdict::Clear, "a rule does not count");
    let now = check(&set(&plain, D2, Direction::Reverse, 0.5));
    the_one(&now, Kind::OpposedPolarity, Class::Fault, Verdict::Short);
    assert_eq!(now.verdict, Verdict::Short);
    // Set against each other at zero throttle nothing flows now: the rule stays what it is.
    let zero = set(&set(&plain, D1, Direction::Forward, 0.0), D2, Direction::Reverse, 0.0);
    let report = check(&zero);
    assert_eq!(cut(&report, C1).now.share, 0.0);
    the_one(&report, Kind::OpposedPolarity, Class::Rule, Verdict::Short);
}

#[test]
fn a_dead_neighbour_is_a_fault_only_where_it_is_so_now_or_is_switched() {
    // 14 V through two diodes onto the dead pole, which bears 10 V: 14 − 1.4 = 12.6 V.
    let yard = yard(r#"(id: "s2", open_v: 14, source_ohm: 0.05, bearable_v: 10)"#);
    let report = check(&yard);
    let finding = the_one(&report, Kind::BackFeed, Class::Note, Verdict::BackFeed);
    let Evidence::BackFeed(e) = &finding.evidence else { panic!() };
    assert_eq!(e.lifted.len(), 1);
    assert_abs_diff_eq!(e.lifted[0].to_v, 12.6, epsilon = 1e-3);
    assert_eq!(report.verdict, Verdict::Clear);
    let switched = with_supply(&yard, 2, |s| s.separately_switched = true);
    the_one(&check(&switched), Kind::BackFeed, Class::Fault, Verdict::BackFeed);
    let off = edited(&yard, Edit::Power { supply: SupplyId(2), on: false });
    the_one(&check(&off), Kind::BackFeed, Class::Fault, Verdict::BackFeed);
    // What bears 15 V is within 20 % of it at 12.6 V, what bears 16 V is not.
    for (bears, verdict) in [(15.0, Verdict::Caution), (16.0, Verdict::Clear)] {
        let report = check(&with_supply(&off, 2, |s| s.bearable_v = Some(Quantity::given(bears))));
        assert_eq!(cut(&report, C1).now.verdict, verdict, "bears {bears} V");
    }
}

#[test]
fn an_unpowered_board_that_wakes_into_a_clamp_shorts() {
    let asleep = yard(
        r#"
        (id: "s2", open_v: 14, source_ohm: 0.05, powered: false)
        (id: "d2", supply: "s2", $PWM(125, BrakeLow), $STAGE, $TRIP, $F(0.8))"#,
    );
    let now = |layout: &Layout| cut(&check(layout), C1).now.clone();
    assert_eq!(now(&asleep).verdict, Verdict::Clear);
    let wakes = with_driver(&asleep, D2, |d| d.wake_v = Some(Quantity::given(6.0)));
    let woken = now(&wakes);
    assert_eq!(woken.verdict, Verdict::Short);
    // The loop of the idle clamp: d1's source, switches, wires, wheels, d2's low switches.
    assert_abs_diff_eq!(woken.peak_a(), 14.0 / 1.73, epsilon = 1e-3);
    let deep = with_driver(&asleep, D2, |d| d.wake_v = Some(Quantity::given(13.0)));
    assert_eq!(now(&deep).verdict, Verdict::Clear);
}

#[test]
fn one_driver_on_both_sides_has_one_setting() {
    let one = yard(
        r#"
        -f2
        (id: "f3", driver: "d1", run: "r1", at_mm: 1700, p: Right, m: Left, ohm: 0.35)"#,
    );
    let report = check(&one);
    let gap = cut(&report, C1);
    assert!(gap.card.iter().all(|c| c.a == c.b));
    assert!(gap.disagree.is_none() && gap.one_dead.is_none());
    assert_eq!(gap.agree.as_ref().unwrap().verdict, Verdict::Clear);
    assert_eq!(report.verdict, Verdict::Clear);
    // The other way round on one side it shorts itself: 14 / (0.05 + 0.12 + 2·(0.7 + 0.02)/2…): both rails at once.
    let swapped = check(&edited(&one, Edit::Swap { feed: FeedId(3) }));
    the_one(&swapped, Kind::SwappedFeed, Class::Fault, Verdict::Short);
    // Two paths in parallel from P to M, each of two feeder legs and one joined rail: 0.72 / 2; with the switches and
    // the source 14 / (0.36 + 0.12 + 0.05) = 26.415 A, less than a twentieth more by what the body diodes add.
    let peak = cut(&swapped, C1).agree.as_ref().unwrap().peak_a();
    assert!((26.4..27.8).contains(&peak), "{peak}");
}

#[test]
fn on_one_supply_no_side_is_dead_alone() {
    let report = check(&with_driver(&yard(""), D2, |d| d.supply = SupplyId(1)));
    let unpowered = |c: &&gapwright::findings::CardCell| {
        (c.a == SetWord::Unpowered) != (c.b == SetWord::Unpowered)
    };
    assert_eq!(cut(&report, C1).card.iter().filter(unpowered).count(), 0);
}

#[test]
fn a_block_unfed_beside_a_fed_one_has_no_classes() {
    let report = check(&yard("-f2"));
    let gap = cut(&report, C1);
    assert!(gap.agree.is_none() && gap.disagree.is_none() && gap.one_dead.is_none());
    assert_eq!(gap.now.verdict, Verdict::Clear);
    assert!(gap.card.is_empty());
    assert_eq!(report.verdict, Verdict::Stall);
}

#[test]
fn dcc_agrees_in_phase_and_from_one_station_only() {
    let dcc = yard(
        r#"
        (id: "d1", supply: "s1", $DCC, $STAGE, $TRIP, setting: (direction: On))
        (id: "d2", supply: "s2", $DCC, $STAGE, $TRIP, setting: (direction: On))"#,
    );
    let report = check(&dcc);
    assert!(cut(&report, C1).disagree.is_none());
    assert_eq!(cut(&report, C1).agree.as_ref().unwrap().verdict, Verdict::Clear);
    let another = with_driver(&dcc, D2, |d| {
        if let Drive::DccBooster { station, .. } = &mut d.drive {
            "harbour".clone_into(station);
        }
    });
    let report = check(&another);
    assert!(cut(&report, C1).agree.is_none());
    the_one(&report, Kind::TwoStations, Class::Fault, Verdict::Short);
    // A skew of 5 µs: at most 5/55 of the time.
    let skewed = with_driver(&dcc, D2, |d| {
        if let Drive::DccBooster { skew_s, .. } = &mut d.drive {
            *skew_s = 5e-6;
        }
    });
    let report = check(&skewed);
    let agree = cut(&report, C1).agree.as_ref().unwrap();
    assert_abs_diff_eq!(agree.share, 5.0 / 55.0, epsilon = 1e-9);
    assert_abs_diff_eq!(agree.longest_s.seconds().unwrap(), 5e-6, epsilon = 1e-12);
}

// ---- Common rails, shared negatives.

/// Bridges that both stand still; body diodes of 1.2 V leave the switches alone.
fn stopped(first: &str, second: &str, supply: &str) -> Layout {
    let line = |id: &str, supply: &str, idle: &str| {
        format!(
            "(id: \"{id}\", supply: \"{supply}\", $PWM(490, {idle}), high_ohm: 0.06, low_ohm: 0.06, diode_v: 1.2, \
             diode_ohm: 0.05, $TRIP, setting: (direction: Stopped))\n"
        )
    };
    yard(&(line("d1", "s1", first) + &line("d2", supply, second)))
}

#[test]
fn stopped_against_stopped() {
    let clear = |layout: &Layout| cut(&check(layout), C1).now.verdict;
    // Isolated: nothing flows whatever they do.
    for pair in [("BrakeLow", "BrakeLow"), ("BrakeHigh", "BrakeHigh"), ("BrakeLow", "BrakeHigh")] {
        assert_eq!(clear(&stopped(pair.0, pair.1, "s2")), Verdict::Clear, "{pair:?}");
    }
    // Negatives tied: high against low shorts, over one rail more than over two.
    let both = tied(&tied(&stopped("BrakeLow", "BrakeHigh", "s2"), 1), 2);
    let report = check(&both);
    let now = &cut(&report, C1).now;
    assert_eq!(now.verdict, Verdict::Short);
    // One rail: 14 / (0.05 + 0.06 + 0.35 + 0.02 + 0.35 + 0.06 + 2·0.01) = 14 / 0.91 = 15.385 A.
    assert_abs_diff_eq!(now.peak_a(), 14.0 / 0.91, epsilon = 1e-3);
    assert_eq!(now.joins.len(), 1);
    for same in ["BrakeLow", "BrakeHigh"] {
        let layout = tied(&tied(&stopped(same, same, "s2"), 1), 2);
        assert_eq!(clear(&layout), Verdict::Clear, "{same}");
    }
}

#[test]
fn brake_high_against_brake_low_fights_over_a_common_rail_with_no_train() {
    let common = |first: &str, second: &str| {
        let layout = stopped(first, second, "s1");
        let gap = layout::Cut { rails: Rails::Right, ..layout.cuts[&C1].clone() };
        edited(&layout, Edit::Replace(gap.into()))
    };
    // 14 / (0.05 + 0.06 + 0.35 + 0.35 + 0.06) over the common rail.
    let report = check(&common("BrakeLow", "BrakeHigh"));
    let fight = the_one(&report, Kind::CommonRailFight, Class::Fault, Verdict::Short);
    assert_abs_diff_eq!(situation(fight).peak_a(), 14.0 / 0.87, epsilon = 1e-3);
    // What flows with no train is told there, and not once more at the gap.
    assert_ne!(cut(&report, C1).now.verdict, Verdict::Clear, "the train adds a second rail");
    for same in ["BrakeLow", "BrakeHigh"] {
        let report = check(&common(same, same));
        the_one(&report, Kind::CommonRailFight, Class::Rule, Verdict::Short);
    }
}

/// Three blocks in a row, each with a bridge.
fn three(middle_mm: f64) -> Layout {
    yard(&format!(
        r#"
        (id: "c2", run: "r1", at_mm: {}, rails: Both)
        (id: "n2", name: "Middle", run: "r1", at_mm: {})
        (id: "n3", name: "East", run: "r1", at_mm: 1900)
        (id: "s3", open_v: 14, source_ohm: 0.05)
        (id: "d3", supply: "s3", $PWM(125, HighImpedance), $STAGE, $TRIP, $F(0.5))
        (id: "f2", driver: "d2", run: "r1", at_mm: {}, p: Right, m: Left, ohm: 0.35)
        (id: "f3", driver: "d3", run: "r1", at_mm: 1900, p: Right, m: Left, ohm: 0.35)"#,
        1000.0 + middle_mm,
        1000.0 + middle_mm / 2.0,
        1000.0 + middle_mm / 2.0,
    ))
}

#[test]
fn three_drivers_on_a_shared_negative() {
    let mut layout = three(500.0);
    for supply in 1..=3 {
        layout = tied(&layout, supply);
    }
    let report = check(&layout);
    assert!(report.verdict < Verdict::Stall, "{:?}", kinds(&report));
    // Each gap meets its own two drivers only: the third hangs on the negative alone.
    assert_eq!(cut(&report, C1).now.drivers.iter().map(|d| d.id).collect::<Vec<_>>(), [D1, D2]);
    // One brakes high: one joined rail is enough against either neighbour that is low there.
    let report = check(&idle(&layout, D2, Idle::BrakeHigh));
    let short = the_one(&report, Kind::IdleClamp, Class::Fault, Verdict::Short);
    assert_eq!(short.cuts(), [CutId(1), CutId(2)], "{:?}", kinds(&report));
    let Evidence::IdleClamp(e) = &short.evidence else { panic!() };
    assert!(e.one_rail);
}

#[test]
fn one_long_vehicle_bridges_three_blocks_and_is_told_once() {
    // The outer two are against each other over a short block that agrees with neither's neighbour: its driver is off.
    let layout = three(60.0);
    let layout = set(&layout, D2, Direction::Off, 0.0);
    let layout = set(&layout, DriverId(3), Direction::Reverse, 0.5);
    let report = check(&layout);
    for id in [1, 2] {
        let now = &cut(&report, CutId(id)).now;
        assert_eq!(now.verdict, Verdict::Short, "c{id}");
        assert_eq!(now.joins.len(), 2);
        assert!(now.drivers.iter().map(|d| d.id).eq([D1, D2, DriverId(3)]));
    }
    let long: Vec<_> = report
        .findings
        .iter()
        .filter(|f| f.class == Class::Fault && f.verdict == Verdict::Short)
        .collect();
    assert_eq!(long.len(), 1, "{:#?}", kinds(&report));
    assert_eq!(long[0].cuts(), [C1, CutId(2)]);
    // A middle block longer than the engine's pickups, 160 mm, keeps them apart.
    let apart =
        set(&set(&three(170.0), D2, Direction::Off, 0.0), DriverId(3), Direction::Reverse, 0.5);
    assert_eq!(check(&apart).verdict, Verdict::Clear);
}

// ---- Vehicles.

#[test]
fn a_single_wheel_shorts_rolling_and_is_at_most_a_caution_standing() {
    let wagon = |wheel: &str| {
        yard(&format!(
            "(id: \"v1\", length_mm: 90, axles: [(at_mm: 20, left: {wheel}, right: {wheel}), \
             (at_mm: 70, left: {wheel}, right: {wheel})], $CONTACT)"
        ))
    };
    let metal = set(&wagon("Metal"), D2, Direction::Reverse, 1.0);
    let metal = set(&metal, D1, Direction::Forward, 1.0);
    let now = cut(&check(&metal), C1).now.clone();
    assert_eq!((now.verdict, now.motion), (Verdict::Short, Motion::Moving));
    // One wheel of 0.03 Ω on each side of each gap: 28 / (0.1 + 0.24 + 1.4 + 4·0.03).
    assert_abs_diff_eq!(now.peak_a(), 28.0 / 1.86, epsilon = 1e-3);
    // A patch of 0.5 mm at 30 mm/s is there for 17 ms: a trip that waits longer leaves a caution.
    let slow = [D1, D2].into_iter().fold(metal, |layout, id| {
        with_driver(&layout, id, |d| {
            if let Some(trip) = &mut d.trip {
                trip.kind = TripKind::Instant { blanking_s: 0.02 };
            }
        })
    });
    let now = cut(&check(&slow), C1).now.clone();
    assert_eq!(now.verdict, Verdict::Caution);
    let insulated = set(&wagon("Insulated"), D2, Direction::Reverse, 1.0);
    let now = cut(&check(&insulated), C1).now.clone();
    assert_eq!((now.verdict, now.share), (Verdict::Clear, 0.0));
}

#[test]
fn without_a_vehicle_the_stand_in_straddles() {
    let report = check(&set(&yard("-v1"), D2, Direction::Reverse, 1.0));
    let now = &cut(&report, C1).now;
    assert_eq!((now.verdict, now.vehicle), (Verdict::Short, None));
}

#[test]
fn without_drivers_there_is_nothing_but_unfed_blocks() {
    let report = check(&yard("-d1\n-d2\n-f1\n-f2\n-s1\n-s2"));
    assert!(report.findings.iter().all(|f| f.kind == Kind::Unfed), "{:?}", kinds(&report));
    assert_eq!(report.findings.len(), 2);
    assert!(cut(&report, C1).now.drivers.is_empty());
}

/// An engine with its pickups in front on one hand and its tender's on the other.
fn split_engine(front_hand: Rail, rear_mm: f64) -> String {
    let (front, rear) = match front_hand {
        Rail::Left => ("right", "left"),
        Rail::Right => ("left", "right"),
    };
    format!(
        "(id: \"v1\", length_mm: 200, axles: [(at_mm: 30, {front}: Insulated), (at_mm: 60, {front}: Insulated), \
         (at_mm: {rear_mm}, {rear}: Insulated)], load: Motor(ohm: 12, emf_v: 5))"
    )
}

#[test]
fn turning_a_split_pickup_engine_round_changes_where_it_stalls() {
    // Front group at 30 and 60 mm, tender at 100 mm of 200 mm: facing c1 it stalls with its front 60 to 100 mm past.
    // Turned round, its front is behind it: the tender's wheel has passed and the front group has not, from −60 to −100.
    let report = check(&yard(&split_engine(Rail::Left, 100.0)));
    let stall = the_one(&report, Kind::Stall, Class::Fault, Verdict::Stall);
    let first = situation(stall);
    assert_eq!(first.facing, Facing::AToB);
    assert_abs_diff_eq!(first.position_mm, 60.0, epsilon = 1e-6);
    assert_eq!(first.margin, None);
}

#[test]
fn with_the_rails_cut_apart_the_hand_that_leads_decides_whether_it_stalls() {
    // The left pickups cross their gap while the leading coupler is 30 to 60 mm past it, the right one at 100 mm. With
    // the right gap 40 to 70 mm nearer it crosses meanwhile, and one block always has both hands.
    let staggered = |hand, stagger: f64| {
        let gap =
            format!("(id: \"c1\", run: \"r1\", at_mm: 1000, rails: Both, stagger_mm: {stagger})\n");
        check(&yard(&(gap + &split_engine(hand, 100.0))))
    };
    let stalls = |hand, stagger| !of_kind(&staggered(hand, stagger), Kind::Stall).is_empty();
    assert!(stalls(Rail::Left, 0.0) && stalls(Rail::Right, 0.0));
    assert!(stalls(Rail::Left, 60.0));
    assert!(!stalls(Rail::Left, -55.0));
    assert!(stalls(Rail::Right, -60.0));
    assert!(!stalls(Rail::Right, 55.0));
}

// ---- Track.

#[test]
fn staggered_cuts_join_one_rail_between_them() {
    for stagger in [40.0, -40.0] {
        let layout = yard(&format!(
            "(id: \"c1\", run: \"r1\", at_mm: 1000, rails: Both, stagger_mm: {stagger})"
        ));
        let report = check(&layout);
        assert_eq!(report.blocks.len(), 2, "the zone between is no block");
        assert_eq!(report.blocks.iter().map(|b| b.length_mm).sum::<f64>(), 2000.0 - 40.0);
        assert_eq!(report.verdict, Verdict::Clear, "{:?}", kinds(&report));
        let opposed = set(&layout, D2, Direction::Reverse, 1.0);
        assert_eq!(check(&opposed).verdict, Verdict::Short);
        // With its wheels 40 mm apart a railcar never joins both rails at once over a stagger of 40 mm.
        let car = with_vehicle(&opposed, |v| {
            v.length_mm = 60.0;
            v.axles.truncate(2);
            v.axles[0].at_mm = 10.0;
            v.axles[1].at_mm = 50.0;
        });
        assert_eq!(cut(&check(&car), C1).now.verdict, Verdict::Clear, "{stagger}");
    }
}

#[test]
fn a_cut_within_the_stagger_of_another_is_still_reported() {
    let report = check(&yard(
        r#"
        (id: "c1", run: "r1", at_mm: 1000, rails: Both, stagger_mm: 100)
        (id: "c2", run: "r1", at_mm: 1050, rails: Right)
        (id: "c3", run: "r1", at_mm: 1200, rails: Both, stagger_mm: 100)
        (id: "c4", run: "r1", at_mm: 1300, rails: Left)
        (id: "c5", run: "r1", at_mm: 1100, rails: Left)
        (id: "c6", run: "r1", at_mm: 1400, rails: Both, stagger_mm: 50)
        (id: "c7", run: "r1", at_mm: 1450, rails: Left)"#,
    ));
    assert_eq!(report.cuts.len(), 7);
}

#[test]
fn a_cut_at_a_runs_very_end() {
    // The joiner at the end of r1 or at the start of r2 is the same gap.
    let base = r#"
        (id: "j3", x_mm: 1000, y_mm: 0)
        (id: "r1", from: "j1", to: "j3")
        (id: "r2", from: "j3", to: "j2")
        (id: "n2", name: "East", run: "r2", at_mm: 700)
        (id: "f2", driver: "d2", run: "r2", at_mm: 700, p: Right, m: Left, ohm: 0.35)"#;
    let mut now = Vec::new();
    for gap in ["run: \"r1\", at_mm: 1000", "run: \"r2\", at_mm: 0"] {
        let layout =
            yard(&format!("{base}\n(id: \"c1\", {gap}, rails: Both, made: InsulatedJoiner)"));
        let report = check(&layout);
        let lengths: Vec<f64> =
            report.blocks.iter().map(|b| b.length_mm).filter(|l| *l > 0.0).collect();
        assert_eq!(lengths, [1000.0, 1000.0]);
        the_one(&report, Kind::OpposedPolarity, Class::Rule, Verdict::Short);
        now.push(cut(&report, C1).disagree.as_ref().unwrap().peak_a());
    }
    assert_abs_diff_eq!(now[0], now[1], epsilon = 1e-9);
    assert_abs_diff_eq!(now[0], 28.0 / 1.78, epsilon = 1e-6);
    // At the end of the track it parts nothing, and nothing can stand over it.
    let report = check(&yard(r#"(id: "c2", run: "r1", at_mm: 2000, rails: Both)"#));
    assert_eq!(cut(&report, CutId(2)).now.verdict, Verdict::Clear);
    assert_eq!(report.verdict, Verdict::Clear);
}

#[test]
fn a_feed_at_the_very_end_of_a_run_is_on_that_run() {
    let report = check(&yard(
        r#"
        (id: "j3", x_mm: 1000, y_mm: 0)
        (id: "r1", from: "j1", to: "j3")
        (id: "r2", from: "j3", to: "j2")
        (id: "n2", name: "East", run: "r2", at_mm: 700)
        (id: "c1", run: "r1", at_mm: 1000, rails: Both, made: InsulatedJoiner)
        (id: "f1", driver: "d1", run: "r1", at_mm: 1000, p: Right, m: Left, ohm: 0.35)
        (id: "f2", driver: "d2", run: "r2", at_mm: 700, p: Right, m: Left, ohm: 0.35)"#,
    ));
    assert_eq!(cut(&report, C1).agree.as_ref().unwrap().settings.len(), 2);
    assert!(
        of_kind(&report, Kind::DoublyFed).is_empty() && of_kind(&report, Kind::Unfed).is_empty()
    );
}

#[test]
fn runs_that_meet_start_to_start_carry_their_rails_on() {
    // r2 is laid from the far end towards the gap: its left rail is r1's right one.
    let report = check(&yard(
        r#"
        (id: "j3", x_mm: 1000, y_mm: 0)
        (id: "r1", from: "j1", to: "j3")
        (id: "r2", from: "j2", to: "j3")
        (id: "n2", name: "East", run: "r2", at_mm: 300)
        (id: "c1", run: "r1", at_mm: 900, rails: Both)
        (id: "f2", driver: "d2", run: "r2", at_mm: 300, p: Left, m: Right, ohm: 0.35)"#,
    ));
    assert_eq!(report.verdict, Verdict::Clear, "{:?}", kinds(&report));
    the_one(&report, Kind::OpposedPolarity, Class::Rule, Verdict::Short);
}

#[test]
fn a_ring_of_track() {
    let ring = r#"
        (id: "r1", from: "j1", to: "j2", shape: Arc(bend_deg: 180))
        (id: "r2", from: "j2", to: "j1", shape: Arc(bend_deg: 180))
        (id: "n2", name: "East", run: "r2", at_mm: 700)
        (id: "f2", driver: "d2", run: "r2", at_mm: 700, p: Right, m: Left, ohm: 0.35)"#;
    // One gap parts nothing: one block with two drivers and two names.
    let report = check(&yard(ring));
    assert_eq!(report.blocks.len(), 1);
    let gap = cut(&report, C1);
    assert_eq!(gap.blocks[0], gap.blocks[1]);
    // A second makes two blocks, which meet at both.
    let two = format!("{ring}\n(id: \"c2\", run: \"r2\", at_mm: 1500, rails: Both)");
    let report = check(&yard(&two));
    assert_eq!(report.blocks.len(), 2);
    assert_eq!(report.verdict, Verdict::Clear, "{:?}", kinds(&report));
    // One rule holds at both.
    let rule = the_one(&report, Kind::OpposedPolarity, Class::Rule, Verdict::Short);
    assert_eq!(rule.cuts().len(), 2);
}

// ---- Smooth throttles.

#[test]
fn a_smooth_throttle_at_zero_clamps_only_if_it_is_said_to() {
    let smooth = |clamped: bool| {
        yard(&format!(
            "(id: \"d2\", supply: \"s2\", drive: SmoothDc(output_ohm: 0.5, clamped_at_zero: {clamped}), $STAGE, \
             setting: (direction: Stopped))"
        ))
    };
    let now = |layout: &Layout| cut(&check(layout), C1).now.clone();
    assert_eq!(now(&smooth(false)).verdict, Verdict::Clear);
    let clamped = now(&smooth(true));
    assert_eq!(clamped.verdict, Verdict::Short);
    assert_abs_diff_eq!(clamped.peak_a(), 14.0 / 1.73, epsilon = 1e-3);
    the_one(&check(&smooth(true)), Kind::IdleClamp, Class::Fault, Verdict::Short);
}

// ---- After the first trip.

#[test]
fn what_goes_on_after_the_first_trip() {
    // Both trip at the same moment and go to high-impedance: nothing is left.
    let report = check(&brake_low_pair());
    let agree = cut(&report, C1).agree.as_ref().unwrap();
    assert_eq!(agree.first, [D1, D2]);
    let after = agree.after_first.as_ref().unwrap();
    assert!(!after.conflict && after.trips.is_empty() && after.peak_a < 1e-3);
    // The slower of the two is left with a clamp that the quicker one holds after its trip.
    let stays = with_driver(&brake_low_pair(), D1, |d| {
        if let Some(trip) = &mut d.trip {
            trip.then = AfterTrip::BrakeLow;
        }
    });
    let stays = with_driver(&stays, D2, |d| {
        if let Some(trip) = &mut d.trip {
            trip.kind = TripKind::Averaged { tau_s: 0.2 };
        }
    });
    let report = check(&stays);
    let agree = cut(&report, C1).agree.as_ref().unwrap();
    assert_eq!(agree.first, [D1]);
    let after = agree.after_first.as_ref().unwrap();
    assert!(after.conflict);
    assert_abs_diff_eq!(after.peak_a, 14.0 / 1.73, epsilon = 1e-3);
    assert_eq!(after.trips, [D2]);
    let clear = check(&yard(""));
    assert_eq!(cut(&clear, C1).agree.as_ref().unwrap().after_first, None);
}

// ---- Trips and supplies.

/// Both drivers against each other at full throttle, each with such a trip.
fn opposed(amps: f64, kind: TripKind) -> Layout {
    let layout = set(&set(&yard(""), D1, Direction::Forward, 1.0), D2, Direction::Reverse, 1.0);
    [D1, D2].into_iter().fold(layout, |layout, id| {
        with_driver(&layout, id, |d| {
            if let Some(trip) = &mut d.trip {
                (trip.amps, trip.kind) = (Quantity::given(amps), kind);
            }
        })
    })
}

#[test]
fn a_fuse_may_act_on_a_vehicle_that_stands_there_only() {
    let fuse = |rated| opposed(rated, TripKind::Thermal { points: TripPoints::quick_acting() });
    // 28 / (2·0.05 + 4·0.06 + 4·0.35 + 4·0.03/3) = 15.73 A; 160 mm at 30 mm/s are 5.3 s.
    let report = check(&fuse(6.5));
    let at = cut(&report, C1);
    let amps = at.now.peak_a();
    assert_abs_diff_eq!(amps, 28.0 / 1.78, epsilon = 1e-3);
    assert_eq!((at.now.verdict, at.now.motion), (Verdict::Short, Motion::Standing));
    let pass = &at.passes_now[0];
    assert_eq!((pass.slow.trips, pass.fast.trips), (Trips::No, Trips::No));
    assert_eq!(pass.standing.trips, Trips::Yes);
    // 2.42 times its rating: between 2.1 times in 1800 s and 2.75 times in 2 s.
    let slope = (1800.0_f64 / 2.0).ln() / (2.75_f64 / 2.1).ln();
    let seconds = 2.0 * (2.75 * 6.5 / amps).powf(slope);
    assert!((10.0..60.0).contains(&seconds), "{seconds}");
    for driver in &at.now.drivers {
        assert_eq!(driver.trips, Trips::Yes);
        assert_abs_diff_eq!(driver.trip_after_s.unwrap() / seconds, 1.0, epsilon = 1e-6);
    }
    the_one(&report, Kind::OpposedPolarity, Class::Fault, Verdict::Short);
    // A smaller one melts while the slowest train rolls over, a larger one never.
    let small = check(&fuse(2.0));
    assert_eq!(cut(&small, C1).passes_now[0].slow.trips, Trips::Yes);
    let large = check(&fuse(11.0));
    assert_eq!(cut(&large, C1).passes_now[0].standing.trips, Trips::No);
    assert_eq!(cut(&large, C1).now.verdict, Verdict::Caution);
}

#[test]
fn a_driver_that_chops_never_trips() {
    let chopping = opposed(2.0, TripKind::Chopping);
    let report = check(&chopping);
    let now = &cut(&report, C1).now;
    assert_eq!(now.verdict, Verdict::Caution);
    // Figures are without the limit.
    assert_abs_diff_eq!(now.peak_a(), 28.0 / 1.78, epsilon = 1e-3);
    assert_abs_diff_eq!(now.margin.unwrap(), 1.0 - 14.0 / 1.78, epsilon = 1e-3);
    assert!(now.drivers.iter().all(|d| d.trips == Trips::No));
    assert_eq!(cut(&report, C1).passes_now[0].standing.trips, Trips::No);
    let finding = the_one(&report, Kind::OpposedPolarity, Class::Fault, Verdict::Caution);
    let words = words(finding, &report, &chopping, Units::Metric);
    assert!(words.says.contains("crawls while a driver chops"), "{}", words.says);
    assert!(words.more.contains("limits its current to 2.0 A cycle by cycle"), "{}", words.more);
    assert!(!words.more.contains("shortness"), "{}", words.more);
    // What it lets through for ever is an overload only beyond what it bears, whatever would flow without the limit.
    let bears = |amps| with_driver(&chopping, D1, |d| d.rating_a = Some(Quantity::given(amps)));
    assert_eq!(cut(&check(&bears(2.6)), C1).now.verdict, Verdict::Caution);
    let over = cut(&check(&bears(1.6)), C1).now.clone();
    assert_eq!(over.verdict, Verdict::Overload);
    assert_abs_diff_eq!(over.margin.unwrap(), 1.0 - 2.0 / 1.6, epsilon = 1e-9);
    // A limit above what flows is nothing to tell.
    assert_eq!(cut(&check(&opposed(25.0, TripKind::Chopping)), C1).now.verdict, Verdict::Clear);
    // A trip in its place shorts.
    let trips = check(&opposed(2.0, TripKind::Instant { blanking_s: 0.0 }));
    the_one(&trips, Kind::OpposedPolarity, Class::Fault, Verdict::Short);
}

#[test]
fn curves_that_make_no_sense_are_refused() {
    let with = |kind: &str, more: &str| {
        let trip = format!("trip: (amps: 2, senses: LargerLeg, kind: {kind}{more})");
        let line = format!(
            "(id: \"d1\", supply: \"s1\", $PWM(490, HighImpedance), $STAGE, {trip}, $F(0.4))"
        );
        load_yard(&line)
    };
    let points = |points: &str| with(&format!("Thermal(points: [{points}])"), "");
    let good = points("(times: 1.5, after_s: 3600), (times: 2, after_s: 5)").unwrap();
    let text = layout::save(&good.layout);
    assert_eq!(layout::load(&text).unwrap().layout, good.layout);
    for (bad, says) in [
        ("", "no points"),
        ("(times: 0, after_s: 1)", "the value is 0"),
        ("(times: 2, after_s: 1), (times: 3, after_s: 1)", "more current and less time"),
        ("(times: 2, after_s: 5), (times: 2, after_s: 1)", "more current and less time"),
    ] {
        let fault = points(bad).unwrap_err();
        assert!(fault.iter().any(|f| f.says.contains(says)), "{bad}: {fault:?}");
    }
    assert!(points(&"(times: 1, after_s: 1),".repeat(9)).is_err());
    assert!(with("Chopping", "").is_ok());
    let retry = with("Chopping", ", retry_s: 1").unwrap_err();
    assert!(retry.iter().any(|f| f.says.contains("never trips")), "{retry:?}");
}

#[test]
fn a_battery_takes_current_back() {
    // 18 V into a battery of 12 V: 6 / (0.05 + 0.05 + 0.24 + 1.4 + 0.04) = 3.37 A, above the trip.
    let battery = yard(
        r#"
        (id: "s1", open_v: 18, source_ohm: 0.05)
        (id: "s2", open_v: 12, source_ohm: 0.05, can_sink: true)"#,
    );
    let report = check(&battery);
    let finding = the_one(&report, Kind::BackFeed, Class::Fault, Verdict::Short);
    assert_abs_diff_eq!(situation(finding).peak_a(), 6.0 / 1.78, epsilon = 1e-3);
    let patient = [D1, D2].into_iter().fold(battery, |layout, id| {
        with_driver(&layout, id, |d| {
            if let Some(trip) = &mut d.trip {
                trip.amps = Quantity::given(6.0);
            }
        })
    });
    the_one(&check(&patient), Kind::BackFeed, Class::Fault, Verdict::BackFeed);
}

#[test]
fn a_load_alone_is_no_fault_of_the_gap() {
    // 14 V on 12 Ω is more than the 0.5 A that the driver bears, wherever the engine stands.
    let loaded = with_vehicle(&yard(""), |v| {
        v.load = layout::Load::Resistor { ohm: Quantity::given(12.0) };
    });
    let weak = with_driver(&loaded, D1, |d| d.rating_a = Some(Quantity::given(0.5)));
    let report = check(&weak);
    assert_eq!(cut(&report, C1).agree.as_ref().unwrap().verdict, Verdict::Caution);
    assert_eq!(report.verdict, Verdict::Clear);
}

#[test]
fn no_pairs_of_idle_states_are_matched_outside_the_circuit() {
    fn files(folder: &std::path::Path, found: &mut Vec<std::path::PathBuf>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                files(&path, found);
            } else if path.extension().is_some_and(|e| e == "rs") {
                found.push(path);
            }
        }
    }
    let mut all = Vec::new();
    files(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut all);
    assert!(all.len() > 30);
    let pairs = |code: &str| {
        // Patterns only: what stands before `=>`, or in `matches!` and `if let`.
        let states = ["Idle::", "StateWord::", "BrakeLow", "BrakeHigh", "HighImpedance", "Opposed"];
        let word = |text: &str| states.iter().any(|s| text.trim_start().starts_with(s));
        code.match_indices('(')
            .filter(|(at, _)| {
                let Some(inside) = code[at + 1..].split(')').next() else { return false };
                let parts: Vec<&str> = inside.split(',').collect();
                let after = code[at + 1 + inside.len()..].trim_start_matches([')', ' ']);
                parts.len() == 2 && parts.iter().all(|p| word(p)) && after.starts_with("=>")
            })
            .count()
    };
    assert_eq!(pairs("match (a, b) { (Idle::BrakeLow, Idle::BrakeHigh) => 1, _ => 0 }"), 1);
    for path in all {
        let inside = path.components().any(|c| c.as_os_str() == "circuit");
        let code = std::fs::read_to_string(&path).unwrap();
        assert!(inside || pairs(&code) == 0, "{}", path.display());
    }
}

/// So many blocks in a row on one run, each with a bridge of its own.
fn row(blocks: u32, shared: bool) -> Layout {
    let mut layout = yard("-c1\n-n1\n-n2\n-f1\n-f2");
    let length_mm = f64::from(blocks) * 500.0;
    let run = layout.runs.get_mut(&RunId(1)).unwrap();
    run.length_mm = Some(length_mm);
    let (supply, driver) = (layout.supplies[&SupplyId(1)].clone(), layout.drivers[&D1].clone());
    for k in 1..=blocks {
        let id = SupplyId(k);
        let negative =
            shared.then(|| SharedNegative { name: "board".into(), ohm: Quantity::given(0.01) });
        layout.supplies.insert(id, layout::Supply { id, negative, ..supply.clone() });
        layout
            .drivers
            .insert(DriverId(k), layout::Driver { id: DriverId(k), supply: id, ..driver.clone() });
        let id = FeedId(k);
        layout.feeds.insert(
            id,
            layout::Feed {
                id,
                driver: DriverId(k).into(),
                run: RunId(1),
                at_mm: f64::from(k) * 500.0 - 250.0,
                p: Some(Rail::Right),
                m: Some(Rail::Left),
                wire: None,
                ohm: Some(Quantity::given(0.35)),
            },
        );
        if k < blocks {
            let id = CutId(k);
            layout.cuts.insert(
                id,
                layout::Cut {
                    id,
                    name: String::new(),
                    run: RunId(1),
                    at_mm: f64::from(k) * 500.0,
                    rails: Rails::Both,
                    width_mm: 0.8,
                    stagger_mm: 0.0,
                    made: layout::Made::Open,
                    cut_at_c: None,
                    notes: String::new(),
                },
            );
        }
    }
    layout.next_id = blocks + 10;
    layout::load(&layout::save(&layout)).unwrap().layout
}

#[test]
fn at_one_of_many_cuts_every_gap_sees_its_own_two_drivers() {
    for shared in [false, true] {
        let report = check(&row(800, shared));
        assert_eq!(report.cuts.len(), 799);
        assert!(report.cuts.iter().all(|c| c.now.drivers.len() == 2));
    }
}

#[test]
fn a_trip_that_counts_one_direction_acts_in_reverse_as_well() {
    // In reverse the current leaves by M: 28 / 1.78 against each other, either way about.
    let signed = |first: Direction, second: Direction| {
        let layout = [D1, D2].into_iter().fold(yard(""), |layout, id| {
            with_driver(&layout, id, |d| {
                if let Some(trip) = &mut d.trip {
                    trip.signed = true;
                }
            })
        });
        let now = set(&set(&layout, D1, first, 1.0), D2, second, 1.0);
        cut(&check(&now), C1).now.clone()
    };
    for (first, second) in
        [(Direction::Forward, Direction::Reverse), (Direction::Reverse, Direction::Forward)]
    {
        let now = signed(first, second);
        assert_eq!((now.verdict, &now.first[..]), (Verdict::Short, &[D1, D2][..]));
        for driver in &now.drivers {
            assert_abs_diff_eq!(driver.sensed.unwrap().peak, 28.0 / 1.78, epsilon = 1e-3);
        }
    }
}

#[test]
fn ranges_open_a_verdict_only_where_they_reach_over_the_threshold() {
    // With d2's source at R the drive into d1's clamp is 14 / (1.68 + R), 3 A at R = 2.987 Ω.
    let with = |from: f64, to: f64| {
        let layout = with_supply(&brake_low_pair(), 1, |s| s.source_ohm = Quantity::given(20.0));
        let layout = with_supply(&layout, 2, |s| s.source_ohm = Quantity::assumed(from, from, to));
        let report = check(&layout);
        let (_, situation) = cell(&report, C1, SetWord::Forward, SetWord::Forward);
        situation.verdict
    };
    assert_eq!(with(0.05, 2.9), Verdict::Short);
    assert_eq!(with(0.05, 3.1), Verdict::NotKnown);
    assert!(with(3.1, 6.0) <= Verdict::Caution);
}
