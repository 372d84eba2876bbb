//! What differs between two layouts, as edits that keep identities.

use std::collections::BTreeSet;

use super::change::whole_of;
use super::value::{Edit, Restore};
use crate::layout::model::{EntityId, Layout, entity};

/// Every entity of a layout, in the order of kinds and identities.
pub fn all_ids(layout: &Layout) -> BTreeSet<EntityId> {
    let mut ids: BTreeSet<EntityId> = BTreeSet::new();
    ids.extend(layout.joints.keys().map(|&id| EntityId::from(id)));
    ids.extend(layout.runs.keys().map(|&id| EntityId::from(id)));
    ids.extend(layout.cuts.keys().map(|&id| EntityId::from(id)));
    ids.extend(layout.labels.keys().map(|&id| EntityId::from(id)));
    ids.extend(layout.supplies.keys().map(|&id| EntityId::from(id)));
    ids.extend(layout.drivers.keys().map(|&id| EntityId::from(id)));
    ids.extend(layout.feeds.keys().map(|&id| EntityId::from(id)));
    ids.extend(layout.vehicles.keys().map(|&id| EntityId::from(id)));
    ids.extend(layout.specials.keys().map(|&id| EntityId::from(id)));
    ids.extend(layout.devices.keys().map(|&id| EntityId::from(id)));
    ids.extend(layout.bonds.keys().map(|&id| EntityId::from(id)));
    ids.extend(layout.trains.keys().map(|&id| EntityId::from(id)));
    ids.extend(layout.lineups.keys().map(|&id| EntityId::from(id)));
    ids.extend(layout.pictures.keys().map(|&id| EntityId::from(id)));
    ids.extend(layout.decisions.keys().map(|&id| EntityId::from(id)));
    ids
}

/// The entities that differ between two layouts.
pub fn differing(old: &Layout, new: &Layout) -> Vec<EntityId> {
    let ids = all_ids(old).union(&all_ids(new)).copied().collect::<Vec<_>>();
    ids.into_iter().filter(|&id| entity(old, id) != entity(new, id)).collect()
}

/// The edit that makes some entities what they are in another layout, and takes away those that it does not have.
pub fn made_like(ids: &[EntityId], other: &Layout) -> Edit {
    let mut restore = Restore { next_id: other.next_id, ..Restore::default() };
    for &id in ids {
        match entity(other, id) {
            Some(entity) => restore.put.push(entity),
            None => restore.remove.push(id),
        }
    }
    Edit::Restore(restore)
}

/// The edit that gives a layout the particulars of another as a whole; `None` if they are the same.
pub fn whole_like(old: &Layout, new: &Layout) -> Option<Edit> {
    let whole = whole_of(new);
    let same = whole_of(old) == whole;
    (!same).then(|| {
        Edit::Restore(Restore { whole: Some(whole), next_id: new.next_id, ..Restore::default() })
    })
}
