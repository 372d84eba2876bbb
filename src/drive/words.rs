//! Words for states and settings.

use serde::Serialize;

use crate::layout::Direction;

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

    /// True if off or unpowered: the block is dead.
    pub fn is_dead(self) -> bool {
        matches!(self, SetWord::Off | SetWord::Unpowered)
    }

    /// True if a driver set so drives its block at some throttle.
    pub fn drives(self) -> bool {
        matches!(self, SetWord::Forward | SetWord::Reverse | SetWord::On)
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

/// The settings of a throttle with a direction.
pub(super) const THROTTLE: &[SetWord] =
    &[SetWord::Forward, SetWord::Reverse, SetWord::Stopped, SetWord::Off, SetWord::Unpowered];

/// What a driver with two half-bridges does in a state at a setting, as a verb.
pub(super) fn does(word: SetWord, state: StateWord) -> &'static str {
    match (state, word) {
        (StateWord::BrakeLow, _) => "brakes low",
        (StateWord::BrakeHigh, _) => "brakes high",
        (StateWord::HighImpedance, SetWord::Off) => "is off",
        (StateWord::HighImpedance, SetWord::Unpowered) => "has no power",
        (StateWord::HighImpedance, _) => "coasts",
        (StateWord::Forward, SetWord::Reverse) | (StateWord::Reverse, SetWord::Forward) => {
            "drives against its direction"
        }
        (StateWord::Forward | StateWord::Reverse, SetWord::Stopped) => "drives one way and back",
        (StateWord::Forward | StateWord::Reverse, _) => "drives",
    }
}
