//! The log of a run: event after event until it ends.

use std::collections::{BTreeMap, BTreeSet};

use super::course::{Course, Joined, Passage, Segment, joined};
use super::moment::{self, Look};
use super::{Event, Fate, Running, Urge, What};
use crate::layout::{DeviceKind, Layout};
use crate::rails::Plan;
use crate::study::GuardId;

/// A log with so many more events than every cut that is met and left gives is given up.
const MOST_EVENTS: usize = 2_000;

struct Log<'a> {
    layout: &'a Layout,
    plan: &'a Plan,
    course: &'a Course,
    speed_mm_s: f64,
    pushed: bool,
    segments: Vec<Segment>,
    /// Passages by where they begin, and by where they end.
    begins: Vec<&'a Passage>,
    leaves: Vec<&'a Passage>,
    told: (usize, usize),
    looked: BTreeMap<(usize, Vec<GuardId>), Look>,
    events: Vec<Event>,
    position_mm: f64,
    time_s: f64,
}

/// Every event of a run.
pub(super) fn log(layout: &Layout, plan: &Plan, running: &Running, course: &Course) -> Vec<Event> {
    let begins: Vec<&Passage> = course.passages.iter().collect();
    let mut leaves = begins.clone();
    leaves.sort_by(|a, b| a.to_mm.total_cmp(&b.to_mm));
    let speed = running.speed_mm_s;
    let mut log = Log {
        layout,
        plan,
        course,
        speed_mm_s: if speed.is_finite() && speed > 0.0 {
            speed
        } else {
            course.rake.speed.from_mm_s
        },
        pushed: running.pushed,
        segments: course.segments(),
        begins,
        leaves,
        told: (0, 0),
        looked: BTreeMap::new(),
        events: Vec::new(),
        position_mm: 0.0,
        time_s: 0.0,
    };
    let fate = log.go();
    log.say(What::Ends(fate));
    log.events
}

