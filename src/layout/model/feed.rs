//! Feeds and their wires.

use serde::{Deserialize, Serialize};

use super::device::Origin;
use super::ids::{FeedId, RunId};
use super::runs::Rail;
use crate::units::Quantity;

/// Cross-section of a wire.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum WireSize {
    /// American Wire Gauge number.
    Awg(u32),
    /// Cross-section in mm².
    Mm2(f64),
}

/// The pair of wires of a feed, one per leg.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wire {
    /// Size.
    pub size: WireSize,
    /// Length of one leg, m.
    pub length_m: f64,
    /// Current that it may carry indefinitely, A. Without it, see [`super::wire::may_carry_a`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rating_a: Option<Quantity>,
}

/// Feeders from a driver to the rails at a place on a run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Feed {
    /// Identity.
    pub id: FeedId,
    /// The driver, or the device through which it comes.
    pub driver: Origin,
    /// The run whose rails it goes to.
    pub run: RunId,
    /// Distance along it, mm.
    pub at_mm: f64,
    /// Rail to which P goes, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub p: Option<Rail>,
    /// Rail to which M goes, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub m: Option<Rail>,
    /// The wires; their resistance follows from size and length.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wire: Option<Wire>,
    /// Resistance of one leg, Ω; overrides the wire's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ohm: Option<Quantity>,
}
