//! What the wiring itself lets down: dead shorts at the far end, wires, supplies, gaps that close, rail joiners.
//!
//! Fixtures as in [`super::findings`]: a coin at a feeder there draws 14 / (0.05 + 2·0.06 + 2·0.35 + 0.01) = 15.909 A.

use approx::assert_relative_eq;
use gapwright::findings::{
    Beyond, Bound, Class, CoinEvidence, Evidence, Finding, Kind, Report, SetWord, SideWord,
    Verdict, check,
};
use gapwright::layout::{
    self, Climate, Direction, Edit, Joiners, Layout, LimitKind, Made, Quantity, Senses, TripKind,
    WireSize,
};

use super::support::yards::*;

fn coin(finding: &Finding) -> &CoinEvidence {
    match &finding.evidence {
        Evidence::CoinTestFails(coin) => coin,
        other => panic!("no coin in {other:?}"),
    }
}

fn failing(report: &Report, verdict: Verdict) -> &CoinEvidence {
    coin(the_one(report, Kind::CoinTestFails, Class::Fault, verdict))
}

/// At which settings a coin is fed for ever, the worst first.
fn at(coin: &CoinEvidence) -> Vec<(SetWord, f64)> {
    coin.settings.iter().map(|set| (set.state, set.throttle)).collect()
}

#[test]
fn the_coin_lies_where_the_rails_are_longest() {
    let layout = edited(
        &legs(&yard(""), 2.0),
        Edit::Describe {
            name: None,
            notes: None,
            scale: None,
            gauge_mm: None,
            rail_ohm_per_m: Some(Quantity::given(0.5)),
            climate: None,
        },
    );
    // West is fed at 300 mm and ends at the gap at 1000 mm: 700 mm there and back are 0.7 Ω.
    let report = check(&layout);
    let found = failing(&report, Verdict::Caution);
    assert_eq!((found.at_mm, found.rail_mm), (1000.0, [700.0, 700.0]));
    let amps = 14.0 / (0.05 + 0.12 + 4.0 + 0.7 + 0.01);
    assert_relative_eq!(found.leg.peak, amps, max_relative = 1e-6);
    assert_relative_eq!(found.sensed.unwrap().peak, amps, max_relative = 1e-6);
    assert_eq!(found.threshold_a, Some(3.0));
}

#[test]
fn a_coin_that_a_driver_or_a_wire_does_not_bear_is_an_overload() {
    let weak = legs(&yard(""), 3.0);
    let rated = with_driver(&weak, D1, |d| d.rating_a = Some(Quantity::given(2.0)));
    assert_eq!(failing(&check(&rated), Verdict::Overload).beyond, [Beyond::Driver(2.0)]);
    let rated = with_driver(&weak, D1, |d| d.rating_a = Some(Quantity::given(2.5)));
    assert_eq!(failing(&check(&rated), Verdict::Caution).beyond, []);
    // AWG 28 may carry 1.8 A.
    let thin = wired(&weak, WireSize::Awg(28));
    let report = check(&thin);
    let found = failing(&report, Verdict::Overload);
    let [Beyond::Wire(feed, carries, bears)] = found.beyond[..] else { panic!("{found:?}") };
    assert_eq!((feed, bears), (layout::FeedId(1), 1.8));
    assert_relative_eq!(carries, 14.0 / 6.18, max_relative = 1e-6);
}

#[test]
fn an_averaged_trip_may_miss_at_low_throttle_what_it_sees_at_full() {
    let averaged = with_driver(&yard(""), D1, |d| {
        d.lowest_throttle = 0.15;
        d.rating_a = Some(Quantity::given(5.0));
        if let Some(trip) = &mut d.trip {
            trip.kind = TripKind::Averaged { tau_s: 0.05 };
        }
    });
    // 15.909 A for 0.15 of the time are 2.386 A in the mean and 6.162 A RMS.
    let report = check(&averaged);
    let found = failing(&report, Verdict::Overload);
    assert_eq!(at(found), [(SetWord::Forward, 0.15), (SetWord::Reverse, 0.15)]);
    assert_relative_eq!(found.sensed.unwrap().mean_abs, 0.15 * 14.0 / 0.88, max_relative = 1e-6);
    assert_relative_eq!(found.leg.rms, 0.15_f64.sqrt() * 14.0 / 0.88, max_relative = 1e-6);
    // At 0.25 the mean is 3.977 A; an instant trip sees the peak.
    let higher = with_driver(&averaged, D1, |d| d.lowest_throttle = 0.25);
    assert!(of_kind(&check(&higher), Kind::CoinTestFails).is_empty());
    let instant = with_driver(&averaged, D1, |d| {
        if let Some(trip) = &mut d.trip {
            trip.kind = TripKind::Instant { blanking_s: 1e-5 };
        }
    });
    assert!(of_kind(&check(&instant), Kind::CoinTestFails).is_empty());
}