impl Log<'_> {
    fn say(&mut self, what: What) {
        let (position_mm, time_s) = (self.position_mm, self.time_s);
        self.events.push(Event { position_mm, time_s, what });
    }

    fn look(&mut self, segment: usize, tripped: &[GuardId]) -> Look {
        let key = (segment, tripped.to_vec());
        if let Some(known) = self.looked.get(&key) {
            return known.clone();
        }
        let here = &self.segments[segment];
        // Its own middle is where such a stretch is looked at: the rail up to it changes little on the way.
        let middle = (here.from_mm + here.to_mm) / 2.0;
        let look =
            moment::look(self.layout, self.plan, self.course, middle, &here.touched, tripped);
        self.looked.insert(key, look.clone());
        look
    }

    /// Rolls on, telling the cuts that are met and left.
    fn roll_to(&mut self, to_mm: f64) {
        let start = (self.position_mm, self.time_s);
        loop {
            let begins = self.begins.get(self.told.0).copied();
            let leaves = self.leaves.get(self.told.1).copied();
            let begin_mm = begins.map_or(f64::INFINITY, |p| p.from_mm.max(0.0));
            let leave_mm = leaves.map_or(f64::INFINITY, |p| p.to_mm);
            let next = begin_mm.min(leave_mm);
            if next > to_mm {
                break;
            }
            self.position_mm = next.max(start.0);
            self.time_s = start.1 + (self.position_mm - start.0) / self.speed_mm_s;
            // Who leaves where another begins has left first.
            if let Some(p) = leaves.filter(|_| leave_mm <= begin_mm) {
                self.told.1 += 1;
                let vehicles = p.vehicles.clone();
                self.say(What::Leaves { cut: p.cut, side: p.side, vehicles });
            } else if let Some(p) = begins {
                self.told.0 += 1;
                let vehicles = p.vehicles.clone();
                self.say(What::Begins { cut: p.cut, side: p.side, vehicles });
            }
        }
        self.position_mm = to_mm.max(start.0);
        self.time_s = start.1 + (self.position_mm - start.0) / self.speed_mm_s;
    }

    fn go(&mut self) -> Fate {
        // What has tripped or acted, and when it tries again.
        let mut tripped: BTreeMap<GuardId, Option<f64>> = BTreeMap::new();
        let mut segment = 0;
        let mut since_s = 0.0;
        let mut stopped = false;
        let mut last: Option<(Joined, Vec<GuardId>)> = None;
        // States in which it stood when a trip acted.
        let mut stood: BTreeSet<(usize, Vec<GuardId>)> = BTreeSet::new();
        self.roll_to(0.0);
        loop {
            if self.events.len() > MOST_EVENTS + 4 * self.begins.len() {
                return Fate::GivenUp;
            }
            let out: Vec<GuardId> = tripped.keys().copied().collect();
            let look = self.look(segment, &out);
            let state = (joined(&self.segments[segment].touched), out.clone());
            if last.as_ref() != Some(&state) {
                if last.as_ref().is_none_or(|(joins, _)| *joins != state.0) {
                    since_s = self.time_s;
                }
                let mut standing = look.standing.clone();
                standing.position_mm = self.position_mm;
                standing.cuts = self.course.cuts_at(self.position_mm + 1e-9);
                self.say(What::Stands(Box::new(standing)));
                last = Some(state);
            }
            let urge = look.standing.urge;
            let driven = self.pushed || matches!(urge, Urge::On | Urge::Pushed);
            // What stands does not get going before a trip acts again.
            let moves = driven && (self.pushed || !stopped || look.trips.is_none());
            if moves && stopped {
                self.say(What::GoesOn);
                stood.clear();
            } else if !moves && !stopped {
                self.say(What::Stops(urge));
            }
            stopped = !moves;

            let end_mm = self.segments[segment].to_mm;
            let leaves_s = if moves {
                self.time_s + (end_mm - self.position_mm).max(0.0) / self.speed_mm_s
            } else {
                f64::INFINITY
            };
            let trips_s = look
                .trips
                .as_ref()
                .map_or(f64::INFINITY, |(_, after_s, _)| (since_s + after_s).max(self.time_s));
            let again_s = tripped.values().flatten().copied().fold(f64::INFINITY, f64::min);

            if leaves_s <= trips_s.min(again_s) {
                if leaves_s.is_infinite() {
                    return if urge == Urge::Back { Fate::DrivenBack } else { Fate::Stalls };
                }
                self.roll_to(end_mm);
                segment += 1;
                if segment >= self.segments.len() {
                    let ends = self.course.track_ends;
                    return if ends { Fate::EndOfTrack } else { Fate::Arrives };
                }
                continue;
            }
            let next_s = trips_s.min(again_s);
            if moves {
                self.roll_to(self.position_mm + (next_s - self.time_s) * self.speed_mm_s);
            }
            self.time_s = next_s;
            match look.trips.filter(|_| trips_s <= again_s) {
                Some((guards, after_s, always)) => {
                    self.say(What::Trips { guards: guards.clone(), after_s, always });
                    for guard in guards {
                        // An auto-reverser that acts again turns back.
                        if tripped.remove(&guard).is_none() {
                            let again = retry_s(self.layout, guard);
                            tripped.insert(guard, again.map(|wait| next_s + wait.max(1e-6)));
                        }
                    }
                    let out: Vec<GuardId> = tripped.keys().copied().collect();
                    if stopped && !stood.insert((segment, out)) {
                        return Fate::HiccupsForEver;
                    }
                }
                None => {
                    let due = |until: &Option<f64>| until.is_some_and(|until| until <= next_s);
                    let guards: Vec<GuardId> =
                        tripped.iter().filter(|(_, u)| due(u)).map(|(&d, _)| d).collect();
                    tripped.retain(|_, until| !due(until));
                    self.say(What::TriesAgain(guards));
                }
            }
            // What the drivers do has changed: trips count anew.
            since_s = self.time_s;
        }
    }
}

/// Time until what has tripped tries again, s; `None`: it waits for somebody, or stays as it is.
fn retry_s(layout: &Layout, guard: GuardId) -> Option<f64> {
    match guard {
        GuardId::Driver(id) => layout.drivers.get(&id)?.trip.as_ref()?.retry_s,
        GuardId::Device(id) => match layout.devices.get(&id)?.kind {
            DeviceKind::Breaker { retry_s, .. } => retry_s,
            _ => None,
        },
        GuardId::Supply(_) => None,
    }
}
