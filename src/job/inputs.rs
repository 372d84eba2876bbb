//! Control inputs of a bridge driven so that it coasts and its throttle keeps its sense.

use crate::drive::{SetWord, StateWord, input_states};
use crate::layout::{Idle, InputLine, InputLines};

/// The nearest way to drive a bridge's control inputs so that, in both directions, it drives in the high part of the PWM
/// and coasts in the low one. `None` if its idle state is not made by the inputs, if it does so already, or if its truth
/// table has no such way.
pub fn coasting_inputs(idle: &Idle) -> Option<Idle> {
    let Idle::ByInputs { table, forward, reverse, first_inverted, second_inverted } = *idle else {
        return None;
    };
    let lines = || {
        [InputLine::First, InputLine::Second]
            .into_iter()
            .flat_map(|pwm| [false, true].map(|other_high| InputLines { pwm, other_high }))
    };
    // To drive other lines is a change of the program; to invert a line is one of the wiring, and costs more.
    let changes = |candidate: &Idle| match *candidate {
        Idle::ByInputs {
            forward: f,
            reverse: r,
            first_inverted: one,
            second_inverted: two,
            ..
        } => {
            u32::from(f != forward)
                + u32::from(r != reverse)
                + 4 * (u32::from(one != first_inverted) + u32::from(two != second_inverted))
        }
        _ => u32::MAX,
    };
    let mut all = Vec::new();
    for (one, two) in [(false, false), (false, true), (true, false), (true, true)] {
        for forward in lines() {
            for reverse in lines() {
                all.push(Idle::ByInputs {
                    table,
                    forward,
                    reverse,
                    first_inverted: one,
                    second_inverted: two,
                });
            }
        }
    }
    let coasts = |idle: &Idle, word: SetWord, drives: StateWord| {
        input_states(idle, word == SetWord::Reverse) == Some((drives, StateWord::HighImpedance))
    };
    let sound = all.into_iter().filter(|candidate| {
        candidate != idle
            && coasts(candidate, SetWord::Forward, StateWord::Forward)
            && coasts(candidate, SetWord::Reverse, StateWord::Reverse)
    });
    sound.min_by_key(changes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::InputTable;

    fn lines(pwm: InputLine, other_high: bool) -> InputLines {
        InputLines { pwm, other_high }
    }

    #[test]
    fn a_bridge_that_brakes_gets_the_pwm_on_the_other_input() {
        // TI DRV8870, SLVSCY8: PWM on one input with the other low coasts; with the other high it brakes.
        let braking = Idle::ByInputs {
            table: InputTable::TwoInput,
            forward: lines(InputLine::Second, true),
            reverse: lines(InputLine::First, true),
            first_inverted: false,
            second_inverted: false,
        };
        let coasting = coasting_inputs(&braking);
        let expected = Idle::ByInputs {
            table: InputTable::TwoInput,
            forward: lines(InputLine::First, false),
            reverse: lines(InputLine::Second, false),
            first_inverted: false,
            second_inverted: false,
        };
        assert_eq!(coasting, Some(expected));
        assert_eq!(coasting_inputs(&expected), None, "it coasts already");
    }

    #[test]
    fn a_chip_without_a_coasting_row_cannot_coast() {
        // TI DRV8873, SLVSET1, enable and phase: enable low holds both outputs high.
        let idle = Idle::ByInputs {
            table: InputTable::EnablePhase,
            forward: lines(InputLine::First, true),
            reverse: lines(InputLine::First, false),
            first_inverted: false,
            second_inverted: false,
        };
        assert_eq!(coasting_inputs(&idle), None);
        assert_eq!(coasting_inputs(&Idle::BrakeLow), None);
    }
}