#[test]
fn how_a_throttle_is_set_now_says_nothing_about_a_coin() {
    let averaged = with_driver(&yard(""), D1, |d| {
        d.lowest_throttle = 0.15;
        d.rating_a = Some(Quantity::given(5.0));
        if let Some(trip) = &mut d.trip {
            trip.kind = TripKind::Averaged { tau_s: 0.05 };
        }
    });
    let report = check(&averaged);
    let as_drawn = failing(&report, Verdict::Overload);
    for (direction, throttle) in [(Direction::Forward, 0.1), (Direction::Off, 0.0)] {
        let report = check(&set(&averaged, D1, direction, throttle));
        assert_eq!(failing(&report, Verdict::Overload), as_drawn);
    }
}

#[test]
fn a_trip_that_looks_one_way_misses_the_other() {
    let one_way = with_driver(&yard(""), D1, |d| {
        if let Some(trip) = &mut d.trip {
            (trip.senses, trip.signed) = (Senses::LegP, true);
        }
    });
    let report = check(&one_way);
    let found = failing(&report, Verdict::Overload);
    assert!(found.settings.iter().all(|set| set.state == SetWord::Reverse), "{found:?}");
    assert_eq!(found.settings[0].throttle, 1.0);
}

#[test]
fn a_driver_without_a_trip_feeds_a_coin_for_ever() {
    let bare = with_driver(&yard(""), D1, |d| d.trip = None);
    let report = check(&bare);
    let found = failing(&report, Verdict::Caution);
    assert_eq!(found.threshold_a, None);
    assert_relative_eq!(found.leg.peak, 14.0 / 0.88, max_relative = 1e-6);
    let rated = with_driver(&bare, D1, |d| d.rating_a = Some(Quantity::given(3.0)));
    assert_eq!(failing(&check(&rated), Verdict::Overload).beyond, [Beyond::Driver(3.0)]);
}

#[test]
fn what_else_the_supply_feeds_is_missing_for_the_trip() {
    // A coin would draw 14 V over 0.88 Ω, a train on the other block 14 V over 28.82 Ω (0.5 A by itself,
    // and the way there). The supply holds 3.05 A for both
    // together: 2.96 A are left for the coin, below the trip's 3 A.
    let shared = limited(&on_one_supply(), 1, 3.05, LimitKind::Constant);
    let left_a = 3.05 * (1.0 / 0.88) / (1.0 / 0.88 + 1.0 / 28.82);
    let report = check(&shared);
    let found: Vec<&CoinEvidence> =
        of_kind(&report, Kind::CoinTestFails).into_iter().map(coin).collect();
    assert_eq!(found.len(), 2);
    for coin in found {
        assert!(coin.limited);
        assert_relative_eq!(coin.supply_a, left_a, max_relative = 1e-9);
        assert_relative_eq!(coin.sensed.unwrap().peak, left_a, max_relative = 1e-6);
        assert_eq!(coin.settings[0].throttle, 1.0);
    }
    // However the other one is set now, its train will run.
    let alone = check(&set(&shared, D2, Direction::Off, 0.0));
    assert_eq!(of_kind(&alone, Kind::CoinTestFails).len(), 2);
    // A tenth of an ampere more, and both trip.
    let enough = limited(&on_one_supply(), 1, 3.15, LimitKind::Constant);
    assert!(of_kind(&check(&enough), Kind::CoinTestFails).is_empty());
    // Pulses at low throttle are higher: 3.2 A in the mean at 0.4 are 8 A at the peak.
    let all = check(&limited(&yard(""), 1, 3.2, LimitKind::Constant));
    assert!(of_kind(&all, Kind::CoinTestFails).is_empty());
}

