//! Lineups taken from a layout and set on it.

use super::apply::apply;
use super::value::{Edit, Refused};
use crate::layout::model::{
    EntityId, Layout, Lineup, LineupId, Points, Special, Switched, Throttle,
};

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

    /// Whether everything is set as it is listed.
    pub fn is_set(&self, layout: &Layout) -> bool {
        matches!(self.set(layout), Edit::Batch(edits) if edits.is_empty())
    }
}
