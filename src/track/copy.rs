//! Pieces of a layout, copied and pasted.

use std::collections::{BTreeMap, BTreeSet};

use super::bulk::joints_of;
use crate::layout::edit::{Edit, Refused, drafted};
use crate::layout::model::{
    Cut, Device, Entity, EntityId, Feed, Joint, JointId, Layout, Origin, Run, RunId, Shape, Special,
};
use crate::units::Point;

/// A piece of a layout as a layout of its own: the runs that are chosen or whose both joints are, with everything that
/// stands on them, the special work all of whose roads are among them, and what feeds them. Names that the user gave to
/// cuts, blocks and special work stay behind: a copy of "Platform 1" is another place.
pub fn piece(layout: &Layout, ids: &[EntityId]) -> Layout {
    let chosen: BTreeSet<EntityId> = ids.iter().copied().collect();
    let joints: BTreeSet<JointId> = joints_of(layout, ids).into_iter().collect();
    let of_special = |run: &Run| {
        layout.specials.values().any(|special| {
            chosen.contains(&special.id.into())
                && (special.work.bridge() == Some(run.id)
                    || special.work.ends().iter().any(|end| end.run == run.id))
        })
    };
    let mut piece = Layout {
        name: String::new(),
        notes: String::new(),
        next_id: layout.next_id,
        scale: layout.scale,
        gauge_mm: layout.gauge_mm,
        rail_ohm_per_m: layout.rail_ohm_per_m,
        ..Layout::default()
    };
    for run in layout.runs.values() {
        let both = joints.contains(&run.from) && joints.contains(&run.to);
        if chosen.contains(&run.id.into()) || both || of_special(run) {
            piece.runs.insert(run.id, run.clone());
            for joint in [run.from, run.to].iter().filter_map(|id| layout.joints.get(id)) {
                piece.joints.insert(joint.id, joint.clone());
            }
        }
    }
    let there = |run: &RunId| piece.runs.contains_key(run);
    let cuts = layout.cuts.values().filter(|cut| there(&cut.run));
    piece.cuts = cuts.map(|cut| (cut.id, Cut { name: String::new(), ..cut.clone() })).collect();
    let feeds = layout.feeds.values().filter(|feed| there(&feed.run));
    piece.feeds = feeds.map(|feed| (feed.id, feed.clone())).collect();
    let bonds = layout.bonds.values().filter(|b| there(&b.from.run) && there(&b.to.run));
    piece.bonds = bonds.map(|bond| (bond.id, bond.clone())).collect();
    for special in layout.specials.values() {
        let bridge = special.work.bridge();
        let whole = special.work.ends().iter().all(|end| there(&end.run))
            && bridge.is_none_or(|run| there(&run));
        if whole {
            let mut special = Special { name: String::new(), ..special.clone() };
            if special.contact.sources.iter().flatten().any(|spot| !there(&spot.run)) {
                special.contact.sources.clear();
            }
            piece.specials.insert(special.id, special);
        }
    }
    let mut origins: Vec<Origin> = piece.feeds.values().map(|feed| feed.driver).collect();
    while let Some(origin) = origins.pop() {
        match origin {
            Origin::Driver(id) => {
                if let Some(driver) = layout.drivers.get(&id) {
                    piece.drivers.insert(id, driver.clone());
                    let supply = layout.supplies.get(&driver.supply).cloned();
                    piece.supplies.extend(supply.map(|supply| (supply.id, supply)));
                }
            }
            Origin::Device(id) if !piece.devices.contains_key(&id) => {
                if let Some(device) = layout.devices.get(&id) {
                    origins.extend(device.kind.sources());
                    piece.devices.insert(id, device.clone());
                }
            }
            Origin::Device(_) => {}
        }
    }
    piece
}

