//! Trains: what several vehicles join at once, at the cuts and on their way.
//!
//! The bridges here have 14 V behind 0.05 Ω, switches of 0.06 Ω and feeder legs of 0.35 Ω, the wheels 0.03 Ω.

use std::collections::BTreeSet;

use super::support::yards::*;
use gapwright::findings::{
    Class, Evidence, Finding, GuardId, Kind, Relation, Report, SideWord, Situation, Verdict, check,
    words,
};
use gapwright::layout::{
    self, CutId, DeviceId, DriverId, Edit, Layout, RunId, TrainId, VehicleId, Wheel,
};
use gapwright::rails::Plan;
use gapwright::report::Units;
use gapwright::study::run::{Course, Event, Fate, Rolls, Running, Urge, What, at, run};

const V1: VehicleId = VehicleId(1);
const V2: VehicleId = VehicleId(2);
const T1: TrainId = TrainId(1);
const R1: RunId = RunId(1);

fn of_kind(report: &Report, kind: Kind) -> Vec<&Finding> {
    report.findings.iter().filter(|f| f.kind == kind).collect()
}

fn situation(finding: &Finding) -> &Situation {
    finding.situation().unwrap_or_else(|| panic!("no situation in {finding:?}"))
}

// ---- At the cuts.

#[test]
fn a_train_of_a_lit_carriage_bridges_a_section_that_no_vehicle_of_it_bridges() {
    let short = section(350.0);
    let report = check(&short);
    // The far feeder is crossed: at its own gap under the engine alone, and for the train at both gaps at once.
    let [finding] = of_kind(&report, Kind::SwappedFeed)[..] else {
        panic!("{:#?}", report.findings.iter().map(|f| (f.kind, f.cuts())).collect::<Vec<_>>())
    };
    assert_eq!((finding.class, finding.verdict), (Class::Fault, Verdict::Short));
    let cuts: BTreeSet<CutId> = finding.cuts().into_iter().collect();
    assert_eq!(cuts, BTreeSet::from([CutId(1), CutId(2)]));
    let told = situation(finding);
    assert_eq!((told.train, told.joins.len()), (Some(T1), 4));
    // One group over each gap, both rails each.
    assert_eq!(told.joins.iter().map(|j| j.group).collect::<Vec<_>>(), [0, 0, 1, 1]);
    let mut whose: Vec<_> = told.joins.iter().flat_map(|j| j.vehicles.clone()).collect();
    whose.dedup();
    assert_eq!(whose.len(), 2);
    // d1 by itself: its P to its own M through the section's rails, over both vehicles and both legs twice.
    assert!(told.peak_a() > 28.0 / 1.78, "{}", told.peak_a());
    let words = words(finding, &report, &short, Units::Metric);
    assert!(words.says.contains("the wires of feeder f3 are crossed"), "{}", words.says);
    assert!(words.says.contains("the Evening local shorts"), "{}", words.says);

    // Apart, no vehicle shorts at the first gap where the settings agree.
    let mut apart = short.clone();
    layout::apply(&mut apart, Edit::Delete(vec![T1.into()])).unwrap();
    let alone = check(&apart);
    let first = |report: &Report| report.cuts[0].agree.as_ref().unwrap().verdict;
    assert_eq!((first(&alone), first(&report)), (Verdict::Clear, Verdict::Short));
    // Longer than all that bridges, it is as good as without a train.
    let long = check(&section(420.0));
    assert_eq!(first(&long), Verdict::Clear);
    assert!(of_kind(&long, Kind::SectionTooShort).is_empty());
}

#[test]
fn a_train_changes_nothing_of_what_is_told_of_its_vehicles_by_themselves() {
    let coasts = |id| driver(id, "HighImpedance", FORWARD, &trip(3.0, ""));
    let without = check(&two_blocks(coasts(1), driver(2, "BrakeLow", FORWARD, &trip(3.0, "")), ""));
    let with = check(&two_blocks(coasts(1), driver(2, "BrakeLow", FORWARD, &trip(3.0, "")), LOCAL));
    assert_eq!(without.findings, with.findings);
    assert_eq!(without.cuts, with.cuts);
}

