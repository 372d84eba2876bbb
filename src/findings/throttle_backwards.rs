//! `throttle-backwards`: the control inputs are driven so that the bridge drives in the low part of the PWM: full on at zero
//! throttle, off at full.

use super::{Class, Evidence, Finding, Kind, Verdict, View};
use crate::drive::runs_backwards;
use crate::layout::Drive;

pub fn find(view: &View, found: &mut Vec<Finding>) {
    for driver in view.layout.drivers.values() {
        let Drive::PwmBridge { idle, .. } = &driver.drive else { continue };
        let (forward, reverse) = (runs_backwards(idle, false), runs_backwards(idle, true));
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
