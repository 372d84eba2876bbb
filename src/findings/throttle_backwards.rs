//! `throttle-backwards`: the control inputs are driven so that the bridge drives in the low part of the PWM: full on at zero
//! throttle, off at full.

use super::{Class, Evidence, Finding, Kind, Verdict, View};
use crate::drive;

pub fn find(view: &View, found: &mut Vec<Finding>) {
    for driver in view.layout.drivers.values() {
        let kind = drive::of(&driver.drive);
        let (forward, reverse) = (kind.runs_backwards(false), kind.runs_backwards(true));
        if forward || reverse {
            found.push(Finding {
                drivers: vec![driver.id],
                ..Finding::bare(
                    Kind::ThrottleBackwards,
                    Class::Fault,
                    Verdict::Caution,
                    Evidence::Backwards { driver: driver.id, forward, reverse },
                )
            });
        }
    }
}
