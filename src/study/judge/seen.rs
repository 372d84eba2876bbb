//! What an oscilloscope sees of one situation: the solved circuit of every joint state.

use std::rc::Rc;

use super::bench::{Bench, carried};
use super::carried::Carried;
use super::scenario::Scenario;
use super::stand::NumericStand;
use crate::circuit::{Solution, Unsolved};
use crate::signal::{Beat, Joint};
use crate::straddle::assemble::Assembled;
use crate::straddle::ix::{DriverIx, Table};

/// Every joint state of one situation, solved. All lists but `beats` and `sensed` have one entry a joint state.
#[derive(Debug, Clone)]
pub struct Seen {
    /// When each driver is in which part.
    pub beats: Vec<Beat>,
    /// The joint states.
    pub joint: Joint,
    /// Their shares of time in the long run.
    pub shares: Vec<f64>,
    /// True for each that is in conflict, with loads removed.
    pub over: Vec<bool>,
    /// The circuit with its solution.
    pub circuits: Vec<(Assembled, Solution)>,
    /// What the drivers carry.
    pub carried: Vec<Rc<Carried>>,
    /// What the trip of each driver compares with its threshold, A; `None` without a trip.
    pub sensed: Table<DriverIx, Option<Vec<f64>>>,
}

impl Bench<'_> {
    /// Solves every joint state of a situation with wheels clean; `loaded` adds what the vehicle draws.
    ///
    /// # Errors
    /// The circuit of some joint state has no verified solution.
    pub fn seen(
        &mut self,
        scenario: &Scenario,
        stand: Option<&NumericStand>,
        loaded: bool,
    ) -> Result<Seen, Unsolved> {
        let flows = self.flows(scenario, stand)?;
        let (beats, joint, shares) = (flows.beats, flows.joint, flows.shares);
        let touch = match stand {
            Some(stand) if loaded => Some(self.against(scenario, &joint, &shares, stand)?),
            Some(stand) => Some(stand.clean()),
            None => None,
        };
        let nominal = self.nominal.clone();
        let circuits = (0..joint.count())
            .map(|at| {
                let state = (&joint, at);
                let assembled = self.build(scenario, state, touch.as_deref(), &nominal, None);
                let solution = assembled.solve()?;
                Ok((assembled, solution))
            })
            .collect::<Result<Vec<_>, Unsolved>>()?;
        let carried: Vec<Rc<Carried>> = circuits
            .iter()
            .map(|(assembled, solution)| Rc::new(carried(self.wiring, assembled, solution)))
            .collect();
        let drivers = self.wiring.drivers.indices();
        let sensed = drivers.map(|at| self.sensed(at, &carried, &shares)).collect();
        Ok(Seen { beats, joint, shares, over: flows.over, circuits, carried, sensed })
    }
}
