//! Edits as values: the one way to change a layout.
//!
//! [`apply`] changes a layout and returns the edit that takes the change back, or says why it cannot be done and leaves
//! the layout as it was. The window, undo, cures and hypotheses all go through it.

mod carry;
mod join;

use std::collections::{BTreeMap, BTreeSet};

pub use carry::Turn;

use super::chain::{Device, Origin};
use super::geometry::{self, RunEnd};
use super::ids::{
    BondId, CutId, DeviceId, DriverId, EntityId, FeedId, JointId, LabelId, LineupId, PictureId,
    RunId, SpecialId, SupplyId, TrainId, VehicleId,
};
use super::lineup::Lineup;
use super::meaning;
use super::model::{
    Climate, Coupled, Cut, Driver, Feed, Joiners, Joint, Label, Layout, Made, Rail, Rails, Run,
    Setting, Shape, Supply, Train, Vehicle, Wire,
};
use super::picture::Picture;
use super::quantity::Quantity;
use super::special::{Bond, Special, Spot, TrackEnd, Work as SpecialWork};

/// An end of a run that is being laid: a joint that is there, or a new one at a place on the plan (mm).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum End {
    /// Joins the run to an existing joint.
    At(JointId),
    /// Makes a new joint at `(x_mm, y_mm)`.
    New(f64, f64),
}

/// An entity as a value.
#[derive(Debug, Clone, PartialEq)]
#[allow(missing_docs)]
pub enum Entity {
    Joint(Joint),
    Run(Run),
    Cut(Cut),
    Label(Label),
    Supply(Supply),
    Driver(Driver),
    Feed(Feed),
    Vehicle(Vehicle),
    Special(Special),
    Device(Device),
    Bond(Bond),
    Train(Train),
    Lineup(Lineup),
    Picture(Picture),
}

/// One change to a layout, in the trade's verbs.
#[derive(Debug, Clone, PartialEq)]
#[allow(missing_docs)]
pub enum Edit {
    /// Lays a run; new joints and the run get fresh identities.
    Lay { from: End, to: End, shape: Shape, length_mm: Option<f64> },
    /// Cuts rails. With an insulated joiner, `at_mm` is 0 or the run's length.
    Cut { run: RunId, at_mm: f64, rails: Rails, width_mm: f64, stagger_mm: f64, made: Made },
    /// Feeds the rails at a place from a driver.
    Feed {
        driver: Origin,
        run: RunId,
        at_mm: f64,
        p: Option<Rail>,
        m: Option<Rail>,
        wire: Option<Wire>,
        ohm: Option<Quantity>,
    },
    /// Names the block at a place; an empty name takes the label away. Replaces a label at the same run and distance.
    Name { run: RunId, at_mm: f64, name: String },
    /// Adds the entity under a fresh identity; the identity that it carries is ignored.
    Add(Entity),
    /// Replaces the entity of the same identity.
    Replace(Entity),
    /// Sets a driver's direction and throttle.
    Set { driver: DriverId, setting: Setting },
    /// Switches a supply on or off.
    Power { supply: SupplyId, on: bool },
    /// Throws a selector (special work or a device) and everything in its gang to a position.
    Throw { selector: EntityId, position: u32 },
    /// Throws the contact of a frog that stands on a lever of its own.
    ThrowContact { special: SpecialId, position: u32 },
    /// Exchanges the rails of a feed's P and M.
    Swap { feed: FeedId },
    /// Moves joints by `(dx, dy)` mm, and the control points of the runs between two moved joints with them.
    Move { joints: Vec<JointId>, dx_mm: f64, dy_mm: f64 },
    /// Turns or mirrors joints about a point, with the runs between two of them and what stands on those: mirrored, a
    /// rail that was the left one is the right one.
    Turn { joints: Vec<JointId>, turn: Turn },
    /// Splits a run in two at a distance; what stands on it is re-anchored.
    Split { run: RunId, at_mm: f64 },
    /// Makes one run of the two that meet at a joint, if they are one straight or one curve.
    Join { joint: JointId },
    /// Deletes entities and what depends on them (a run takes its cuts, feeds, labels and bonds, and the special work
    /// that it is a road of; a driver its feeds and what is fed from it alone; a supply its drivers; a joint that no run
    /// needs goes with its last run). A vehicle leaves its trains, what can be set its lineups; a train without a vehicle
    /// goes.
    Delete(Vec<EntityId>),
    /// Changes the particulars of the layout as a whole; `None` leaves a particular as it is.
    Describe {
        name: Option<String>,
        notes: Option<String>,
        scale: Option<f64>,
        gauge_mm: Option<f64>,
        rail_ohm_per_m: Option<Quantity>,
        climate: Option<Option<Climate>>,
    },
    /// Several edits as one, all or nothing.
    Batch(Vec<Edit>),
    /// Puts back exactly what was there: the inverse of any edit. Made by [`apply`] only.
    Restore(Restore),
}

