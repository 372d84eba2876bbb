//! Devices of the feed chain: what is between a driver and its feeders.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::ids::{DeviceId, DriverId, EntityId};
use super::skip::is_default;
use super::trip::TripKind;
use crate::units::Quantity;

/// Where current comes from: a driver, or a device behind it. In the file `"d1"` or `"x3"`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Origin {
    /// A driver.
    Driver(DriverId),
    /// A device.
    Device(DeviceId),
}

impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Origin::Driver(id) => id.fmt(f),
            Origin::Device(id) => id.fmt(f),
        }
    }
}

impl Serialize for Origin {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Origin {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        if let Ok(id) = DeviceId::from_str(&text) {
            return Ok(Origin::Device(id));
        }
        DriverId::from_str(&text).map(Origin::Driver).map_err(|mut error| {
            error.letter = DriverId::LETTER;
            serde::de::Error::custom(error)
        })
    }
}

impl From<DriverId> for Origin {
    fn from(id: DriverId) -> Self {
        Origin::Driver(id)
    }
}

impl From<DeviceId> for Origin {
    fn from(id: DeviceId) -> Self {
        Origin::Device(id)
    }
}

impl From<Origin> for EntityId {
    fn from(source: Origin) -> Self {
        match source {
            Origin::Driver(id) => id.into(),
            Origin::Device(id) => id.into(),
        }
    }
}

impl Origin {
    /// The driver, if it is one.
    pub fn driver(self) -> Option<DriverId> {
        match self {
            Origin::Driver(id) => Some(id),
            Origin::Device(_) => None,
        }
    }
}

/// What a device does.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum DeviceKind {
    /// Joins its output to one of several cabs. Position *k* is `cabs[k]`; `None` is off.
    CabSelector {
        /// What each position joins.
        cabs: Vec<Option<Origin>>,
    },
    /// Exchanges the two poles. Positions: 0 normal, 1 reversed, and 2 off if it has a centre.
    ReversingSwitch {
        /// What it is fed from.
        from: Origin,
        /// Whether it has an off position.
        #[serde(default, skip_serializing_if = "is_default")]
        centre_off: bool,
    },
    /// Exchanges the two poles by itself when it sees a fault. Positions: 0 normal, 1 reversed.
    AutoReverser {
        /// What it is fed from.
        from: Origin,
        /// Current beyond which it acts, A.
        amps: Quantity,
        /// How long the fault lasts before it has acted, s.
        acts_after_s: f64,
    },
    /// Opens at a fault.
    Breaker {
        /// What it is fed from.
        from: Origin,
        /// Current beyond which it acts, A.
        amps: Quantity,
        /// How it decides.
        trip: TripKind,
        /// Time until it tries again, s; without it, it stays open until someone resets it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        retry_s: Option<f64>,
    },
    /// Melts, or warms up, at a fault: a breaker that is thermal.
    Fuse {
        /// What it is fed from.
        from: Origin,
        /// Rated current, A.
        amps: Quantity,
        /// How it decides; thermal, as a rule.
        trip: TripKind,
    },
    /// A lamp or a resistor in one pole.
    Resistor {
        /// What it is fed from.
        from: Origin,
        /// Its resistance at the current of a fault, Ω.
        ohm: Quantity,
    },
    /// Two diodes back to back in one pole, as occupancy detectors have.
    DiodePair {
        /// What it is fed from.
        from: Origin,
        /// Forward voltage, V.
        volts: Quantity,
        /// Series resistance of a diode, Ω.
        ohm: Quantity,
    },
}

/// Something in the feed chain.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Device {
    /// Identity.
    pub id: DeviceId,
    /// A printable name; empty for none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// What it does.
    pub kind: DeviceKind,
    /// Resistance per pole, Ω.
    #[serde(default = "default_device_ohm")]
    pub ohm: Quantity,
    /// Position now, where it has several.
    #[serde(default, skip_serializing_if = "is_default")]
    pub position: u32,
    /// Selectors that name the same gang are thrown together, position for position; empty for none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub gang: String,
    /// Free words of the user.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub notes: String,
}

/// A switch contact and its two terminals, 10 to 50 mΩ (common practice, no source).
pub fn default_device_ohm() -> Quantity {
    Quantity::assumed(0.02, 0.01, 0.05)
}

impl DeviceKind {
    /// The kind in the trade's word.
    pub fn word(&self) -> &'static str {
        match self {
            DeviceKind::CabSelector { .. } => "cab selector",
            DeviceKind::ReversingSwitch { .. } => "reversing switch",
            DeviceKind::AutoReverser { .. } => "auto-reverser",
            DeviceKind::Breaker { .. } => "breaker",
            DeviceKind::Fuse { .. } => "fuse",
            DeviceKind::Resistor { .. } => "resistor",
            DeviceKind::DiodePair { .. } => "diode pair",
        }
    }

    /// How many positions it has.
    pub fn positions(&self) -> u32 {
        match self {
            DeviceKind::CabSelector { cabs } => cabs.len() as u32,
            DeviceKind::ReversingSwitch { centre_off, .. } => {
                if *centre_off {
                    3
                } else {
                    2
                }
            }
            DeviceKind::AutoReverser { .. } => 2,
            _ => 1,
        }
    }

    /// Everything it can be fed from, in the order of its positions.
    pub fn sources(&self) -> Vec<Origin> {
        match self {
            DeviceKind::CabSelector { cabs } => cabs.iter().flatten().copied().collect(),
            DeviceKind::ReversingSwitch { from, .. }
            | DeviceKind::AutoReverser { from, .. }
            | DeviceKind::Breaker { from, .. }
            | DeviceKind::Fuse { from, .. }
            | DeviceKind::Resistor { from, .. }
            | DeviceKind::DiodePair { from, .. } => vec![*from],
        }
    }

    /// What it can be fed from, to be changed.
    pub fn sources_mut(&mut self) -> Vec<&mut Origin> {
        match self {
            DeviceKind::CabSelector { cabs } => cabs.iter_mut().flatten().collect(),
            DeviceKind::ReversingSwitch { from, .. }
            | DeviceKind::AutoReverser { from, .. }
            | DeviceKind::Breaker { from, .. }
            | DeviceKind::Fuse { from, .. }
            | DeviceKind::Resistor { from, .. }
            | DeviceKind::DiodePair { from, .. } => vec![from],
        }
    }

    /// What a position joins its output to, and whether the poles are exchanged; `None` where it is off.
    pub fn at(&self, position: u32) -> Option<(Origin, bool)> {
        match self {
            DeviceKind::CabSelector { cabs } => {
                cabs.get(position as usize).copied().flatten().map(|source| (source, false))
            }
            DeviceKind::ReversingSwitch { from, .. } | DeviceKind::AutoReverser { from, .. } => {
                (position < 2).then_some((*from, position == 1))
            }
            DeviceKind::Breaker { from, .. }
            | DeviceKind::Fuse { from, .. }
            | DeviceKind::Resistor { from, .. }
            | DeviceKind::DiodePair { from, .. } => Some((*from, false)),
        }
    }

    /// Takes away a source that is gone: a cab becomes an off position. Returns whether the device is left without any.
    pub(in crate::layout) fn without(&mut self, gone: Origin) -> bool {
        match self {
            DeviceKind::CabSelector { cabs } => {
                for cab in cabs.iter_mut().filter(|cab| **cab == Some(gone)) {
                    *cab = None;
                }
                cabs.iter().all(Option::is_none)
            }
            kind => kind.sources().contains(&gone),
        }
    }
}
