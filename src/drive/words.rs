//! Words for states and settings.

use serde::Serialize;

use crate::layout::{Direction, Drive, Driver};

/// The state of a driver's outputs at one moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum StateWord {
    /// P high, M low.
    Forward,
    /// P low, M high.
    Reverse,
    /// Both low switches on.
    BrakeLow,
    /// Both high switches on.
    BrakeHigh,
    /// All switches off.
    HighImpedance,
}

impl StateWord {
    /// The word, as in reports.
    pub fn word(self) -> &'static str {
        match self {
            StateWord::Forward => "forward",
            StateWord::Reverse => "reverse",
            StateWord::BrakeLow => "brake-low",
            StateWord::BrakeHigh => "brake-high",
            StateWord::HighImpedance => "high-impedance",
        }
    }
}

/// What a driver is set to, its supply included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SetWord {
    /// P positive.
    Forward,
    /// M positive.
    Reverse,
    /// Throttle at zero.
    Stopped,
    /// DCC on.
    On,
    /// Outputs at high-impedance.
    Off,
    /// Its supply is off.
    Unpowered,
}

impl SetWord {
    /// The word, as in reports.
    pub fn word(self) -> &'static str {
        match self {
            SetWord::Forward => "forward",
            SetWord::Reverse => "reverse",
            SetWord::Stopped => "stopped",
            SetWord::On => "on",
            SetWord::Off => "off",
            SetWord::Unpowered => "unpowered",
        }
    }

    /// Off or unpowered: the block is dead.
    pub fn is_dead(self) -> bool {
        matches!(self, SetWord::Off | SetWord::Unpowered)
    }
}

impl From<Direction> for SetWord {
    fn from(direction: Direction) -> Self {
        match direction {
            Direction::Forward => SetWord::Forward,
            Direction::Reverse => SetWord::Reverse,
            Direction::Stopped => SetWord::Stopped,
            Direction::On => SetWord::On,
            Direction::Off => SetWord::Off,
        }
    }
}

/// The settings that a driver's controls can reach, unpowered included.
pub fn reachable(driver: &Driver) -> &'static [SetWord] {
    match driver.drive {
        Drive::DccBooster { .. } => &[SetWord::On, SetWord::Off, SetWord::Unpowered],
        Drive::Nothing => &[SetWord::Off],
        _ => &[
            SetWord::Forward,
            SetWord::Reverse,
            SetWord::Stopped,
            SetWord::Off,
            SetWord::Unpowered,
        ],
    }
}

/// +1 for forward, −1 for reverse, by the driver's label; a DCC booster counts by its phase. `None` has no direction.
pub fn direction_sign(driver: &Driver, word: SetWord) -> Option<i8> {
    match (word, &driver.drive) {
        (SetWord::Forward, _) => Some(1),
        (SetWord::Reverse, _) => Some(-1),
        (SetWord::On, Drive::DccBooster { swapped, .. }) => Some(if *swapped { -1 } else { 1 }),
        _ => None,
    }
}
