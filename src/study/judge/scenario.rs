//! All drivers set in one way: what each does over time, which supplies are on, which devices have acted.

use crate::drive::{Part, Schedule, StateWord};
use crate::signal::{self, Beat, ClockId, Joint};

/// One driver's schedule in a scenario.
#[derive(Debug, Clone, PartialEq)]
pub struct DriverRun {
    /// What it does.
    pub schedule: Schedule,
    /// Its clock.
    pub clock: ClockId,
}

/// All drivers set in one way.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// Per driver of the wiring.
    pub runs: Vec<DriverRun>,
    /// Per supply of the wiring: whether it is on.
    pub powered: Vec<bool>,
    /// Drivers held in their drive state because too many take part to look at every joint state.
    pub held: Vec<usize>,
    /// Devices that have acted: opened, or exchanged their poles.
    pub acted: Vec<usize>,
}

impl Scenario {
    /// Which supplies are on and which devices have acted.
    pub(super) fn switched(&self) -> (&[bool], &[usize]) {
        (&self.powered, &self.acted)
    }

    pub(super) fn beats(&self) -> Vec<Beat> {
        self.runs
            .iter()
            .map(|run| {
                let parts = run
                    .schedule
                    .parts
                    .iter()
                    .enumerate()
                    .map(|(state, part)| signal::Part { state, share: part.share });
                Beat::new(run.schedule.period_s, parts, run.clock)
            })
            .collect()
    }

    /// The part that each driver is in, at a joint state.
    pub fn parts(&self, joint: &Joint, at: usize) -> Vec<Part> {
        joint
            .decode(at)
            .into_iter()
            .zip(&self.runs)
            .map(|(part, run)| run.schedule.parts[part])
            .collect()
    }

    /// The state that each driver is in, at a joint state.
    pub(super) fn states(&self, joint: &Joint, at: usize) -> Vec<StateWord> {
        self.parts(joint, at).iter().map(|part| part.state).collect()
    }

    /// The level of each driver.
    pub(super) fn levels(&self) -> Vec<f64> {
        self.runs.iter().map(|run| run.schedule.level).collect()
    }

    /// The same once some devices have acted. An auto-reverser that acts again turns back.
    pub(super) fn after(&self, devices: &[usize]) -> Scenario {
        let mut then = self.clone();
        for &at in devices {
            match then.acted.iter().position(|&known| known == at) {
                Some(known) => drop(then.acted.remove(known)),
                None => then.acted.push(at),
            }
        }
        then.acted.sort_unstable();
        then
    }
}