/// What an inverse puts back.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Restore {
    pub(super) put: Vec<Entity>,
    pub(super) remove: Vec<EntityId>,
    pub(super) whole: Option<Whole>,
    pub(super) next_id: u32,
}

/// Why an edit cannot be done, in words for a person.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct Refused(pub String);

type Whole = (String, String, f64, f64, Quantity, Option<Climate>);

impl Restore {
    /// Whether it puts nothing back, because nothing was changed.
    pub(super) fn is_empty(&self, layout: &Layout) -> bool {
        self.put.is_empty()
            && self.remove.is_empty()
            && self.whole.is_none()
            && self.next_id == layout.next_id
    }

    /// One restore that has the effect of this one and then `older`.
    pub(super) fn then(self, older: Restore) -> Restore {
        let settled: BTreeSet<EntityId> =
            older.put.iter().map(Entity::id).chain(older.remove.iter().copied()).collect();
        let mut both = older;
        both.put.extend(self.put.into_iter().filter(|e| !settled.contains(&e.id())));
        both.remove.extend(self.remove.into_iter().filter(|id| !settled.contains(id)));
        both.whole = both.whole.or(self.whole);
        both
    }
}

impl Entity {
    /// The identity that the entity carries.
    pub fn id(&self) -> EntityId {
        match self {
            Entity::Joint(e) => e.id.into(),
            Entity::Run(e) => e.id.into(),
            Entity::Cut(e) => e.id.into(),
            Entity::Label(e) => e.id.into(),
            Entity::Supply(e) => e.id.into(),
            Entity::Driver(e) => e.id.into(),
            Entity::Feed(e) => e.id.into(),
            Entity::Vehicle(e) => e.id.into(),
            Entity::Special(e) => e.id.into(),
            Entity::Device(e) => e.id.into(),
            Entity::Bond(e) => e.id.into(),
            Entity::Train(e) => e.id.into(),
            Entity::Lineup(e) => e.id.into(),
            Entity::Picture(e) => e.id.into(),
        }
    }
}

/// The entity of an identity, if the layout has it.
pub fn entity(layout: &Layout, id: EntityId) -> Option<Entity> {
    match id {
        EntityId::Joint(id) => layout.joints.get(&id).cloned().map(Entity::Joint),
        EntityId::Run(id) => layout.runs.get(&id).cloned().map(Entity::Run),
        EntityId::Cut(id) => layout.cuts.get(&id).cloned().map(Entity::Cut),
        EntityId::Label(id) => layout.labels.get(&id).cloned().map(Entity::Label),
        EntityId::Supply(id) => layout.supplies.get(&id).cloned().map(Entity::Supply),
        EntityId::Driver(id) => layout.drivers.get(&id).cloned().map(Entity::Driver),
        EntityId::Feed(id) => layout.feeds.get(&id).cloned().map(Entity::Feed),
        EntityId::Vehicle(id) => layout.vehicles.get(&id).cloned().map(Entity::Vehicle),
        EntityId::Special(id) => layout.specials.get(&id).cloned().map(Entity::Special),
        EntityId::Device(id) => layout.devices.get(&id).cloned().map(Entity::Device),
        EntityId::Bond(id) => layout.bonds.get(&id).cloned().map(Entity::Bond),
        EntityId::Train(id) => layout.trains.get(&id).cloned().map(Entity::Train),
        EntityId::Lineup(id) => layout.lineups.get(&id).cloned().map(Entity::Lineup),
        EntityId::Picture(id) => layout.pictures.get(&id).cloned().map(Entity::Picture),
    }
}

