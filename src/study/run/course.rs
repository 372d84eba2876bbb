//! The way of a train: the track as one ruler, and where it joins what.

use std::collections::BTreeMap;

use super::moment;
use super::{Rolls, Running, Standing};
use crate::layout::{CutId, Layout, Load, Rail, RunId, VehicleId, Wheel};
use crate::rails::{Plan, PlanNet, cut_place_mm};
use crate::straddle::contacts::{self, Facing, Touched};
use crate::straddle::path::{Span, ruler_at, turned};
use crate::straddle::rake::{self, Rake};
use crate::study::places::RULER_MM;
use crate::study::{NetId, SideWord};

/// The way of a train. Derived once; [`Course::at`] is then cheap enough to be asked in every frame.
#[derive(Debug, Clone)]
pub struct Course {
    pub(super) rake: Rake,
    pub(super) facing: Facing,
    pub(super) spans: Vec<Span>,
    /// The track as far as feeders count, for the resistance of the rails up to them.
    pub(super) tape: Vec<Span>,
    /// How far it can go, mm: as far as was asked, or to the end of the track.
    pub distance_mm: f64,
    /// Whether the track ends before the distance that was asked.
    pub track_ends: bool,
    pub(super) passages: Vec<Passage>,
}

/// A place on the track.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnTrack {
    /// The run.
    pub run: RunId,
    /// Distance along it, mm.
    pub at_mm: f64,
    /// Whether the train goes along the run there; otherwise against it.
    pub along: bool,
}

/// A pickup group over a cut in one rail.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Passage {
    pub from_mm: f64,
    pub to_mm: f64,
    pub cut: CutId,
    pub side: SideWord,
    pub vehicles: Vec<VehicleId>,
}

/// A stretch of the way on which the groups that matter touch the same nets.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Segment {
    pub from_mm: f64,
    pub to_mm: f64,
    /// What each group touches where the contact is best.
    pub touched: Vec<[Touched<PlanNet>; 2]>,
}

impl Course {
    /// The way of a train; `None` if what runs or the run is not on the layout.
    pub fn new(layout: &Layout, plan: &Plan, running: &Running) -> Option<Course> {
        let rake = match running.rolls {
            Rolls::Vehicle(id) => rake::alone(layout.vehicles.get(&id)?),
            Rolls::Train(id) => rake::coupled(layout, layout.trains.get(&id)?),
        };
        let length_mm = crate::layout::length_mm(layout, layout.runs.get(&running.run)?);
        let at_mm = clamped(running.at_mm, length_mm);
        // Nothing is longer than a day's run; a file may ask for anything.
        let asked_mm = clamped(running.distance_mm, 1e7);
        let reach_mm = asked_mm.max(rake.length_mm) + 1.0;
        let around = |reach_mm: f64| {
            let spans = ruler_at(plan, running.run, at_mm, reach_mm);
            if running.along { spans } else { turned(spans) }
        };
        let mut spans = around(reach_mm);
        spans.retain(|s| s.to_mm > -rake.length_mm - 1.0 && s.from_mm < asked_mm + 1.0);
        let end_mm = spans.last()?.to_mm.max(0.0);
        let facing = if running.rear_first { Facing::RearAhead } else { Facing::FrontAhead };
        let mut course = Course {
            distance_mm: asked_mm.min(end_mm),
            track_ends: end_mm < asked_mm,
            rake,
            facing,
            spans,
            tape: around(reach_mm.max(RULER_MM)),
            passages: Vec::new(),
        };
        course.passages = course.passages(layout);
        Some(course)
    }

    /// How things are when the train has come so far; positions are cut to the way.
    pub fn at(&self, layout: &Layout, plan: &Plan, position_mm: f64) -> Standing {
        let position_mm = clamped(position_mm, self.distance_mm);
        let touched = self.touched(position_mm);
        moment::look(layout, plan, self, position_mm, &touched, &[]).standing
    }

    /// Where on the track a place of the train is when it has come so far: `behind_mm` behind its leading coupler.
    /// `None` off the track. For drawing it.
    pub fn place(&self, position_mm: f64, behind_mm: f64) -> Option<OnTrack> {
        let place = position_mm - behind_mm;
        let span = self.spans.iter().find(|s| s.from_mm <= place && place <= s.to_mm)?;
        Some(OnTrack { run: span.run, at_mm: span.run_mm(place), along: span.along > 0 })
    }

