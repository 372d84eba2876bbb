//! Validation of layouts: the rules that loading and editing share.
//!
//! A rule yields a [`Fault`] with the entity and the field at which it is, so that a fault of a file can be placed at
//! its line and that of an edit can be explained. Rules only look, and a fault of one entity keeps no other from being
//! looked at: the faults of a file are reported all at once.

mod about;
mod cuts;
mod decision;
mod device;
mod ends;
mod fault;
mod found;
mod frogs;
pub mod limits;
mod lineup;
mod near;
mod picture;
mod power;
mod rolling;
mod special;
mod track;
mod trip;
mod whole;

use std::collections::BTreeSet;

use super::model::{Entity, EntityId, Layout};
use about::About;
use found::Found;
use near::Near;

pub use fault::Fault;
pub(super) use whole::largest_number;

/// All faults of a layout: those of the whole first, then entity by entity.
pub fn faults(layout: &Layout) -> Vec<Fault> {
    faults_within(layout, None)
}

/// The faults of a layout that had none before the given entities were put, changed or removed.
///
/// Looks only at what they can have spoilt, so that an edit of a large layout costs little.
pub fn faults_near(layout: &Layout, touched: &BTreeSet<EntityId>) -> Vec<Fault> {
    faults_within(layout, Some(&Near::new(layout, touched)))
}

fn faults_within(layout: &Layout, near: Option<&Near>) -> Vec<Fault> {
    let looks = |id: EntityId| near.is_none_or(|near| near.entities.contains(&id));
    let mut found = Found::default();
    let about = About::new(layout, near.map(|near| &near.runs));
    whole::whole(layout, &mut found);
    let ends = ends::ends_at_joints(layout);
    track::joints_and_their_ends(layout, &ends, &mut found);
    for joint in layout.joints.values().filter(|e| looks(e.id.into())) {
        found.of(joint.id);
        found.number(joint.id);
        track::joint(joint, &mut found);
    }
    let runs = layout.runs.values().filter(|e| looks(e.id.into()));
    runs.for_each(|e| track::run(&about, e, &mut found));
    let cuts = layout.cuts.values().filter(|e| looks(e.id.into()));
    cuts.for_each(|e| track::cut(&about, e, &mut found));
    for label in layout.labels.values().filter(|e| looks(e.id.into())) {
        found.of(label.id);
        found.number(label.id);
        track::label(&about, label, &mut found);
    }
    let supplies = layout.supplies.values().filter(|e| looks(e.id.into()));
    supplies.for_each(|e| power::supply(e, &mut found));
    let drivers = layout.drivers.values().filter(|e| looks(e.id.into()));
    drivers.for_each(|e| power::driver(&about, e, &mut found));
    let feeds = layout.feeds.values().filter(|e| looks(e.id.into()));
    feeds.for_each(|e| power::feed(&about, e, &mut found));
    let vehicles = layout.vehicles.values().filter(|e| looks(e.id.into()));
    vehicles.for_each(|e| rolling::vehicle(e, &mut found));
    special::faults(&about, &ends, &looks, &mut found);
    let trains = layout.trains.values().filter(|e| looks(e.id.into()));
    trains.for_each(|e| rolling::train(layout, e, &mut found));
    let lineups = layout.lineups.values().filter(|e| looks(e.id.into()));
    lineups.for_each(|e| lineup::lineup(layout, e, &mut found));
    let pictures = layout.pictures.values().filter(|e| looks(e.id.into()));
    pictures.for_each(|e| picture::picture(e, &mut found));
    let decisions = layout.decisions.values().filter(|e| looks(e.id.into()));
    decisions.for_each(|e| decision::decision(layout, e, &mut found));
    cuts::at_one_place(&about, &ends, &mut found);
    found.faults
}

/// The faults of one entity that stands beside a layout, as if it were in it. For an entity whose identity is taken.
pub(super) fn faults_of(layout: &Layout, entity: &Entity) -> Vec<Fault> {
    let mut found = Found::default();
    let about = About::new(layout, None);
    match entity {
        Entity::Joint(e) => track::joint(e, &mut found),
        Entity::Run(e) => track::run(&about, e, &mut found),
        Entity::Cut(e) => track::cut(&about, e, &mut found),
        Entity::Label(e) => track::label(&about, e, &mut found),
        Entity::Supply(e) => power::supply(e, &mut found),
        Entity::Driver(e) => power::driver(&about, e, &mut found),
        Entity::Feed(e) => power::feed(&about, e, &mut found),
        Entity::Vehicle(e) => rolling::vehicle(e, &mut found),
        Entity::Special(_) | Entity::Device(_) | Entity::Bond(_) => {}
        Entity::Train(e) => rolling::train(layout, e, &mut found),
        Entity::Lineup(e) => lineup::lineup(layout, e, &mut found),
        Entity::Picture(e) => picture::picture(e, &mut found),
        Entity::Decision(e) => decision::decision(layout, e, &mut found),
    }
    found.faults
}