fn put_raw(layout: &mut Layout, entity: Entity) {
    match entity {
        Entity::Joint(e) => drop(layout.joints.insert(e.id, e)),
        Entity::Run(e) => drop(layout.runs.insert(e.id, e)),
        Entity::Cut(e) => drop(layout.cuts.insert(e.id, e)),
        Entity::Label(e) => drop(layout.labels.insert(e.id, e)),
        Entity::Supply(e) => drop(layout.supplies.insert(e.id, e)),
        Entity::Driver(e) => drop(layout.drivers.insert(e.id, e)),
        Entity::Feed(e) => drop(layout.feeds.insert(e.id, e)),
        Entity::Vehicle(e) => drop(layout.vehicles.insert(e.id, e)),
        Entity::Special(e) => drop(layout.specials.insert(e.id, e)),
        Entity::Device(e) => drop(layout.devices.insert(e.id, e)),
        Entity::Bond(e) => drop(layout.bonds.insert(e.id, e)),
        Entity::Train(e) => drop(layout.trains.insert(e.id, e)),
        Entity::Lineup(e) => drop(layout.lineups.insert(e.id, e)),
        Entity::Picture(e) => drop(layout.pictures.insert(e.id, e)),
    }
}

fn remove_raw(layout: &mut Layout, id: EntityId) {
    match id {
        EntityId::Joint(id) => drop(layout.joints.remove(&id)),
        EntityId::Run(id) => drop(layout.runs.remove(&id)),
        EntityId::Cut(id) => drop(layout.cuts.remove(&id)),
        EntityId::Label(id) => drop(layout.labels.remove(&id)),
        EntityId::Supply(id) => drop(layout.supplies.remove(&id)),
        EntityId::Driver(id) => drop(layout.drivers.remove(&id)),
        EntityId::Feed(id) => drop(layout.feeds.remove(&id)),
        EntityId::Vehicle(id) => drop(layout.vehicles.remove(&id)),
        EntityId::Special(id) => drop(layout.specials.remove(&id)),
        EntityId::Device(id) => drop(layout.devices.remove(&id)),
        EntityId::Bond(id) => drop(layout.bonds.remove(&id)),
        EntityId::Train(id) => drop(layout.trains.remove(&id)),
        EntityId::Lineup(id) => drop(layout.lineups.remove(&id)),
        EntityId::Picture(id) => drop(layout.pictures.remove(&id)),
    }
}

fn whole_of(layout: &Layout) -> Whole {
    (
        layout.name.clone(),
        layout.notes.clone(),
        layout.scale,
        layout.gauge_mm,
        layout.rail_ohm_per_m,
        layout.climate,
    )
}

fn set_whole(layout: &mut Layout, whole: Whole) {
    let (name, notes, scale, gauge_mm, rail_ohm_per_m, climate) = whole;
    (layout.name, layout.notes) = (name, notes);
    (layout.scale, layout.gauge_mm) = (scale, gauge_mm);
    (layout.rail_ohm_per_m, layout.climate) = (rail_ohm_per_m, climate);
}

/// Applies an edit. On success returns its inverse; on refusal the layout is as it was.
///
/// The inverse also puts back the number that the next identity gets, so that doing and undoing gives an equal layout.
pub fn apply(layout: &mut Layout, edit: Edit) -> Result<Edit, Refused> {
    applied(layout, edit).map(|(inverse, _)| inverse)
}

