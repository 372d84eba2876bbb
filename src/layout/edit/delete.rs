//! Deletes things with everything that depends on them.

use std::collections::{BTreeMap, BTreeSet};

use super::change::{Change, not_there};
use super::value::Refused;
use crate::layout::model::{
    Coupled, Decision, Device, DeviceId, EntityId, JointId, Layout, Lineup, Special, TrackEnd,
    Train, Work, entity,
};

impl Change<'_> {
    pub(super) fn delete(&mut self, ids: Vec<EntityId>) -> Result<(), Refused> {
        let mut gone: BTreeSet<EntityId> = ids.into_iter().collect();
        if let Some(&missing) = gone.iter().find(|&&id| entity(self.layout, id).is_none()) {
            return Err(not_there(missing));
        }
        let layout = &*self.layout;
        runs_without(layout, &mut gone);
        drivers_without(layout, &mut gone);
        let specials = specials_without(layout, &mut gone);
        let devices = devices_without(layout, &mut gone);
        what_stands_on_runs(layout, &mut gone);
        let shortened = trains_without(layout, &gone);
        for train in shortened {
            if train.vehicles.is_empty() {
                gone.insert(train.id.into());
            } else {
                self.put(train);
            }
        }
        let lineups: Vec<Lineup> = (self.layout.lineups.values().cloned())
            .filter_map(|mut lineup| lineup.forget(|id| gone.contains(&id)).then_some(lineup))
            .filter(|lineup| !gone.contains(&lineup.id.into()))
            .collect();
        for lineup in lineups {
            self.put(lineup);
        }
        let decisions: Vec<Decision> = (self.layout.decisions.values())
            .filter(|decision| !gone.contains(&decision.id.into()))
            .filter(|decision| decision.lineup.is_some_and(|id| gone.contains(&id.into())))
            .map(|decision| Decision { lineup: None, ..decision.clone() })
            .collect();
        for decision in decisions {
            self.put(decision);
        }
        for id in gone {
            self.remove(id);
        }
        for special in specials {
            self.put(special);
        }
        for device in devices {
            self.put(device);
        }
        Ok(())
    }
}

/// Runs without one of their joints, and joints at which no run is left.
fn runs_without(layout: &Layout, gone: &mut BTreeSet<EntityId>) {
    let mut ends: BTreeSet<JointId> = BTreeSet::new();
    for run in layout.runs.values() {
        if gone.contains(&run.id.into())
            || gone.contains(&run.from.into())
            || gone.contains(&run.to.into())
        {
            gone.insert(run.id.into());
            ends.extend([run.from, run.to]);
        }
    }
    for run in layout.runs.values().filter(|run| !gone.contains(&run.id.into())) {
        ends.remove(&run.from);
        ends.remove(&run.to);
    }
    gone.extend(ends.into_iter().map(EntityId::from));
}

/// Drivers without their supply.
fn drivers_without(layout: &Layout, gone: &mut BTreeSet<EntityId>) {
    for driver in layout.drivers.values() {
        if gone.contains(&driver.supply.into()) {
            gone.insert(driver.id.into());
        }
    }
}

/// Bonds, cuts, labels and feeds without their run, and feeds without what they come from.
fn what_stands_on_runs(layout: &Layout, gone: &mut BTreeSet<EntityId>) {
    for bond in layout.bonds.values() {
        if gone.contains(&bond.from.run.into()) || gone.contains(&bond.to.run.into()) {
            gone.insert(bond.id.into());
        }
    }
    for cut in layout.cuts.values() {
        if gone.contains(&cut.run.into()) {
            gone.insert(cut.id.into());
        }
    }
    for label in layout.labels.values() {
        if gone.contains(&label.run.into()) {
            gone.insert(label.id.into());
        }
    }
    for feed in layout.feeds.values() {
        if gone.contains(&feed.run.into()) || gone.contains(&feed.driver.into()) {
            gone.insert(feed.id.into());
        }
    }
}

/// Trains that lose a vehicle, as they are without it.
fn trains_without(layout: &Layout, gone: &BTreeSet<EntityId>) -> Vec<Train> {
    let mut shortened: Vec<Train> = Vec::new();
    for train in layout.trains.values() {
        let stays = |coupled: &Coupled| !gone.contains(&coupled.vehicle.into());
        if gone.contains(&train.id.into()) || train.vehicles.iter().all(stays) {
            continue;
        }
        // Where a vehicle is taken out, what joined the pickups to it is gone too.
        let mut left = train.clone();
        for at in 1..left.vehicles.len() {
            left.vehicles[at - 1].joined &= stays(&left.vehicles[at]);
        }
        left.vehicles.retain(stays);
        shortened.push(left);
    }
    shortened
}

/// Special work that loses a road, or the rails that its contact takes polarity from; that which cannot be without
/// joins what is gone.
fn specials_without(layout: &Layout, gone: &mut BTreeSet<EntityId>) -> Vec<Special> {
    let mut changed = Vec::new();
    for special in layout.specials.values() {
        let lost = |end: &TrackEnd| gone.contains(&end.run.into());
        let mut new = special.clone();
        let whole = match &mut new.work {
            Work::Turntable { bridge, roads, .. } | Work::Traverser { bridge, roads } => {
                let per_road = special.work.positions() / (roads.len() as u32).max(1);
                let road = (special.position / per_road.max(1)) as usize;
                let before = roads.iter().take(road).filter(|end| !lost(end)).count() as u32;
                let stays = roads.get(road).is_some_and(|end| !lost(end));
                new.position =
                    if stays { before * per_road + special.position % per_road } else { 0 };
                roads.retain(|end| !lost(end));
                !roads.is_empty() && !gone.contains(&(*bridge).into())
            }
            work => !work.ends().iter().any(lost),
        };
        if new.contact.sources.iter().flatten().any(|spot| gone.contains(&spot.run.into())) {
            new.contact.sources.clear();
        }
        if !whole {
            gone.insert(special.id.into());
        } else if new != *special && !gone.contains(&special.id.into()) {
            changed.push(new);
        }
    }
    changed
}

/// Devices that lose a cab; those that are left without any join what is gone.
fn devices_without(layout: &Layout, gone: &mut BTreeSet<EntityId>) -> Vec<Device> {
    let mut devices: BTreeMap<DeviceId, Device> = layout.devices.clone();
    loop {
        let mut more = false;
        for device in devices.values_mut() {
            for origin in device.kind.sources() {
                if gone.contains(&origin.into()) && device.kind.without(origin) {
                    more |= gone.insert(device.id.into());
                }
            }
        }
        if !more {
            break;
        }
    }
    devices.retain(|id, device| {
        !gone.contains(&(*id).into()) && layout.devices.get(id).is_some_and(|old| old != device)
    });
    devices.into_values().collect()
}
