//! A vehicle or a train at a place over a gap: which wheels stand on which rails, and what they join.

use super::super::cut::{numeric, numeric_group};
use super::super::judge::{NumericGroup, NumericStand};
use super::gap::{Gap, Who};
use crate::layout::{Axle, Rail, Wheel};
use crate::rails::PlanNet;
use crate::straddle::contacts::{self, Facing, Touched};
use crate::straddle::path::net_under;
use crate::straddle::rake::{Group, Rake};

/// How something stands at a gap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stance {
    /// What stands there.
    pub who: Who,
    /// Which way round.
    pub facing: Facing,
    /// Place of the leading coupler, mm past the gap along the cut's run.
    pub lead_mm: f64,
    /// True for the left and the right rail if wheels touch it; not every wheel need touch.
    pub touch: [bool; 2],
}

/// A wheel on the track.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WheelOn {
    /// Pickup group, counted from the front of what rolls.
    pub group: usize,
    /// Place, mm past the gap along the cut's run.
    pub at_mm: f64,
    /// The rail, as seen along the cut's run.
    pub rail: Rail,
    /// How it picks up.
    pub wheel: Wheel,
    /// The net under it; `None` off the track.
    pub net: Option<PlanNet>,
}

/// How far something is moved past the gap on either side, mm.
const BEYOND_MM: f64 = 30.0;

impl Gap {
    /// The gaps of the left and the right rail that there are, mm on the ruler: the first and the last.
    fn gaps_mm(&self) -> (f64, f64) {
        let gaps = || self.place.gaps_mm.into_iter().flatten();
        let (first, last) = (gaps().reduce(f64::min), gaps().reduce(f64::max));
        (first.unwrap_or(0.0), last.unwrap_or(0.0))
    }

    /// Least and largest place of the leading coupler, mm: clear of the gap on either side.
    pub fn reach_mm(&self, who: Who) -> (f64, f64) {
        let (first, last) = self.gaps_mm();
        (first - BEYOND_MM, last + self.length_mm(who) + BEYOND_MM)
    }

    /// All wheels of what stands there.
    pub fn wheels(&self, stance: &Stance) -> Vec<WheelOn> {
        let Some(rake) = self.rakes.get(&stance.who) else { return Vec::new() };
        let mut wheels = Vec::new();
        for (group, axles) in rake.groups.iter().enumerate() {
            for axle in &axles.axles {
                for (rail, wheel, at_mm) in on_track(axle, rake.length_mm, stance) {
                    let net = net_under(&self.place.spans, rail, at_mm);
                    wheels.push(WheelOn { group, at_mm, rail, wheel, net });
                }
            }
        }
        wheels
    }

    /// The nets under the pickups of each group, of those rails that its wheels touch.
    pub fn touched(&self, stance: &Stance) -> Vec<[Touched<PlanNet>; 2]> {
        let Some(rake) = self.rakes.get(&stance.who) else { return Vec::new() };
        let of_group = |axles: &[Axle]| {
            let rolling = (axles, rake.length_mm);
            let spans = &self.place.spans;
            let mut touched = contacts::touched_at(spans, rolling, stance.facing, stance.lead_mm);
            for (side, touch) in touched.iter_mut().zip(stance.touch) {
                if !touch {
                    side.clear();
                }
            }
            touched
        };
        rake.groups.iter().map(|group| of_group(&group.axles)).collect()
    }

    /// Length of rail that a wheel touches at once, mm.
    fn patch_mm(&self, who: Who) -> f64 {
        self.patches_mm.get(&who).copied().unwrap_or(0.0)
    }

