//! From settings to what each driver does over time: schedules, clocks, and controllers that wake.
//!
//! Clocks with one name are one clock; names are counted, so that equal cases stay equal.

use crate::drive::{self, Beside, Schedule, SetWord};
use crate::layout::Drive;
use crate::signal::ClockId;
use crate::straddle::ix::{DriverIx, SupplyIx, Table};

use super::super::judge::{DriverRun, Judged, Scenario};
use super::case::{Case, Settings};

/// At most so many joint states are looked at; where more drivers than that take part, those beside the two sides are
/// held in their drive state.
const MOST_JOINTS: f64 = 32.0;

impl Case {
    /// The scenario of some settings. A dead supply makes its drivers dead.
    pub fn scenario(&self, settings: &Settings, powered: &Table<SupplyIx, bool>) -> Scenario {
        let mut clocks: Vec<&str> = Vec::new();
        let mut stations: Vec<&str> = Vec::new();
        let mut runs: Table<DriverIx, DriverRun> = Table::with_capacity(self.controls.len());
        for (at, control) in self.controls.pairs() {
            let driver = &control.driver;
            let (word, throttle) = if powered[self.wiring.drivers[at].supply] {
                settings[at]
            } else {
                (SetWord::Unpowered, 0.0)
            };
            let beside = self.beside(at, settings);
            let schedule = drive::schedule(driver, word, throttle, beside);
            let clock = match &driver.drive {
                Drive::PwmBridge { clock, .. } | Drive::SplitHalfBridge { clock, .. } => ClockId {
                    shared: clock.shared.as_deref().map(|name| number(&mut clocks, name) * 2),
                    phase: clock.phase,
                    tolerance: clock.tolerance,
                },
                Drive::DccBooster { station, swapped, skew_s, .. } => ClockId {
                    shared: Some(number(&mut stations, station) * 2 + 1),
                    phase: Some(
                        (skew_s / schedule.period_s + if *swapped { 0.5 } else { 0.0 })
                            .rem_euclid(1.0),
                    ),
                    tolerance: 0.0,
                },
                _ => ClockId { shared: None, phase: None, tolerance: 0.0 },
            };
            runs.push(DriverRun { schedule, clock });
        }
        // As a float: so many drivers may share a rail that their joint states cannot be counted.
        let mut kept = Vec::new();
        let mut joints: f64 = runs.iter().map(|run| run.schedule.parts.len() as f64).product();
        for at in self.controls.indices() {
            let run = &mut runs[at];
            if joints <= MOST_JOINTS {
                break;
            }
            if !self.sides.contains(&Some(at)) && run.schedule.parts.len() > 1 {
                joints /= run.schedule.parts.len() as f64;
                kept.push(at);
                let held = run.schedule.parts[0];
                run.schedule = Schedule::steady(held.state, held.drives, run.schedule.level);
            }
        }
        Scenario { runs, powered: powered.clone(), held: kept, acted: Vec::new() }
    }

    fn beside(&self, at: DriverIx, settings: &Settings) -> Beside {
        let Drive::DccBooster { station, .. } = &self.controls[at].driver.drive else {
            return Beside::Other;
        };
        let same = self.controls.pairs().all(|(other, control)| {
            other == at
                || settings[other].0.is_dead()
                || matches!(&control.driver.drive, Drive::DccBooster { station: s, .. } if s == station)
        });
        if same { Beside::SameStation } else { Beside::Other }
    }

    /// A scenario with some drivers awake: a controller that comes up has its throttle at zero.
    pub(super) fn awake(&self, scenario: &Scenario, wakes: &[DriverIx]) -> Scenario {
        let mut awake = scenario.clone();
        for &at in wakes {
            let driver = &self.controls[at].driver;
            awake.runs[at].schedule = drive::schedule(driver, SetWord::Stopped, 0.0, Beside::Other);
        }
        awake
    }

    /// Drivers of dead supplies whose controller wakes at the voltage that a neighbour puts on their poles.
    pub(super) fn wakes(&self, judged: &Judged, powered: &Table<SupplyIx, bool>) -> Vec<DriverIx> {
        (self.controls.indices())
            .filter(|&at| {
                let driver = &self.wiring.drivers[at];
                !powered[driver.supply]
                    && driver.wake_v.is_some_and(|wake| {
                        let wake_v = self.wiring.values[wake].nominal;
                        judged.lifted.iter().any(|l| l.supply == driver.supply && l.to_v >= wake_v)
                    })
            })
            .collect()
    }
}

fn number<'a>(names: &mut Vec<&'a str>, name: &'a str) -> u32 {
    let at = names.iter().position(|known| *known == name).unwrap_or_else(|| {
        names.push(name);
        names.len() - 1
    });
    at as u32
}