#[test]
fn a_supply_that_gives_up_first_is_told_once() {
    let low = limited(&yard(""), 1, 2.0, LimitKind::Constant);
    let report = check(&low);
    assert!(of_kind(&report, Kind::CoinTestFails).is_empty());
    let found = the_one(&report, Kind::SupplyGivesUpFirst, Class::Fault, Verdict::Caution);
    let Evidence::SupplyGivesUpFirst(e) = &found.evidence else { panic!() };
    assert_eq!((e.driver, e.threshold_a, e.limit_a), (D1, 3.0, 2.0));
    // The driver bears 1.5 A: overload, unless the supply only hiccups.
    let weak = with_driver(&low, D1, |d| d.rating_a = Some(Quantity::given(1.5)));
    the_one(&check(&weak), Kind::SupplyGivesUpFirst, Class::Fault, Verdict::Overload);
    let hiccups = limited(&weak, 1, 2.0, LimitKind::Hiccup);
    the_one(&check(&hiccups), Kind::SupplyGivesUpFirst, Class::Fault, Verdict::Caution);
}

#[test]
fn an_assumed_value_may_leave_the_coin_open() {
    // 14 / (0.17 + 2·R + 0.01): 3 A at 2.243 Ω.
    let mut feed = yard("").feeds[&layout::FeedId(1)].clone();
    feed.ohm = Some(Quantity::assumed(2.0, 1.0, 3.0));
    let open = edited(&yard(""), Edit::Replace(feed.clone().into()));
    let report = check(&open);
    let found = failing(&report, Verdict::NotKnown);
    assert_eq!(found.measure, [(Some(layout::FeedId(1).into()), "ohm")]);
    feed.ohm = Some(Quantity::assumed(2.0, 1.0, 2.2));
    let known = edited(&yard(""), Edit::Replace(feed.into()));
    assert!(of_kind(&check(&known), Kind::CoinTestFails).is_empty());
}

#[test]
fn a_supply_at_its_limit_gives_that_whatever_the_resistances() {
    // 14 V over 0.18 Ω and twice the feeder: 15.9 A at 0.35 Ω, and 4.3 A at the 1.55 Ω that it may have. The supply gives
    // 3.5 A in both: more than the trip's 3 A.
    let mut feed = yard("").feeds[&layout::FeedId(1)].clone();
    feed.ohm = Some(Quantity::assumed(0.35, 0.2, 1.55));
    let edit = Edit::Replace(feed.clone().into());
    let known = edited(&limited(&yard(""), 1, 3.5, LimitKind::Constant), edit);
    assert!(of_kind(&check(&known), Kind::CoinTestFails).is_empty());
    // At 2.5 Ω only 2.7 A flow, limit or not.
    feed.ohm = Some(Quantity::assumed(0.35, 0.2, 2.5));
    let open = edited(&known, Edit::Replace(feed.into()));
    let report = check(&open);
    let found = failing(&report, Verdict::NotKnown);
    assert_eq!(found.measure, [(Some(layout::FeedId(1).into()), "ohm")]);
    // And a trip that may wait for more than the supply gives is left open as well.
    let trip = with_driver(&known, D1, |d| {
        if let Some(trip) = &mut d.trip {
            trip.amps = Quantity::assumed(3.0, 2.5, 3.8);
        }
    });
    let report = check(&trip);
    assert_eq!(failing(&report, Verdict::NotKnown).measure, [(Some(D1.into()), "trip.amps")]);
}

