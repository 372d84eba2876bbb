//! A trial at a gap: what a person notices first as something comes over it, with all that it draws.
//!
//! The empty track comes first, then the way of the train, joint by joint. What varies from pass to pass (contacts, speed,
//! the phase of the clocks) and what nobody knows (where in its range a trip acts) gives each answer a share.

use std::collections::BTreeSet;

use super::course::{Course, Segment, joined};
use super::moment::{Place, driven};
use super::{Rolls, Running, Urge};
use crate::circuit::Unsolved;
use crate::layout::{Cut, CutId, Layout, Rail};
use crate::rails::{Plan, PlanNet, cut_place_mm};
use crate::straddle::case::{Names, Wiring};
use crate::straddle::path::{Span, Tape, ruler_at};
use crate::study::cut::Case;
use crate::study::judge::{Acting, Acts, Bench};
use crate::study::{GuardId, Motion};

/// A way over a gap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Way {
    /// The gap.
    pub cut: CutId,
    /// What comes.
    pub rolls: Rolls,
    /// Whether it goes along the cut's run; otherwise against it.
    pub along: bool,
    /// True if its rear leads.
    pub rear_first: bool,
    /// Its speed, mm/s, where that is known.
    pub speed_mm_s: Option<f64>,
    /// Whether it rolls over the gap, stands on it, or is not there.
    pub motion: Motion,
}

/// Values that nobody sees, each within its range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hidden {
    /// Contact of a wheel: 0 is its least resistance, 1 its largest.
    pub contact: f64,
    /// Speed: 0 is the least, 1 the largest.
    pub speed: f64,
    /// Where trips act: −1 is the least believable value, 0 the value, 1 the largest.
    pub trip: f64,
}

/// The first thing that a person notices.
#[derive(Debug, Clone, PartialEq)]
pub enum Noticed {
    /// Nothing; `faster` is the speed beyond the gap over the speed before it, where a motor tells.
    Nothing {
        /// Speed beyond over speed before.
        faster: Option<f64>,
    },
    /// Something trips.
    Trips {
        /// What is first: of several at about the same time each may be.
        guards: Vec<GuardId>,
        /// Whether it trips with nothing on the track.
        empty: bool,
    },
    /// It stands without drive.
    Stalls,
    /// It is driven back.
    Backwards,
}

/// Something that may be noticed, and in which share of passes.
#[derive(Debug, Clone, PartialEq)]
pub struct Chance {
    /// Share, 0 to 1.
    pub share: f64,
    /// What is noticed.
    pub noticed: Noticed,
}

/// Distance before the gap at which it starts, and beyond it at which it ends, mm.
const CLEAR_MM: f64 = 10.0;

/// The chances of each thing noticed, over hidden values with their weights. `None` if the gap or what rolls is not on the layout.
///
/// # Errors
/// The circuit of some joint state has no verified solution.
pub fn noticed(
    layout: &Layout,
    plan: &Plan,
    way: &Way,
    hidden: &[(f64, Hidden)],
) -> Result<Option<Vec<Chance>>, Unsolved> {
    let Some(cut) = layout.cuts.get(&way.cut) else { return Ok(None) };
    let mut trial = Trial {
        left: hidden.iter().map(|h| h.0).collect(),
        hidden,
        chances: Vec::new(),
        speeds: None,
    };
    trial.empty_track(layout, plan, cut)?;
    if way.motion == Motion::NoTrain {
        trial.end(|_| Noticed::Nothing { faster: None });
        return Ok(Some(trial.chances));
    }
    let Some(course) = course(layout, plan, cut, way) else { return Ok(None) };
    let segments = course.segments();
    if way.motion == Motion::Standing {
        let best = segments.iter().max_by_key(|segment| {
            let joined = |sides: &[Vec<(PlanNet, u32)>; 2]| -> usize {
                sides.iter().filter(|side| side.len() > 1).count()
            };
            segment.touched.iter().map(joined).sum::<usize>()
        });
        if let Some(best) = best {
            trial.stretch(layout, plan, &course, best, &|_| None)?;
        }
    } else {
        let speed = course.rake.speed;
        let speed_mm_s = |hidden: &Hidden| {
            let own = speed.from_mm_s + hidden.speed * (speed.to_mm_s - speed.from_mm_s);
            way.speed_mm_s.unwrap_or(own).max(1e-3)
        };
        for (at, segment) in segments.iter().enumerate() {
            let rolls_mm = joined_for_mm(&segments, at);
            let window = |hidden: &Hidden| rolls_mm.map(|mm| mm / speed_mm_s(hidden));
            trial.stretch(layout, plan, &course, segment, &window)?;
        }
    }
    let faster = trial.speeds.filter(|speeds| speeds.0 > 0.0).map(|speeds| speeds.1 / speeds.0);
    trial.end(|_| Noticed::Nothing { faster });
    Ok(Some(trial.chances))
}

/// The way over a gap as a course.
fn course(layout: &Layout, plan: &Plan, cut: &Cut, way: &Way) -> Option<Course> {
    let gaps = || Rail::BOTH.into_iter().filter_map(|rail| cut_place_mm(cut, rail));
    let (first, last) = (gaps().reduce(f64::min)?, gaps().reduce(f64::max)?);
    let running = Running {
        rolls: way.rolls,
        run: cut.run,
        at_mm: if way.along { first - CLEAR_MM } else { last + CLEAR_MM },
        along: way.along,
        rear_first: way.rear_first,
        speed_mm_s: way.speed_mm_s.unwrap_or(0.0),
        distance_mm: 0.0,
        pushed: false,
    };
    let length_mm = Course::new(layout, plan, &running)?.length_mm();
    let distance_mm = last - first + 2.0 * CLEAR_MM + length_mm;
    Course::new(layout, plan, &Running { distance_mm, ..running })
}