#[test]
fn pickups_joined_across_the_coupler_straddle_as_one_and_cure_a_stall() {
    let coasts = |id| driver(id, "HighImpedance", FORWARD, &trip(3.0, ""));
    // The engine picks up on the right, its tender on the left, and only the engine has a motor.
    let split = |joined: bool| {
        let train = format!(
            r#"(id: "t1", vehicles: [(vehicle: "v1", joined: {joined}), (vehicle: "v2")])"#
        );
        let mut layout = two_blocks(coasts(1), coasts(2), &train);
        for (id, left, right) in
            [(V1, Wheel::Metal, Wheel::Pickup), (V2, Wheel::Pickup, Wheel::Metal)]
        {
            change_vehicle(&mut layout, id, |v| {
                for axle in &mut v.axles {
                    (axle.left, axle.right) = (left, right);
                }
            });
        }
        layout
    };
    // Joined, they get current on a block; between the blocks there is a place where they stall: the engine's last
    // right wheel is beyond the gap before the tender's first left one.
    let joined = split(true);
    let report = check(&joined);
    let stall = of_kind(&report, Kind::Stall);
    assert_eq!(stall.len(), 1, "{:?}", report.findings);
    assert_eq!(situation(stall[0]).train, Some(T1));
    let plan = Plan::derive(&joined);
    let standing = at(&joined, &plan, &running(Rolls::Train(T1), 700.0), 0.0).unwrap();
    assert_eq!(standing.groups.len(), 1);
    assert_eq!((standing.groups[0].live, standing.urge), (Some(true), Urge::On));
    // Not joined, no wheel of the engine's left touches anything: it never gets current.
    let apart = split(false);
    let standing =
        at(&apart, &Plan::derive(&apart), &running(Rolls::Train(T1), 700.0), 0.0).unwrap();
    assert_eq!((standing.groups.len(), standing.urge), (2, Urge::Dead));
    assert_eq!(standing.verdict, Verdict::Stall);
}