/// Applies an edit like [`apply`], and also says which entities it made, in the order in which it made them.
///
/// Laying a run gives its new joints (start before end) and then the run; splitting gives the joint and the second run.
pub fn applied(layout: &mut Layout, edit: Edit) -> Result<(Edit, Vec<EntityId>), Refused> {
    let mut work = Work {
        next_id: layout.next_id,
        layout,
        before: BTreeMap::new(),
        whole: None,
        made: Vec::new(),
    };
    let outcome = work.edit(edit).and_then(|()| {
        let touched = work.before.keys().copied().collect();
        match meaning::faults_near(work.layout, &touched).first() {
            Some(fault) => {
                let new = fault.entity.is_some_and(|id| matches!(work.before.get(&id), Some(None)));
                Err(Refused(fault.for_a_person(new)))
            }
            None => Ok(()),
        }
    });
    match outcome {
        Ok(()) => {
            let made = std::mem::take(&mut work.made);
            let mut made: Vec<EntityId> =
                made.into_iter().filter(|&id| entity(work.layout, id).is_some()).collect();
            let mut seen = BTreeSet::new();
            made.retain(|&id| seen.insert(id));
            Ok((Edit::Restore(work.inverse()), made))
        }
        Err(refused) => {
            work.roll_back();
            Err(refused)
        }
    }
}

/// Does one edit of several on a draft; whether the draft makes sense is looked at when it is whole. Returns what was made.
pub(super) fn drafted(layout: &mut Layout, edit: Edit) -> Result<Vec<EntityId>, Refused> {
    let next_id = layout.next_id;
    let (before, whole, made) = (BTreeMap::new(), None, Vec::new());
    let mut work = Work { layout, before, whole, next_id, made };
    work.edit(edit)?;
    Ok(work.made)
}

/// An edit under way: the layout and what it takes to put everything back.
struct Work<'a> {
    layout: &'a mut Layout,
    before: BTreeMap<EntityId, Option<Entity>>,
    whole: Option<Whole>,
    next_id: u32,
    made: Vec<EntityId>,
}

