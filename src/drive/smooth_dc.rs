//! A smooth DC throttle: a voltage of throttle × open-circuit voltage behind a resistance.

use super::fields::{Field, Value};
use super::kind::{Kind, Output, RunsFrom};
use super::schedule::{Beside, Schedule};
use super::usual;
use super::words::{self, SetWord, StateWord, THROTTLE};
use crate::layout::{Drive, Quantity, Trip, TripKind};

pub(super) struct SmoothDc<'a> {
    pub output_ohm: &'a Quantity,
    pub can_sink: &'a bool,
    pub clamped_at_zero: &'a bool,
}

/// A smooth DC throttle with a diode in its output and open at zero.
pub fn smooth_dc() -> Drive {
    Drive::SmoothDc {
        output_ohm: Quantity::assumed(0.5, 0.2, 1.5),
        can_sink: false,
        clamped_at_zero: false,
    }
}

pub(super) fn new() -> Drive {
    smooth_dc()
}

pub(super) fn fields<'a>(
    output_ohm: &'a mut Quantity,
    can_sink: &'a mut bool,
    clamped_at_zero: &'a mut bool,
) -> Vec<Field<'a>> {
    vec![
        Field {
            path: "drive.output_ohm",
            label: "Output resistance",
            help: "",
            value: Value::Ohm(output_ohm),
        },
        Field {
            path: "drive.can_sink",
            label: "Output can take current back",
            help: "",
            value: Value::Tick(can_sink),
        },
        Field {
            path: "drive.clamped_at_zero",
            label: "Clamps its rails at zero throttle",
            help: "",
            value: Value::Tick(clamped_at_zero),
        },
    ]
}

impl Kind for SmoothDc<'_> {
    fn name(&self) -> &'static str {
        "Smooth DC"
    }

    fn settings(&self) -> &'static [SetWord] {
        THROTTLE
    }

    fn schedule(&self, word: SetWord, level: f64, _beside: Beside) -> Schedule {
        match word {
            SetWord::Forward | SetWord::On => Schedule::steady(StateWord::Forward, true, level),
            SetWord::Reverse => Schedule::steady(StateWord::Reverse, true, level),
            SetWord::Stopped if *self.clamped_at_zero => {
                Schedule::steady(StateWord::BrakeLow, false, 0.0)
            }
            SetWord::Stopped | SetWord::Off | SetWord::Unpowered => Schedule::off(),
        }
    }

    fn clock(&self, _period_s: f64) -> RunsFrom<'_> {
        RunsFrom::STEADY
    }

    fn output(&self) -> Output {
        Output::Smooth { output_ohm: *self.output_ohm, can_sink: *self.can_sink }
    }

    fn level_is_a_voltage(&self) -> bool {
        true
    }

    fn trip(&self) -> Option<Trip> {
        let amps = Quantity::assumed(2.0, 1.5, 2.5);
        Some(usual::trip(amps, TripKind::Averaged { tau_s: 0.05 }, Some(1.0)))
    }

    fn does(&self, word: SetWord, state: StateWord) -> &'static str {
        match (state, word) {
            (StateWord::BrakeLow, _) => "clamps its rails together",
            (StateWord::HighImpedance, SetWord::Stopped) => "is open",
            _ => words::does(word, state),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::of;
    use super::*;

    fn smooth(clamped_at_zero: bool) -> Drive {
        Drive::SmoothDc { output_ohm: Quantity::given(0.5), can_sink: false, clamped_at_zero }
    }

    #[test]
    fn the_throttle_is_a_level_and_zero_is_open_or_clamped() {
        let s = of(&smooth(false)).schedule(SetWord::Reverse, 0.3, Beside::Other);
        assert_eq!((s.parts.len(), s.parts[0].state, s.level), (1, StateWord::Reverse, 0.3));
        for (clamped, state, says) in [
            (false, StateWord::HighImpedance, "is open"),
            (true, StateWord::BrakeLow, "clamps its rails together"),
        ] {
            let drive = smooth(clamped);
            let kind = of(&drive);
            let stopped = kind.schedule(SetWord::Stopped, 0.0, Beside::Other);
            assert_eq!(stopped.parts[0].state, state);
            assert_eq!(kind.does(SetWord::Stopped, state), says);
            assert_eq!(kind.parkings().len(), 1);
            assert!(kind.level_is_a_voltage());
        }
    }
}
