//! One joint state of all drivers with what joins the rails: the unit in which conflicts are counted and explained.

use super::counterfactual::Counterfactual;
use crate::drive::{Part, StateWord};
use crate::straddle::ix::{DeviceIx, DriverIx, StandIx, SupplyIx, Table};

/// A joint state of all drivers with what joins the rails.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Instant {
    /// The stand (index in the case), if a vehicle joins anything.
    pub stand: Option<StandIx>,
    /// What each driver's outputs do.
    pub states: Table<DriverIx, StateWord>,
    /// True if that is the part of the period that drives as set; false in the idle part.
    pub drives: Table<DriverIx, bool>,
    /// Level of each driver, as bits: the throttle of a smooth one.
    levels: Table<DriverIx, u64>,
    /// Which supplies are on.
    pub powered: Table<SupplyIx, bool>,
    /// Drivers whose controllers wake although their supplies are off.
    pub woke: Vec<DriverIx>,
    /// Devices that have acted.
    pub acted: Vec<DeviceIx>,
}

impl Instant {
    /// The instant in which every driver is in a part of its period, at a level.
    pub fn of(
        stand: Option<StandIx>,
        parts: &[Part],
        levels: impl IntoIterator<Item = f64>,
        powered: Table<SupplyIx, bool>,
        (woke, acted): (&[DriverIx], &[DeviceIx]),
    ) -> Instant {
        Instant {
            stand,
            states: parts.iter().map(|part| part.state).collect(),
            drives: parts.iter().map(|part| part.drives).collect(),
            levels: levels.into_iter().map(f64::to_bits).collect(),
            powered,
            woke: woke.to_vec(),
            acted: acted.to_vec(),
        }
    }

    /// Level of each driver.
    pub fn levels(&self) -> Table<DriverIx, f64> {
        self.levels.iter().map(|&bits| f64::from_bits(bits)).collect()
    }

    /// True if a driver's idle part does something other than to let go of the rails.
    pub fn idles(&self, driver: DriverIx) -> bool {
        !self.drives[driver]
            && self.states[driver] != StateWord::HighImpedance
            && !self.woke.contains(&driver)
    }

    /// True if a driver's outputs are at high-impedance.
    pub fn lets_go(&self, driver: DriverIx) -> bool {
        self.states[driver] == StateWord::HighImpedance
    }

    /// Exchanges the directions of a driver.
    pub(super) fn turn(&mut self, driver: DriverIx) {
        self.states[driver] = turned(self.states[driver]);
    }

    /// Applies what a counterfactual changes about the drivers' states. `boosters` repeat one signal if they are given
    /// one.
    pub(super) fn apply(
        &mut self,
        change: Counterfactual,
        boosters: &[Booster],
        smooth: &[DriverIx],
    ) {
        let states = &mut self.states;
        match change {
            Counterfactual::TakenOff(at) | Counterfactual::Silenced(at) => {
                states[at] = StateWord::HighImpedance;
            }
            Counterfactual::PhaseExchanged(at) => {
                states[at] = turned(states[at]);
            }
            Counterfactual::StaysAsleep(at) => {
                if self.woke.contains(&at) {
                    states[at] = StateWord::HighImpedance;
                }
            }
            Counterfactual::Coasts(at) => {
                if !self.drives[at] && !self.woke.contains(&at) {
                    states[at] = StateWord::HighImpedance;
                }
            }
            Counterfactual::OneSignal => follow(states, boosters),
            Counterfactual::NoDelay(at) => {
                let station = boosters.iter().find(|b| b.driver == at).map(|b| b.station);
                let same: Vec<Booster> =
                    boosters.iter().filter(|b| Some(b.station) == station).copied().collect();
                follow(states, &same);
            }
            Counterfactual::OneVoltage => {
                for &at in smooth {
                    if self.drives[at] {
                        self.levels[at] = 1.0_f64.to_bits();
                    }
                }
            }
            Counterfactual::SuppliesDivided
            | Counterfactual::WiresExchanged(_)
            | Counterfactual::TiesOpened => {}
        }
    }
}

/// A booster in a case.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Booster {
    /// The driver.
    pub driver: DriverIx,
    /// Number of its station.
    pub station: usize,
    /// True if it is in opposite phase to its station.
    pub swapped: bool,
}

/// Brings boosters that are on to the signal of the first of them, each in its own phase.
fn follow(states: &mut Table<DriverIx, StateWord>, boosters: &[Booster]) {
    let lives = |booster: &&Booster| states[booster.driver] != StateWord::HighImpedance;
    let on: Vec<Booster> = boosters.iter().filter(lives).copied().collect();
    let Some(first) = on.first() else { return };
    let in_phase = |state, swapped| if swapped { turned(state) } else { state };
    let signal = in_phase(states[first.driver], first.swapped);
    for booster in &on[1..] {
        states[booster.driver] = in_phase(signal, booster.swapped);
    }
}

fn turned(state: StateWord) -> StateWord {
    match state {
        StateWord::Forward => StateWord::Reverse,
        StateWord::Reverse => StateWord::Forward,
        StateWord::BrakeLow | StateWord::BrakeHigh | StateWord::HighImpedance => state,
    }
}
