//! `throttle-backwards`: the control inputs are driven so that the bridge drives in the low part of the PWM: full on at zero
//! throttle, off at full.

use super::{Caution, Class, Cure, Evident, Found, Kind, Near, Text, Verdict, View, Words};
use crate::drive;
use crate::job::Job;
use crate::layout::DriverId;
use crate::layout::{Idle, InputLine, InputLines};

/// Directions in which a driver's throttle runs backwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Evidence {
    /// The driver.
    pub driver: DriverId,
    /// In which directions.
    pub when: Backwards,
}

/// Directions in which a throttle runs backwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Backwards {
    /// When set forward.
    Forward,
    /// When set in reverse.
    Reverse,
    /// In both.
    Both,
}

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let found = view.layout.drivers.values().filter_map(|driver| {
        let kind = drive::of(&driver.drive);
        let when = match (kind.runs_backwards(false), kind.runs_backwards(true)) {
            (true, true) => Backwards::Both,
            (true, false) => Backwards::Forward,
            (false, true) => Backwards::Reverse,
            (false, false) => return None,
        };
        let evidence = Evidence { driver: driver.id, when };
        let found = Found::new(Kind::ThrottleBackwards, Class::Fault, Verdict::Caution, evidence);
        Some(Found { drivers: vec![driver.id], ..found })
    });
    found.collect()
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let name = w.driver(e.driver);
    let when = match e.when {
        Backwards::Both => "in both directions",
        Backwards::Forward => "when set forward",
        Backwards::Reverse => "when set in reverse",
    };
    Text {
        says: format!(
            "{name} runs at full speed with its throttle at zero, {when}; move the PWM to the other control input"
        ),
        why: "The chip's truth table, with the control inputs as they are driven, makes the bridge drive while the PWM line \
              is low. A train starts at full speed when the throttle is closed, and stops when it is fully open."
            .into(),
        more: String::new(),
        advice: vec![
            "Move the PWM to the other control input for that direction.".into(),
            "Or invert the PWM in the controller's program.".into(),
        ],
        cautions: vec![Caution::Rewire],
    }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    let idle =
        near.layout().drivers.get(&e.driver).and_then(|d| drive::of(&d.drive).idle().copied());
    let Some(Idle::ByInputs { table, forward, reverse, first_inverted, second_inverted }) = idle
    else {
        return Vec::new();
    };
    let to = |first_inverted, second_inverted, forward, reverse| {
        let idle = Idle::ByInputs { table, forward, reverse, first_inverted, second_inverted };
        Cure::from(Job::DriveInputs { driver: e.driver, idle })
    };
    let other = |lines: InputLines| match lines.pwm {
        InputLine::First => InputLines { pwm: InputLine::Second, ..lines },
        InputLine::Second => InputLines { pwm: InputLine::First, ..lines },
    };
    let mut cures: Vec<Cure> = near.coast(e.driver).map(Cure::from).into_iter().collect();
    cures.extend([
        to(!first_inverted, second_inverted, forward, reverse),
        to(first_inverted, !second_inverted, forward, reverse),
        to(!first_inverted, !second_inverted, forward, reverse),
        to(first_inverted, second_inverted, other(forward), reverse),
        to(first_inverted, second_inverted, forward, other(reverse)),
        to(first_inverted, second_inverted, other(forward), other(reverse)),
    ]);
    cures
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::{Idle, InputLine, InputLines, InputTable};

    pub fn pairs() -> Vec<Pair> {
        // Reverse by a high second input: 11 brakes while the PWM is high, 01 drives while it is low.
        let by_inputs = |pwm: InputLine, other_high: bool| {
            let inputs = Idle::ByInputs {
                table: InputTable::TwoInput,
                forward: InputLines { pwm: InputLine::First, other_high: false },
                reverse: InputLines { pwm, other_high },
                first_inverted: false,
                second_inverted: false,
            };
            idle(&yard(""), D1, inputs)
        };
        vec![Pair {
            with: by_inputs(InputLine::First, true),
            twin: by_inputs(InputLine::Second, false),
            class: Class::Fault,
            verdict: Verdict::Caution,
            peak_a: None,
            cuts: &[],
            blocks: 0,
            says: "Driver d1 runs at full speed with its throttle at zero, when set in reverse; move the PWM to the other control input",
        }]
    }
}
