//! Reversing sections: track that comes back on itself with its rails exchanged gets a length that can be reversed, cut in both
//! rails at all its ends and longer than the longest train bridges.
//!
//! Candidates (`candidate`): lengths of plain track, connected sets of up to three turnouts with the track around them, and
//! blocks between cuts that are there. Sets of candidates come in ascending price (`choose`); which is the best is found by
//! labelling the rest.

mod candidate;
mod chain;
mod choose;
mod core;

pub(super) use candidate::{Candidate, Control, Ground, candidates};
pub(super) use chain::{Chains, Part, Terminus};
pub(super) use choose::Choice;

use super::wish::{Hold, Longest, Wishes};
use crate::layout::{DriverId, Layout, Origin, driver_now};
use crate::rails::Plan;
use crate::study::loops::{Loops, longest_bridging};

/// Price of a reverser in rail cuts: a feed through one takes 25 min more than a feed, a rail cut 4 min (judgement).
pub(super) const REVERSER_CUTS: u64 = 6;

/// Room beyond what a train bridges, in a section that turns by itself, mm.
const BEYOND_MM: f64 = 20.0;
/// Room at each end of a section that somebody turns while the train stands in it, mm (judgement).
pub(super) const STOPPING_MM: f64 = 100.0;

/// What a section has to hold, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Needs {
    /// The most that bridges two gaps at once.
    pub(super) bridges_mm: f64,
    /// The length that a new section is given at least.
    pub(super) length_mm: f64,
}

impl Needs {
    /// Those of a layout and its wishes.
    pub(super) fn of(layout: &Layout, wishes: &Wishes, digital: bool) -> Needs {
        let (bridges_mm, train_mm) = match wishes.longest {
            None => (longest_bridging(layout).mm, longest_mm(layout)),
            Some(Longest::Mm(mm)) => (mm, mm),
            Some(Longest::Train(id)) => {
                let runs = layout.trains.get(&id).into_iter().flat_map(|train| &train.vehicles);
                let runs: Vec<_> = runs.map(|part| part.vehicle).collect();
                let mut one = layout.clone();
                one.trains.retain(|train, _| *train == id);
                one.vehicles.retain(|vehicle, _| runs.contains(vehicle));
                (longest_bridging(&one).mm, train_mm(layout, id))
            }
        };
        let length_mm = match digital {
            true => bridges_mm + BEYOND_MM,
            false => bridges_mm.max(train_mm) + 2.0 * STOPPING_MM,
        };
        Needs { bridges_mm, length_mm }
    }
}

/// The length of a block in which a train is held, mm: the train, and room to stop at both its ends.
pub(super) fn hold_mm(layout: &Layout, wishes: &Wishes, hold: &Hold) -> f64 {
    let train = match hold.train.or(wishes.longest) {
        None => longest_mm(layout),
        Some(Longest::Mm(mm)) => mm,
        Some(Longest::Train(id)) => train_mm(layout, id),
    };
    train + 2.0 * STOPPING_MM
}

/// The length of a train over its couplers, mm.
fn train_mm(layout: &Layout, id: crate::layout::TrainId) -> f64 {
    let vehicle = |id| layout.vehicles.get(id).map_or(0.0, |v| v.length_mm);
    let train = layout.trains.get(&id);
    train.map_or(0.0, |t| t.vehicles.iter().map(|v| vehicle(&v.vehicle)).sum())
}

/// The length of the longest train or vehicle, mm.
fn longest_mm(layout: &Layout) -> f64 {
    let trains = layout.trains.keys().map(|&id| train_mm(layout, id));
    let vehicles = layout.vehicles.values().map(|v| v.length_mm);
    let longest = trains.chain(vehicles).fold(0.0, f64::max);
    if layout.vehicles.is_empty() { crate::study::cut::stand_in().length_mm } else { longest }
}

/// True if a driver sends DCC.
pub(super) fn is_digital(layout: &Layout, id: DriverId) -> bool {
    let driver = layout.drivers.get(&id);
    driver.is_some_and(|d| crate::drive::of(&d.drive).signal() != crate::drive::Signal::Direct)
}

/// True if all that feeds the track, or where nothing does all drivers, send DCC.
pub(super) fn all_digital(layout: &Layout) -> bool {
    let feeding = |origin: Origin| driver_now(layout, origin);
    let mut ids: Vec<DriverId> = layout.feeds.values().filter_map(|f| feeding(f.driver)).collect();
    if ids.is_empty() {
        ids.extend(layout.drivers.keys());
    }
    !ids.is_empty() && ids.iter().all(|&id| is_digital(layout, id))
}

/// Sections that are there and reversed already: the blocks of each, by their number in the track. `None` if some loop has
/// none.
pub(super) fn kept(layout: &Layout, drawn: &Plan) -> (Loops, Vec<usize>) {
    let loops = Loops::derive(layout, drawn);
    let groups = loops.sections.groups.iter();
    let kept = groups.filter_map(|group| loops.controlled(drawn, group)).flatten().copied();
    let kept = kept.collect();
    (loops, kept)
}
