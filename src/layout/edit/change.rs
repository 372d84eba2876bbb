//! An edit under way: what it changes, and what it takes to put everything back.

use std::collections::BTreeMap;

use super::value::{End, Refused, Restore, Whole};
use crate::layout::model::{
    Entity, EntityId, Joiners, Joint, JointId, Layout, entity, put_raw, remove_raw,
};
use crate::layout::validate::limits::LARGEST_NUMBER;
use crate::layout::words::kind_word;

/// An edit under way: the layout and what it takes to put everything back.
pub(super) struct Change<'a> {
    pub(super) layout: &'a mut Layout,
    pub(super) before: BTreeMap<EntityId, Option<Entity>>,
    pub(super) whole: Option<Whole>,
    pub(super) next_id: u32,
    pub(super) made: Vec<EntityId>,
}

impl Change<'_> {
    pub(super) fn inverse(self) -> Restore {
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

    pub(super) fn roll_back(self) {
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

    pub(super) fn put(&mut self, new: impl Into<Entity>) {
        let new = new.into();
        let id = new.id();
        let there = entity(self.layout, id);
        if there.is_none() {
            self.made.push(id);
        }
        self.before.entry(id).or_insert(there);
        put_raw(self.layout, new);
    }

    pub(super) fn remove(&mut self, id: EntityId) {
        let there = entity(self.layout, id);
        self.before.entry(id).or_insert(there);
        remove_raw(self.layout, id);
    }

    pub(super) fn fresh(&mut self) -> Result<u32, Refused> {
        let number = self.layout.next_id;
        if number > LARGEST_NUMBER {
            return Err(Refused(
                "The layout has run out of numbers for new things. Save it, set next_id in the file to the largest \
                 number in use plus 1, and open it again."
                    .into(),
            ));
        }
        self.layout.next_id = number + 1;
        Ok(number)
    }

    pub(super) fn end(&mut self, end: End) -> Result<JointId, Refused> {
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

    pub(super) fn remember_whole(&mut self) {
        if self.whole.is_none() {
            self.whole = Some(whole_of(self.layout));
        }
    }
}

pub(super) fn whole_of(layout: &Layout) -> Whole {
    (
        layout.name.clone(),
        layout.notes.clone(),
        layout.scale,
        layout.gauge_mm,
        layout.rail_ohm_per_m,
        layout.climate,
    )
}

pub(super) fn set_whole(layout: &mut Layout, whole: Whole) {
    let (name, notes, scale, gauge_mm, rail_ohm_per_m, climate) = whole;
    (layout.name, layout.notes) = (name, notes);
    (layout.scale, layout.gauge_mm) = (scale, gauge_mm);
    (layout.rail_ohm_per_m, layout.climate) = (rail_ohm_per_m, climate);
}

pub(super) fn not_there(id: impl Into<EntityId>) -> Refused {
    let id = id.into();
    Refused(format!(
        "There is no {} {id} on this layout (any more). Choose one that is there.",
        kind_word(id)
    ))
}
