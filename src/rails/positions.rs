//! Selectors and the positions they stand in.

use std::collections::BTreeMap;
use std::fmt;

use crate::layout::{DeviceId, EntityId, Layout, Special, SpecialId};

/// Anything with positions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum SelectorId {
    /// The points (or the bridge) of special work.
    Points(SpecialId),
    /// The contact that feeds the frogs of special work.
    Contact(SpecialId),
    /// A device of a feed chain.
    Device(DeviceId),
}

impl SelectorId {
    /// What it belongs to.
    pub fn entity(self) -> EntityId {
        match self {
            SelectorId::Points(id) | SelectorId::Contact(id) => id.into(),
            SelectorId::Device(id) => id.into(),
        }
    }

    /// Its gang; empty for none. A contact on a lever of its own is in no gang.
    fn gang(self, layout: &Layout) -> &str {
        match self {
            SelectorId::Contact(id) if has_lever(layout, id) => "",
            SelectorId::Points(id) | SelectorId::Contact(id) => {
                layout.specials.get(&id).map_or("", |s| &s.gang)
            }
            SelectorId::Device(id) => layout.devices.get(&id).map_or("", |d| &d.gang),
        }
    }

    /// How many positions it has.
    pub fn positions(self, layout: &Layout) -> u32 {
        match self {
            SelectorId::Points(id) | SelectorId::Contact(id) => {
                layout.specials.get(&id).map_or(1, |s| s.work.positions())
            }
            SelectorId::Device(id) => layout.devices.get(&id).map_or(1, |d| d.kind.positions()),
        }
    }
}

impl fmt::Display for SelectorId {
    /// Its identity in reports: that of its entity, or for the contact of `w1` "w1.contact".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.entity().fmt(f)?;
        match self {
            SelectorId::Contact(_) => f.write_str(".contact"),
            SelectorId::Points(_) | SelectorId::Device(_) => Ok(()),
        }
    }
}

/// True if the contact of special work has a lever of its own.
fn has_lever(layout: &Layout, special: SpecialId) -> bool {
    layout.specials.get(&special).is_some_and(Special::has_contact_lever)
}

/// Positions of all selectors: as they stand now, but for some that are thrown.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Positions(BTreeMap<SelectorId, u32>);

impl Positions {
    /// Throws a selector, and with it its gang. Points take their contact with them, unless that has a lever of its own
    /// or is thrown afterwards.
    pub fn throw(&mut self, layout: &Layout, selector: SelectorId, position: u32) {
        let gang = selector.gang(layout);
        let mut set = |selector: SelectorId| {
            let contact = match selector {
                SelectorId::Points(id) if !has_lever(layout, id) => Some(SelectorId::Contact(id)),
                SelectorId::Points(_) | SelectorId::Contact(_) | SelectorId::Device(_) => None,
            };
            // What stands so already is not thrown: equal positions are equal values.
            for selector in std::iter::once(selector).chain(contact) {
                self.0.remove(&selector);
                if self.of(layout, selector) != position {
                    self.0.insert(selector, position);
                }
            }
        };
        set(selector);
        if gang.is_empty() || matches!(selector, SelectorId::Contact(_)) {
            return;
        }
        for special in layout.specials.values().filter(|s| s.gang == gang) {
            set(SelectorId::Points(special.id));
        }
        for device in layout.devices.values().filter(|d| d.gang == gang) {
            set(SelectorId::Device(device.id));
        }
    }

    /// The position of a selector.
    pub fn of(&self, layout: &Layout, selector: SelectorId) -> u32 {
        if let Some(&position) = self.0.get(&selector) {
            return position;
        }
        match selector {
            SelectorId::Points(id) => layout.specials.get(&id).map_or(0, |s| s.position),
            SelectorId::Contact(id) => layout.specials.get(&id).map_or(0, |s| s.contact_position()),
            SelectorId::Device(id) => layout.devices.get(&id).map_or(0, |d| d.position),
        }
    }

    /// Whether nothing is thrown.
    pub fn is_now(&self) -> bool {
        self.0.is_empty()
    }
}

/// The selector that represents a whole gang: the first one in it. A contact on a lever of its own represents itself.
pub fn leader(layout: &Layout, selector: SelectorId) -> SelectorId {
    let gang = selector.gang(layout);
    if gang.is_empty() {
        return match selector {
            SelectorId::Contact(id) if !has_lever(layout, id) => SelectorId::Points(id),
            other => other,
        };
    }
    let specials = layout.specials.values().filter(|s| s.gang == gang);
    let devices = layout.devices.values().filter(|d| d.gang == gang);
    specials
        .map(|s| SelectorId::Points(s.id))
        .chain(devices.map(|d| SelectorId::Device(d.id)))
        .next()
        .unwrap_or(selector)
}
