//! Edits as values.

use std::collections::BTreeSet;

use crate::layout::model::{
    Climate, DriverId, Entity, EntityId, FeedId, JointId, Layout, Made, Origin, Rail, Rails, RunId,
    Setting, Shape, SpecialId, SupplyId, Wire,
};
use crate::track::plane::Turn;
use crate::units::Quantity;

/// An end of a run that is being laid: a joint that is there, or a new one at a place on the plan (mm).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum End {
    /// Joins the run to an existing joint.
    At(JointId),
    /// Makes a new joint at `(x_mm, y_mm)`.
    New(f64, f64),
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
    /// Puts back exactly what was there: the inverse of any edit. Made by [`crate::layout::apply`] only.
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

pub(super) type Whole = (String, String, f64, f64, Quantity, Option<Climate>);

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
