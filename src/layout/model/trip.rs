//! Overcurrent trips.

use serde::{Deserialize, Serialize};

use super::skip::is_default;
use super::trip_curve::TripPoints;
use crate::units::Quantity;

/// Where a trip senses current.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Senses {
    /// In the lead from the supply's positive pole.
    SupplyLead,
    /// In the lead back to the supply's negative pole.
    GroundReturn,
    /// In the P output.
    LegP,
    /// In the M output.
    LegM,
    /// In whichever output carries more.
    LargerLeg,
    /// In the high switch of P.
    HighSwitchP,
    /// In the low switch of P.
    LowSwitchP,
    /// In the high switch of M.
    HighSwitchM,
    /// In the low switch of M.
    LowSwitchM,
}

/// How a trip decides.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum TripKind {
    /// Acts when the threshold is exceeded for longer than a blanking time, s.
    Instant {
        /// Blanking time, s.
        blanking_s: f64,
    },
    /// Looks every `every_s`; acts after `in_a_row` readings above the threshold.
    Sampled {
        /// Time between readings, s.
        every_s: f64,
        /// How many in a row.
        in_a_row: u32,
        /// Locked to the driver's own PWM: readings are taken once per period at this fraction of it, and `every_s`
        /// counts as the nearest whole number of periods. Without it the sampler runs free.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        locked_at: Option<f64>,
    },
    /// Compares a first-order average with the threshold.
    Averaged {
        /// Time constant, s.
        tau_s: f64,
    },
    /// Warms up: a fuse, a resettable fuse, bimetal.
    Thermal {
        /// Its time–current curve, from the least current at which it ever acts: between points straight in logarithms,
        /// beyond the last with constant I²t.
        points: TripPoints,
    },
    /// Limits the current to the threshold cycle by cycle and never trips.
    Chopping,
}

impl TripKind {
    /// Beyond which multiple of the trip's `amps` it acts if that lasts for ever (a chopping one: limits).
    pub fn acts_beyond(&self) -> f64 {
        match self {
            TripKind::Thermal { points } => points.first().map_or(1.0, |point| point.times),
            _ => 1.0,
        }
    }
}

/// What a tripped driver does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum AfterTrip {
    /// Its outputs go to high-impedance.
    #[default]
    HighImpedance,
    /// It brakes with both low switches: it stays a clamp.
    BrakeLow,
    /// It brakes with both high switches: it stays a clamp.
    BrakeHigh,
}

/// Overcurrent trip of a driver.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Trip {
    /// Threshold, A; of a thermal trip the current of which its points are multiples: its rating.
    pub amps: Quantity,
    /// Where it senses.
    pub senses: Senses,
    /// Whether only current in the usual direction counts (out of an output, out of the supply); otherwise the magnitude.
    #[serde(default, skip_serializing_if = "is_default")]
    pub signed: bool,
    /// How it decides.
    pub kind: TripKind,
    /// What it does then.
    #[serde(default)]
    pub then: AfterTrip,
    /// Time until it tries again, s; without it, it latches until someone resets it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub retry_s: Option<f64>,
}
