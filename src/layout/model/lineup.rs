//! Lineups: throttles, points and other selectors as they are set for one moment of a session, remembered under a name.

use serde::{Deserialize, Serialize};

use super::driver::Setting;
use super::ids::{DeviceId, DriverId, EntityId, LineupId, SpecialId};

/// How one throttle is set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Throttle {
    /// The driver.
    pub driver: DriverId,
    /// Its direction and throttle.
    pub setting: Setting,
}

/// How one piece of special work stands.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Points {
    /// Special work with positions.
    pub special: SpecialId,
    /// Its position. One that it does not have (any more) leaves it as it is.
    pub position: u32,
    /// Position of its contact, where that has a lever of its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub contact: Option<u32>,
}

/// How one device of a feed chain stands.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Switched {
    /// The device.
    pub device: DeviceId,
    /// Its position. One that it does not have (any more) leaves it as it is.
    pub position: u32,
}

/// Throttles and selectors as they are set together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lineup {
    /// Identity.
    pub id: LineupId,
    /// A printable name; empty for none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// Throttles; those that are not listed are left as they are.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub throttles: Vec<Throttle>,
    /// Points, bridges, slips; those that are not listed are left as they are.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub points: Vec<Points>,
    /// Devices; those that are not listed are left as they are.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub devices: Vec<Switched>,
    /// Free words of the user.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub notes: String,
}

impl Lineup {
    /// What it names.
    pub fn names(&self) -> impl Iterator<Item = EntityId> + '_ {
        let throttles = self.throttles.iter().map(|throttle| throttle.driver.into());
        let points = self.points.iter().map(|at| at.special.into());
        throttles.chain(points).chain(self.devices.iter().map(|at| at.device.into()))
    }

    /// Leaves out what is gone. Returns whether anything was.
    pub(in crate::layout) fn forget(&mut self, gone: impl Fn(EntityId) -> bool) -> bool {
        let before = self.names().count();
        self.throttles.retain(|throttle| !gone(throttle.driver.into()));
        self.points.retain(|at| !gone(at.special.into()));
        self.devices.retain(|at| !gone(at.device.into()));
        before != self.names().count()
    }
}