    /// Wheelsets: how far behind the leading coupler, mm, and whether a wheel of it picks up.
    pub fn axles(&self) -> impl Iterator<Item = (f64, bool)> + '_ {
        self.rake.groups.iter().flat_map(|group| &group.axles).map(|axle| {
            let behind_mm = match self.facing {
                Facing::FrontAhead => axle.at_mm,
                Facing::RearAhead => self.rake.length_mm - axle.at_mm,
            };
            (behind_mm, [axle.left, axle.right].contains(&Wheel::Pickup))
        })
    }

    /// Length over couplers of all that rolls, mm.
    pub fn length_mm(&self) -> f64 {
        self.rake.length_mm
    }

    pub(super) fn touched(&self, position_mm: f64) -> Vec<[Touched<PlanNet>; 2]> {
        self.rake
            .groups
            .iter()
            .map(|group| {
                let rolling = (group.axles.as_slice(), self.rake.length_mm);
                contacts::touched_at(&self.spans, rolling, self.facing, position_mm)
            })
            .collect()
    }

    pub(super) fn cuts_at(&self, position_mm: f64) -> Vec<CutId> {
        let over = |p: &&Passage| p.from_mm <= position_mm && position_mm < p.to_mm;
        let mut cuts: Vec<CutId> = self.passages.iter().filter(over).map(|p| p.cut).collect();
        cuts.sort();
        cuts.dedup();
        cuts
    }

    /// Every pickup group over every cut on the way, by where it begins.
    fn passages(&self, layout: &Layout) -> Vec<Passage> {
        let mut found = Vec::new();
        for cut in layout.cuts.values() {
            for rail in Rail::BOTH {
                let Some(at_mm) = cut_place_mm(cut, rail) else { continue };
                // A ring may be passed more than once; a gap on a boundary of two spans lies in both.
                let mut places: Vec<(f64, i8)> = self
                    .spans
                    .iter()
                    .filter(|s| s.run == cut.run)
                    .filter_map(|s| Some((s.ruler_mm(at_mm)?, s.along)))
                    .collect();
                places.dedup_by(|a, b| (a.0 - b.0).abs() < 1e-6);
                for (place, along) in places {
                    let rail = if along > 0 { rail } else { rail.other() };
                    for group in &self.rake.groups {
                        let behind =
                            contacts::pickups_mm(&group.axles, self.rake.length_mm, self.facing);
                        let Some((first, last)) = behind[usize::from(rail == Rail::Right)] else {
                            continue;
                        };
                        let (from_mm, to_mm) = (place + first, place + last);
                        if first < last && to_mm > 0.0 && from_mm < self.distance_mm {
                            found.push(Passage {
                                from_mm,
                                to_mm,
                                cut: cut.id,
                                side: rail.into(),
                                vehicles: group.vehicles.clone(),
                            });
                        }
                    }
                }
            }
        }
        found.sort_by(|a: &Passage, b: &Passage| a.from_mm.total_cmp(&b.from_mm));
        found
    }

    /// The way in stretches, in order, without gaps: at least one.
    pub(super) fn segments(&self) -> Vec<Segment> {
        let mut bounds: Vec<f64> = vec![0.0, self.distance_mm];
        for group in &self.rake.groups {
            let rolling = (group.axles.as_slice(), self.rake.length_mm);
            for interval in contacts::all_intervals(&self.spans, rolling, self.facing) {
                bounds.extend([interval.from_mm, interval.to_mm]);
            }
        }
        bounds.retain(|b| (0.0..=self.distance_mm).contains(b));
        bounds.sort_by(f64::total_cmp);
        bounds.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        let mut found: Vec<Segment> = Vec::new();
        for pair in bounds.windows(2) {
            let touched = self.touched((pair[0] + pair[1]) / 2.0);
            let new = Segment { from_mm: pair[0], to_mm: pair[1], touched };
            match found.last_mut() {
                Some(last) if self.same(&last.touched, &new.touched) => {
                    last.to_mm = new.to_mm;
                    if ohm(&new.touched) < ohm(&last.touched) {
                        last.touched = new.touched;
                    }
                }
                _ => found.push(new),
            }
        }
        if found.is_empty() {
            found.push(Segment { from_mm: 0.0, to_mm: 0.0, touched: self.touched(0.0) });
        }
        found
    }

    /// Whether the groups that join nets or drive touch the same ones.
    fn same(&self, a: &[[Touched<PlanNet>; 2]], b: &[[Touched<PlanNet>; 2]]) -> bool {
        let nets = |side: &Touched<PlanNet>| side.iter().map(|t| t.0).collect::<Vec<PlanNet>>();
        self.rake.groups.iter().zip(a.iter().zip(b)).all(|(group, (a, b))| {
            let matters =
                drives(&group.loads) || [a, b].into_iter().flatten().any(|side| side.len() > 1);
            !matters || (0..2).all(|side| nets(&a[side]) == nets(&b[side]))
        })
    }
}

/// Whether something that moves a train is among the loads.
pub(super) fn drives(loads: &[Load]) -> bool {
    loads.iter().any(|load| matches!(load, Load::Motor { .. } | Load::Rectifier { .. }))
}

/// Contact resistance of all groups in units of one wheel's.
fn ohm(touched: &[[Touched<PlanNet>; 2]]) -> f64 {
    touched.iter().flatten().flatten().map(|t| 1.0 / f64::from(t.1.max(1))).sum()
}

/// A number from 0 to a limit; what is none counts as 0.
fn clamped(value: f64, most: f64) -> f64 {
    if value.is_finite() { value.clamp(0.0, most.max(0.0)) } else { 0.0 }
}

/// Identities of touched nets.
pub(super) fn net_ids(plan: &Plan, touched: &Touched<PlanNet>) -> Vec<NetId> {
    touched.iter().map(|t| plan.net(t.0).id).collect()
}

/// Which nets of which groups are joined: what has to change for it to be told.
pub(super) type Joined = BTreeMap<usize, [Vec<PlanNet>; 2]>;

pub(super) fn joined(touched: &[[Touched<PlanNet>; 2]]) -> Joined {
    touched
        .iter()
        .enumerate()
        .filter(|(_, sides)| sides.iter().any(|side| side.len() > 1))
        .map(|(at, sides)| (at, sides.clone().map(|side| side.iter().map(|t| t.0).collect())))
        .collect()
}
