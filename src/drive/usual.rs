//! Usual values of new drives that several kinds share. Common practice, no source.

use crate::layout::{AfterTrip, Clock, Quantity, Senses, Trip, TripKind, default_tolerance};

/// A PWM clock of its own at 490 Hz.
pub(super) fn clock() -> Clock {
    Clock { hz: 490.0, tolerance: default_tolerance(), shared: None, phase: None }
}

/// A trip on the larger current of the two outputs that opens them.
pub(super) fn trip(amps: Quantity, kind: TripKind, retry_s: Option<f64>) -> Trip {
    Trip {
        amps,
        senses: Senses::LargerLeg,
        signed: false,
        kind,
        then: AfterTrip::HighImpedance,
        retry_s,
    }
}

/// The trip of a bridge chip: at once, and latched.
pub(super) fn bridge_trip() -> Trip {
    trip(Quantity::assumed(3.0, 2.5, 3.5), TripKind::Instant { blanking_s: 0.000_01 }, None)
}
