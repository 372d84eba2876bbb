//! Coupled vehicles: their pickup groups, and the ways in which several groups join nets at once.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

use super::contacts::{self, Facing, Interval, Touched};
use super::path::Span;
use crate::layout::{
    Axle, ContactRange, Layout, Load, Quantity, SpeedRange, Train, Vehicle, VehicleId,
};
use crate::rails::PlanNet;

/// Pickups that are joined: those of one vehicle, of several whose pickups are joined across the couplers, or of one
/// wheelset where a vehicle's pickups are not joined.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// The vehicles, front to rear; none for what stands in where a layout has no vehicle.
    pub vehicles: Vec<VehicleId>,
    /// Place of the foremost of them in the train, from 0.
    pub place: usize,
    /// Its wheelsets; distances from the front coupler of the whole.
    pub axles: Vec<Axle>,
    /// The least and the largest contact resistance of any of its wheels, Ω.
    pub contact_ohm: ContactRange,
    /// Loads of the vehicles, each between the group's left and right.
    pub loads: Vec<Load>,
    /// Least current that the pickup wiring of one of them bears, A.
    pub wiring_a: Option<Quantity>,
}

/// Vehicles coupled to each other, or one vehicle by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Rake {
    /// Length over couplers, mm.
    pub length_mm: f64,
    /// Pickup groups, front to rear.
    pub groups: Vec<Group>,
    /// Speeds at which it passes gaps.
    pub speed: SpeedRange,
}

/// The groups of one vehicle whose front coupler, as the train runs, is at `from_mm`.
fn groups_of(vehicle: &Vehicle, place: usize, turned: bool, from_mm: f64) -> Vec<Group> {
    let mut axles: Vec<Axle> = vehicle
        .axles
        .iter()
        .map(|axle| match turned {
            false => Axle { at_mm: from_mm + axle.at_mm, ..*axle },
            true => Axle {
                at_mm: from_mm + vehicle.length_mm - axle.at_mm,
                left: axle.right,
                right: axle.left,
            },
        })
        .collect();
    if turned {
        axles.reverse();
    }
    let group = |axles: Vec<Axle>| Group {
        vehicles: vec![vehicle.id],
        place,
        axles,
        contact_ohm: vehicle.contact_ohm,
        loads: Some(vehicle.load).filter(|load| *load != Load::Nothing).into_iter().collect(),
        wiring_a: vehicle.wiring_a,
    };
    if vehicle.pickups_joined {
        vec![group(axles)]
    } else {
        axles.into_iter().map(|axle| group(vec![axle])).collect()
    }
}

/// One vehicle by itself.
pub fn alone(vehicle: &Vehicle) -> Rake {
    Rake {
        length_mm: vehicle.length_mm,
        groups: groups_of(vehicle, 0, false, 0.0),
        speed: vehicle.speed,
    }
}

/// A train.
pub fn coupled(layout: &Layout, train: &Train) -> Rake {
    let mut rake = Rake { length_mm: 0.0, groups: Vec::new(), speed: SpeedRange::default() };
    let mut speed: Option<(bool, SpeedRange)> = None;
    // True if the last group continues across the coupler.
    let mut joins = false;
    for (place, here) in train.vehicles.iter().enumerate() {
        let Some(vehicle) = layout.vehicles.get(&here.vehicle) else { continue };
        let drives = matches!(vehicle.load, Load::Motor { .. } | Load::Rectifier { .. });
        if speed.is_none_or(|(driven, _)| drives && !driven) {
            speed = Some((drives, vehicle.speed));
        }
        let groups = groups_of(vehicle, place, here.turned, rake.length_mm);
        rake.length_mm += vehicle.length_mm;
        match rake.groups.last_mut().filter(|_| joins && vehicle.pickups_joined) {
            Some(last) => groups.into_iter().for_each(|more| last.take(more)),
            None => rake.groups.extend(groups),
        }
        joins = here.joined && vehicle.pickups_joined;
    }
    rake.speed = speed.map_or(rake.speed, |(_, speed)| speed);
    rake
}

