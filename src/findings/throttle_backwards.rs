//! `throttle-backwards`: the control inputs are driven so that the bridge drives in the low part of the PWM: full on at zero
//! throttle, off at full.

use super::{Class, Cure, Evident, Found, Kind, Text, Verdict, View, Words};
use crate::drive;
use crate::layout::{DriverId, Layout};

/// Directions in which a driver's throttle runs backwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Evidence {
    /// The driver.
    pub driver: DriverId,
    /// When set forward.
    pub forward: bool,
    /// When set in reverse.
    pub reverse: bool,
}

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let found = view.layout.drivers.values().filter_map(|driver| {
        let kind = drive::of(&driver.drive);
        let (forward, reverse) = (kind.runs_backwards(false), kind.runs_backwards(true));
        let evidence = Evidence { driver: driver.id, forward, reverse };
        let found = Found::new(Kind::ThrottleBackwards, Class::Fault, Verdict::Caution, evidence);
        (forward || reverse).then(|| Found { drivers: vec![driver.id], ..found })
    });
    found.collect()
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let name = w.driver(e.driver);
    let when = match (e.forward, e.reverse) {
        (true, true) => "in both directions",
        (true, false) => "when set forward",
        (false, _) => "when set in reverse",
    };
    Text {
 more: String::new(),
        says: format!("{name} runs backwards {when}: full on at zero throttle, off at full"),
        why: "By the chip's truth table the bridge drives while the PWM line is low and not while it is high, as \
              its control inputs are driven. A train starts at full speed when the throttle is closed."
            .into(),
        advice: vec![
            "Move the PWM to the other input in that direction, or invert the PWM in the program.".into(),
        ],
    }
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
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
            says: "Driver d1 runs backwards when set in reverse: full on at zero throttle, off at full",
        }]
    }
}