/// Distance that it rolls with the joins of a segment, mm; `None` where it joins nothing, so that there is no end to it.
fn joined_for_mm(segments: &[Segment], at: usize) -> Option<f64> {
    let joins = joined(&segments[at].touched);
    if joins.is_empty() {
        return None;
    }
    let same = |segment: &&Segment| joined(&segment.touched) == joins;
    let ahead = segments[at..].iter().take_while(same);
    let behind = segments[..at].iter().rev().take_while(same);
    Some(ahead.chain(behind).map(|segment| segment.to_mm - segment.from_mm).sum())
}

/// A trial as it goes on: hidden values with the share of passes in which nothing was noticed yet.
struct Trial<'a> {
    hidden: &'a [(f64, Hidden)],
    left: Vec<f64>,
    chances: Vec<Chance>,
    /// Current of its motors before the gap and beyond it, A at rest.
    speeds: Option<(f64, f64)>,
}

impl Trial<'_> {
    fn add(&mut self, share: f64, noticed: Noticed) {
        if share <= 0.0 {
            return;
        }
        match self.chances.iter_mut().find(|chance| chance.noticed == noticed) {
            Some(chance) => chance.share += share,
            None => self.chances.push(Chance { share, noticed }),
        }
    }

    /// All passes that are left end in one way.
    fn end(&mut self, noticed: impl Fn(usize) -> Noticed) {
        for at in 0..self.left.len() {
            let share = std::mem::take(&mut self.left[at]);
            self.add(share, noticed(at));
        }
    }

    /// Takes the share of the passes in which something acts.
    fn take(&mut self, at: usize, acting: &Acting, names: &Names, empty: bool) {
        let drivers = acting.drivers.iter().map(|&at| GuardId::Driver(names.drivers[at]));
        let devices = acting.devices.iter().map(|&at| GuardId::Device(names.devices[at]));
        let share = self.left[at] * acting.share.clamp(0.0, 1.0);
        self.left[at] -= share;
        self.add(share, Noticed::Trips { guards: drivers.chain(devices).collect(), empty });
    }

    /// Nothing is on the track yet.
    fn empty_track(&mut self, layout: &Layout, plan: &Plan, cut: &Cut) -> Result<(), Unsolved> {
        let reach_mm = CLEAR_MM + cut.stagger_mm.abs();
        let spans: Vec<Span> = ruler_at(plan, cut.run, cut.at_mm, reach_mm);
        let nets: BTreeSet<PlanNet> = spans.iter().flat_map(|span| span.nets).collect();
        let tape = Tape { spans: &spans, ..Tape::default() };
        let (wiring, names) = Wiring::around(layout, plan, &nets, &BTreeSet::new(), tape);
        let case = Case::bare(layout, wiring, &names);
        let settings = case.controls.iter().map(|control| control.now).collect();
        let scenario = case.scenario(&settings, &case.powered);
        let mut bench = Bench::new(&case.wiring);
        for at in 0..self.left.len() {
            bench.trip_at(self.hidden[at].1.trip);
            if let Acts { acting: Some(acting), .. } = bench.acting(&scenario, None, None)? {
                self.take(at, &acting, &names, true);
            }
        }
        Ok(())
    }

    /// It goes over a stretch on which it touches the same nets; `window` says how long the joint lasts.
    fn stretch(
        &mut self,
        layout: &Layout,
        plan: &Plan,
        course: &Course,
        segment: &Segment,
        window: &dyn Fn(&Hidden) -> Option<f64>,
    ) -> Result<(), Unsolved> {
        let middle_mm = f64::midpoint(segment.from_mm, segment.to_mm);
        let place = Place::of(layout, plan, course, middle_mm, &segment.touched);
        let settings = place.case.controls.iter().map(|control| control.now).collect();
        let scenario = place.case.scenario(&settings, &place.case.powered);
        let mut bench = Bench::new(&place.case.wiring);
        // Only a board that is off can wake up.
        let scenario = match place.case.powered.iter().all(|on| *on) {
            true => scenario,
            false => place.awake(&mut bench, scenario, &segment.touched, &[]).0,
        };
        for at in 0..self.left.len() {
            if self.left[at] <= 0.0 {
                continue;
            }
            let hidden = self.hidden[at].1;
            let mut stand = place.stand(|_| true);
            for group in &mut stand.groups {
                let (low, high) = group.wheel_ohm;
                let ohm = low.max(1e-6) * (high / low.max(1e-6)).max(1.0).powf(hidden.contact);
                group.wheel_ohm = (ohm, ohm);
            }
            bench.trip_at(hidden.trip);
            let acts = bench.acting(&scenario, Some(&stand), window(&hidden))?;
            if let Some(acting) = &acts.acting {
                self.take(at, acting, &place.names, false);
            }
            let (_, urge, amps) = driven(course, &place, &segment.touched, &acts.drawn);
            match urge {
                Urge::Dead | Urge::Torn => {
                    let share = std::mem::take(&mut self.left[at]);
                    self.add(share, Noticed::Stalls);
                }
                Urge::Back => {
                    let share = std::mem::take(&mut self.left[at]);
                    self.add(share, Noticed::Backwards);
                }
                Urge::On if amps > 0.0 => {
                    let before = self.speeds.map_or(amps, |speeds| speeds.0);
                    self.speeds = Some((before, amps));
                }
                Urge::On | Urge::Pushed => {}
            }
        }
        Ok(())
    }
}