impl Group {
    fn take(&mut self, more: Group) {
        self.vehicles.extend(more.vehicles);
        self.axles.extend(more.axles);
        self.loads.extend(more.loads);
        self.contact_ohm.low = self.contact_ohm.low.min(more.contact_ohm.low);
        self.contact_ohm.high = self.contact_ohm.high.max(more.contact_ohm.high);
        let least = |a: Quantity, b: Quantity| if b.value < a.value { b } else { a };
        self.wiring_a = match (self.wiring_a, more.wiring_a) {
            (Some(a), Some(b)) => Some(least(a, b)),
            (a, b) => a.or(b),
        };
    }

    /// True if two groups differ only in where they are.
    fn alike(&self, other: &Group) -> bool {
        self.loads == other.loads
            && self.contact_ohm == other.contact_ohm
            && self.wiring_a == other.wiring_a
    }
}

/// The farthest apart that two gaps can be for a rake to bridge both with its pickups at once, mm: from its first to its
/// last pickup that belongs to a group of two wheelsets or more. 0 if none does.
pub fn bridging_span_mm(rake: &Rake) -> f64 {
    let spans = rake.groups.iter().flat_map(|group| {
        contacts::pickups_mm(&group.axles, rake.length_mm, Facing::FrontAhead)
            .into_iter()
            .flatten()
            .filter(|(first, last)| first < last)
    });
    let (first, last) = spans.fold((f64::INFINITY, f64::NEG_INFINITY), |(first, last), (a, b)| {
        (first.min(a), last.max(b))
    });
    (last - first).max(0.0)
}

/// A way in which groups of a rake stand over a cut, each joining nets.
#[derive(Debug, Clone, PartialEq)]
pub struct Together {
    /// Facing.
    pub facing: Facing,
    /// Place of the leading coupler where it begins, mm on the ruler.
    pub lead_mm: f64,
    /// How far the rake rolls while at least this much is joined, mm.
    pub length_mm: f64,
    /// The groups (indices in [`Rake::groups`]) with what their left and right pickups (along the ruler) touch.
    pub groups: Vec<(usize, [Touched<PlanNet>; 2])>,
}

/// The largest number of ways of standing of one train at one cut and facing.
const MOST_WAYS: usize = 24;
/// The largest number of groups at once: those nearest to the cut. Others are judged at the cuts nearer to them.
const MOST_AT_ONCE: usize = 4;

/// The ways in which several vehicles of a rake join nets across a cut: groups of several vehicles by themselves, and
/// groups that join at the same time, one of them over this cut. What a lone vehicle does is not among them. Also how
/// many ways were left out because there are too many: those of the fewest groups.
pub fn together(
    spans: &[Span],
    cut_mm: [Option<f64>; 2],
    rake: &Rake,
    facing: Facing,
) -> (Vec<Together>, usize) {
    let joins = |interval: &Interval| interval.touched.iter().any(|side| side.len() > 1);
    let over: Vec<Vec<Interval>> = rake
        .groups
        .iter()
        .map(|group| contacts::intervals(spans, cut_mm, (&group.axles, rake.length_mm), facing))
        .collect();
    let mut found: Vec<Together> = Vec::new();
    for (at, _) in rake.groups.iter().enumerate().filter(|(_, g)| g.vehicles.len() > 1) {
        found.extend(contacts::group_stands(facing, &over[at]).into_iter().map(|stand| Together {
            facing,
            lead_mm: stand.lead_mm,
            length_mm: stand.length_mm,
            groups: vec![(at, stand.touched)],
        }));
    }
    let steps = steps(spans, rake, facing, &over, &joins);
    let (ways, shortened) = at_once(rake, facing, &steps);
    found.extend(ways);
    found.sort_by_key(|way| std::cmp::Reverse(way.groups.len()));
    let left_out = shortened + found.len().saturating_sub(MOST_WAYS);
    found.truncate(MOST_WAYS);
    (found, left_out)
}

