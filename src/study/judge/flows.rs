//! What flows in one situation, solved joint state by joint state, and what of it is a conflict.
//!
//! All lists of [`Flows`] have one entry a joint state, in the same order.

use std::rc::Rc;

use super::CONFLICT_A;
use super::bench::Bench;
use super::carried::{Carried, M, P};
use super::scenario::Scenario;
use super::stand::NumericStand;
use crate::circuit::Unsolved;
use crate::signal::{self, Beat, Joint};
use crate::straddle::ix::DriverIx;

/// What flows in one situation, joint state by joint state.
pub(super) struct Flows<'a> {
    /// How the drivers are set.
    pub scenario: &'a Scenario,
    /// What stands over the cut.
    pub stand: Option<&'a NumericStand>,
    /// When each driver is in which part.
    pub beats: Vec<Beat>,
    /// The joint states.
    pub joint: Joint,
    /// Their shares of time.
    pub shares: Vec<f64>,
    /// Wheels clean, no loads.
    pub low: Vec<Rc<Carried>>,
    /// Rails apart.
    pub apart: Vec<Rc<Carried>>,
    /// Wheels dirty, no loads; where that is wanted.
    pub high: Option<Vec<Rc<Carried>>>,
    /// Wheels clean, with the loads; where that is wanted.
    pub loaded: Option<Vec<Rc<Carried>>>,
    /// Which joint states are in conflict.
    pub over: Vec<bool>,
    /// The joint state of the largest conflict current, and that current, A.
    pub worst_joint: Option<(usize, f64)>,
}

impl Flows<'_> {
    /// Whether there is a conflict at all.
    pub fn conflict(&self) -> bool {
        self.over.iter().any(|&over| over)
    }

    /// How long a vehicle that rolls over at its least speed stands there, s.
    pub fn window_s(&self) -> Option<f64> {
        self.stand.map(NumericStand::slowest_s)
    }

    /// Whatever acts on a vehicle that rolls over acts on one that stands there; only a single wheel is bridged too
    /// narrowly to be found standing.
    pub fn single_wheel(&self) -> bool {
        self.stand.is_some_and(|stand| stand.single_wheel)
    }
}

impl Bench<'_> {
    /// Solves every joint state in all the ways that the judgement needs.
    pub(super) fn flows<'a>(
        &mut self,
        scenario: &'a Scenario,
        stand: Option<&'a NumericStand>,
    ) -> Result<Flows<'a>, Unsolved> {
        let beats = scenario.beats();
        let joint = Joint::of(&beats);
        let shares = signal::shares(&beats);
        let clean = stand.map(NumericStand::clean);
        let low = self.all(scenario, &joint, clean.as_deref())?;
        let apart = self.all(scenario, &joint, None)?;
        // With no vehicle the question is what flows at all.
        let (over, worst_joint) = conflict(&low, stand.map(|_| apart.as_slice()), &shares);
        // Dirty contacts can only turn "trips" into "trips sometimes", and a load only matters where something continuous
        // is rated: neither is needed to find the worst situation.
        let thorough = self.thorough.get();
        let rated_for_ever = stand.is_some_and(|s| s.wiring_a.is_some())
            || self.wiring.drivers.iter().any(|d| d.rating_a.is_some())
            || self.wiring.supplies.iter().any(|s| s.limit_a.is_some());
        let high = match stand.filter(|_| thorough) {
            Some(s) => Some(self.all(scenario, &joint, Some(&s.dirty()))?),
            None => None,
        };
        let loaded = match stand.filter(|s| s.loaded() && (thorough || rated_for_ever)) {
            Some(s) => {
                let touch = self.against(scenario, &joint, &shares, s)?;
                Some(self.all(scenario, &joint, Some(&touch))?)
            }
            None => None,
        };
        Ok(Flows {
            scenario,
            stand,
            beats,
            joint,
            shares,
            low,
            apart,
            high,
            loaded,
            over,
            worst_joint,
        })
    }
}

/// Which joint states are in conflict, and the one of the largest conflict current, with that current, A: what is carried
/// beyond what is with the rails `apart`, if they can be.
fn conflict(
    low: &[Rc<Carried>],
    apart: Option<&[Rc<Carried>]>,
    shares: &[f64],
) -> (Vec<bool>, Option<(usize, f64)>) {
    let mut over = vec![false; low.len()];
    let mut worst_joint: Option<(usize, f64)> = None;
    for (at, carried) in low.iter().enumerate() {
        let before = |driver: DriverIx, leg: usize| {
            apart.map_or(0.0, |apart| apart[at].drivers[driver][leg])
        };
        let largest = carried
            .drivers
            .pairs()
            .flat_map(|(driver, now)| [P, M].map(|leg| now[leg] - before(driver, leg)))
            .fold(0.0_f64, |largest, change| largest.max(change.abs()));
        over[at] = largest > CONFLICT_A && shares[at] > 0.0;
        if over[at] && worst_joint.is_none_or(|(_, old)| largest > old) {
            worst_joint = Some((at, largest));
        }
    }
    (over, worst_joint)
}
