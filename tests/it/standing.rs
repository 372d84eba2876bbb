//! Shorts with no train: through wires that meet at a device that is off, and around three drivers.

use super::support::yards::{D1, D2, edited, of_kind, set, the_one, yard};
use approx::assert_abs_diff_eq;
use gapwright::findings::{Class, Kind, Verdict, check};
use gapwright::layout::{Direction, DriverId, Edit, EntityId, FeedId, Layout};

/// A selector without a cab, in the yard, and its feeders to both blocks.
fn through_a_selector(second: bool) -> Layout {
    let layout = yard(&format!(
        r#"
        (id: "d3", supply: "s1", $PWM(490, HighImpedance), $STAGE, $TRIP, $F(0.4))
        (id: "x1", kind: CabSelector(cabs: ["d3", None]), position: 1)
        (id: "f3", driver: "x1", run: "r1", at_mm: 400, p: Right, m: Left, ohm: 0.35)
        {}
        "#,
        if second {
            r#"(id: "f4", driver: "x1", run: "r1", at_mm: 1600, p: Right, m: Left, ohm: 0.35)"#
        } else {
            ""
        }
    ));
    let layout = set(&layout, D1, Direction::Forward, 1.0);
    set(&layout, D2, Direction::Reverse, 1.0)
}

#[test]
fn feeders_of_a_device_that_is_off_join_what_they_feed() {
    let report = check(&through_a_selector(true));
    let of_both: Vec<_> = of_kind(&report, Kind::StandingShort)
        .into_iter()
        .filter(|found| found.drivers == [D1, D2])
        .collect();
    let [short] = &of_both[..] else { panic!("{of_both:#?}") };
    assert!(short.positions.is_empty(), "{:?}", short.positions);
    assert_eq!(short.verdict, Verdict::Short);
    // 28 V over two sources, four switches, and the four legs of each way.
    let ohm = 2.0 * 0.05 + 4.0 * 0.06 + 8.0 * 0.35;
    let situation = short.situation().unwrap();
    assert_abs_diff_eq!(situation.peak_a(), 28.0 / ohm, epsilon = 1e-6);
    // With one of the feeders only, nothing meets.
    let report = check(&through_a_selector(false));
    assert!(of_kind(&report, Kind::StandingShort).iter().all(|found| found.drivers != [D1, D2]));
}

/// Each of three isolated drivers stands between two of three rails: all three are in series around.
fn around_three() -> Layout {
    yard(
        r#"
        (id: "s3", open_v: 14, source_ohm: 0.05)
        (id: "d3", supply: "s3", $PWM(400, HighImpedance), $STAGE, $TRIP, $F(0.5))
        (id: "f1", driver: "d1", run: "r1", at_mm: 300, p: Left, m: Right, ohm: 0.35)
        (id: "f2", driver: "d2", run: "r1", at_mm: 400, p: Right, ohm: 0.35)
        (id: "f3", driver: "d2", run: "r1", at_mm: 1600, m: Left, ohm: 0.35)
        (id: "f4", driver: "d3", run: "r1", at_mm: 1700, p: Left, ohm: 0.35)
        (id: "f5", driver: "d3", run: "r1", at_mm: 500, m: Left, ohm: 0.35)
        "#,
    )
}

#[test]
fn three_isolated_drivers_in_a_ring_are_shorted() {
    let layout = around_three();
    let report = check(&layout);
    let short = the_one(&report, Kind::StandingShort, Class::Rule, Verdict::Short);
    assert_eq!(short.drivers, [D1, D2, DriverId(3)]);
    // All the same way: 42 V over three sources, six switches and six legs.
    let ohm = 3.0 * 0.05 + 6.0 * 0.06 + 6.0 * 0.35;
    let situation = short.situation().unwrap();
    assert_abs_diff_eq!(situation.peak_a(), 42.0 / ohm, epsilon = 1e-6);
    // One leg less, and the ring is open.
    let open = edited(&layout, Edit::Delete(vec![EntityId::Feed(FeedId(5))]));
    assert!(of_kind(&check(&open), Kind::StandingShort).is_empty());
}
