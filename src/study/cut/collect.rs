//! Collecting a case: in which ways vehicles, and then trains, can stand over a place.
//!
//! A way that joins nothing else and for no longer than one that is known is left out.

use crate::layout::{Axle, Cut, Layout, Load, Wheel};
use crate::rails::{Plan, PlanNet};
use crate::straddle::contacts::{self, Facing, Touched};
use crate::straddle::path::Span;
use crate::straddle::rake::{self, Group};

use super::super::places::{self, Place};
use super::case::Case;
use super::numbers::{Drawn, Foot, Standing};
use super::stock::Stock;
use super::surroundings::{FootingAt, GroupAt, StandAt, Stander, Surroundings, front_mm};

/// Collects the case of a cut, of all vehicles by themselves.
pub fn case_of(layout: &Layout, plan: &Plan, cut: &Cut) -> Option<(Case, Surroundings)> {
    let stock = Stock::of(layout);
    let reach_mm = stock.reach_mm() + cut.stagger_mm.abs();
    let place = places::of_cut(layout, plan, cut, reach_mm)?;
    Some(vehicles_at(&stock, &place).case(layout, plan))
}

/// Collects in which ways vehicles by themselves can stand over a place.
pub fn vehicles_at(stock: &Stock, place: &Place) -> Standing {
    let near = near(place, stock.longest_vehicle_mm());
    let cut_mm = place.gaps_mm;

    let mut stands: Vec<Drawn> = Vec::new();
    let mut footings: Vec<Foot> = Vec::new();
    for (number, (id, vehicle)) in stock.vehicles.iter().enumerate() {
        let id = *id;
        let by = Stander { vehicle: id, train: None, length_mm: vehicle.length_mm };
        let alone = rake::alone(vehicle);
        for facing in Facing::BOTH {
            let rolling = (vehicle.axles.as_slice(), vehicle.length_mm);
            let intervals = if vehicle.pickups_joined {
                contacts::intervals(&near, cut_mm, rolling, facing)
            } else {
                Vec::new()
            };
            if vehicle.load != Load::Nothing && id.is_none_or(|id| !stock.never_alone.contains(&id))
            {
                stand_on(&mut footings, by, facing, &intervals, vehicle.contact_ohm.low);
            }
            for stand in contacts::stands(&near, cut_mm, vehicle, facing, &intervals) {
                // The other facing matters only where it joins something else or longer.
                let known = stands.iter().any(|old| {
                    old.at.by.vehicle == id
                        && old.at.groups[0].touched == stand.touched
                        && old.at.single_wheel == stand.single_wheel
                        && old.at.rolls_mm >= stand.length_mm - 1e-9
                });
                if known {
                    continue;
                }
                let touched = stand.touched;
                stands.push(Drawn {
                    at: StandAt {
                        by,
                        facing,
                        lead_mm: stand.lead_mm,
                        rolls_mm: stand.length_mm,
                        single_wheel: stand.single_wheel,
                        groups: vec![GroupAt { vehicles: id.into_iter().collect(), touched }],
                        pickups_mm: pickups_behind(vehicle.axles.iter(), facing, vehicle.length_mm),
                    },
                    groups: alone.groups[..1].to_vec(),
                    number,
                    speed: vehicle.speed,
                });
            }
        }
    }
    Standing { place: place.clone(), stands, footings, left_out: 0 }
}

