//! The questions that every kind of drive answers.

use super::fields::Contradiction;
use super::schedule::{Beside, Parking, Schedule};
use super::words::{self, SetWord, StateWord};
use crate::layout::{Clock, Drive, Idle, Quantity, Trip};

/// The circuit behind a driver's outputs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Output {
    /// Two half-bridges.
    Bridge,
    /// One half-bridge at P; M is the midpoint of a split supply.
    HalfBridge,
    /// A regulated voltage behind a resistance and a reversing switch, without body diodes.
    Smooth {
        /// Output resistance, Ω.
        output_ohm: Quantity,
        /// True if it can take current back, as far as its supply can.
        can_sink: bool,
    },
}

impl Output {
    /// True if it works on the midpoint of a split supply.
    pub fn needs_midpoint(self) -> bool {
        match self {
            Output::HalfBridge => true,
            Output::Bridge | Output::Smooth { .. } => false,
        }
    }
}

/// The name of a clock that several drivers run from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClockName<'a> {
    /// A PWM clock.
    Clock(&'a str),
    /// The bits of a command station.
    Station(&'a str),
}

/// The clock that a driver runs from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunsFrom<'a> {
    /// Its name if other drivers can run from it too.
    pub name: Option<ClockName<'a>>,
    /// Phase on that clock, as a fraction of the period; `None` if it is not known.
    pub phase: Option<f64>,
    /// Largest deviation of its frequency, as a fraction.
    pub tolerance: f64,
}

impl RunsFrom<'_> {
    /// A clock of its own, exact: that of a driver that does not switch.
    pub const STEADY: RunsFrom<'static> = RunsFrom { name: None, phase: None, tolerance: 0.0 };
}

/// What a train gets from the rails. Settings of two drivers can agree only where they give the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Signal<'a> {
    /// A voltage whose sign is the direction.
    Direct,
    /// The bits of a command station.
    Station(&'a str),
}

/// A change to one drive, as a counterfactual tries it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Change<'a> {
    /// The idle state made high-impedance.
    CoastWhenIdle,
    /// Another idle state, or control inputs driven in another way.
    IdleBy(Idle),
    /// The PWM made from another clock.
    RunFrom(&'a Clock),
    /// The phase exchanged against the station's signal.
    ExchangePhase,
    /// The delay against the station's signal taken away.
    TakeDelayAway,
    /// The signal of another station repeated.
    Follow(&'a str),
}

/// A kind of drive with its values. See the [module documentation](super) for how the study asks.
pub trait Kind {
    /// The drive in words, as in a list to choose from.
    fn name(&self) -> &'static str;

    /// The settings that its controls can reach, unpowered included.
    fn settings(&self) -> &'static [SetWord];

    /// What it does over time at a setting that is not dead. `level` is from 0 to 1: the throttle, or the level of a
    /// [`Parking`] if stopped.
    fn schedule(&self, word: SetWord, level: f64, beside: Beside) -> Schedule;

    /// The clock that it runs from, for a schedule of this period, s.
    fn clock(&self, period_s: f64) -> RunsFrom<'_>;

    /// The circuit behind its outputs.
    fn output(&self) -> Output;

    /// What a train gets from it.
    fn signal(&self) -> Signal<'_> {
        Signal::Direct
    }

    /// True if it connects anything to its rails at any setting.
    fn feeds(&self) -> bool {
        true
    }

    /// +1 or −1 where a setting drives with a sign, by the driver's label. `None` has no direction.
    fn sign(&self, word: SetWord) -> Option<i8> {
        match word {
            SetWord::Forward => Some(1),
            SetWord::Reverse => Some(-1),
            SetWord::Stopped | SetWord::On | SetWord::Off | SetWord::Unpowered => None,
        }
    }

    /// True if its throttle sets a voltage rather than a share of time.
    fn level_is_a_voltage(&self) -> bool {
        false
    }

    /// True if its trip can read at a fixed place in its PWM period.
    fn has_pwm(&self) -> bool {
        false
    }

    /// The clock of its PWM, if it has one.
    fn pwm_clock(&self) -> Option<&Clock> {
        None
    }

    /// How its idle state is stated, if it has one.
    fn idle(&self) -> Option<&Idle> {
        None
    }

    /// True if it drives in the low part of the PWM and not in the high one when set forward (or in reverse): full on at
    /// zero throttle, off at full.
    fn runs_backwards(&self, _reverse: bool) -> bool {
        false
    }

    /// The state of its outputs in the off part of its period when set forward (or in reverse). `None` has no off part.
    fn idle_state(&self, _reverse: bool) -> Option<StateWord> {
        None
    }

    /// The idle states that it can be given, the present one included. Empty if it has none.
    fn idle_choices(&self) -> Vec<Idle> {
        Vec::new()
    }

    /// The trip of a new driver of this kind. `None` has no trip.
    fn trip(&self) -> Option<Trip> {
        None
    }

    /// Its values against each other, beyond the range of each.
    fn contradiction(&self) -> Option<Contradiction> {
        None
    }

    /// The drive after a change; `None` if the change does not apply to it.
    fn changed(&self, _change: Change<'_>) -> Option<Drive> {
        None
    }

    /// What it does in a state of its outputs at a setting, as a verb: "brakes low".
    fn does(&self, word: SetWord, state: StateWord) -> &'static str {
        words::does(word, state)
    }

    /// The parkings of stopped that differ.
    fn parkings(&self) -> &'static [Parking] {
        const FORWARD: Parking = Parking::AsForward;
        const REVERSE: Parking = Parking::AsReverse;
        let parked =
            |parking: Parking| self.schedule(SetWord::Stopped, parking.level(), Beside::Other);
        let stops = self.settings().contains(&SetWord::Stopped);
        if stops && parked(FORWARD) != parked(REVERSE) { &[FORWARD, REVERSE] } else { &[FORWARD] }
    }

    /// The levels of a setting at which something can be worst. Every current is largest at one of them, because each
    /// state of a schedule is held indefinitely at some corner: full throttle holds the drive state, zero the idle state.
    fn levels(&self, word: SetWord) -> Vec<f64> {
        match word {
            SetWord::Forward | SetWord::Reverse => vec![0.0, 1.0],
            SetWord::On => vec![1.0],
            SetWord::Stopped => self.parkings().iter().map(|parking| parking.level()).collect(),
            SetWord::Off | SetWord::Unpowered => vec![0.0],
        }
    }

    /// The levels that a saved setting can stand for.
    fn levels_now(&self, word: SetWord, throttle: f64) -> Vec<f64> {
        match word {
            SetWord::Forward | SetWord::Reverse => vec![throttle],
            SetWord::On | SetWord::Stopped | SetWord::Off | SetWord::Unpowered => self.levels(word),
        }
    }
}
