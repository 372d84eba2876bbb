//! A run that is worked out, event after event, and where in it the train is.

use crate::layout::Layout;
use crate::rails::Plan;
use crate::study::run::{Event, Running, Standing, What, run};

/// An event is seen just after the place where it comes about, mm: at that place itself nothing has changed yet.
const JUST_IN_MM: f64 = 0.01;

/// A moment of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Now {
    /// Time since the start, s.
    pub time_s: f64,
    /// The last event that has happened, as an index.
    pub event: usize,
}

/// The events of a run, and of which layout and way they are.
#[derive(Debug)]
pub struct Log {
    about: (u64, Running),
    /// In order; never empty.
    pub events: Vec<Event>,
}

impl Log {
    /// Works a run out. `None` if what runs or the track is not on the layout.
    pub fn of(layout: &Layout, plan: &Plan, about: (u64, Running)) -> Option<Self> {
        let events = run(layout, plan, &about.1);
        (!events.is_empty()).then_some(Self { about, events })
    }

    /// Whether it is still about this layout and this way.
    pub fn is_about(&self, about: (u64, Running)) -> bool {
        self.about == about
    }

    /// Whether the train meets a gap on its way.
    pub fn meets_a_gap(&self) -> bool {
        self.events.iter().any(|event| matches!(event.what, What::Begins { .. }))
    }

    /// Time at which it ends, s.
    pub fn end_s(&self) -> f64 {
        self.events.last().map_or(0.0, |event| event.time_s)
    }

    /// The moment just after an event.
    pub fn at_event(&self, event: usize) -> Now {
        let event = event.min(self.events.len().saturating_sub(1));
        Now { time_s: self.events.get(event).map_or(0.0, |e| e.time_s), event }
    }

    /// The moment at a time, s.
    pub fn at_time(&self, time_s: f64) -> Now {
        let past = self.events.partition_point(|event| event.time_s <= time_s);
        Now { time_s: time_s.clamp(0.0, self.end_s()), event: past.saturating_sub(1) }
    }

    /// The moment at which the train has first come so far, mm.
    pub fn at_position(&self, position_mm: f64) -> Now {
        let next = self.events.partition_point(|event| event.position_mm < position_mm);
        let (Some(event), Some(before)) =
            (self.events.get(next), next.checked_sub(1).and_then(|n| self.events.get(n)))
        else {
            return self.at_event(next);
        };
        let share = (position_mm - before.position_mm) / (event.position_mm - before.position_mm);
        self.at_time(before.time_s + share.clamp(0.0, 1.0) * (event.time_s - before.time_s))
    }

    /// How far the train has come at a moment, mm.
    pub fn position_mm(&self, now: Now) -> f64 {
        let Some(last) = self.events.get(now.event) else { return 0.0 };
        let Some(next) = self.events.get(now.event + 1) else { return last.position_mm };
        let took = next.time_s - last.time_s;
        if now.time_s <= last.time_s || took <= 0.0 {
            return (last.position_mm + JUST_IN_MM).min(next.position_mm.max(last.position_mm));
        }
        let share = ((now.time_s - last.time_s) / took).clamp(0.0, 1.0);
        last.position_mm + share * (next.position_mm - last.position_mm)
    }

    /// How things are at a moment, as the log has it; `None` before anything was joined.
    pub fn standing(&self, now: Now) -> Option<&Standing> {
        self.events.get(..=now.event)?.iter().rev().find_map(|event| match &event.what {
            What::Stands(standing) => Some(&**standing),
            _ => None,
        })
    }
}
