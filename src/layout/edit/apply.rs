//! Applies edits.

use std::collections::{BTreeMap, BTreeSet};

use super::change::{Change, not_there, set_whole};
use super::value::{Edit, Refused, Restore};
use crate::layout::model::{
    Cut, CutId, Device, Driver, Entity, EntityId, Feed, FeedId, Label, LabelId, Layout, Run, RunId,
    Special, SpecialId, Supply, entity, with_number,
};
use crate::layout::validate;
use crate::layout::words::mm;
use crate::track::curve::END_TOLERANCE_MM;

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
    let mut change = Change {
        next_id: layout.next_id,
        layout,
        before: BTreeMap::new(),
        whole: None,
        made: Vec::new(),
    };
    let outcome = change.edit(edit).and_then(|()| {
        let touched = change.before.keys().copied().collect();
        match validate::faults_near(change.layout, &touched).first() {
            Some(fault) => {
                let new =
                    fault.entity.is_some_and(|id| matches!(change.before.get(&id), Some(None)));
                Err(Refused(fault.for_a_person(new)))
            }
            None => Ok(()),
        }
    });
    match outcome {
        Ok(()) => {
            let made = std::mem::take(&mut change.made);
            let mut made: Vec<EntityId> =
                made.into_iter().filter(|&id| entity(change.layout, id).is_some()).collect();
            let mut seen = BTreeSet::new();
            made.retain(|&id| seen.insert(id));
            Ok((Edit::Restore(change.inverse()), made))
        }
        Err(refused) => {
            change.roll_back();
            Err(refused)
        }
    }
}

/// Does one edit of several on a draft; whether the draft makes sense is looked at when it is whole. Returns what was made.
pub(crate) fn drafted(layout: &mut Layout, edit: Edit) -> Result<Vec<EntityId>, Refused> {
    let next_id = layout.next_id;
    let (before, whole, made) = (BTreeMap::new(), None, Vec::new());
    let mut change = Change { layout, before, whole, next_id, made };
    change.edit(edit)?;
    Ok(change.made)
}

impl Change<'_> {
    pub(super) fn edit(&mut self, edit: Edit) -> Result<(), Refused> {
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
            describe @ Edit::Describe { .. } => self.describe(describe),
            Edit::Batch(edits) => self.batch(edits)?,
            Edit::Restore(restore) => self.restore(restore),
        }
        Ok(())
    }

    /// Changes the particulars of the whole; those that are `None` stay.
    fn describe(&mut self, edit: Edit) {
        let Edit::Describe { name, notes, scale, gauge_mm, rail_ohm_per_m, climate } = edit else {
            return;
        };
        self.remember_whole();
        let layout = &mut *self.layout;
        layout.name = name.unwrap_or_else(|| std::mem::take(&mut layout.name));
        layout.notes = notes.unwrap_or_else(|| std::mem::take(&mut layout.notes));
        layout.scale = scale.unwrap_or(layout.scale);
        layout.gauge_mm = gauge_mm.unwrap_or(layout.gauge_mm);
        layout.rail_ohm_per_m = rail_ohm_per_m.unwrap_or(layout.rail_ohm_per_m);
        layout.climate = climate.unwrap_or(layout.climate);
    }

    /// Takes an edit back.
    fn restore(&mut self, restore: Restore) {
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

    /// Batches may stand in batches to any depth, so they are unfolded without recursion.
    pub(super) fn batch(&mut self, edits: Vec<Edit>) -> Result<(), Refused> {
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

    pub(super) fn name(&mut self, run: RunId, at_mm: f64, name: String) -> Result<(), Refused> {
        let there = self
            .layout
            .labels
            .values()
            .find(|l| l.run == run && (l.at_mm - at_mm).abs() <= END_TOLERANCE_MM)
            .map(|l| l.id);
        match (there, name.trim().is_empty()) {
            (Some(id), true) => self.remove(id.into()),
            (None, true) => {
                return Err(Refused(format!(
                    "There is no name at {} on run {run} to take away. Give a name, or choose the place of one.",
                    mm(at_mm)
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

    pub(super) fn replace(&mut self, new: Entity) -> Result<(), Refused> {
        if entity(self.layout, new.id()).is_none() {
            return Err(not_there(new.id()));
        }
        let touched: Vec<RunId> = match &new {
            Entity::Joint(joint) => self.runs_at(&BTreeSet::from([joint.id])),
            Entity::Run(run) => vec![run.id],
            _ => Vec::new(),
        };
        self.keeping_places(&touched, |change| change.put(new));
        Ok(())
    }

    pub(super) fn throw(&mut self, selector: EntityId, position: u32) -> Result<(), Refused> {
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

    pub(super) fn throw_contact(&mut self, id: SpecialId, position: u32) -> Result<(), Refused> {
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
}