#[test]
fn a_turned_vehicle_in_a_train_picks_up_from_the_other_rail() {
    let coasts = |id| driver(id, "HighImpedance", FORWARD, &trip(3.0, ""));
    let rails = |turned: bool| {
        let train = format!(r#"(id: "t1", vehicles: [(vehicle: "v1", turned: {turned})])"#);
        let mut layout = two_blocks(coasts(1), coasts(2), &train);
        change_vehicle(&mut layout, V1, |v| v.axles.iter_mut().for_each(|a| a.left = Wheel::Metal));
        let plan = Plan::derive(&layout);
        [false, true].map(|rear_first| {
            let way = Running { rear_first, ..running(Rolls::Train(T1), 700.0) };
            at(&layout, &plan, &way, 0.0).unwrap().groups[0].nets.clone().map(|side| side.len())
        })
    };
    assert_eq!(rails(false), [[0, 1], [1, 0]]);
    assert_eq!(rails(true), [[1, 0], [0, 1]]);
}

#[test]
fn a_vehicle_whose_pickups_are_not_joined_joins_no_more_than_a_wheel_does() {
    let opposed = |trains| {
        two_blocks(
            driver(1, "HighImpedance", FORWARD, &trip(3.0, "")),
            driver(2, "HighImpedance", REVERSE, &trip(3.0, "")),
            trains,
        )
    };
    let mut layout = opposed("");
    assert_eq!(check(&layout).cuts[0].now.verdict, Verdict::Short);
    for id in [V1, V2] {
        change_vehicle(&mut layout, id, |v| v.pickups_joined = false);
    }
    // A wheel over the opening may still bridge it as it rolls: 0.5 mm at 50 mm/s is 10 ms.
    let now = check(&layout).cuts[0].now.clone();
    assert_eq!(now.motion, gapwright::findings::Motion::Moving);
    for id in [V1, V2] {
        change_vehicle(&mut layout, id, |v| v.patch_mm = 0.0);
    }
    assert_ne!(check(&layout).cuts[0].now.verdict, Verdict::Short);
}

#[test]
fn every_vehicle_that_stalls_is_told_of() {
    let coasts = |id| driver(id, "HighImpedance", FORWARD, &trip(3.0, ""));
    let mut layout = two_blocks(coasts(1), coasts(2), "");
    // Left pickups in front, right ones behind: between the blocks no circuit closes, whichever way round.
    for id in [V1, V2] {
        change_vehicle(&mut layout, id, |v| {
            v.axles[0].right = Wheel::Insulated;
            v.axles[1].left = Wheel::Insulated;
        });
    }
    let report = check(&layout);
    let mut stalled: Vec<_> = of_kind(&report, Kind::Stall).iter().map(|f| f.vehicle).collect();
    stalled.sort();
    assert_eq!(stalled, [Some(V1), Some(V2)]);
    change_vehicle(&mut layout, V2, |v| v.axles[0].right = Wheel::Pickup);
    let report = check(&layout);
    assert_eq!(
        of_kind(&report, Kind::Stall).iter().map(|f| f.vehicle).collect::<Vec<_>>(),
        [Some(V1)]
    );
}

#[test]
fn two_engines_that_each_join_one_rail_short_together() {
    let layout = two_gaps();
    let report = check(&layout);
    let [finding] = of_kind(&report, Kind::TwoTrains)[..] else { panic!("{report:#?}") };
    assert_eq!((finding.class, finding.verdict), (Class::Rule, Verdict::Short));
    assert_eq!(finding.cuts(), [CutId(1), CutId(2)]);
    // 28 V around two sources, four switches, four legs, and two joins of a wheel on each side: 0.1 + 0.24 + 1.4 + 0.12 Ω.
    let told = situation(finding);
    assert!((told.peak_a() - 28.0 / 1.86).abs() < 0.01, "{}", told.peak_a());
    let mut sides: Vec<_> = told.joins.iter().map(|j| j.side).collect();
    sides.sort();
    assert_eq!(sides, [SideWord::Left, SideWord::Right]);
    let words = words(finding, &report, &layout, Units::Metric);
    assert!(words.says.contains("gaps c1 and c2"), "{}", words.says);
    // One of them alone shorts nothing.
    assert!(report.cuts.iter().all(|c| c.now.verdict != Verdict::Short));
    // With one direction the second engine changes nothing.
    let mut agreeing = layout.clone();
    let setting = layout.drivers[&DriverId(1)].setting;
    layout::apply(&mut agreeing, Edit::Set { driver: DriverId(2), setting }).unwrap();
    let report = check(&agreeing);
    let [finding] = of_kind(&report, Kind::TwoTrains)[..] else { panic!("{report:#?}") };
    let Evidence::TwoTrains(e) = &finding.evidence else { panic!("{finding:?}") };
    assert_eq!((e.relation, e.now), (Some(Relation::Disagree), false));
}

#[test]
fn two_ends_of_a_long_stagger_are_two_gaps() {
    let staggered = |stagger_mm: f64| {
        let mut layout = two_blocks(
            driver(1, "HighImpedance", FORWARD, &trip(3.0, "")),
            driver(2, "HighImpedance", REVERSE, &trip(3.0, "")),
            "",
        );
        let cut = layout::Cut { stagger_mm, ..layout.cuts[&CutId(1)].clone() };
        layout::apply(&mut layout, Edit::Replace(cut.into())).unwrap();
        layout::apply(&mut layout, Edit::Delete(vec![V2.into()])).unwrap();
        // 120 mm between the axles, and as much and more before and behind them.
        change_vehicle(&mut layout, V1, |v| {
            v.length_mm = 400.0;
            (v.axles[0].at_mm, v.axles[1].at_mm) = (140.0, 260.0);
        });
        check(&layout)
    };
    // At 300 mm one engine never joins both rails, and there is room for two: 280 mm from one's front axle to the
    // other's rear axle.
    let report = staggered(300.0);
    let [finding] = of_kind(&report, Kind::TwoTrains)[..] else { panic!("{report:#?}") };
    assert_eq!(finding.cuts(), [CutId(1)]);
    // At 260 mm neither does one, but two do not find room. At 100 mm one joins both rails by itself.
    assert!(of_kind(&staggered(260.0), Kind::TwoTrains).is_empty());
    assert!(of_kind(&staggered(100.0), Kind::TwoTrains).is_empty());
}

#[test]
fn a_dead_frog_is_dead_for_a_short_engine() {
    let found = |base_mm| {
        let report = check(&dead_frog(base_mm));
        of_kind(&report, Kind::DeadSpot).len()
    };
    assert!(found(30.0) > 0);
    assert_eq!(found(60.0), 0);
}

// ---- On the way.

fn running(rolls: Rolls, at_mm: f64) -> Running {
    Running {
        rolls,
        run: R1,
        at_mm,
        along: true,
        rear_first: false,
        speed_mm_s: 100.0,
        distance_mm: 800.0,
        pushed: false,
    }
}

fn of(layout: &Layout, running: &Running) -> Vec<Event> {
    run(layout, &Plan::derive(layout), running)
}

fn fate(events: &[Event]) -> Fate {
    match events.last().unwrap().what {
        What::Ends(fate) => fate,
        ref other => panic!("{other:?}"),
    }
}

#[test]
fn a_sound_gap_is_passed_and_every_rail_is_told() {
    let coasts = |id| driver(id, "HighImpedance", FORWARD, &trip(3.0, ""));
    let layout = two_blocks(coasts(1), coasts(2), "");
    let events = of(&layout, &running(Rolls::Vehicle(V1), 700.0));
    assert_eq!(fate(&events), Fate::Arrives);
    let last = events.last().unwrap();
    assert!((last.position_mm - 800.0).abs() < 1e-6 && (last.time_s - 8.0).abs() < 1e-6);
    // 300 mm to the gap, and the axles 40 and 160 mm behind the front.
    let passing: Vec<(f64, bool, SideWord)> = events
        .iter()
        .filter_map(|e| match &e.what {
            What::Begins { side, .. } => Some((e.position_mm, true, *side)),
            What::Leaves { side, .. } => Some((e.position_mm, false, *side)),
            _ => None,
        })
        .collect();
    let (l, r) = (SideWord::Left, SideWord::Right);
    assert_eq!(passing, [(340.0, true, l), (340.0, true, r), (460.0, false, l), (460.0, false, r)]);
    assert!(events.windows(2).all(|e| e[0].time_s <= e[1].time_s));
    assert!(!events.iter().any(|e| matches!(e.what, What::Trips { .. } | What::Stops(_))));
    // What it stands on while it straddles.
    let plan = Plan::derive(&layout);
    let standing = at(&layout, &plan, &running(Rolls::Vehicle(V1), 700.0), 400.0).unwrap();
    assert_eq!(standing.cuts, [CutId(1)]);
    assert!(standing.groups[0].joins() && standing.verdict == Verdict::Clear);
}

#[test]
fn against_each_other_both_trip_and_it_stalls_on_the_gap() {
    let bridge = |id, setting, more: &str| driver(id, "HighImpedance", setting, &trip(3.0, more));
    let layout = two_blocks(bridge(1, FORWARD, ""), bridge(2, REVERSE, ""), "");
    let events = of(&layout, &running(Rolls::Vehicle(V1), 700.0));
    let trips: Vec<&Event> =
        events.iter().filter(|e| matches!(e.what, What::Trips { .. })).collect();
    assert_eq!(trips.len(), 1);
    let What::Trips { guards, always, .. } = &trips[0].what else { unreachable!() };
    let both = [1, 2].map(|id| GuardId::Driver(DriverId(id)));
    assert_eq!((guards.as_slice(), *always), (&both[..], true));
    // With the first axle over, the engine's motor has no volts between its rails: it stops, and a millisecond later
    // both trips act.
    assert!((trips[0].position_mm - 340.0).abs() < 1e-6, "{}", trips[0].position_mm);
    assert!((trips[0].time_s - 3.401).abs() < 1e-6, "{}", trips[0].time_s);
    assert_eq!(fate(&events), Fate::Stalls);
    let told: Vec<String> =
        events.iter().map(|e| gapwright::report::event_words(&layout, e, Units::Metric)).collect();
    assert!(told.contains(&"driver d1 and driver d2 trip after 1.0 ms".to_owned()), "{told:#?}");
    assert!(told[0].contains("nothing is joined"), "{told:#?}");
    assert!(events.iter().any(|e| matches!(e.what, What::Stops(Urge::Dead))));

    let more = "retry_s: Some(2)";
    let layout = two_blocks(bridge(1, FORWARD, more), bridge(2, REVERSE, more), "");
    let events = of(&layout, &running(Rolls::Vehicle(V1), 700.0));
    assert_eq!(fate(&events), Fate::HiccupsForEver);
    assert!(events.iter().any(|e| matches!(e.what, What::TriesAgain(_))));
    // By hand it comes over all the same.
    let pushed = Running { pushed: true, ..running(Rolls::Vehicle(V1), 700.0) };
    assert_eq!(fate(&of(&layout, &pushed)), Fate::Arrives);
}

#[test]
fn where_one_side_trips_first_the_other_decides() {
    // West brakes in its idle part and trips at 1 A; East at full never trips. What West does then decides.
    let west = |then: &str| {
        driver(1, "BrakeLow", "Forward, throttle: 0.5", &trip(1.0, &format!("then: {then}")))
    };
    let east = || driver(2, "HighImpedance", FORWARD, &trip(100.0, ""));
    let fate_of = |layout: &Layout| {
        let events = of(layout, &running(Rolls::Vehicle(V1), 700.0));
        assert_eq!(events.iter().filter(|e| matches!(e.what, What::Trips { .. })).count(), 1);
        fate(&events)
    };
    // Off the rails it lets East drive on.
    assert_eq!(fate_of(&two_blocks(west("HighImpedance"), east(), "")), Fate::Arrives);
    // Braking it stays a clamp: with 1.73 Ω between them East still has some volts on the engine, and it crawls over.
    assert_eq!(fate_of(&two_blocks(west("BrakeLow"), east(), "")), Fate::Arrives);
    // An East that is set the other way drives it back.
    let east = driver(2, "HighImpedance", REVERSE, &trip(100.0, ""));
    let layout = two_blocks(west("HighImpedance"), east, "");
    assert_eq!(fate_of(&layout), Fate::DrivenBack);
}

#[test]
fn an_auto_reverser_lets_a_decoder_through_and_a_breaker_stops_it() {
    // One booster feeds both blocks, the second with exchanged rails through a device.
    let through = |device: &str| {
        let text = format!(
            r#"(version: 1, rail_ohm_per_m: 0, supplies: [(id: "s1", open_v: 14, source_ohm: 0.05)],
            drivers: [(id: "d1", supply: "s1", drive: DccBooster(station: "yard"), high_ohm: 0.06, low_ohm: 0.06,
                diode_v: 0.7, diode_ohm: 0.05, trip: (amps: 5, senses: LargerLeg, kind: Instant(blanking_s: 0.05)),
                setting: (direction: On))],
            devices: [(id: "x1", kind: {device})],
            joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 2000, y_mm: 0)],
            runs: [(id: "r1", from: "j1", to: "j2")], cuts: [(id: "c1", run: "r1", at_mm: 1000, rails: Both)],
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 100, p: Right, m: Left, ohm: 0.35),
                (id: "f2", driver: "x1", run: "r1", at_mm: 1900, p: Left, m: Right, ohm: 0.35)],
            vehicles: [(id: "v1", length_mm: 200, axles: [(at_mm: 40), (at_mm: 160)],
                contact_ohm: (low: 0.03, high: 0.03), load: Rectifier(ohm: 4, volts: 9))])"#
        );
        let layout = layout::load(&text).unwrap_or_else(|e| panic!("{e:?}\n{text}")).layout;
        let events = of(&layout, &running(Rolls::Vehicle(V1), 700.0));
        let trips = events.iter().filter_map(|e| match &e.what {
            What::Trips { guards, .. } => Some(guards.clone()),
            _ => None,
        });
        (trips.collect::<Vec<_>>(), fate(&events))
    };
    let device = vec![GuardId::Device(DeviceId(1))];
    let reverser = through(r#"AutoReverser(from: "d1", amps: 3, acts_after_s: 0.005)"#);
    assert_eq!(reverser, (vec![device.clone()], Fate::Arrives));
    // A breaker opens the block beyond: over the gap the decoder lives on what is before it, then it is dead.
    let trip = "trip: Instant(blanking_s: 0.005)";
    let breaker = through(&format!(r#"Breaker(from: "d1", amps: 3, {trip})"#));
    assert_eq!(breaker, (vec![device.clone()], Fate::Stalls));
    // One that tries again does so once the gap is behind.
    let again = through(&format!(r#"Breaker(from: "d1", amps: 3, {trip}, retry_s: 0.5)"#));
    assert!(again.0.len() > 1 && again.0.iter().all(|trips| *trips == device), "{again:?}");
    assert_eq!(again.1, Fate::Arrives);
}

#[test]
fn a_train_is_told_of_group_by_group_and_of_both_gaps_at_once() {
    let layout = section(350.0);
    let way = Running { distance_mm: 1200.0, pushed: true, ..running(Rolls::Train(T1), 900.0) };
    let plan = Plan::derive(&layout);
    let course = Course::new(&layout, &plan, &way).unwrap();
    assert_eq!(course.length_mm(), 480.0);
    // The engine's first axle reaches the second gap at 1350 + 40; the carriage's last leaves the first at 1000 + 448.
    let standing = course.at(&layout, &plan, 500.0);
    assert_eq!(standing.cuts, [CutId(1), CutId(2)]);
    assert!(standing.groups.iter().all(|g| g.joins()));
    assert_eq!(standing.verdict, Verdict::Short);
    let standing = course.at(&layout, &plan, 480.0);
    assert_eq!(standing.cuts, [CutId(1)]);
    // The section agrees with what lies before it.
    assert_eq!(standing.verdict, Verdict::Clear);
    let place = course.place(500.0, 480.0).unwrap();
    assert_eq!((place.run, place.at_mm, place.along), (R1, 920.0, true));

    let events = run(&layout, &plan, &way);
    assert_eq!(fate(&events), Fate::Arrives);
    let first = events.iter().find(|e| matches!(e.what, What::Trips { .. })).unwrap();
    assert!((first.position_mm - 490.1).abs() < 1e-6, "{}", first.position_mm);
}

#[test]
fn backwards_and_against_the_run_is_the_same_mirrored() {
    let coasts = |id| driver(id, "HighImpedance", REVERSE, &trip(3.0, ""));
    let layout = two_blocks(coasts(1), coasts(2), "");
    let back = Running { along: false, ..running(Rolls::Vehicle(V1), 1300.0) };
    let events = of(&layout, &back);
    assert_eq!(fate(&events), Fate::Arrives);
    let begins = events.iter().find(|e| matches!(e.what, What::Begins { .. })).unwrap();
    assert!((begins.position_mm - 340.0).abs() < 1e-9);
    // Set to reverse, it does not go the way of the run.
    assert_eq!(fate(&of(&layout, &running(Rolls::Vehicle(V1), 700.0))), Fate::DrivenBack);
    // And the track ends.
    let far = Running { distance_mm: 5000.0, ..back };
    let events = of(&layout, &far);
    assert_eq!(fate(&events), Fate::EndOfTrack);
    assert!((events.last().unwrap().position_mm - 1300.0).abs() < 1e-6);
}

#[test]
fn nothing_that_is_asked_for_panics_or_hangs() {
    let layout = section(350.0);
    let plan = Plan::derive(&layout);
    let odd = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 0.0, 1e300, 1350.0];
    for at_mm in odd {
        for distance_mm in odd {
            for speed_mm_s in odd {
                let way =
                    Running { at_mm, distance_mm, speed_mm_s, ..running(Rolls::Train(T1), 0.0) };
                assert!(matches!(run(&layout, &plan, &way).last().unwrap().what, What::Ends(_)));
                assert!(at(&layout, &plan, &way, speed_mm_s).is_some());
            }
        }
    }
    for rolls in [Rolls::Train(TrainId(99)), Rolls::Vehicle(VehicleId(99))] {
        assert!(run(&layout, &plan, &running(rolls, 0.0)).is_empty());
    }
    let nowhere = Running { run: RunId(99), ..running(Rolls::Train(T1), 0.0) };
    assert!(at(&layout, &plan, &nowhere, 0.0).is_none());
}

#[test]
fn a_train_of_twenty_lit_carriages_arrives_over_many_short_blocks() {
    let layout = many_short_blocks();
    let report = check(&layout);
    assert_eq!(report.cuts.len(), 23);
    let way = Running { distance_mm: 11_000.0, ..running(Rolls::Train(T1), 500.0) };
    assert_eq!(fate(&of(&layout, &way)), Fate::Arrives);
}