/// A stretch of places of the leading coupler, and the groups that join nets there.
struct Step {
    from_mm: f64,
    to_mm: f64,
    groups: Vec<(usize, [Touched<PlanNet>; 2])>,
}

/// The stretches in which two groups or more join nets, one of them over the cut, in order.
fn steps(
    spans: &[Span],
    rake: &Rake,
    facing: Facing,
    over: &[Vec<Interval>],
    joins: &dyn Fn(&Interval) -> bool,
) -> Vec<Step> {
    let bounds = over.iter().flatten().filter(|i| joins(i)).fold(None, |bounds, i| {
        let (from, to) = bounds.unwrap_or((i.from_mm, i.to_mm));
        Some((i.from_mm.min(from), i.to_mm.max(to)))
    });
    let Some((from, to)) = bounds else { return Vec::new() };
    let joining: Vec<Vec<Interval>> = rake
        .groups
        .iter()
        .map(|group| {
            let mut all = contacts::all_intervals(spans, (&group.axles, rake.length_mm), facing);
            all.retain(|i| joins(i) && i.to_mm > from && i.from_mm < to);
            all
        })
        .collect();
    if joining.iter().filter(|intervals| !intervals.is_empty()).count() < 2 {
        return Vec::new();
    }
    let mut events: Vec<f64> =
        joining.iter().flatten().flat_map(|i| [i.from_mm, i.to_mm]).collect();
    events.sort_by(f64::total_cmp);
    events.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    let mut next = vec![0usize; joining.len()];
    let mut found = Vec::new();
    for pair in events.windows(2) {
        let middle = (pair[0] + pair[1]) / 2.0;
        let mut groups = Vec::new();
        let mut here = false;
        for (at, intervals) in joining.iter().enumerate() {
            while intervals.get(next[at]).is_some_and(|i| i.to_mm <= middle) {
                next[at] += 1;
            }
            let Some(interval) = intervals.get(next[at]).filter(|i| i.from_mm < middle) else {
                continue;
            };
            here |= over[at].iter().any(|i| joins(i) && i.from_mm < middle && middle < i.to_mm);
            groups.push((at, interval.touched.clone()));
        }
        if here && groups.len() > 1 {
            found.push(Step { from_mm: pair[0], to_mm: pair[1], groups });
        }
    }
    found
}

/// Raises the wheels on each net to those of another way with the same joins.
fn most_wheels(
    groups: &mut [(usize, [Touched<PlanNet>; 2])],
    others: &[(usize, [Touched<PlanNet>; 2])],
    sort_of: impl Fn(usize) -> usize,
) {
    let mut free: Vec<_> = others.iter().collect();
    for (at, sides) in groups {
        let same = |other: &&(usize, [Touched<PlanNet>; 2])| {
            let nets = |side: &Touched<PlanNet>| side.iter().map(|t| t.0).collect::<Vec<_>>();
            sort_of(other.0) == sort_of(*at)
                && (0..2).all(|side| nets(&sides[side]) == nets(&other.1[side]))
        };
        let Some(found) = free.iter().position(same) else { continue };
        let (_, more) = free.swap_remove(found);
        for (here, there) in sides.iter_mut().flatten().zip(more.iter().flatten()) {
            here.1 = here.1.max(there.1);
        }
    }
}

/// Which nets a way joins, by which sort of group: what makes two ways the same.
type Way = Vec<(usize, [Vec<PlanNet>; 2])>;

