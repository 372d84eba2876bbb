//! Control inputs of a bridge: the states that two driven lines make of it.

use super::words::StateWord;
use crate::layout::{Idle, InputLine, InputLines, InputTable};

/// The state of a bridge at two input levels (first, second), after any inversion. Sources: see [`InputTable`].
fn table_state(table: InputTable, first: bool, second: bool) -> StateWord {
    match (table, first, second) {
        (InputTable::TwoInput, false, false) => StateWord::HighImpedance,
        (InputTable::TwoInput, false, true) => StateWord::Reverse,
        (InputTable::TwoInput, true, false) => StateWord::Forward,
        (InputTable::TwoInput, true, true) => StateWord::BrakeLow,
        (InputTable::EnablePhase, false, _) => StateWord::BrakeHigh,
        (InputTable::EnablePhase, true, true) => StateWord::Forward,
        (InputTable::EnablePhase, true, false) => StateWord::Reverse,
    }
}

/// States while the PWM line is high and while it is low, when set in one direction. `None` where the idle state is
/// stated rather than made by the inputs.
pub fn input_states(idle: &Idle, reverse: bool) -> Option<(StateWord, StateWord)> {
    let Idle::ByInputs { table, forward, reverse: back, first_inverted, second_inverted } = *idle
    else {
        return None;
    };
    let lines: InputLines = if reverse { back } else { forward };
    let at = |pwm: bool| {
        let (first, second) = match lines.pwm {
            InputLine::First => (pwm, lines.other_high),
            InputLine::Second => (lines.other_high, pwm),
        };
        table_state(table, first != first_inverted, second != second_inverted)
    };
    Some((at(true), at(false)))
}

/// True if a throttle runs backwards in a direction: it drives in the low part of the PWM and not in the high one, so
/// that it is full on at zero and off at full.
pub(super) fn runs_backwards(idle: &Idle, reverse: bool) -> bool {
    let drives = |state| matches!(state, StateWord::Forward | StateWord::Reverse);
    input_states(idle, reverse).is_some_and(|(high, low)| drives(low) && !drives(high))
}

#[cfg(test)]
mod tests {
    use super::*;
    use StateWord::{BrakeHigh, BrakeLow, Forward, HighImpedance, Reverse};

    #[test]
    fn tables_are_those_of_the_data_sheets() {
        // TI DRV8870, SLVSCY8, "H-Bridge Control": IN1 IN2 = 00 coast, 01 reverse, 10 forward, 11 brake (low side).
        let two = |a, b| table_state(InputTable::TwoInput, a, b);
        assert_eq!(
            [two(false, false), two(false, true), two(true, false), two(true, true)],
            [HighImpedance, Reverse, Forward, BrakeLow]
        );
        // TI DRV8873, SLVSET1, PH/EN: EN = 0 both outputs high; EN = 1: PH picks the direction.
        let ep = |en, ph| table_state(InputTable::EnablePhase, en, ph);
        assert_eq!(
            [ep(false, false), ep(false, true), ep(true, true), ep(true, false)],
            [BrakeHigh, BrakeHigh, Forward, Reverse]
        );
    }

    fn lines(pwm: InputLine, other_high: bool) -> InputLines {
        InputLines { pwm, other_high }
    }

    fn two_input(forward: InputLines, reverse: InputLines, inverted: bool) -> Idle {
        Idle::ByInputs {
            table: InputTable::TwoInput,
            forward,
            reverse,
            first_inverted: inverted,
            second_inverted: inverted,
        }
    }

    #[test]
    fn pwm_on_one_input_with_the_other_low_coasts_and_inverted_lines_brake_backwards() {
        let forward = lines(InputLine::First, false);
        let reverse = lines(InputLine::Second, false);
        let straight = two_input(forward, reverse, false);
        assert_eq!(input_states(&straight, false), Some((Forward, HighImpedance)));
        assert_eq!(input_states(&straight, true), Some((Reverse, HighImpedance)));
        assert!(!runs_backwards(&straight, false) && !runs_backwards(&straight, true));
        // The same wiring behind inverting drivers: 10 becomes 01 and 00 becomes 11.
        let inverted = two_input(forward, reverse, true);
        assert_eq!(input_states(&inverted, false), Some((Reverse, BrakeLow)));
        assert!(!runs_backwards(&inverted, false));
    }

    #[test]
    fn a_direction_line_on_the_second_input_runs_reverse_backwards() {
        let direction =
            two_input(lines(InputLine::First, false), lines(InputLine::First, true), false);
        assert_eq!(input_states(&direction, false), Some((Forward, HighImpedance)));
        assert_eq!(input_states(&direction, true), Some((BrakeLow, Reverse)));
        assert!(runs_backwards(&direction, true));
        assert!(!runs_backwards(&direction, false));
    }

    #[test]
    fn a_stated_idle_state_has_no_inputs() {
        assert_eq!(input_states(&Idle::BrakeLow, false), None);
        assert!(!runs_backwards(&Idle::Opposed, true));
    }
}