    /// A single metal wheel that bridges the gap of a rail with its contact patch where no pickup group joins it: the nets
    /// of the left and of the right rail.
    fn bridged(&self, stance: &Stance) -> [Touched<PlanNet>; 2] {
        let patch_mm = self.patch_mm(stance.who);
        let wheels = self.wheels(stance);
        Rail::BOTH.map(|rail| {
            let side = usize::from(rail == Rail::Right);
            let Some(gap_mm) = self.place.gaps_mm[side].filter(|_| stance.touch[side]) else {
                return Vec::new();
            };
            let over = |wheel: &WheelOn| {
                let metal = wheel.rail == rail && wheel.wheel != Wheel::Insulated;
                metal && (wheel.at_mm - gap_mm).abs() <= patch_mm / 2.0
            };
            if !wheels.iter().any(over) {
                return Vec::new();
            }
            let nets = [-1e-6, 1e-6].map(|by| net_under(&self.place.spans, rail, gap_mm + by));
            match nets {
                [Some(a), Some(b)] if a != b => {
                    let mut pair = vec![(a, 1), (b, 1)];
                    pair.sort_unstable();
                    pair
                }
                _ => Vec::new(),
            }
        })
    }

    /// What stands there as numbers; `None` if it joins nothing and, where `loaded`, draws nothing. `loaded` also keeps
    /// groups that stand on one block and draw.
    pub fn stand(&self, stance: &Stance, loaded: bool) -> Option<NumericStand> {
        let rake = self.rakes.get(&stance.who)?;
        let names = &self.around(stance.who).names;
        let touched = self.touched(stance);
        let mut groups: Vec<NumericGroup> = Vec::new();
        for (group, mut sides) in rake.groups.iter().zip(touched.clone()) {
            let joins = sides.iter().any(|side| side.len() > 1);
            let on_both = sides.iter().all(|side| !side.is_empty());
            let draws = loaded && on_both && !group.loads.is_empty();
            if !joins && !draws {
                continue;
            }
            if !draws {
                // A side that touches one net joins nothing.
                sides.iter_mut().filter(|side| side.len() < 2).for_each(Vec::clear);
            }
            let both = sides.iter().all(|side| side.len() > 1);
            groups.push(numeric_group(group, numeric(&sides, names), both || draws));
        }
        let mut single_wheel = false;
        if !touched.iter().flatten().any(|side| side.len() > 1) {
            let sides = self.bridged(stance);
            if let Some(group) = rake.groups.first().filter(|_| sides.iter().any(|s| !s.is_empty()))
            {
                groups.push(numeric_group(group, numeric(&sides, names), false));
                single_wheel = true;
            }
        }
        if groups.is_empty() {
            return None;
        }
        let wiring_a = rake.groups.iter().filter_map(|group| group.wiring_a);
        Some(NumericStand {
            vehicle: 0,
            groups,
            // Only of a single wheel it matters how soon it is over.
            length_mm: if single_wheel { self.patch_mm(stance.who) } else { 0.0 },
            speed_mm_s: (rake.speed.from_mm_s, rake.speed.to_mm_s),
            single_wheel,
            wiring_a: wiring_a.min_by(|a, b| a.value.total_cmp(&b.value)).map(|amps| {
                let (low, high) = amps.range();
                [low, amps.value, high]
            }),
        })
    }

    /// Places of the leading coupler at which some pickup changes its net, in order, mm.
    fn changes_mm(&self, rake: &Rake, facing: Facing) -> Vec<f64> {
        let (least, most) = (-BEYOND_MM - rake.length_mm, 2.0 * rake.length_mm + BEYOND_MM);
        let mut changes: Vec<f64> = Vec::new();
        for group in &rake.groups {
            let rolling = (group.axles.as_slice(), rake.length_mm);
            let all = contacts::all_intervals(&self.place.spans, rolling, facing);
            changes.extend(all.iter().flat_map(|interval| [interval.from_mm, interval.to_mm]));
        }
        let (first, last) = self.gaps_mm();
        changes.retain(|at| (first + least..=last + most).contains(at));
        changes.sort_by(f64::total_cmp);
        changes.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
        changes
    }

