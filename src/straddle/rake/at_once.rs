//! Of the stretches in which the same groups join the same nets, the worst one.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

use super::group::Rake;
use super::together::{Step, Together};
use crate::rails::PlanNet;
use crate::straddle::contacts::{Facing, Touched, longest_roll};

/// The largest number of groups at once: those nearest to the cut. Others are judged at the cuts nearer to them.
const MOST_AT_ONCE: usize = 4;

/// Raises the wheels on each net to those of another way with the same joins.
fn most_wheels(groups: &mut [Joined], others: &[Joined], sort_of: impl Fn(usize) -> usize) {
    let mut free: Vec<_> = others.iter().collect();
    for (at, sides) in groups {
        let same = |other: &&Joined| {
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

/// A group (its index in the rake) with what its left and right pickups touch.
type Joined = (usize, [Touched<PlanNet>; 2]);

/// Which nets a way joins, by which sort of group: what makes two ways the same.
type Way = Vec<(usize, [Vec<PlanNet>; 2])>;

/// Of stretches with the same joins the one with the most wheels, and how far one can roll with them. Also how many ways
/// had to be shortened to the groups nearest to the cut.
pub(super) fn at_once(
    rake: &Rake,
    facing: Facing,
    steps: &[Step],
    centred_mm: f64,
) -> (Vec<Together>, usize) {
    let sort_of = |at: usize| {
        let group = &rake.groups[at];
        rake.groups.iter().position(|other| other.alike(group)).unwrap_or(at)
    };
    let nets = |side: &Touched<PlanNet>| side.iter().map(|t| t.0).collect::<Vec<PlanNet>>();
    let way = |groups: &[Joined]| -> Way {
        let mut way: Way = groups
            .iter()
            .map(|(at, sides)| (sort_of(*at), [nets(&sides[0]), nets(&sides[1])]))
            .collect();
        way.sort();
        way
    };
    let ohm = |groups: &[Joined]| -> f64 {
        groups.iter().flat_map(|g| g.1.iter().flatten()).map(|t| 1.0 / f64::from(t.1.max(1))).sum()
    };
    let mut best: BTreeMap<Way, (f64, Together)> = BTreeMap::new();
    let mut shortened: BTreeSet<Way> = BTreeSet::new();
    for step in steps {
        for keep in [[true, true], [true, false], [false, true]] {
            let mut groups: Vec<Joined> = step
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
        roll(together, key, (steps, centred_mm), &way);
    }
    (best.into_values().map(|(_, way)| way).collect(), shortened.len())
}

/// Sets the longest way that the rake rolls while a way of joining holds, and where it begins.
fn roll(
    together: &mut Together,
    key: &Way,
    (steps, centred_mm): (&[Step], f64),
    way_of: &dyn Fn(&[Joined]) -> Way,
) {
    let holds = |step: &Step| {
        let mut free = way_of(&step.groups);
        key.iter().all(|(sort, sides)| {
            let fits = |(other, has): &(usize, [Vec<PlanNet>; 2])| {
                other == sort && (0..2).all(|s| sides[s].iter().all(|net| has[s].contains(net)))
            };
            free.iter().position(fits).map(|at| free.swap_remove(at)).is_some()
        })
    };
    let held = steps.iter().filter(|step| holds(step)).map(|step| (step.from_mm, step.to_mm));
    (together.lead_mm, together.length_mm) =
        longest_roll(held, centred_mm).unwrap_or((together.lead_mm, 0.0));
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
