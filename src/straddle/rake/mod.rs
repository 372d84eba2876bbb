//! Coupled vehicles: their pickup groups, and the ways in which several groups join nets at once.

mod at_once;
mod group;
mod together;

pub use group::{Group, Rake, alone, bridging_span_mm, coupled};
pub use together::{Together, together};

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::path::{ruler, tests::track};
    use super::*;
    use crate::layout::Axle;
    use crate::layout::Layout;
    use crate::layout::Load;
    use crate::layout::SpeedRange;
    use crate::layout::Train;
    use crate::layout::Vehicle;
    use crate::layout::VehicleId;
    use crate::layout::{Coupled, CutId, TrainId, Wheel, default_contact_ohm};
    use crate::rails::PlanNet;
    use crate::straddle::contacts;
    use crate::straddle::contacts::Facing;
    use crate::straddle::contacts::Touched;
    use proptest::prelude::*;

    const P: Wheel = Wheel::Pickup;

    fn vehicle(id: u32, length_mm: f64, axles: &[(f64, Wheel, Wheel)]) -> Vehicle {
        Vehicle {
            id: VehicleId(id),
            name: String::new(),
            length_mm,
            axles: axles.iter().map(|&(at_mm, left, right)| Axle { at_mm, left, right }).collect(),
            load: Load::Nothing,
            contact_ohm: default_contact_ohm(),
            speed: SpeedRange::default(),
            patch_mm: 0.5,
            wiring_a: None,
            pickups_joined: true,
            tread_mm: 2.8,
            notes: String::new(),
        }
    }

    fn train(vehicles: &[Vehicle], coupled: &[(u32, bool, bool)]) -> Rake {
        let vehicles_by_id = vehicles.iter().map(|v| (v.id, v.clone())).collect();
        let layout = Layout { vehicles: vehicles_by_id, ..Layout::default() };
        let vehicles = coupled
            .iter()
            .map(|&(id, turned, joined)| Coupled { vehicle: VehicleId(id), turned, joined })
            .collect();
        let (name, notes) = (String::new(), String::new());
        super::coupled(&layout, &Train { id: TrainId(1), name, vehicles, notes })
    }

    #[test]
    fn distances_count_from_the_front_of_the_train_and_turned_vehicles_are_mirrored() {
        let one = vehicle(1, 100.0, &[(10.0, P, Wheel::Metal), (70.0, Wheel::Insulated, P)]);
        let rake = train(&[one], &[(1, false, false), (1, true, false)]);
        assert_eq!((rake.length_mm, rake.groups.len()), (200.0, 2));
        let second: Vec<(f64, Wheel, Wheel)> =
            rake.groups[1].axles.iter().map(|a| (a.at_mm, a.left, a.right)).collect();
        assert_eq!(second, [(130.0, P, Wheel::Insulated), (190.0, Wheel::Metal, P)]);
    }

    #[test]
    fn groups_go_on_across_joined_couplers_only() {
        let both = [(10.0, P, P), (90.0, P, P)];
        let (one, mut two) = (vehicle(1, 100.0, &both), vehicle(2, 100.0, &both));
        let sizes = |rake: &Rake| rake.groups.iter().map(|g| g.vehicles.len()).collect::<Vec<_>>();
        let order = [(1, false, true), (2, false, false), (1, false, true)];
        assert_eq!(sizes(&train(&[one.clone(), two.clone()], &order)), [2, 1]);
        assert_eq!(bridging_span_mm(&train(&[one.clone(), two.clone()], &order)), 280.0);
        // Wheelsets that are wired apart end a group, and are groups of their own that bridge nothing.
        two.pickups_joined = false;
        let rake = train(&[one, two], &order);
        assert_eq!(sizes(&rake), [1, 1, 1, 1]);
        assert_eq!(bridging_span_mm(&rake), 280.0);
        let alone = train(&[vehicle(1, 50.0, &[(25.0, P, P)])], &[(1, false, false)]);
        assert_eq!(bridging_span_mm(&alone), 0.0);
    }

    proptest! {
        /// Wherever a train stands, what several of its groups join at once is among the ways that are looked at.
        #[test]
        fn no_way_of_standing_is_missed(
            cuts in prop::collection::vec(40.0..400.0_f64, 0..3),
            lengths in prop::collection::vec(60.0..220.0_f64, 2..4),
            joined in prop::collection::vec(any::<bool>(), 4),
            leads in prop::collection::vec(0.0..1.0_f64, 40),
        ) {
            let mut text = r#"(id: "c1", run: "r1", at_mm: 500, rails: Both)"#.to_owned();
            let mut at = 500.0;
            for (n, gap) in cuts.iter().enumerate() {
                at += gap;
                if at < 990.0 {
                    text += &format!(r#", (id: "c{}", run: "r1", at_mm: {at}, rails: Both)"#, n + 2);
                }
            }
            let vehicles: Vec<Vehicle> = lengths
                .iter()
                .enumerate()
                .map(|(n, &l)| vehicle(n as u32 + 1, l, &[(10.0, P, P), (l - 10.0, P, P)]))
                .collect();
            let order: Vec<(u32, bool, bool)> =
                (0..vehicles.len()).map(|n| (n as u32 + 1, n % 2 > 0, joined[n])).collect();
            let rake = train(&vehicles, &order);
            let (layout, plan) = track(&text);
            let spans = ruler(&layout, &plan, CutId(1), rake.length_mm + 1.0).unwrap();
            let gaps = [Some(0.0), Some(0.0)];
            for facing in Facing::BOTH {
                let (ways, left_out) = together(&spans, gaps, &rake, facing);
                // What is left out is said.
                if left_out > 0 {
                    continue;
                }
                for share in &leads {
                    let lead = share * rake.length_mm;
                    let standing: Vec<(usize, [Touched<PlanNet>; 2])> = rake
                        .groups
                        .iter()
                        .enumerate()
                        .map(|(at, group)| {
                            let rolling = (group.axles.as_slice(), rake.length_mm);
                            (at, contacts::touched_at(&spans, rolling, facing, lead))
                        })
                        .filter(|(_, sides)| sides.iter().all(|side| side.len() > 1))
                        .collect();
                    let over = |at: usize| {
                        let rolling = (rake.groups[at].axles.as_slice(), rake.length_mm);
                        contacts::intervals(&spans, gaps, rolling, facing)
                            .iter()
                            .any(|i| i.from_mm < lead && lead < i.to_mm)
                    };
                    if standing.len() < 2 || !standing.iter().any(|(at, _)| over(*at)) {
                        continue;
                    }
                    let nets = |groups: &[(usize, [Touched<PlanNet>; 2])]| {
                        let mut all: Vec<Vec<PlanNet>> = groups
                            .iter()
                            .flat_map(|(_, sides)| sides)
                            .map(|side| side.iter().map(|t| t.0).collect())
                            .collect();
                        all.sort();
                        all
                    };
                    prop_assert!(
                        ways.iter().any(|way| nets(&way.groups) == nets(&standing)),
                        "{:?} at {lead}", standing
                    );
                }
            }
        }
    }
}