#[test]
fn boosters_are_tried_as_they_send() {
    let dcc = yard(r#"(id: "d1", supply: "s1", $DCC, $STAGE, $TRIP, setting: (direction: On))"#);
    // 20 µs of blanking pass within a half-bit of 55 µs.
    assert!(of_kind(&check(&dcc), Kind::CoinTestFails).iter().all(|f| f.drivers != [D1]));
    // In one switch the current is there for half a bit at a time.
    let blind = with_driver(&dcc, D1, |d| {
        if let Some(trip) = &mut d.trip {
            trip.senses = Senses::HighSwitchP;
            trip.kind = TripKind::Instant { blanking_s: 0.001 };
        }
    });
    let report = check(&blind);
    let found = failing(&report, Verdict::Overload);
    assert_eq!(at(found), [(SetWord::On, 1.0)]);
    assert_relative_eq!(found.leg.rms, 14.0 / 0.88, max_relative = 1e-6);
}

#[test]
fn a_driver_is_told_once_for_all_its_blocks() {
    let all_from_one = yard(
        r#"
        (id: "f1", driver: "d1", run: "r1", at_mm: 300, p: Right, m: Left, ohm: 3)
        (id: "f2", driver: "d1", run: "r1", at_mm: 1700, p: Right, m: Left, ohm: 4)"#,
    );
    let report = check(&all_from_one);
    let found = the_one(&report, Kind::CoinTestFails, Class::Fault, Verdict::Caution);
    assert_eq!(found.blocks.len(), 2);
}

#[test]
fn the_bound_of_a_wire_is_the_trip_or_the_supply_or_the_dead_short() {
    let bound = |layout: &Layout| {
        let report = check(layout);
        let found = of_kind(&report, Kind::WireTooThin);
        found.first().map(|f| match &f.evidence {
            Evidence::WireTooThin(e) => (e.amps, e.bound, e.bears_a, f.verdict),
            other => panic!("{other:?}"),
        })
    };
    let thin = wired(&yard(""), WireSize::Awg(30));
    assert_eq!(bound(&thin), Some((3.0, Bound::Trip, 1.3, Verdict::Overload)));
    let limit = limited(&thin, 1, 2.0, LimitKind::Constant);
    assert_eq!(bound(&limit), Some((2.0, Bound::Limit, 1.3, Verdict::Overload)));
    assert_eq!(bound(&limited(&thin, 1, 1.2, LimitKind::Constant)), None);
    let bare = with_driver(&wired(&yard(""), WireSize::Awg(16)), D1, |d| d.trip = None);
    let (amps, bolted, bears, _) = bound(&bare).unwrap();
    assert_eq!((bolted, bears), (Bound::Bolted, 13.0));
    assert_relative_eq!(amps, 14.0 / 0.88, max_relative = 1e-6);
    // A threshold assumed from 1 to 3 A, and a wire for 1.3 A.
    let assumed = with_driver(&thin, D1, |d| {
        if let Some(trip) = &mut d.trip {
            trip.amps = Quantity::assumed(2.0, 1.0, 3.0);
        }
    });
    assert_eq!(bound(&assumed).unwrap().3, Verdict::NotKnown);
}

#[test]
fn the_drop_is_that_of_wires_and_rails_at_the_largest_load() {
    let loaded = with_vehicle(&legs(&yard(""), 1.0), |v| {
        v.load = layout::Load::Motor { ohm: Quantity::given(8.0), emf_v: Quantity::given(6.0) };
    });
    // (14 − 6) / 8 = 1 A over 2 Ω.
    let report = check(&loaded);
    let found = the_one(&report, Kind::VoltDrop, Class::Note, Verdict::Caution);
    let Evidence::VoltDrop(e) = &found.evidence else { panic!() };
    assert_eq!((e.load_a, e.open_v), (1.0, 14.0));
    // The thousandth of an ohm that a circuit has at least stands at the driver's end too.
    assert_relative_eq!(e.wires_ohm, 2.0, max_relative = 2e-3);
    assert!(found.vehicle.is_some());
    assert!(of_kind(&check(&legs(&loaded, 0.69)), Kind::VoltDrop).is_empty());
}

#[test]
fn a_supply_that_cannot_feed_its_own_trains_is_a_fault() {
    let loaded = with_vehicle(&on_one_supply(), |v| {
        v.load = layout::Load::Resistor { ohm: Quantity::given(10.0) };
    });
    // 1.4 A each.
    let small = limited(&loaded, 1, 2.5, LimitKind::Constant);
    let report = check(&small);
    let found = the_one(&report, Kind::SupplyTooSmall, Class::Fault, Verdict::Caution);
    let Evidence::SupplyTooSmall(e) = &found.evidence else { panic!() };
    assert_relative_eq!(e.trains_a.unwrap(), 2.8);
    assert_eq!(e.limit_a, 2.5);
    // Without a vehicle's load only ratings and trips are asked.
    let report = check(&limited(&on_one_supply(), 1, 2.5, LimitKind::Constant));
    the_one(&report, Kind::SupplyTooSmall, Class::Note, Verdict::Caution);
    // A rating below the trip bounds what is asked.
    let rated = [D1, D2].into_iter().fold(on_one_supply(), |layout, id| {
        with_driver(&layout, id, |d| d.rating_a = Some(Quantity::given(1.0)))
    });
    let report = check(&limited(&rated, 1, 2.5, LimitKind::Constant));
    assert!(of_kind(&report, Kind::SupplyTooSmall).is_empty());
}

fn closure(report: &Report) -> Option<(Vec<SideWord>, f64, f64, f64)> {
    match &of_kind(report, Kind::GapMayClose).first()?.evidence {
        Evidence::GapMayClose(e) => Some((e.rails.clone(), e.free_m, e.rail_mm, e.benchwork_mm)),
        other => panic!("{other:?}"),
    }
}

#[test]
fn rails_grow_by_coefficient_length_and_range() {
    let climate = Climate { coldest_c: 5.0, hottest_c: 35.0, ..Climate::default() };
    let narrow = |width_mm: f64| {
        with_cut(&in_climate(&yard(""), Some(climate)), |cut| cut.width_mm = width_mm)
    };
    // 1 m · 16.2 µm/m·K · 30 K.
    let (rails, free_m, rail_mm, benchwork_mm) = closure(&check(&narrow(0.5))).unwrap();
    assert_eq!(rails, [SideWord::Left, SideWord::Right]);
    assert_relative_eq!(free_m, 1.0, max_relative = 1e-9);
    assert_relative_eq!(rail_mm, 0.486, max_relative = 1e-9);
    assert_relative_eq!(benchwork_mm, 0.1, max_relative = 1e-9);
    assert_eq!(closure(&check(&narrow(0.6))), None);
    // Cut at 25 °C only 10 K are left.
    let warm = with_cut(&narrow(0.25), |cut| cut.cut_at_c = Some(25.0));
    let (_, _, rail_mm, _) = closure(&check(&warm)).unwrap();
    assert_relative_eq!(rail_mm, 0.162, max_relative = 1e-9);
    assert_eq!(closure(&check(&with_cut(&warm, |cut| cut.width_mm = 0.27))), None);
    // What is filled cannot close.
    assert_eq!(closure(&check(&with_cut(&narrow(0.1), |cut| cut.made = Made::Filled))), None);
}

#[test]
fn rails_move_as_far_as_the_next_joint_that_slides() {
    let climate = Some(Climate { benchwork_mm_per_m: 10.0, ..Climate::default() });
    let jointed = in_climate(&with_a_joint(), climate);
    let free_m = |joiners| closure(&check(&joined(&jointed, 2, joiners))).unwrap().1;
    assert_relative_eq!(free_m(Joiners::Plain), 1.0, max_relative = 1e-9);
    assert_relative_eq!(free_m(Joiners::Bonded), 1.0, max_relative = 1e-9);
    // Soldered, 500 mm more hang on the east side.
    assert_relative_eq!(free_m(Joiners::Soldered), 1.25, max_relative = 1e-9);
}

#[test]
fn a_closed_gap_is_judged_like_the_merged_blocks() {
    let closing = |layout: &Layout| {
        let damp = Climate { benchwork_mm_per_m: 10.0, ..Climate::default() };
        in_climate(layout, Some(damp))
    };
    the_one(&check(&closing(&yard(""))), Kind::GapMayClose, Class::Fault, Verdict::Short);
    // Both blocks from one driver: nothing happens.
    let one =
        yard(r#"(id: "f2", driver: "d1", run: "r1", at_mm: 1700, p: Right, m: Left, ohm: 0.35)"#);
    the_one(&check(&closing(&one)), Kind::GapMayClose, Class::Fault, Verdict::Caution);
    // And swapped, its P meets its own M.
    let swapped = edited(&one, Edit::Swap { feed: layout::FeedId(2) });
    the_one(&check(&closing(&swapped)), Kind::GapMayClose, Class::Fault, Verdict::Short);
    // Where the other rail is whole, one that closes merges the blocks as well.
    let one_rail = with_cut(&yard(""), |cut| cut.rails = layout::Rails::Left);
    the_one(&check(&closing(&one_rail)), Kind::GapMayClose, Class::Fault, Verdict::Short);
    // Nothing is said about the room: worth knowing.
    let unstated = with_cut(&yard(""), |cut| cut.width_mm = 0.2);
    the_one(&check(&unstated), Kind::GapMayClose, Class::Note, Verdict::Caution);
}

/// Joints with the dead track beyond them, and joints that only the coin test rests on.
type Resting = (Vec<(u32, f64)>, Vec<u32>);

fn resting(report: &Report) -> Vec<Resting> {
    of_kind(report, Kind::RestsOnJoiners)
        .into_iter()
        .map(|f| match &f.evidence {
            Evidence::RestsOnJoiners(e) => (
                e.dead.iter().map(|(joint, mm)| (joint.0, *mm)).collect(),
                e.coin.iter().map(|joint| joint.0).collect(),
            ),
            other => panic!("{other:?}"),
        })
        .collect()
}

#[test]
fn what_is_fed_through_plain_joiners_only_rests_on_them() {
    let layout = with_a_joint();
    assert_eq!(resting(&check(&layout)), [(vec![(2, 500.0)], vec![])]);
    assert!(resting(&check(&joined(&layout, 2, Joiners::Bonded))).is_empty());
    // Fed on both sides of the joint it rests on nothing.
    let fed = edited(
        &layout,
        Edit::Feed {
            driver: D2.into(),
            run: layout::RunId(2),
            at_mm: 400.0,
            p: Some(layout::Rail::Right),
            m: Some(layout::Rail::Left),
            wire: None,
            ohm: None,
        },
    );
    assert!(resting(&check(&fed)).is_empty());
}

#[test]
fn the_coin_test_may_rest_on_a_joiner_too() {
    // A ring of 2 m and 2 m, fed at the middle of one half: with a joint open the far end is 3 m away instead of 2 m. Rails
    // of 0.8 Ω/m: 14 / (0.17 + 0.7 + 3.2 + 0.01) = 3.431 A trips at 3 A, 14 / (0.88 + 4.8) = 2.465 A does not.
    let ring = yard(
        r#"
        (id: "r1", from: "j1", to: "j2")
        (id: "r2", from: "j2", to: "j1", length_mm: 2000)
        (id: "f1", driver: "d1", run: "r1", at_mm: 1000, p: Right, m: Left, ohm: 0.35)
        -c1
        -n2
        -f2"#,
    );
    let rails = Edit::Describe {
        name: None,
        notes: None,
        scale: None,
        gauge_mm: None,
        rail_ohm_per_m: Some(Quantity::given(0.8)),
        climate: None,
    };
    let ring = edited(&ring, rails);
    let report = check(&ring);
    assert!(of_kind(&report, Kind::CoinTestFails).is_empty());
    assert_eq!(resting(&report), [(vec![], vec![1, 2])]);
    let bonded = joined(&joined(&ring, 1, Joiners::Bonded), 2, Joiners::Bonded);
    assert!(resting(&check(&bonded)).is_empty());
}

#[test]
fn a_driver_that_chops_feeds_a_coin_with_no_more_than_its_limit() {
    let chops = with_driver(&yard(""), D1, |d| {
        if let Some(trip) = &mut d.trip {
            trip.kind = TripKind::Chopping;
        }
    });
    // 15.9 A are chopped to 3 A, which is what it is meant to bear.
    assert_eq!(failing(&check(&chops), Verdict::Caution).beyond, []);
    let weak = with_driver(&chops, D1, |d| d.rating_a = Some(Quantity::given(2.0)));
    assert_eq!(failing(&check(&weak), Verdict::Overload).beyond, [Beyond::Driver(2.0)]);
}

#[test]
fn a_breaker_on_the_way_to_the_coin_is_enough_and_an_auto_reverser_is_not() {
    let through = |device: &str| {
        yard(&format!(
            r#"
            (id: "d1", supply: "s1", $DCC, $STAGE, setting: (direction: On))
            (id: "x1", kind: {device}, ohm: 0.02)
            (id: "f1", driver: "x1", run: "r1", at_mm: 300, p: Right, m: Left, ohm: 0.35)"#
        ))
    };
    let tried = |device: &str| {
        let report = check(&through(device));
        let found = of_kind(&report, Kind::CoinTestFails);
        found.iter().find(|f| f.drivers == [D1]).map(|f| coin(f).guards.clone())
    };
    // 14 / (0.05 + 0.12 + 0.04 + 0.7 + 0.01) = 15.2 A.
    assert_eq!(tried(r#"Breaker(from: "d1", amps: 12, trip: Instant(blanking_s: 0.00001))"#), None);
    let waits = tried(r#"Breaker(from: "d1", amps: 16, trip: Instant(blanking_s: 0.00001))"#);
    assert_eq!(waits, Some(vec![(layout::DeviceId(1), 16.0)]));
    assert_eq!(tried(r#"AutoReverser(from: "d1", amps: 5, acts_after_s: 0.0001)"#), Some(vec![]));
}
