//! Things with an identity as values, of any kind.

use super::decision::Decision;
use super::device::Device;
use super::driver::Driver;
use super::feed::Feed;
use super::ids::{
    BondId, CutId, DecisionId, DeviceId, DriverId, EntityId, FeedId, JointId, LabelId, LineupId,
    PictureId, RunId, SpecialId, SupplyId, TrainId, VehicleId,
};
use super::layout::Layout;
use super::lineup::Lineup;
use super::picture::Picture;
use super::runs::{Bond, Cut, Joint, Label, Run};
use super::special::Special;
use super::supply::Supply;
use super::vehicle::{Train, Vehicle};

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
    Decision(Decision),
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
            Entity::Decision(e) => e.id.into(),
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
        EntityId::Decision(id) => layout.decisions.get(&id).cloned().map(Entity::Decision),
    }
}

pub(in crate::layout) fn put_raw(layout: &mut Layout, entity: Entity) {
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
        Entity::Decision(e) => drop(layout.decisions.insert(e.id, e)),
    }
}

pub(in crate::layout) fn remove_raw(layout: &mut Layout, id: EntityId) {
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
        EntityId::Decision(id) => drop(layout.decisions.remove(&id)),
    }
}

pub(in crate::layout) fn with_number(entity: Entity, number: u32) -> Entity {
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
        Entity::Decision(e) => Decision { id: DecisionId(number), ..e }.into(),
    }
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

into_entity!(Joint Run Cut Label Supply Driver Feed Vehicle Special Device Bond Train Lineup Picture Decision);
