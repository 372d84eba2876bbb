//! Schedules: what the outputs of a driver do over time.

use super::words::StateWord;

/// A part of the period.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// State of the outputs.
    pub state: StateWord,
    /// Fraction of the period.
    pub share: f64,
    /// True for the part that drives in the set direction, false for the idle part.
    pub drives: bool,
}

/// What a driver does over time at one setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Schedule {
    /// Period, s.
    pub period_s: f64,
    /// Parts in order; shares above 0, summing to 1.
    pub parts: Vec<Part>,
    /// Voltage as a fraction of the supply's: the throttle of a smooth DC throttle, 1 for everything that switches.
    pub level: f64,
}

/// The neighbours of a DCC booster: they decide which bits are the worst.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beside {
    /// Boosters of the same command station only: all send the same bits.
    SameStation,
    /// Anything else.
    Other,
}

/// The line that carries the PWM while a driver is stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Parking {
    /// Held at zero, all lines as when last set forward.
    AsForward,
    /// Held at zero, all lines as when last set in reverse.
    AsReverse,
}

impl Parking {
    /// The level that stands for it in a setting.
    pub fn level(self) -> f64 {
        match self {
            Parking::AsForward => 0.0,
            Parking::AsReverse => 1.0,
        }
    }

    /// The parking that a level stands for.
    pub fn of_level(level: f64) -> Parking {
        if level < 0.5 { Parking::AsForward } else { Parking::AsReverse }
    }
}

impl Schedule {
    /// High-impedance indefinitely.
    pub fn off() -> Schedule {
        Schedule::steady(StateWord::HighImpedance, false, 1.0)
    }

    /// One state indefinitely.
    pub fn steady(state: StateWord, drives: bool, level: f64) -> Schedule {
        Schedule { period_s: 1.0, parts: vec![Part { state, share: 1.0, drives }], level }
    }

    /// A state for a share of the period, another for the rest.
    pub(super) fn of(period_s: f64, parts: [Part; 2]) -> Schedule {
        let parts = parts.into_iter().filter(|part| part.share > 0.0).collect();
        Schedule { period_s, parts, level: 1.0 }
    }
}
