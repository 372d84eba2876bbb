//! One half-bridge on a split supply: its output to the rail, the midpoint to the common rail.

use super::fields::{Contradiction, Field};
use super::idle;
use super::kind::{Change, Kind, Output, RunsFrom};
use super::schedule::{Beside, Schedule};
use super::usual;
use super::words::{SetWord, StateWord, THROTTLE};
use crate::layout::{Clock, Drive, Idle, Trip};

pub(super) struct SplitHalfBridge<'a> {
    pub clock: &'a Clock,
    pub idle: &'a Idle,
}

/// A half-bridge on a split supply at 490 Hz that idles at high impedance.
pub fn split_half_bridge() -> Drive {
    Drive::SplitHalfBridge { clock: usual::clock(), idle: Idle::HighImpedance }
}

pub(super) fn new() -> Drive {
    split_half_bridge()
}

pub(super) fn fields<'a>(clock: &'a mut Clock, idle: &'a mut Idle) -> Vec<Field<'a>> {
    idle::fields(clock, idle)
}

impl Kind for SplitHalfBridge<'_> {
    fn name(&self) -> &'static str {
        "Split half-bridge"
    }

    fn settings(&self) -> &'static [SetWord] {
        THROTTLE
    }

    fn schedule(&self, word: SetWord, level: f64, _beside: Beside) -> Schedule {
        idle::schedule(self.clock, self.idle, word, level)
    }

    fn clock(&self, _period_s: f64) -> RunsFrom<'_> {
        idle::runs_from(self.clock)
    }

    fn output(&self) -> Output {
        Output::HalfBridge
    }

    fn has_pwm(&self) -> bool {
        true
    }

    fn idle_state(&self, reverse: bool) -> Option<StateWord> {
        Some(idle::idle_state(self.idle, reverse))
    }

    fn idle_choices(&self) -> Vec<Idle> {
        vec![Idle::HighImpedance, Idle::Opposed]
    }

    fn trip(&self) -> Option<Trip> {
        Some(usual::bridge_trip())
    }

    fn contradiction(&self) -> Option<Contradiction> {
        (!self.idle_choices().contains(self.idle)).then_some(Contradiction {
            path: "drive.idle",
            says: "a half-bridge on a split supply cannot brake",
            expected: "HighImpedance or Opposed",
            hint: "choose one of the two",
        })
    }

    fn pwm_clock(&self) -> Option<&Clock> {
        Some(self.clock)
    }

    fn idle(&self) -> Option<&Idle> {
        Some(self.idle)
    }

    fn changed(&self, change: Change<'_>) -> Option<Drive> {
        let (clock, idle) = idle::changed(self.clock, self.idle, change)?;
        Some(Drive::SplitHalfBridge { clock, idle })
    }
}

#[cfg(test)]
mod tests {
    use super::super::of;
    use super::*;

    #[test]
    fn it_has_a_midpoint_and_coasts_or_opposes() {
        let clock = Clock { hz: 100.0, tolerance: 0.0, shared: None, phase: None };
        let drive = |idle| Drive::SplitHalfBridge { clock: clock.clone(), idle };
        let opposed = drive(Idle::Opposed);
        let kind = of(&opposed);
        assert_eq!(kind.output(), Output::HalfBridge);
        assert_eq!(kind.idle_state(true), Some(StateWord::Forward));
        assert_eq!(kind.changed(Change::CoastWhenIdle), Some(drive(Idle::HighImpedance)));
        let s = kind.schedule(SetWord::Forward, 0.5, Beside::Other);
        assert_eq!((s.parts[0].state, s.parts[0].share), (StateWord::Forward, 0.75));
        assert_eq!(kind.does(SetWord::Forward, StateWord::Reverse), "drives against its direction");
    }
}
