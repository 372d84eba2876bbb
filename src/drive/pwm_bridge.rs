//! An H-bridge that switches on and off.

use super::fields::Field;
use super::idle;
use super::inputs;
use super::kind::{Change, Kind, Output, RunsFrom};
use super::schedule::{Beside, Schedule};
use super::usual;
use super::words::{SetWord, StateWord, THROTTLE};
use crate::layout::{Clock, Drive, Idle, InputLine, InputLines, InputTable, Trip};

pub(super) struct PwmBridge<'a> {
    pub clock: &'a Clock,
    pub idle: &'a Idle,
}

/// A PWM bridge at 490 Hz.
pub fn pwm_bridge(idle: Idle) -> Drive {
    Drive::PwmBridge { clock: usual::clock(), idle }
}

/// A bridge that brakes low, as most do that are not set otherwise.
pub(super) fn new() -> Drive {
    pwm_bridge(Idle::BrakeLow)
}

pub(super) fn fields<'a>(clock: &'a mut Clock, idle: &'a mut Idle) -> Vec<Field<'a>> {
    idle::fields(clock, idle)
}

impl Kind for PwmBridge<'_> {
    fn name(&self) -> &'static str {
        "PWM bridge"
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
        Output::Bridge
    }

    fn has_pwm(&self) -> bool {
        true
    }

    fn runs_backwards(&self, reverse: bool) -> bool {
        inputs::runs_backwards(self.idle, reverse)
    }

    fn idle_state(&self, reverse: bool) -> Option<StateWord> {
        Some(idle::idle_state(self.idle, reverse))
    }

    fn idle_choices(&self) -> Vec<Idle> {
        // A chip with two inputs, driven in the usual way: PWM on the one that drives, the other low.
        let usual = Idle::ByInputs {
            table: InputTable::TwoInput,
            forward: InputLines { pwm: InputLine::First, other_high: false },
            reverse: InputLines { pwm: InputLine::Second, other_high: false },
            first_inverted: false,
            second_inverted: false,
        };
        let inputs = if matches!(self.idle, Idle::ByInputs { .. }) { *self.idle } else { usual };
        vec![Idle::BrakeLow, Idle::BrakeHigh, Idle::HighImpedance, Idle::Opposed, inputs]
    }

    fn trip(&self) -> Option<Trip> {
        Some(usual::bridge_trip())
    }

    fn pwm_clock(&self) -> Option<&Clock> {
        Some(self.clock)
    }

    fn idle(&self) -> Option<&Idle> {
        Some(self.idle)
    }

    fn changed(&self, change: Change<'_>) -> Option<Drive> {
        let (clock, idle) = idle::changed(self.clock, self.idle, change)?;
        Some(Drive::PwmBridge { clock, idle })
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Parking, of};
    use super::*;

    fn bridge(idle: Idle) -> Drive {
        let clock = Clock { hz: 490.0, tolerance: 0.01, shared: None, phase: None };
        Drive::PwmBridge { clock, idle }
    }

    fn schedule(drive: &Drive, word: SetWord, level: f64) -> Schedule {
        of(drive).schedule(word, level, Beside::Other)
    }

    /// Enable and phase: PWM on the enable line (brakes high) forward, on the phase line (drives both ways) in reverse.
    fn direction_line() -> Idle {
        Idle::ByInputs {
            table: InputTable::TwoInput,
            forward: InputLines { pwm: InputLine::First, other_high: false },
            reverse: InputLines { pwm: InputLine::First, other_high: true },
            first_inverted: false,
            second_inverted: false,
        }
    }

    #[test]
    fn throttle_is_the_share_of_the_drive_state() {
        let s = schedule(&bridge(Idle::BrakeLow), SetWord::Forward, 0.4);
        assert_eq!(s.parts.len(), 2);
        assert_eq!((s.parts[0].state, s.parts[0].share), (StateWord::Forward, 0.4));
        assert_eq!(s.parts[1].state, StateWord::BrakeLow);
        assert!((s.period_s - 1.0 / 490.0).abs() < 1e-15);
    }

    #[test]
    fn opposed_idle_stands_still_at_half_and_half() {
        let s = schedule(&bridge(Idle::Opposed), SetWord::Stopped, 0.9);
        assert_eq!(s.parts[0].share, 0.5);
        let s = schedule(&bridge(Idle::Opposed), SetWord::Reverse, 0.5);
        assert_eq!((s.parts[0].state, s.parts[0].share), (StateWord::Reverse, 0.75));
    }

    #[test]
    fn full_and_zero_throttle_hold_one_state() {
        for idle in [Idle::BrakeLow, Idle::BrakeHigh, Idle::HighImpedance] {
            for throttle in [0.0, 1.0] {
                let s = schedule(&bridge(idle), SetWord::Forward, throttle);
                assert_eq!(s.parts.len(), 1, "{idle:?} at {throttle}");
            }
        }
    }

    #[test]
    fn a_bridge_on_control_inputs_is_parked_in_two_ways() {
        // Lines 00 coast; with the second line left high, 01 drives in reverse at zero throttle.
        let drive = bridge(direction_line());
        let kind = of(&drive);
        assert_eq!(kind.parkings(), [Parking::AsForward, Parking::AsReverse]);
        assert_eq!(kind.levels(SetWord::Stopped), [0.0, 1.0]);
        assert_eq!(kind.levels_now(SetWord::Stopped, 0.3), [0.0, 1.0]);
        let parked = |level| {
            let s = schedule(&drive, SetWord::Stopped, level);
            (s.parts.len(), s.parts[0].state, s.parts[0].drives)
        };
        assert_eq!(parked(0.0), (1, StateWord::HighImpedance, false));
        assert_eq!(parked(1.0), (1, StateWord::Reverse, false));
    }

    #[test]
    fn a_stated_idle_state_is_parked_in_one_way_unless_the_order_of_opposed_halves_counts() {
        for idle in [Idle::BrakeLow, Idle::BrakeHigh, Idle::HighImpedance, Idle::Opposed] {
            assert_eq!(of(&bridge(idle)).parkings(), [Parking::AsForward], "{idle:?}");
        }
        let clock =
            Clock { hz: 490.0, tolerance: 0.0, shared: Some("board".into()), phase: Some(0.0) };
        let locked = Drive::PwmBridge { clock, idle: Idle::Opposed };
        assert_eq!(of(&locked).parkings().len(), 2);
        let first = |level| schedule(&locked, SetWord::Stopped, level).parts[0].state;
        assert_eq!((first(0.0), first(1.0)), (StateWord::Forward, StateWord::Reverse));
    }

    #[test]
    fn a_bridge_that_coasts_cannot_be_made_to_coast() {
        let coasts = |idle| of(&bridge(idle)).changed(Change::CoastWhenIdle);
        assert_eq!(coasts(Idle::BrakeLow), Some(bridge(Idle::HighImpedance)));
        assert_eq!(coasts(direction_line()), Some(bridge(Idle::HighImpedance)));
        assert_eq!(coasts(Idle::HighImpedance), None);
    }

    #[test]
    fn what_it_does_is_named_by_its_state() {
        let drive = bridge(Idle::BrakeHigh);
        let kind = of(&drive);
        assert_eq!(kind.does(SetWord::Forward, StateWord::Forward), "drives");
        assert_eq!(kind.does(SetWord::Forward, StateWord::BrakeHigh), "brakes high");
        assert_eq!(kind.does(SetWord::Stopped, StateWord::HighImpedance), "coasts");
        assert_eq!(kind.idle_state(false), Some(StateWord::BrakeHigh));
    }
}
