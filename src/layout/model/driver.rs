//! Drivers and their settings.

use serde::{Deserialize, Serialize};

use super::drive::Drive;
use super::ids::{DriverId, SupplyId};
use super::skip::is_default;
use super::trip::Trip;
use crate::units::Quantity;

/// Direction of a driver's setting, by the driver's own label.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Direction {
    /// P positive.
    Forward,
    /// M positive.
    Reverse,
    /// Throttle at zero: a PWM bridge stays in its idle state.
    Stopped,
    /// A DCC booster that is sending.
    On,
    /// Outputs at high-impedance.
    Off,
}

/// Direction and speed now on a throttle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Setting {
    /// Direction.
    pub direction: Direction,
    /// Throttle from 0 to 1; of no account when stopped, on or off.
    #[serde(default)]
    pub throttle: f64,
}

/// A driver: two half-bridges (or their like) between a supply and the rails, with outputs P and M.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Driver {
    /// Identity.
    pub id: DriverId,
    /// A printable name; empty for none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// The supply it draws from.
    pub supply: SupplyId,
    /// What it does over time.
    pub drive: Drive,
    /// On-resistance of a high switch, Ω.
    pub high_ohm: Quantity,
    /// On-resistance of a low switch, Ω.
    pub low_ohm: Quantity,
    /// Forward voltage of a body diode, V.
    pub diode_v: Quantity,
    /// Series resistance of a body diode, Ω.
    pub diode_ohm: Quantity,
    /// Continuous current rating, A.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rating_a: Option<Quantity>,
    /// Overcurrent trip.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trip: Option<Trip>,
    /// Lowest throttle at which anything moves, 0 to 1.
    #[serde(default, skip_serializing_if = "is_default")]
    pub lowest_throttle: f64,
    /// Voltage between its poles at which its controller wakes up, V.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wake_v: Option<Quantity>,
    /// Whether operators switch it off by itself while others stay on.
    #[serde(default, skip_serializing_if = "is_default")]
    pub separately_switched: bool,
    /// Setting now.
    pub setting: Setting,
    /// Free words of the user.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub notes: String,
}
