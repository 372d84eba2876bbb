//! All drivers set in one way: what each does over time, which supplies are on, which devices have acted.

use crate::drive::{Part, Schedule, StateWord};
use crate::signal::{self, Beat, ClockId, Joint};
use crate::straddle::ix::{DeviceIx, DriverIx, SupplyIx, Table};

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
    /// What each driver does.
    pub runs: Table<DriverIx, DriverRun>,
    /// Whether each supply is on.
    pub powered: Table<SupplyIx, bool>,
    /// Drivers held in their drive state because too many take part to look at every joint state.
    pub held: Vec<DriverIx>,
    /// Devices that have acted: opened, or exchanged their poles.
    pub acted: Vec<DeviceIx>,
}

impl Scenario {
    /// Which supplies are on and which devices have acted.
    pub(super) fn switched(&self) -> (&Table<SupplyIx, bool>, &[DeviceIx]) {
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
    pub fn parts(&self, joint: &Joint, at: usize) -> Table<DriverIx, Part> {
        joint
            .decode(at)
            .into_iter()
            .zip(&self.runs)
            .map(|(part, run)| run.schedule.parts[part])
            .collect()
    }

    /// Every joint state that occurs, as the part that each driver is in.
    pub fn occurring(&self) -> Vec<Table<DriverIx, Part>> {
        let beats = self.beats();
        let (joint, shares) = (Joint::of(&beats), signal::shares(&beats));
        let occurs = (0..joint.count()).filter(|&at| shares[at] > 0.0);
        occurs.map(|at| self.parts(&joint, at)).collect()
    }

    /// The state that each driver is in, at a joint state.
    pub(super) fn states(&self, joint: &Joint, at: usize) -> Table<DriverIx, StateWord> {
        self.parts(joint, at).iter().map(|part| part.state).collect()
    }

    /// The level of each driver.
    pub fn levels(&self) -> Table<DriverIx, f64> {
        self.runs.iter().map(|run| run.schedule.level).collect()
    }

    /// The same once some devices have acted. An auto-reverser that acts again turns back.
    pub(super) fn after(&self, devices: &[DeviceIx]) -> Scenario {
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