/// Of stretches with the same joins the one with the most wheels, and how far one can roll with them. Also how many ways
/// had to be shortened to the groups nearest to the cut.
fn at_once(rake: &Rake, facing: Facing, steps: &[Step]) -> (Vec<Together>, usize) {
    let sort_of = |at: usize| {
        let group = &rake.groups[at];
        rake.groups.iter().position(|other| other.alike(group)).unwrap_or(at)
    };
    let nets = |side: &Touched<PlanNet>| side.iter().map(|t| t.0).collect::<Vec<PlanNet>>();
    let way = |groups: &[(usize, [Touched<PlanNet>; 2])]| -> Way {
        let mut way: Way = groups
            .iter()
            .map(|(at, sides)| (sort_of(*at), [nets(&sides[0]), nets(&sides[1])]))
            .collect();
        way.sort();
        way
    };
    let ohm = |groups: &[(usize, [Touched<PlanNet>; 2])]| -> f64 {
        groups.iter().flat_map(|g| g.1.iter().flatten()).map(|t| 1.0 / f64::from(t.1.max(1))).sum()
    };
    let mut best: BTreeMap<Way, (f64, Together)> = BTreeMap::new();
    let mut shortened: BTreeSet<Way> = BTreeSet::new();
    for step in steps {
        for keep in [[true, true], [true, false], [false, true]] {
            let mut groups: Vec<(usize, [Touched<PlanNet>; 2])> = step
                .groups
                .iter()
                .map(|(at, sides)| {
                    let mut sides = sides.clone();
                    for (side, keep) in sides.iter_mut().zip(keep) {
                        // A side that touches one net only joins nothing.
                        if !keep || side.len() < 2 {
                            side.clear();
                        }
                    }
                    (*at, sides)
                })
                .filter(|(_, sides)| sides.iter().any(|side| !side.is_empty()))
                .collect();
            if groups.len() < 2 {
                continue;
            }
            if groups.len() > MOST_AT_ONCE {
                shortened.insert(way(&groups));
                let lead_mm = f64::midpoint(step.from_mm, step.to_mm);
                let away = |at: usize| (middle_mm(rake, at, facing) - lead_mm).abs();
                groups.sort_by(|a, b| away(a.0).total_cmp(&away(b.0)));
                groups.truncate(MOST_AT_ONCE);
                groups.sort_by_key(|group| group.0);
            }
            let own_ohm = ohm(&groups);
            let new = Together { facing, lead_mm: step.from_mm, length_mm: 0.0, groups };
            match best.entry(way(&new.groups)) {
                Entry::Vacant(entry) => drop(entry.insert((own_ohm, new))),
                Entry::Occupied(mut entry) => {
                    let (old_ohm, old) = entry.get_mut();
                    if own_ohm < *old_ohm - 1e-9 {
                        entry.insert((own_ohm, new));
                    } else if own_ohm < *old_ohm + 1e-9 {
                        // Of equals neither is the first: each net has the most wheels that any of them has there.
                        most_wheels(&mut old.groups, &new.groups, sort_of);
                    }
                }
            }
        }
    }
    for (key, (_, together)) in &mut best {
        let holds = |step: &Step| {
            let mut free = way(&step.groups);
            key.iter().all(|(sort, sides)| {
                let fits = |(other, has): &(usize, [Vec<PlanNet>; 2])| {
                    other == sort && (0..2).all(|s| sides[s].iter().all(|net| has[s].contains(net)))
                };
                free.iter().position(fits).map(|at| free.swap_remove(at)).is_some()
            })
        };
        let (mut run, mut start, mut end) = (0.0, 0.0, f64::NEG_INFINITY);
        for step in steps.iter().filter(|step| holds(step)) {
            if step.from_mm > end + 1e-9 {
                (run, start) = (0.0, step.from_mm);
            }
            run += step.to_mm - step.from_mm;
            end = step.to_mm;
            if run > together.length_mm {
                (together.length_mm, together.lead_mm) = (run, start);
            }
        }
    }
    (best.into_values().map(|(_, way)| way).collect(), shortened.len())
}

/// How far the middle of a group's wheelsets is behind the leading coupler, mm.
fn middle_mm(rake: &Rake, at: usize, facing: Facing) -> f64 {
    let axles = &rake.groups[at].axles;
    let (first, last) = (axles.first(), axles.last());
    let middle = first.zip(last).map_or(0.0, |(first, last)| (first.at_mm + last.at_mm) / 2.0);
    match facing {
        Facing::FrontAhead => middle,
        Facing::RearAhead => rake.length_mm - middle,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::path::{ruler, tests::track};
    use super::*;
    use crate::layout::{Coupled, CutId, TrainId, Wheel, default_contact_ohm};
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
