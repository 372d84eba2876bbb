//! What flows through every branch in one joint state, so that the path of the current can be drawn.

use super::Seen;
use crate::circuit::BranchId;
use crate::drive::StateWord;
use crate::straddle::ix::{DriverIx, SupplyIx, Table};
use crate::straddle::part::Part;
use crate::study::cut::Case;
use crate::study::judge::Scenario;

/// One branch of the circuit in a joint state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flow {
    /// What it is.
    pub part: Part,
    /// Current in the direction of the part, A.
    pub amps: f64,
    /// Its resistance, Ω.
    pub ohm: f64,
    /// True unless it is a diode or a source that blocks.
    pub conducts: bool,
}

/// One joint state: what every driver does, and what flows.
#[derive(Debug, Clone, PartialEq)]
pub struct MomentAt {
    /// State of each driver.
    pub states: Table<DriverIx, StateWord>,
    /// True if it is in conflict.
    pub conflict: bool,
    /// Share of time in the long run.
    pub share: f64,
    /// Positive over negative pole of each supply, V.
    pub poles_v: Table<SupplyIx, Option<f64>>,
    /// Every branch of the circuit.
    pub flows: Vec<Flow>,
}

impl MomentAt {
    /// Sum of the currents of the branches that a condition chooses, A; `None` if there is none.
    pub fn amps(&self, mut which: impl FnMut(Part) -> bool) -> Option<f64> {
        let chosen = self.flows.iter().filter(|flow| which(flow.part));
        chosen.map(|flow| flow.amps).reduce(|sum, amps| sum + amps)
    }
}

/// Everything that flows in a joint state; `None` for a number that is none.
pub(super) fn moment(
    case: &Case,
    scenario: &Scenario,
    seen: &Seen,
    joint: usize,
) -> Option<MomentAt> {
    let (assembled, solution) = seen.circuits.get(joint)?;
    let flow = |(at, part): (usize, &Part)| {
        let branch = BranchId(at);
        Some(Flow {
            part: *part,
            amps: solution.amps(branch),
            ohm: assembled.network.branch(branch)?.ohm,
            conducts: solution.conducting()[at],
        })
    };
    debug_assert_eq!(assembled.parts.len(), assembled.network.branches().len());
    let carried = seen.carried.get(joint)?;
    let parts = scenario.parts(&seen.joint, joint);
    Some(MomentAt {
        states: case.controls.indices().map(|at| parts[at].state).collect(),
        conflict: seen.over[joint],
        share: seen.shares[joint],
        poles_v: carried.poles_v.clone(),
        flows: assembled.parts.iter().enumerate().filter_map(flow).collect(),
    })
}
