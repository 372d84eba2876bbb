//! Wires that meet at a device with nothing behind it.
//!
//! A device that is off still joins whatever is fed from its terminals: two feeders of one selector meet at the selector.

use std::collections::{BTreeMap, BTreeSet};

use super::feeders::Feeders;
use super::ids::PlanNet;
use crate::drive;
use crate::layout::{Device, DeviceId, FeedId, Layout, Origin, Rail, RunId};

/// A leg of a feed that comes off a device with nothing behind it.
#[derive(Debug, Clone, PartialEq)]
pub struct LooseLeg {
    /// The net that it ends on.
    pub net: PlanNet,
    /// The feed.
    pub feed: FeedId,
    /// Devices between the one with nothing behind it and the feed.
    pub devices: Vec<DeviceId>,
    /// The run that it ends on, and how far along it, mm.
    pub at: (RunId, f64),
    /// The rail that it ends on.
    pub rail: Rail,
}

/// Legs that meet at one terminal, on at least two nets.
pub type LooseWires = Vec<LooseLeg>;

/// The wires that meet so. `net` gives the net of fixed metal; `exchanged` are the bridges that stand turned over.
pub(super) fn loose_wires(
    layout: &Layout,
    feeders: &Feeders,
    net: &dyn Fn(usize) -> PlanNet,
    position: &dyn Fn(&Device) -> u32,
    exchanged: &BTreeSet<RunId>,
) -> Vec<LooseWires> {
    let mut by_terminal: BTreeMap<(DeviceId, bool), LooseWires> = BTreeMap::new();
    for end in &feeders.ends {
        let Some(feed) = layout.feeds.get(&end.feed) else { continue };
        let rail = if end.is_p { feed.p } else { feed.m };
        let Some(rail) = rail else { continue };
        let Some(loose) = loose_end(layout, feed.driver, position) else { continue };
        let first = end.is_p ^ loose.exchanged ^ exchanged.contains(&feed.run);
        by_terminal.entry((loose.at, first)).or_default().push(LooseLeg {
            net: net(end.net),
            feed: feed.id,
            devices: loose.devices,
            at: (feed.run, feed.at_mm),
            rail,
        });
    }
    let joins = |legs: &LooseWires| legs.iter().any(|leg| leg.net != legs[0].net);
    by_terminal.into_values().filter(joins).collect()
}

struct LooseEnd {
    at: DeviceId,
    exchanged: bool,
    devices: Vec<DeviceId>,
}

/// The device at which a chain ends without a driver that feeds anything; `None` if there is one, or no device.
fn loose_end(
    layout: &Layout,
    origin: Origin,
    position: &dyn Fn(&Device) -> u32,
) -> Option<LooseEnd> {
    let (mut origin, mut exchanged) = (origin, false);
    let mut passed: Vec<(DeviceId, bool)> = Vec::new();
    while let Origin::Device(id) = origin {
        let device = layout.devices.get(&id)?;
        // A layout that loaded has no chain that bites its tail.
        if passed.len() > layout.devices.len() {
            return None;
        }
        passed.push((id, exchanged));
        let Some((from, swaps)) = device.kind.at(position(device)) else { break };
        exchanged ^= swaps;
        origin = from;
    }
    if let Origin::Driver(driver) = origin
        && layout.drivers.get(&driver).is_some_and(|driver| drive::of(&driver.drive).feeds())
    {
        return None;
    }
    let (at, exchanged) = passed.pop()?;
    Some(LooseEnd { at, exchanged, devices: passed.into_iter().map(|(id, _)| id).collect() })
}
