//! From settings to what each driver does over time: schedules, clocks, and controllers that wake.
//!
//! Clocks with one name are one clock; names are counted, so that equal cases stay equal.

use crate::drive::{self, Beside, ClockName, Schedule, SetWord};
use crate::signal::ClockId;
use crate::straddle::ix::{DriverIx, SupplyIx, Table};

use super::super::judge::{DriverRun, Judged, Scenario};
use super::case::{Case, Settings};

/// At most so many joint states are looked at; where more drivers than that take part, those beside the two sides are
/// held in their drive state.
const MOST_JOINTS: f64 = 32.0;

/// Largest number of ways in which stopped drivers are taken to be parked.
const MOST_PICKS: usize = 16;

/// A level per driver.
type Levels = Table<DriverIx, f64>;

impl Case {
    /// The scenario of the settings now.
    pub fn scenario_now(&self) -> Scenario {
        self.scenario(&self.now(), &self.powered)
    }

    /// The scenario of some settings. A dead supply makes its drivers dead.
    pub fn scenario(&self, settings: &Settings, powered: &Table<SupplyIx, bool>) -> Scenario {
        let mut clocks: Vec<ClockName> = Vec::new();
        let drives: Vec<_> =
            self.controls.iter().map(|control| drive::of(&control.driver.drive)).collect();
        let mut runs: Table<DriverIx, DriverRun> = Table::with_capacity(self.controls.len());
        for (at, control) in self.controls.pairs() {
            let driver = &control.driver;
            let (word, level) = if powered[self.wiring.drivers[at].supply] {
                settings[at]
            } else {
                (SetWord::Unpowered, 0.0)
            };
            let beside = self.beside(at, settings);
            let schedule = drive::schedule(driver, word, level, beside);
            let from = drives[at.0].clock(schedule.period_s);
            let clock = ClockId {
                shared: from.name.map(|name| number(&mut clocks, name)),
                phase: from.phase,
                tolerance: from.tolerance,
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
        let others = self.controls.pairs().filter(|(other, _)| *other != at);
        drive::beside(
            &self.controls[at].driver.drive,
            others.map(|(other, control)| (&control.driver.drive, settings[other].0)),
        )
    }

    /// The scenarios with some drivers awake: a controller that comes up has its throttle at zero, parked in any way.
    pub(super) fn awake(&self, scenario: &Scenario, wakes: &[DriverIx]) -> Vec<Scenario> {
        let mut choices = Table::filled(vec![0.0], self.controls.len());
        for &at in wakes {
            choices[at] = drive::of(&self.controls[at].driver.drive).levels(SetWord::Stopped);
        }
        let awake = |levels: Levels| {
            let mut awake = scenario.clone();
            for &at in wakes {
                let driver = &self.controls[at].driver;
                awake.runs[at].schedule =
                    drive::schedule(driver, SetWord::Stopped, levels[at], Beside::Other);
            }
            awake
        };
        each_of(&choices).into_iter().map(awake).collect()
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

/// Every way to pick one level per driver, up to [`MOST_PICKS`]; beyond, the later drivers keep their first.
pub(super) fn each_of(choices: &Table<DriverIx, Vec<f64>>) -> Vec<Levels> {
    let mut picks = vec![Levels::new()];
    for levels in choices.iter() {
        let fits = picks.len() * levels.len() <= MOST_PICKS;
        let levels = if fits { &levels[..] } else { &levels[..1] };
        let with = |pick: &Levels, level: f64| pick.iter().copied().chain([level]).collect();
        let longer = picks.iter().flat_map(|pick| levels.iter().map(|&level| with(pick, level)));
        picks = longer.collect();
    }
    picks
}

fn number<'a>(names: &mut Vec<ClockName<'a>>, name: ClockName<'a>) -> u32 {
    let at = names.iter().position(|known| *known == name).unwrap_or_else(|| {
        names.push(name);
        names.len() - 1
    });
    at as u32
}
