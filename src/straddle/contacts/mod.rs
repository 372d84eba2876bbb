//! Vehicles over a cut: which wheels touch which nets, and for how long.

mod group;
mod single;
mod stand;
mod wheels;

use super::path::Span;
use crate::layout::Vehicle;
use single::single_wheels;

pub use group::{centred_mm, group_stands, longest_roll};
pub use stand::{Facing, Stand, Touched};
pub use wheels::{Interval, all_intervals, intervals, pickups_mm, touched_at};

/// Every way in which a vehicle can join nets across a cut: both sides, and each side alone because not every wheel
/// need touch; where it has no pickup group that straddles, its single wheels. Of equal joins those with the most
/// wheels on the rails are kept. `intervals` are those of [`intervals`] for the same vehicle.
pub fn stands(
    spans: &[Span],
    cut_mm: [Option<f64>; 2],
    vehicle: &Vehicle,
    facing: Facing,
    intervals: &[Interval],
) -> Vec<Stand> {
    let mut all = group_stands(facing, intervals, centred_mm(cut_mm, vehicle.length_mm));
    all.extend(single_wheels(spans, cut_mm, vehicle, facing, &all));
    all
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::path::{ruler, tests::track};
    use super::*;
    use crate::layout::Axle;
    use crate::layout::Wheel;
    use crate::layout::{CutId, VehicleId, default_contact_ohm};
    use proptest::prelude::*;

    fn vehicle(length_mm: f64, axles: &[(f64, Wheel, Wheel)]) -> Vehicle {
        Vehicle {
            id: VehicleId(1),
            name: String::new(),
            length_mm,
            axles: axles.iter().map(|&(at_mm, left, right)| Axle { at_mm, left, right }).collect(),
            load: Default::default(),
            contact_ohm: default_contact_ohm(),
            speed: Default::default(),
            patch_mm: 0.5,
            wiring_a: None,
            pickups_joined: true,
            tread_mm: 2.8,
            notes: String::new(),
        }
    }

    const P: Wheel = Wheel::Pickup;
    const O: Wheel = Wheel::Insulated;

    fn over(
        cut: &str,
        gaps: [Option<f64>; 2],
        vehicle: &Vehicle,
        facing: Facing,
    ) -> (Vec<Interval>, Vec<Stand>) {
        let (layout, plan) = track(cut);
        let spans = ruler(&layout, &plan, CutId(1), 500.0).unwrap();
        let rolling = (vehicle.axles.as_slice(), vehicle.length_mm);
        let intervals = intervals(&spans, gaps, rolling, facing);
        let stands = stands(&spans, gaps, vehicle, facing, &intervals);
        (intervals, stands)
    }

    const BOTH: &str = r#"(id: "c1", run: "r1", at_mm: 500, rails: Both)"#;
    const AT_ZERO: [Option<f64>; 2] = [Some(0.0), Some(0.0)];

    #[test]
    fn a_railcar_straddles_for_its_wheelbase() {
        let car = vehicle(110.0, &[(28.0, P, P), (82.0, P, P)]);
        for facing in Facing::BOTH {
            let (intervals, stands) = over(BOTH, AT_ZERO, &car, facing);
            assert_eq!(intervals.len(), 1);
            let groups: Vec<&Stand> = stands.iter().filter(|s| !s.single_wheel).collect();
            // Both rails, the left alone, the right alone.
            assert_eq!(groups.len(), 3);
            assert!(groups.iter().all(|s| (s.length_mm - 54.0).abs() < 1e-9 && s.lead_mm == 28.0));
            let both = groups.iter().find(|s| s.joins(0) && s.joins(1)).unwrap();
            assert_eq!(both.touched.clone().map(|t| t.iter().map(|n| n.1).sum::<u32>()), [2, 2]);
        }
    }

    #[test]
    fn six_axles_straddle_from_first_to_last_and_count_the_best_contact() {
        let axles = [25.0, 45.0, 65.0, 145.0, 165.0, 185.0].map(|at| (at, P, P));
        let (intervals, stands) = over(BOTH, AT_ZERO, &vehicle(210.0, &axles), Facing::FrontAhead);
        assert_eq!(intervals.len(), 5);
        let both = stands.iter().find(|s| s.joins(0) && s.joins(1)).unwrap();
        assert!((both.length_mm - 160.0).abs() < 1e-9);
        assert!(both.touched.iter().all(|side| side.iter().all(|&(_, wheels)| wheels == 3)));
    }

    #[test]
    fn facing_changes_which_hand_leads_only_with_the_place() {
        // Left pickups in front, right ones behind; seen from the track the left leads either way round.
        let engine = vehicle(200.0, &[(30.0, P, O), (100.0, O, P)]);
        let fronts = Facing::BOTH.map(|facing| {
            let (intervals, stands) = over(BOTH, AT_ZERO, &engine, facing);
            assert!(stands.iter().all(|s| s.single_wheel), "no rail is joined by a group");
            assert_eq!(intervals.len(), 1);
            let [left, right] = &intervals[0].touched;
            assert_eq!((left.len(), right.len()), (1, 1));
            assert_ne!(left[0].0, right[0].0);
            (intervals[0].from_mm, intervals[0].to_mm)
        });
        assert_eq!(fronts, [(30.0, 100.0), (100.0, 170.0)]);
    }

    #[test]
    fn single_wheels_bridge_for_their_contact_patch() {
        let wagon = |wheel| vehicle(90.0, &[(20.0, wheel, wheel), (70.0, wheel, wheel)]);
        let (_, stands) = over(BOTH, AT_ZERO, &wagon(Wheel::Metal), Facing::FrontAhead);
        assert_eq!(stands.len(), 3);
        assert!(stands.iter().all(|s| s.single_wheel && s.length_mm == 0.5));
        let (_, stands) = over(BOTH, AT_ZERO, &wagon(O), Facing::FrontAhead);
        assert!(stands.is_empty());
        // Farther apart than a patch the two gaps of a cut are never bridged by one axle at once.
        let staggered = r#"(id: "c1", run: "r1", at_mm: 500, rails: Both, stagger_mm: 5)"#;
        let (_, stands) =
            over(staggered, [Some(0.0), Some(5.0)], &wagon(Wheel::Metal), Facing::FrontAhead);
        assert!(stands.iter().all(|s| !(s.joins(0) && s.joins(1))));
    }

    #[test]
    fn over_a_stagger_one_rail_is_joined_longer_than_both() {
        for stagger in [30.0, -30.0] {
            let cut =
                format!(r#"(id: "c1", run: "r1", at_mm: 500, rails: Both, stagger_mm: {stagger})"#);
            let car = vehicle(110.0, &[(28.0, P, P), (82.0, P, P)]);
            let (_, stands) = over(&cut, [Some(0.0), Some(stagger)], &car, Facing::FrontAhead);
            let length = |left: bool, right: bool| {
                let found = stands
                    .iter()
                    .find(|s| !s.single_wheel && s.joins(0) == left && s.joins(1) == right);
                found.unwrap().length_mm
            };
            assert!((length(true, true) - (54.0 - 30.0)).abs() < 1e-9);
            assert!((length(true, false) - 54.0).abs() < 1e-9);
            assert!((length(false, true) - 54.0).abs() < 1e-9);
        }
    }

    proptest! {
        /// Turned round, a vehicle joins the same as its mirror image along the track.
        #[test]
        fn turning_round_is_the_same_as_building_it_round(
            gaps in prop::collection::vec((1.0..50.0_f64, 0..3_u8, 0..3_u8), 1..6), stagger in -40.0..40.0_f64
        ) {
            let wheel = |n: u8| [P, Wheel::Metal, O][usize::from(n)];
            let mut at = 0.0;
            let axles: Vec<_> = gaps
                .iter()
                .map(|&(gap, l, r)| {
                    at += gap;
                    (at, wheel(l), wheel(r))
                })
                .collect();
            let length = at + 10.0;
            let one = vehicle(length, &axles);
            let round: Vec<_> = axles.iter().rev().map(|&(at, l, r)| (length - at, r, l)).collect();
            let other = vehicle(length, &round);
            let cut = format!(r#"(id: "c1", run: "r1", at_mm: 500, rails: Both, stagger_mm: {stagger})"#);
            let gaps = [Some(0.0), Some(stagger)];
            let (a, _) = over(&cut, gaps, &one, Facing::RearAhead);
            let (b, _) = over(&cut, gaps, &other, Facing::FrontAhead);
            prop_assert_eq!(a.len(), b.len());
            for (a, b) in a.iter().zip(&b) {
                prop_assert_eq!(&a.touched, &b.touched);
                prop_assert!((a.from_mm - b.from_mm).abs() < 1e-6);
            }
        }
    }
}
