//! PWM with an idle state, as a bridge and a half-bridge have it.

use super::fields::{Field, Value};
use super::inputs::input_states;
use super::kind::{Change, ClockName, RunsFrom};
use super::schedule::{Parking, Part, Schedule};
use super::words::{SetWord, StateWord};
use crate::layout::{Clock, Idle};

/// The values of a PWM drive.
pub(super) fn fields<'a>(clock: &'a mut Clock, idle: &'a mut Idle) -> Vec<Field<'a>> {
    vec![
        Field { path: "drive.idle", label: "Idle state", help: "", value: Value::Idle(idle) },
        Field { path: "drive.clock", label: "Clock", help: "", value: Value::Clock(clock) },
    ]
}

/// The clock of a PWM drive.
pub(super) fn runs_from(clock: &Clock) -> RunsFrom<'_> {
    RunsFrom {
        name: clock.shared.as_deref().map(ClockName::Clock),
        phase: clock.phase,
        tolerance: clock.tolerance,
    }
}

/// The state in the off part when set forward or in reverse.
pub(super) fn idle_state(idle: &Idle, reverse: bool) -> StateWord {
    match idle {
        Idle::BrakeLow => StateWord::BrakeLow,
        Idle::BrakeHigh => StateWord::BrakeHigh,
        Idle::HighImpedance => StateWord::HighImpedance,
        Idle::Opposed if reverse => StateWord::Forward,
        Idle::Opposed => StateWord::Reverse,
        Idle::ByInputs { .. } => {
            input_states(idle, reverse).map_or(StateWord::HighImpedance, |(_, low)| low)
        }
    }
}

/// The clock and the idle state after a change; `None` if the change does not apply, or changes neither.
pub(super) fn changed(clock: &Clock, idle: &Idle, change: Change<'_>) -> Option<(Clock, Idle)> {
    let (new_clock, new_idle) = match change {
        Change::CoastWhenIdle => (clock, Idle::HighImpedance),
        Change::IdleBy(idle) => (clock, idle),
        Change::RunFrom(clock) => (clock, *idle),
        Change::ExchangePhase | Change::TakeDelayAway | Change::Follow(_) => return None,
    };
    ((new_clock, &new_idle) != (clock, idle)).then(|| (new_clock.clone(), new_idle))
}

/// The schedule of a PWM drive at a setting that is not dead.
pub(super) fn schedule(clock: &Clock, idle: &Idle, word: SetWord, level: f64) -> Schedule {
    let stopped = word == SetWord::Stopped;
    let (reverse, throttle) = if stopped {
        (parked_in_reverse(clock, idle, level), 0.0)
    } else {
        (word == SetWord::Reverse, level)
    };
    let drive = match input_states(idle, reverse) {
        Some((high, _)) => high,
        None if reverse => StateWord::Reverse,
        None => StateWord::Forward,
    };
    let share = if *idle == Idle::Opposed { (1.0 + throttle) / 2.0 } else { throttle };
    let rest = idle_state(idle, reverse);
    // On control inputs either part may drive.
    let by_inputs = matches!(idle, Idle::ByInputs { .. });
    let moves = |state| matches!(state, StateWord::Forward | StateWord::Reverse);
    let drives = |state, first: bool| !stopped && if by_inputs { moves(state) } else { first };
    Schedule::of(
        1.0 / clock.hz,
        [
            Part { state: drive, share, drives: drives(drive, true) },
            Part { state: rest, share: 1.0 - share, drives: drives(rest, false) },
        ],
    )
}

/// True if stopped, at this level, is parked in another way than as last set forward: on control inputs, and where the
/// order of two opposed halves counts because the phase is known.
fn parked_in_reverse(clock: &Clock, idle: &Idle, level: f64) -> bool {
    let counts = match idle {
        Idle::ByInputs { .. } => true,
        Idle::Opposed => clock.shared.is_some() && clock.phase.is_some(),
        Idle::BrakeLow | Idle::BrakeHigh | Idle::HighImpedance => false,
    };
    counts && Parking::of_level(level) == Parking::AsReverse
}