/// Collects in which ways trains can stand over a place beyond what their vehicles do by themselves. `None` if there are
/// none.
pub fn trains_at(stock: &Stock, place: &Place) -> Option<Standing> {
    let near = near(place, stock.longest_train_mm());
    let cut_mm = place.gaps_mm;
    let mut stands: Vec<Drawn> = Vec::new();
    let mut footings: Vec<Foot> = Vec::new();
    let mut left_out = 0;
    for (number, (id, rake)) in stock.trains.iter().enumerate() {
        let by = Stander { vehicle: None, train: Some(*id), length_mm: rake.length_mm };
        for facing in Facing::BOTH {
            for group in rake.groups.iter().filter(|g| g.vehicles.len() > 1) {
                if !group.loads.is_empty() {
                    let rolling = (group.axles.as_slice(), rake.length_mm);
                    let intervals = contacts::intervals(&near, cut_mm, rolling, facing);
                    let by = Stander { vehicle: group.vehicles.first().copied(), ..by };
                    stand_on(&mut footings, by, facing, &intervals, group.contact_ohm.low);
                }
            }
            let (ways, more) = rake::together(&near, cut_mm, rake, facing);
            left_out += more;
            for way in ways {
                let groups: Vec<Group> =
                    way.groups.iter().map(|(at, _)| rake.groups[*at].clone()).collect();
                let sides = || way.groups.iter().map(|(_, touched)| touched);
                let known = stands.iter().any(|old| {
                    old.at.groups.iter().map(|g| &g.touched).eq(sides())
                        && old.groups.iter().map(|g| &g.loads).eq(groups.iter().map(|g| &g.loads))
                        && old.at.rolls_mm * rake.speed.from_mm_s
                            >= way.length_mm * old.speed.from_mm_s - 1e-9
                });
                if known {
                    continue;
                }
                let axles = groups.iter().flat_map(|group| &group.axles);
                stands.push(Drawn {
                    at: StandAt {
                        by: Stander {
                            vehicle: groups.iter().find_map(|g| g.vehicles.first()).copied(),
                            ..by
                        },
                        facing,
                        lead_mm: way.lead_mm,
                        rolls_mm: way.length_mm,
                        single_wheel: false,
                        pickups_mm: pickups_behind(axles, facing, rake.length_mm),
                        groups: groups
                            .iter()
                            .zip(way.groups)
                            .map(|(group, (_, touched))| GroupAt {
                                vehicles: group.vehicles.clone(),
                                touched,
                            })
                            .collect(),
                    },
                    groups,
                    number,
                    speed: rake.speed,
                });
            }
        }
    }
    if stands.is_empty() && footings.is_empty() {
        return None;
    }
    Some(Standing { place: place.clone(), stands, footings, left_out })
}

/// What of the track around a place something so long can stand on.
fn near(place: &Place, longest_mm: f64) -> Vec<Span> {
    let stagger = place.gaps_mm.into_iter().flatten().map(f64::abs).fold(0.0, f64::max);
    let reach = longest_mm + stagger + 1.0;
    place.spans.iter().filter(|s| s.from_mm < reach && s.to_mm > -reach).copied().collect()
}

/// The nearest and the farthest pickup behind the leading coupler, mm.
fn pickups_behind<'a>(
    axles: impl Iterator<Item = &'a Axle>,
    facing: Facing,
    length_mm: f64,
) -> (f64, f64) {
    axles
        .filter(|axle| [axle.left, axle.right].contains(&Wheel::Pickup))
        .map(|axle| match facing {
            Facing::FrontAhead => axle.at_mm,
            Facing::RearAhead => length_mm - axle.at_mm,
        })
        .fold((f64::INFINITY, 0.0_f64), |(first, last), b| (first.min(b), last.max(b)))
}

/// Adds the footings of a loaded pickup group: what it touches in each interval in which it touches both rails. Intervals
/// that touch the same are one footing.
fn stand_on(
    footings: &mut Vec<Foot>,
    by: Stander,
    facing: Facing,
    intervals: &[contacts::Interval],
    wheel_ohm: f64,
) {
    for interval in intervals.iter().filter(|i| i.touched.iter().all(|side| !side.is_empty())) {
        let rolls_mm = interval.to_mm - interval.from_mm;
        let known = footings.iter_mut().find(|old| {
            (old.at.by, old.at.facing) == (by, facing) && same_nets(&old.touched, &interval.touched)
        });
        if let Some(known) = known {
            known.at.rolls_mm += rolls_mm;
        } else {
            let front_mm = front_mm(facing, interval.from_mm, by.length_mm);
            let touched = interval.touched.clone();
            let at = FootingAt { by, facing, front_mm, rolls_mm };
            footings.push(Foot { at, touched, wheel_ohm });
        }
    }
}

fn same_nets(a: &[Touched<PlanNet>; 2], b: &[Touched<PlanNet>; 2]) -> bool {
    (0..2).all(|side| a[side].iter().map(|t| t.0).eq(b[side].iter().map(|t| t.0)))
}
