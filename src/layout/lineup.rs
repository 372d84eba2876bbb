//! Lineups: throttles, points and other selectors as they are set for one moment of a session, remembered under a name.

use serde::{Deserialize, Serialize};

use super::edit::{Edit, Refused, apply};
use super::ids::{DeviceId, DriverId, EntityId, LineupId, SpecialId};
use super::model::{Layout, Setting};
use super::special::Special;

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

impl Points {
    fn now(special: &Special) -> Self {
        let contact = special.has_contact_lever().then(|| special.contact_position());
        Self { special: special.id, position: special.position, contact }
    }
}

impl Lineup {
    /// Everything as it is set now, under a name.
    pub fn now(layout: &Layout, name: &str) -> Self {
        let specials = layout.specials.values().filter(|special| special.work.positions() > 1);
        let devices = layout.devices.values().filter(|device| device.kind.positions() > 1);
        Self {
            id: LineupId(0),
            name: name.to_owned(),
            throttles: (layout.drivers.values())
                .map(|driver| Throttle { driver: driver.id, setting: driver.setting })
                .collect(),
            points: specials.map(Points::now).collect(),
            devices: devices.map(|d| Switched { device: d.id, position: d.position }).collect(),
            notes: String::new(),
        }
    }

    /// Sets everything as it is listed, in one edit.
    pub fn set(&self, layout: &Layout) -> Edit {
        let throttles = self.throttles.iter().filter_map(|throttle| {
            let driver = layout.drivers.get(&throttle.driver)?;
            let Throttle { driver: id, setting } = throttle.clone();
            (driver.setting != setting).then_some(Edit::Set { driver: id, setting })
        });
        let throw = |selector: EntityId, position: u32, (now, positions): (u32, u32)| {
            (position < positions && position != now).then_some(Edit::Throw { selector, position })
        };
        let points = self.points.iter().filter_map(|at| {
            let special = layout.specials.get(&at.special)?;
            throw(at.special.into(), at.position, (special.position, special.work.positions()))
        });
        let contacts = self.points.iter().filter_map(|at| {
            let special = layout.specials.get(&at.special)?;
            let position = at.contact.filter(|position| *position < special.work.positions())?;
            (special.has_contact_lever() && position != special.contact_position())
                .then_some(Edit::ThrowContact { special: at.special, position })
        });
        let devices = self.devices.iter().filter_map(|at| {
            let device = layout.devices.get(&at.device)?;
            throw(at.device.into(), at.position, (device.position, device.kind.positions()))
        });
        Edit::Batch(throttles.chain(points).chain(contacts).chain(devices).collect())
    }

    /// A layout with everything set as it is listed.
    ///
    /// # Errors
    /// When a driver cannot be set like that (any more), such as a booster to a direction.
    pub fn applied(&self, layout: &Layout) -> Result<Layout, Refused> {
        let mut set = layout.clone();
        apply(&mut set, self.set(layout))?;
        Ok(set)
    }

    /// What it names.
    pub fn names(&self) -> impl Iterator<Item = EntityId> + '_ {
        let throttles = self.throttles.iter().map(|throttle| throttle.driver.into());
        let points = self.points.iter().map(|at| at.special.into());
        throttles.chain(points).chain(self.devices.iter().map(|at| at.device.into()))
    }

    /// Whether everything is set as it is listed.
    pub fn is_set(&self, layout: &Layout) -> bool {
        matches!(self.set(layout), Edit::Batch(edits) if edits.is_empty())
    }

    /// Leaves out what is gone. Returns whether anything was.
    pub(super) fn forget(&mut self, gone: impl Fn(EntityId) -> bool) -> bool {
        let before = self.names().count();
        self.throttles.retain(|throttle| !gone(throttle.driver.into()));
        self.points.retain(|at| !gone(at.special.into()));
        self.devices.retain(|at| !gone(at.device.into()));
        before != self.names().count()
    }
}
