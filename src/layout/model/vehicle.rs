//! Vehicles and trains.

use serde::{Deserialize, Serialize};

use super::ids::{TrainId, VehicleId};
use super::skip::{is_default, is_yes, yes};
use crate::units::Quantity;

/// What one wheel does electrically.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum Wheel {
    /// Metal, and wired to the vehicle's pickups of its side.
    #[default]
    Pickup,
    /// Metal, but insulated from everything else.
    Metal,
    /// Does not conduct.
    Insulated,
}

/// A wheelset.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Axle {
    /// Distance from the front coupler, mm.
    pub at_mm: f64,
    /// Wheel on the left, seen from the vehicle's rear towards its front.
    #[serde(default)]
    pub left: Wheel,
    /// Wheel on the right.
    #[serde(default)]
    pub right: Wheel,
}

/// What a vehicle draws between its left and its right pickups.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Load {
    /// Nothing.
    #[default]
    Nothing,
    /// A resistance, Ω (lamps).
    Resistor {
        /// Resistance, Ω.
        ohm: Quantity,
    },
    /// A motor: winding resistance and a back-EMF that opposes the driving voltage; `emf_v` is its magnitude.
    Motor {
        /// Winding resistance, Ω.
        ohm: Quantity,
        /// Back-EMF, V.
        emf_v: Quantity,
    },
    /// A bridge rectifier into a capacitor that holds a voltage (a decoder).
    Rectifier {
        /// Resistance in series, Ω.
        ohm: Quantity,
        /// Voltage of the capacitor plus two diode drops, V.
        volts: Quantity,
    },
}

/// Least and largest speed at which a vehicle passes gaps, mm/s.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SpeedRange {
    /// Least.
    pub from_mm_s: f64,
    /// Largest.
    pub to_mm_s: f64,
}

impl Default for SpeedRange {
    /// 30 to 400 mm/s: walking pace to main-line speed at 1:87 (common practice, no source).
    fn default() -> Self {
        Self { from_mm_s: 30.0, to_mm_s: 400.0 }
    }
}

/// A vehicle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Vehicle {
    /// Identity.
    pub id: VehicleId,
    /// A printable name; empty for none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// Length over couplers, mm.
    pub length_mm: f64,
    /// Wheelsets, front to rear.
    pub axles: Vec<Axle>,
    /// What it draws.
    #[serde(default)]
    pub load: Load,
    /// Contact resistance of one wheel on the rail, Ω: clean to dirty.
    #[serde(default = "default_contact_ohm")]
    pub contact_ohm: ContactRange,
    /// Speeds at which it passes gaps.
    #[serde(default)]
    pub speed: SpeedRange,
    /// Length of the contact patch of a wheel, mm.
    #[serde(default = "default_patch_mm")]
    pub patch_mm: f64,
    /// Current that its pickup wiring bears, A.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wiring_a: Option<Quantity>,
    /// Whether all pickups of one side are joined. Otherwise every wheelset feeds a load of its own, and the vehicle
    /// joins nothing that one wheel does not.
    #[serde(default = "yes", skip_serializing_if = "is_yes")]
    pub pickups_joined: bool,
    /// Width of a wheel's tread, mm.
    #[serde(default = "default_tread_mm")]
    pub tread_mm: f64,
    /// Free words of the user.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub notes: String,
}

/// Contact resistance per wheel varies as the train rolls: low for the peak, high for "does it trip at all".
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ContactRange {
    /// Least, Ω.
    pub low: f64,
    /// Largest, Ω.
    pub high: f64,
}

/// 0.02 to 0.5 Ω (common practice, no source).
pub fn default_contact_ohm() -> ContactRange {
    ContactRange { low: 0.02, high: 0.5 }
}

/// 0.5 mm (common practice, no source).
pub fn default_patch_mm() -> f64 {
    0.5
}

/// 2.8 mm: the wheels of 1:87 with a wide tread (common practice, no source).
pub fn default_tread_mm() -> f64 {
    2.8
}

/// A vehicle's place in a train.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Coupled {
    /// The vehicle. Several alike may stand for one description.
    pub vehicle: VehicleId,
    /// Whether its rear leads.
    #[serde(default, skip_serializing_if = "is_default")]
    pub turned: bool,
    /// Whether its pickups are joined, side by side, to those of the next vehicle across the coupler. Of no account at
    /// the rear of the train, and where the pickups of either vehicle are not joined among themselves.
    #[serde(default, skip_serializing_if = "is_default")]
    pub joined: bool,
}

/// Vehicles coupled in order. It runs at the speeds of its first vehicle that has a motor or a decoder, else of its
/// first vehicle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Train {
    /// Identity.
    pub id: TrainId,
    /// A printable name; empty for none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// Its vehicles, front to rear.
    pub vehicles: Vec<Coupled>,
    /// Free words of the user.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub notes: String,
}