impl Work<'_> {
    fn inverse(self) -> Restore {
        let mut restore = Restore { next_id: self.next_id, ..Restore::default() };
        for (id, before) in self.before {
            if entity(self.layout, id) == before {
                continue;
            }
            match before {
                Some(entity) => restore.put.push(entity),
                None => restore.remove.push(id),
            }
        }
        restore.whole = self.whole.filter(|whole| *whole != whole_of(self.layout));
        restore
    }

    fn roll_back(self) {
        for (id, before) in self.before {
            match before {
                Some(entity) => put_raw(self.layout, entity),
                None => remove_raw(self.layout, id),
            }
        }
        if let Some(whole) = self.whole {
            set_whole(self.layout, whole);
        }
        self.layout.next_id = self.next_id;
    }

    fn put(&mut self, new: impl Into<Entity>) {
        let new = new.into();
        let id = new.id();
        let there = entity(self.layout, id);
        if there.is_none() {
            self.made.push(id);
        }
        self.before.entry(id).or_insert(there);
        put_raw(self.layout, new);
    }

    fn remove(&mut self, id: EntityId) {
        let there = entity(self.layout, id);
        self.before.entry(id).or_insert(there);
        remove_raw(self.layout, id);
    }

    fn fresh(&mut self) -> Result<u32, Refused> {
        let number = self.layout.next_id;
        if number > meaning::LARGEST_NUMBER {
            return Err(Refused(
                "The layout has run out of numbers for new things. Save it, set next_id in the file to the largest \
                 number in use plus 1, and open it again."
                    .into(),
            ));
        }
        self.layout.next_id = number + 1;
        Ok(number)
    }

    fn edit(&mut self, edit: Edit) -> Result<(), Refused> {
        match edit {
            Edit::Lay { from, to, shape, length_mm } => {
                let from = self.end(from)?;
                let to = self.end(to)?;
                let id = RunId(self.fresh()?);
                self.put(Run { id, from, to, shape, length_mm });
            }
            Edit::Cut { run, at_mm, rails, width_mm, stagger_mm, made } => {
                let id = CutId(self.fresh()?);
                let (name, notes) = (String::new(), String::new());
                self.put(Cut {
                    id,
                    name,
                    run,
                    at_mm,
                    rails,
                    width_mm,
                    stagger_mm,
                    made,
                    cut_at_c: None,
                    notes,
                });
            }
            Edit::Feed { driver, run, at_mm, p, m, wire, ohm } => {
                let id = FeedId(self.fresh()?);
                self.put(Feed { id, driver, run, at_mm, p, m, wire, ohm });
            }
            Edit::Name { run, at_mm, name } => self.name(run, at_mm, name)?,
            Edit::Add(entity) => {
                let number = self.fresh()?;
                self.put(with_number(entity, number));
            }
            Edit::Replace(new) => self.replace(new)?,
            Edit::Set { driver, setting } => {
                let found = self.layout.drivers.get(&driver).cloned();
                self.put(Driver { setting, ..found.ok_or_else(|| not_there(driver))? });
            }
            Edit::Power { supply, on } => {
                let found = self.layout.supplies.get(&supply).cloned();
                self.put(Supply { powered: on, ..found.ok_or_else(|| not_there(supply))? });
            }
            Edit::Throw { selector, position } => self.throw(selector, position)?,
            Edit::ThrowContact { special, position } => self.throw_contact(special, position)?,
            Edit::Swap { feed } => {
                let found = self.layout.feeds.get(&feed).cloned();
                let found = found.ok_or_else(|| not_there(feed))?;
                self.put(Feed { p: found.m, m: found.p, ..found });
            }
            Edit::Move { joints, dx_mm, dy_mm } => {
                self.carry(joints, |(x, y)| (x + dx_mm, y + dy_mm), false)?;
            }
            Edit::Turn { joints, turn } => self.turn(joints, turn)?,
            Edit::Split { run, at_mm } => self.split(run, at_mm)?,
            Edit::Join { joint } => self.join(joint)?,
            Edit::Delete(ids) => self.delete(ids)?,
            Edit::Describe { name, notes, scale, gauge_mm, rail_ohm_per_m, climate } => {
                self.remember_whole();
                let layout = &mut *self.layout;
                layout.name = name.unwrap_or_else(|| std::mem::take(&mut layout.name));
                layout.notes = notes.unwrap_or_else(|| std::mem::take(&mut layout.notes));
                layout.scale = scale.unwrap_or(layout.scale);
                layout.gauge_mm = gauge_mm.unwrap_or(layout.gauge_mm);
                layout.rail_ohm_per_m = rail_ohm_per_m.unwrap_or(layout.rail_ohm_per_m);
                layout.climate = climate.unwrap_or(layout.climate);
            }
            Edit::Batch(edits) => self.batch(edits)?,
            Edit::Restore(restore) => {
                for id in restore.remove {
                    self.remove(id);
                }
                for entity in restore.put {
                    self.put(entity);
                }
                if let Some(whole) = restore.whole {
                    self.remember_whole();
                    set_whole(self.layout, whole);
                }
                self.layout.next_id = restore.next_id;
            }
        }
        Ok(())
    }

    /// Batches may stand in batches to any depth, so they are unfolded without recursion.
    fn batch(&mut self, edits: Vec<Edit>) -> Result<(), Refused> {
        let mut waiting = vec![edits.into_iter()];
        while let Some(edits) = waiting.last_mut() {
            match edits.next() {
                None => drop(waiting.pop()),
                Some(Edit::Batch(inner)) => waiting.push(inner.into_iter()),
                Some(edit) => self.edit(edit)?,
            }
        }
        Ok(())
    }

    fn remember_whole(&mut self) {
        if self.whole.is_none() {
            self.whole = Some(whole_of(self.layout));
        }
    }

    fn end(&mut self, end: End) -> Result<JointId, Refused> {
        match end {
            End::At(id) if self.layout.joints.contains_key(&id) => Ok(id),
            End::At(id) => Err(not_there(id)),
            End::New(x_mm, y_mm) => {
                let id = JointId(self.fresh()?);
                self.put(Joint { id, x_mm, y_mm, joiners: Joiners::default() });
                Ok(id)
            }
        }
    }

    fn name(&mut self, run: RunId, at_mm: f64, name: String) -> Result<(), Refused> {
        let there = self
            .layout
            .labels
            .values()
            .find(|l| l.run == run && (l.at_mm - at_mm).abs() <= geometry::END_TOLERANCE_MM)
            .map(|l| l.id);
        match (there, name.trim().is_empty()) {
            (Some(id), true) => self.remove(id.into()),
            (None, true) => {
                return Err(Refused(format!(
                    "There is no name at {} on run {run} to take away. Give a name, or choose the place of one.",
                    meaning::mm(at_mm)
                )));
            }
            (Some(id), false) => self.put(Label { id, name, run, at_mm }),
            (None, false) => {
                let id = LabelId(self.fresh()?);
                self.put(Label { id, name, run, at_mm });
            }
        }
        Ok(())
    }

    fn replace(&mut self, new: Entity) -> Result<(), Refused> {
        if entity(self.layout, new.id()).is_none() {
            return Err(not_there(new.id()));
        }
        let touched: Vec<RunId> = match &new {
            Entity::Joint(joint) => self.runs_at(&BTreeSet::from([joint.id])),
            Entity::Run(run) => vec![run.id],
            _ => Vec::new(),
        };
        self.keeping_places(&touched, |work| work.put(new));
        Ok(())
    }

    fn throw(&mut self, selector: EntityId, position: u32) -> Result<(), Refused> {
        let gang = match selector {
            EntityId::Special(id) => self.layout.specials.get(&id).map(|s| s.gang.clone()),
            EntityId::Device(id) => self.layout.devices.get(&id).map(|d| d.gang.clone()),
            _ => None,
        };
        let gang = gang.ok_or_else(|| not_there(selector))?;
        let thrown =
            |id: EntityId, other: &str| id == selector || (!gang.is_empty() && gang == other);
        let specials = self.layout.specials.values().filter(|s| thrown(s.id.into(), &s.gang));
        let mut moved: Vec<Entity> =
            specials.map(|s| Special { position, ..s.clone() }.into()).collect();
        let devices = self.layout.devices.values().filter(|d| thrown(d.id.into(), &d.gang));
        moved.extend(devices.map(|d| Entity::from(Device { position, ..d.clone() })));
        for entity in moved {
            self.put(entity);
        }
        Ok(())
    }

    fn throw_contact(&mut self, id: SpecialId, position: u32) -> Result<(), Refused> {
        let mut special = self.layout.specials.get(&id).cloned().ok_or_else(|| not_there(id))?;
        if !special.has_contact_lever() {
            return Err(Refused(format!(
                "The {} {id} has no contact on a lever of its own. Throw its points, or give the contact a lever.",
                special.work.word()
            )));
        }
        special.contact.position = Some(position);
        self.put(special);
        Ok(())
    }

    fn runs_at(&self, joints: &BTreeSet<JointId>) -> Vec<RunId> {
        self.layout
            .runs
            .values()
            .filter(|run| joints.contains(&run.from) || joints.contains(&run.to))
            .map(|run| run.id)
            .collect()
    }

    /// Makes a change to runs; what stands on a run whose length changed by it keeps its share of the length.
    fn keeping_places(&mut self, runs: &[RunId], change: impl FnOnce(&mut Self)) {
        let length = |work: &Self, id: &RunId| {
            work.layout.runs.get(id).map(|run| geometry::length_mm(work.layout, run))
        };
        let before: Vec<Option<f64>> = runs.iter().map(|id| length(self, id)).collect();
        change(self);
        let mut stretched: BTreeMap<RunId, (f64, f64)> = BTreeMap::new();
        for (id, before) in runs.iter().zip(before) {
            if let (Some(before), Some(now)) = (before, length(self, id))
                && before != now
            {
                stretched.insert(*id, (before, now));
            }
        }
        if stretched.is_empty() {
            return;
        }
        self.anchor_again(|run, at_mm| {
            let &(before, now) = stretched.get(&run)?;
            // Moving a plan about changes lengths in the last digit only; distances that people typed stay as typed.
            if (before - now).abs() <= 1e-9 * before && at_mm <= now {
                return None;
            }
            let at_mm = if at_mm >= before { now } else { (at_mm * (now / before)).min(now) };
            Some((run, at_mm))
        });
    }

    /// Gives cuts, feeds and labels new places where `place` gives one for their run and distance.
    fn anchor_again(&mut self, place: impl Fn(RunId, f64) -> Option<(RunId, f64)>) {
        let mut moved: Vec<Entity> = Vec::new();
        for cut in self.layout.cuts.values() {
            if let Some((run, at_mm)) = place(cut.run, cut.at_mm) {
                moved.push(Cut { run, at_mm, ..cut.clone() }.into());
            }
        }
        for feed in self.layout.feeds.values() {
            if let Some((run, at_mm)) = place(feed.run, feed.at_mm) {
                moved.push(Feed { run, at_mm, ..feed.clone() }.into());
            }
        }
        for label in self.layout.labels.values() {
            if let Some((run, at_mm)) = place(label.run, label.at_mm) {
                moved.push(Label { run, at_mm, ..label.clone() }.into());
            }
        }
        let spot = |spot: Spot| {
            place(spot.run, spot.at_mm).map_or(spot, |(run, at_mm)| Spot { run, at_mm, ..spot })
        };
        for bond in self.layout.bonds.values() {
            let new = Bond { from: spot(bond.from), to: spot(bond.to), ..bond.clone() };
            if new != *bond {
                moved.push(new.into());
            }
        }
        for special in self.layout.specials.values() {
            let mut new = special.clone();
            for source in new.contact.sources.iter_mut().flatten() {
                *source = spot(*source);
            }
            if new != *special {
                moved.push(new.into());
            }
        }
        for entity in moved {
            self.put(entity);
        }
    }

    fn split(&mut self, id: RunId, at_mm: f64) -> Result<(), Refused> {
        let run = self.layout.runs.get(&id).cloned().ok_or_else(|| not_there(id))?;
        let length = geometry::length_mm(self.layout, &run);
        if !(at_mm > 0.0 && at_mm < length) {
            return Err(Refused(format!(
                "Run {id} cannot be split at {}: it is {} long. Choose a place between its ends.",
                meaning::mm(at_mm),
                meaning::mm(length)
            )));
        }
        for cut in self.layout.cuts.values().filter(|cut| cut.run == id) {
            let other = cut.at_mm + cut.stagger_mm;
            if (cut.at_mm > at_mm) != (other > at_mm) {
                return Err(Refused(format!(
                    "Run {id} cannot be split at {}: the staggered cut {} reaches over that place. \
                     Split the run outside the cut.",
                    meaning::mm(at_mm),
                    cut.id
                )));
            }
        }
        for special in self.layout.specials.values() {
            let inside = special.work.bridge() == Some(id)
                || special.work.ends().into_iter().filter(|e| e.run == id).any(|e| match e.end {
                    RunEnd::Start => at_mm <= special.work.reach_mm(),
                    RunEnd::End => at_mm >= length - special.work.reach_mm(),
                });
            if inside {
                return Err(Refused(format!(
                    "Run {id} cannot be split at {}: that place is inside the {} {}. \
                     Split the run beyond it.",
                    meaning::mm(at_mm),
                    special.work.word(),
                    special.id
                )));
            }
        }
        let (first, second, (x_mm, y_mm)) = geometry::divided(self.layout, &run, at_mm);
        let joint = JointId(self.fresh()?);
        let rest = RunId(self.fresh()?);
        self.put(Joint { id: joint, x_mm, y_mm, joiners: Joiners::default() });
        let length_mm = run.length_mm.map(|_| at_mm);
        self.put(Run { to: joint, shape: first, length_mm, ..run.clone() });
        let length_mm = run.length_mm.map(|whole| whole - at_mm);
        self.put(Run { id: rest, from: joint, shape: second, length_mm, ..run });

        // Special work at the far end has the second part there now.
        let far = TrackEnd { run: id, end: RunEnd::End };
        self.give_ends(|end| (end == far).then_some(TrackEnd { run: rest, ..far }));

        let long = |work: &Self, id: RunId| {
            work.layout.runs.get(&id).map_or(0.0, |run| geometry::length_mm(work.layout, run))
        };
        // The drawn lengths of the parts may differ from the distances in the last digits.
        let (first_mm, rest_mm) = (long(self, id), long(self, rest));
        self.anchor_again(|run, place_mm| {
            if run != id {
                None
            } else if place_mm > at_mm {
                let along = if place_mm >= length { rest_mm } else { place_mm - at_mm };
                Some((rest, along.min(rest_mm)))
            } else {
                Some((id, if place_mm == at_mm { first_mm } else { place_mm.min(first_mm) }))
            }
        });
        Ok(())
    }

    fn delete(&mut self, ids: Vec<EntityId>) -> Result<(), Refused> {
        let mut gone: BTreeSet<EntityId> = ids.into_iter().collect();
        if let Some(&missing) = gone.iter().find(|&&id| entity(self.layout, id).is_none()) {
            return Err(not_there(missing));
        }
        let layout = &*self.layout;
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
        for driver in layout.drivers.values() {
            if gone.contains(&driver.supply.into()) {
                gone.insert(driver.id.into());
            }
        }
        let specials = specials_without(layout, &mut gone);
        let devices = devices_without(layout, &mut gone);
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

/// Special work that loses a road, or the rails that its contact takes polarity from; that which cannot be without
/// joins what is gone.
fn specials_without(layout: &Layout, gone: &mut BTreeSet<EntityId>) -> Vec<Special> {
    let mut changed = Vec::new();
    for special in layout.specials.values() {
        let lost = |end: &TrackEnd| gone.contains(&end.run.into());
        let mut new = special.clone();
        let whole = match &mut new.work {
            SpecialWork::Turntable { bridge, roads, .. }
            | SpecialWork::Traverser { bridge, roads } => {
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

fn with_number(entity: Entity, number: u32) -> Entity {
    match entity {
        Entity::Joint(e) => Joint { id: JointId(number), ..e }.into(),
        Entity::Run(e) => Run { id: RunId(number), ..e }.into(),
        Entity::Cut(e) => Cut { id: CutId(number), ..e }.into(),
        Entity::Label(e) => Label { id: LabelId(number), ..e }.into(),
        Entity::Supply(e) => Supply { id: SupplyId(number), ..e }.into(),
        Entity::Driver(e) => Driver { id: DriverId(number), ..e }.into(),
        Entity::Feed(e) => Feed { id: FeedId(number), ..e }.into(),
        Entity::Vehicle(e) => Vehicle { id: VehicleId(number), ..e }.into(),
        Entity::Special(e) => Special { id: SpecialId(number), ..e }.into(),
        Entity::Device(e) => Device { id: DeviceId(number), ..e }.into(),
        Entity::Bond(e) => Bond { id: BondId(number), ..e }.into(),
        Entity::Train(e) => Train { id: TrainId(number), ..e }.into(),
        Entity::Lineup(e) => Lineup { id: LineupId(number), ..e }.into(),
        Entity::Picture(e) => Picture { id: PictureId(number), ..e }.into(),
    }
}

fn not_there(id: impl Into<EntityId>) -> Refused {
    let id = id.into();
    Refused(format!(
        "There is no {} {id} on this layout (any more). Choose one that is there.",
        meaning::kind_word(id)
    ))
}

macro_rules! into_entity {
    ($($kind:ident)*) => {$(
        impl From<$kind> for Entity {
            fn from(entity: $kind) -> Entity {
                Entity::$kind(entity)
            }
        }
    )*};
}
into_entity!(Joint Run Cut Label Supply Driver Feed Vehicle Special Device Bond Train Lineup Picture);
