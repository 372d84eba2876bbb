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
    let mut pasting =
        Pasting { draft: layout.clone(), layout, piece, edits: Vec::new(), new: BTreeMap::new() };
    pasting.power()?;
    pasting.devices()?;
    let made = pasting.track((dx_mm, dy_mm))?;
    pasting.what_stands_on_runs()?;
    pasting.specials()?;
    Ok((Edit::Batch(pasting.edits), made))
}

/// A piece that is being pasted.
struct Pasting<'a> {
    layout: &'a Layout,
    piece: &'a Layout,
    /// The layout with what is pasted so far.
    draft: Layout,
    edits: Vec<Edit>,
    /// What stands for what in the piece.
    new: BTreeMap<EntityId, EntityId>,
}

impl Pasting<'_> {
    fn add(&mut self, entity: impl Into<Entity>) -> Result<(), Refused> {
        let entity = entity.into();
        let old = entity.id();
        let edit = Edit::Add(entity);
        let made = drafted(&mut self.draft, edit.clone())?;
        self.edits.push(edit);
        self.new.extend(made.first().map(|made| (old, *made)));
        Ok(())
    }

    fn joint(&self, id: JointId) -> JointId {
        match self.new.get(&id.into()) {
            Some(EntityId::Joint(id)) => *id,
            _ => id,
        }
    }

    fn run(&self, id: RunId) -> RunId {
        match self.new.get(&id.into()) {
            Some(EntityId::Run(id)) => *id,
            _ => id,
        }
    }

    /// Supplies and drivers that the layout does not have.
    fn power(&mut self) -> Result<(), Refused> {
        let (layout, piece) = (self.layout, self.piece);
        for supply in piece.supplies.values() {
            match layout.supplies.get(&supply.id).filter(|there| there.name == supply.name) {
                Some(there) => drop(self.new.insert(supply.id.into(), there.id.into())),
                None => self.add(supply.clone())?,
            }
        }
        for driver in piece.drivers.values() {
            match layout.drivers.get(&driver.id).filter(|there| there.name == driver.name) {
                Some(there) => drop(self.new.insert(driver.id.into(), there.id.into())),
                None => {
                    let mut driver = driver.clone();
                    if let Some(EntityId::Supply(supply)) = self.new.get(&driver.supply.into()) {
                        driver.supply = *supply;
                    }
                    self.add(driver)?;
                }
            }
        }
        Ok(())
    }

    /// Devices that the layout does not have, each after what it is fed from.
    fn devices(&mut self) -> Result<(), Refused> {
        let (layout, piece) = (self.layout, self.piece);
        let mut waiting: Vec<&Device> = piece.devices.values().collect();
        while !waiting.is_empty() {
            let ready = waiting.iter().position(|device| {
                let mut sources = device.kind.sources().into_iter();
                sources.all(|origin| self.new.contains_key(&origin.into()))
            });
            // Of a ring of devices none is ever ready; a layout that has one does not read.
            let Some(ready) = ready else { break };
            let device = waiting.remove(ready);
            match layout.devices.get(&device.id).filter(|there| there.name == device.name) {
                Some(there) => drop(self.new.insert(device.id.into(), there.id.into())),
                None => {
                    let mut device = device.clone();
                    for source in device.kind.sources_mut() {
                        *source = other_origin(&self.new, *source);
                    }
                    self.add(device)?;
                }
            }
        }
        Ok(())
    }

    /// Joints and runs, moved by so much (mm). Returns what they are on the layout.
    fn track(&mut self, (dx_mm, dy_mm): Point) -> Result<Vec<EntityId>, Refused> {
        let piece = self.piece;
        let mut made: Vec<EntityId> = Vec::new();
        let moved = |(x, y): Point| (x + dx_mm, y + dy_mm);
        for joint in piece.joints.values() {
            let (x_mm, y_mm) = moved((joint.x_mm, joint.y_mm));
            self.add(Joint { x_mm, y_mm, ..joint.clone() })?;
            made.extend(self.new.get(&joint.id.into()));
        }
        for run in piece.runs.values() {
            let shape = match run.shape {
                Shape::Cubic { c1, c2 } => Shape::Cubic { c1: moved(c1), c2: moved(c2) },
                shape => shape,
            };
            let (from, to) = (self.joint(run.from), self.joint(run.to));
            self.add(Run { from, to, shape, ..run.clone() })?;
            made.extend(self.new.get(&run.id.into()));
        }
        Ok(made)
    }

    /// Cuts, feeds and bonds.
    fn what_stands_on_runs(&mut self) -> Result<(), Refused> {
        let piece = self.piece;
        for cut in piece.cuts.values() {
            self.add(Cut { run: self.run(cut.run), ..cut.clone() })?;
        }
        for feed in piece.feeds.values() {
            let driver = other_origin(&self.new, feed.driver);
            self.add(Feed { run: self.run(feed.run), driver, ..feed.clone() })?;
        }
        for bond in piece.bonds.values() {
            let mut bond = bond.clone();
            bond.from.run = self.run(bond.from.run);
            bond.to.run = self.run(bond.to.run);
            self.add(bond)?;
        }
        Ok(())
    }

    /// Special work. A copy is not thrown by the lever of what it was copied from.
    fn specials(&mut self) -> Result<(), Refused> {
        let (layout, piece) = (self.layout, self.piece);
        let taken = |name: &str| {
            layout.specials.values().any(|s| s.gang == name)
                || layout.devices.values().any(|d| d.gang == name)
        };
        let fresh = |gang: &str| {
            (2..).map(|n| format!("{gang} {n}")).find(|name| !taken(name)).unwrap_or_default()
        };
        let mut gangs: BTreeMap<String, String> = BTreeMap::new();
        for special in piece.specials.values() {
            let mut special = special.clone();
            if !special.gang.is_empty() {
                let new = gangs.entry(special.gang.clone());
                special.gang = new.or_insert_with_key(|gang| fresh(gang)).clone();
            }
            for run in special.work.runs_mut() {
                *run = self.run(*run);
            }
            for spot in special.contact.sources.iter_mut().flatten() {
                spot.run = self.run(spot.run);
            }
            self.add(special)?;
        }
        Ok(())
    }
}

fn other_origin(new: &BTreeMap<EntityId, EntityId>, origin: Origin) -> Origin {
    match new.get(&origin.into()) {
        Some(EntityId::Driver(id)) => Origin::Driver(*id),
        Some(EntityId::Device(id)) => Origin::Device(*id),
        _ => origin,
    }
}
