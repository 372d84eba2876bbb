//! Kinds of trip.

use crate::signal::thermal::Curve;

/// How a trip judges what it senses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Trip {
    /// Over the threshold for longer than a blanking time.
    Instant {
        /// Blanking time, s.
        blanking_s: f64,
    },
    /// Over the threshold in several samples in a row.
    Sampled {
        /// Time between samples, s.
        every_s: f64,
        /// How many in a row.
        in_a_row: u32,
        /// If locked to a beat: its index, and at which fraction of its period it looks. `every_s` is then rounded to
        /// whole periods. A beat that never changes locks nothing.
        locked: Option<(usize, f64)>,
    },
    /// The output of a first-order filter over the threshold.
    Averaged {
        /// Time constant, s.
        tau_s: f64,
    },
    /// By heat, along a time–current curve whose first point is at the threshold. See the `thermal` room's rule: exact for
    /// a constant current, else it errs towards acting.
    Thermal {
        /// The curve.
        curve: Curve,
    },
}