    /// The place just beyond the next change of what the wheels stand on, ahead or back, mm: the end of the reach without
    /// one.
    pub fn next_change_mm(&self, stance: &Stance, ahead: bool) -> f64 {
        let (least, most) = self.reach_mm(stance.who);
        let Some(rake) = self.rakes.get(&stance.who) else { return stance.lead_mm };
        let changes = self.changes_mm(rake, stance.facing);
        let middles = || changes.windows(2).map(|pair| f64::midpoint(pair[0], pair[1]));
        let next = if ahead {
            middles().find(|at| *at > stance.lead_mm + 0.01)
        } else {
            middles().rfind(|at| *at < stance.lead_mm - 0.01)
        };
        next.unwrap_or(if ahead { most } else { least }).clamp(least, most)
    }

    /// True if pickups of a group stand on both sides of the gap of a rail; where a rail is whole, of the other's.
    fn is_over(&self, group: &Group, stance: &Stance, length_mm: f64, side: usize) -> bool {
        let gaps = self.place.gaps_mm;
        let Some(gap_mm) = gaps[side].or(gaps[1 - side]) else { return false };
        let pickups = contacts::pickups_mm(&group.axles, length_mm, stance.facing);
        pickups[side].is_some_and(|(first, last)| {
            stance.lead_mm - last < gap_mm && gap_mm < stance.lead_mm - first
        })
    }

    /// The place at which it joins the two sides of the gap best: both rails if it can, with the most wheels on the rails,
    /// of equals the one nearest to the middle of what rolls. `joins` says which rails it must join at least. The middle of
    /// the gap where it joins none.
    pub fn best_mm(&self, who: Who, facing: Facing, joins: [bool; 2]) -> f64 {
        let (first, last) = self.gaps_mm();
        let centred = f64::midpoint(first, last) + self.length_mm(who) / 2.0;
        let Some(rake) = self.rakes.get(&who) else { return centred };
        let changes = self.changes_mm(rake, facing);
        let mut best: Option<([f64; 3], f64)> = None;
        for pair in changes.windows(2) {
            let lead_mm = f64::midpoint(pair[0], pair[1]);
            let stance = Stance { who, facing, lead_mm, touch: [true; 2] };
            let touched = self.touched(&stance);
            let groups = || rake.groups.iter().zip(&touched);
            let joined = |side: usize| {
                groups().any(|(group, sides)| {
                    sides[side].len() > 1 && self.is_over(group, &stance, rake.length_mm, side)
                })
            };
            if (0..2).any(|side| joins[side] && !joined(side)) {
                continue;
            }
            let count = f64::from(u8::from(joined(0))) + f64::from(u8::from(joined(1)));
            if count == 0.0 {
                continue;
            }
            let joining = touched.iter().flatten().filter(|side| side.len() > 1).flatten();
            let ohm: f64 = joining.map(|(_, wheels)| 1.0 / f64::from((*wheels).max(1))).sum();
            let rank = [count, -ohm, -(lead_mm - centred).abs()];
            let better = best.as_ref().is_none_or(|(old, _)| {
                let first = rank.iter().zip(old).find(|(a, b)| (*a - *b).abs() > 1e-9);
                first.is_some_and(|(a, b)| a > b)
            });
            if better {
                best = Some((rank, lead_mm));
            }
        }
        best.map_or(centred, |(_, at)| at)
    }
}

/// The wheels of an axle on the track: rail as seen along the ruler, how it picks up, place on the ruler.
fn on_track(axle: &Axle, length_mm: f64, stance: &Stance) -> [(Rail, Wheel, f64); 2] {
    let (behind_mm, left, right) = match stance.facing {
        Facing::FrontAhead => (axle.at_mm, axle.left, axle.right),
        Facing::RearAhead => (length_mm - axle.at_mm, axle.right, axle.left),
    };
    let at_mm = stance.lead_mm - behind_mm;
    [(Rail::Left, left, at_mm), (Rail::Right, right, at_mm)]
}