/// Pastes a piece, moved by so much (mm). Drivers, supplies and devices that the layout has under the same identity and
/// name are taken for those of the piece; others come with it. What is fed by those stays fed by them. Returns the edit,
/// and the joints and runs that it makes.
///
/// # Errors
/// When the layout has run out of numbers.
pub fn paste(
    layout: &Layout,
    piece: &Layout,
    (dx_mm, dy_mm): Point,
) -> Result<(Edit, Vec<EntityId>), Refused> {
    let mut draft = layout.clone();
    let mut edits: Vec<Edit> = Vec::new();
    let mut new: BTreeMap<EntityId, EntityId> = BTreeMap::new();
    let mut add = |entity: Entity, new: &mut BTreeMap<EntityId, EntityId>| {
        let old = entity.id();
        let edit = Edit::Add(entity);
        let made = drafted(&mut draft, edit.clone())?;
        edits.push(edit);
        new.extend(made.first().map(|made| (old, *made)));
        Ok::<(), Refused>(())
    };
    for supply in piece.supplies.values() {
        match layout.supplies.get(&supply.id).filter(|there| there.name == supply.name) {
            Some(there) => drop(new.insert(supply.id.into(), there.id.into())),
            None => add(supply.clone().into(), &mut new)?,
        }
    }
    for driver in piece.drivers.values() {
        match layout.drivers.get(&driver.id).filter(|there| there.name == driver.name) {
            Some(there) => drop(new.insert(driver.id.into(), there.id.into())),
            None => {
                let mut driver = driver.clone();
                if let Some(EntityId::Supply(supply)) = new.get(&driver.supply.into()) {
                    driver.supply = *supply;
                }
                add(driver.into(), &mut new)?;
            }
        }
    }
    // A device comes after what it is fed from.
    let mut waiting: Vec<&Device> = piece.devices.values().collect();
    while !waiting.is_empty() {
        let ready = waiting.iter().position(|device| {
            device.kind.sources().into_iter().all(|origin| new.contains_key(&origin.into()))
        });
        // Of a ring of devices none is ever ready; a layout that has one does not read.
        let Some(ready) = ready else { break };
        let device = waiting.remove(ready);
        match layout.devices.get(&device.id).filter(|there| there.name == device.name) {
            Some(there) => drop(new.insert(device.id.into(), there.id.into())),
            None => {
                let mut device = device.clone();
                for source in device.kind.sources_mut() {
                    *source = other_origin(&new, *source);
                }
                add(device.into(), &mut new)?;
            }
        }
    }
    let mut made: Vec<EntityId> = Vec::new();
    for joint in piece.joints.values() {
        let (x_mm, y_mm) = (joint.x_mm + dx_mm, joint.y_mm + dy_mm);
        add(Joint { x_mm, y_mm, ..joint.clone() }.into(), &mut new)?;
        made.extend(new.get(&joint.id.into()));
    }
    let joint = |id: JointId, new: &BTreeMap<EntityId, EntityId>| match new.get(&id.into()) {
        Some(EntityId::Joint(id)) => *id,
        _ => id,
    };
    for run in piece.runs.values() {
        let shape = match run.shape {
            Shape::Cubic { c1, c2 } => {
                Shape::Cubic { c1: (c1.0 + dx_mm, c1.1 + dy_mm), c2: (c2.0 + dx_mm, c2.1 + dy_mm) }
            }
            shape => shape,
        };
        let (from, to) = (joint(run.from, &new), joint(run.to, &new));
        add(Run { from, to, shape, ..run.clone() }.into(), &mut new)?;
        made.extend(new.get(&run.id.into()));
    }
    let run_of = |id: RunId, new: &BTreeMap<EntityId, EntityId>| match new.get(&id.into()) {
        Some(EntityId::Run(id)) => *id,
        _ => id,
    };
    for cut in piece.cuts.values() {
        add(Cut { run: run_of(cut.run, &new), ..cut.clone() }.into(), &mut new)?;
    }
    for feed in piece.feeds.values() {
        let driver = other_origin(&new, feed.driver);
        let feed = Feed { run: run_of(feed.run, &new), driver, ..feed.clone() };
        add(feed.into(), &mut new)?;
    }
    for bond in piece.bonds.values() {
        let mut bond = bond.clone();
        bond.from.run = run_of(bond.from.run, &new);
        bond.to.run = run_of(bond.to.run, &new);
        add(bond.into(), &mut new)?;
    }
    let mut gangs: BTreeMap<String, String> = BTreeMap::new();
    for special in piece.specials.values() {
        let mut special = special.clone();
        if !special.gang.is_empty() {
            // A copy is not thrown by the lever of what it was copied from.
            let taken = |name: &str| {
                layout.specials.values().any(|s| s.gang == name)
                    || layout.devices.values().any(|d| d.gang == name)
            };
            let fresh = |gang: &str| {
                (2..).map(|n| format!("{gang} {n}")).find(|name| !taken(name)).unwrap_or_default()
            };
            let new = gangs.entry(special.gang.clone());
            special.gang = new.or_insert_with_key(|gang| fresh(gang)).clone();
        }
        for run in special.work.runs_mut() {
            *run = run_of(*run, &new);
        }
        for spot in special.contact.sources.iter_mut().flatten() {
            spot.run = run_of(spot.run, &new);
        }
        add(special.into(), &mut new)?;
    }
    Ok((Edit::Batch(edits), made))
}

fn other_origin(new: &BTreeMap<EntityId, EntityId>, origin: Origin) -> Origin {
    match new.get(&origin.into()) {
        Some(EntityId::Driver(id)) => Origin::Driver(*id),
        Some(EntityId::Device(id)) => Origin::Device(*id),
        _ => origin,
    }
}
