//! What happens at the settings now as something rolls over a gap: a run of a few millimetres before it and beyond it.

use super::super::cut::stand_in;
use super::super::run::{Event, Rolls, Running, Urge, What, run};
use super::gap::{Gap, Who};
use crate::layout::{Layout, VehicleId};
use crate::rails::Plan;
use crate::straddle::contacts::Facing;

/// How far before the gap the leading coupler is at first, mm.
const BEFORE_MM: f64 = 1.0;
/// How far beyond the gap its end is at last, mm.
const BEYOND_MM: f64 = 30.0;

/// Something that rolls over a gap, with every event.
#[derive(Debug, Clone, PartialEq)]
pub struct Passing {
    /// Its speed, mm/s: the least at which it passes gaps.
    pub speed_mm_s: f64,
    /// True if it goes along the cut's run; false if the rails drive it the other way.
    pub along: bool,
    /// True if it is pushed, because no motor gets current.
    pub pushed: bool,
    /// The events from the moment at which it first joins something on. Their times count from there, s.
    pub events: Vec<Event>,
}

impl Gap {
    /// What happens at the settings now as something rolls over the gap at its least speed. `None` if the cut is not on the
    /// layout, or nothing is joined on the way.
    pub fn passing(
        &self,
        layout: &Layout,
        plan: &Plan,
        who: Who,
        facing: Facing,
    ) -> Option<Passing> {
        let cut = layout.cuts.get(&self.cut)?;
        let gaps = || self.place.gaps_mm.into_iter().flatten();
        let first = gaps().reduce(f64::min).unwrap_or(0.0);
        let last = gaps().reduce(f64::max).unwrap_or(0.0);
        let mut own = None;
        let rolls = match who {
            Who::Vehicle(id) => Rolls::Vehicle(id),
            Who::Train(id) => Rolls::Train(id),
            Who::StandIn => {
                let id = layout.vehicles.keys().map(|id| id.0).max().map_or(1, |most| most + 1);
                let mut with = layout.clone();
                let id = VehicleId(id);
                with.vehicles.insert(id, crate::layout::Vehicle { id, ..stand_in() });
                own = Some(with);
                Rolls::Vehicle(id)
            }
        };
        let layout = own.as_ref().unwrap_or(layout);
        let speed_mm_s = self.speed_mm_s(who).0;
        let way = |along: bool, pushed: bool| Running {
            rolls,
            run: cut.run,
            at_mm: cut.at_mm + if along { first - BEFORE_MM } else { last + BEFORE_MM },
            along,
            // It stands as it stands: driven the other way, its other end leads.
            rear_first: (facing == Facing::RearAhead) == along,
            speed_mm_s,
            distance_mm: last - first + BEFORE_MM + self.length_mm(who) + BEYOND_MM,
            pushed,
        };
        let events = run(layout, plan, &way(true, false));
        let urge = events.iter().find_map(|event| match &event.what {
            What::Stands(standing) => Some(standing.urge),
            _ => None,
        })?;
        let (along, pushed) = match urge {
            Urge::Back => (false, false),
            Urge::Dead | Urge::Torn => (true, true),
            Urge::On | Urge::Pushed => (true, false),
        };
        let mut events = match (along, pushed) {
            (true, false) => events,
            (along, pushed) => run(layout, plan, &way(along, pushed)),
        };
        let joins = |event: &Event| match &event.what {
            What::Stands(standing) => standing.groups.iter().any(|group| group.joins()),
            _ => false,
        };
        let from = events.iter().position(joins)?;
        let from_s = events[from].time_s;
        events.drain(..from);
        events.iter_mut().for_each(|event| event.time_s -= from_s);
        Some(Passing { speed_mm_s, along, pushed, events })
    }
}
