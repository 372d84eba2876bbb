//! Pickup groups of coupled vehicles, and how far apart they reach.

use crate::layout::{
    Axle, ContactRange, Layout, Load, Quantity, SpeedRange, Train, Vehicle, VehicleId,
};
use crate::straddle::contacts::{self, Facing};

/// Pickups that are joined: those of one vehicle, of several whose pickups are joined across the couplers, or of one
/// wheelset where a vehicle's pickups are not joined.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// The vehicles, front to rear; none for what stands in where a layout has no vehicle.
    pub vehicles: Vec<VehicleId>,
    /// Place of the foremost of them in the train, from 0.
    pub place: usize,
    /// Its wheelsets; distances from the front coupler of the whole.
    pub axles: Vec<Axle>,
    /// The least and the largest contact resistance of any of its wheels, Ω.
    pub contact_ohm: ContactRange,
    /// Loads of the vehicles, each between the group's left and right.
    pub loads: Vec<Load>,
    /// Least current that the pickup wiring of one of them bears, A.
    pub wiring_a: Option<Quantity>,
}

/// Vehicles coupled to each other, or one vehicle by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Rake {
    /// Length over couplers, mm.
    pub length_mm: f64,
    /// Pickup groups, front to rear.
    pub groups: Vec<Group>,
    /// Speeds at which it passes gaps.
    pub speed: SpeedRange,
}

/// The groups of one vehicle whose front coupler, as the train runs, is at `from_mm`.
fn groups_of(vehicle: &Vehicle, place: usize, turned: bool, from_mm: f64) -> Vec<Group> {
    let mut axles: Vec<Axle> = vehicle
        .axles
        .iter()
        .map(|axle| match turned {
            false => Axle { at_mm: from_mm + axle.at_mm, ..*axle },
            true => Axle {
                at_mm: from_mm + vehicle.length_mm - axle.at_mm,
                left: axle.right,
                right: axle.left,
            },
        })
        .collect();
    if turned {
        axles.reverse();
    }
    let group = |axles: Vec<Axle>| Group {
        vehicles: vec![vehicle.id],
        place,
        axles,
        contact_ohm: vehicle.contact_ohm,
        loads: Some(vehicle.load).filter(|load| *load != Load::Nothing).into_iter().collect(),
        wiring_a: vehicle.wiring_a,
    };
    if vehicle.pickups_joined {
        vec![group(axles)]
    } else {
        axles.into_iter().map(|axle| group(vec![axle])).collect()
    }
}

/// One vehicle by itself.
pub fn alone(vehicle: &Vehicle) -> Rake {
    Rake {
        length_mm: vehicle.length_mm,
        groups: groups_of(vehicle, 0, false, 0.0),
        speed: vehicle.speed,
    }
}

/// A train.
pub fn coupled(layout: &Layout, train: &Train) -> Rake {
    let mut rake = Rake { length_mm: 0.0, groups: Vec::new(), speed: SpeedRange::default() };
    let mut speed: Option<(bool, SpeedRange)> = None;
    // True if the last group continues across the coupler.
    let mut joins = false;
    for (place, here) in train.vehicles.iter().enumerate() {
        let Some(vehicle) = layout.vehicles.get(&here.vehicle) else { continue };
        let drives = matches!(vehicle.load, Load::Motor { .. } | Load::Rectifier { .. });
        if speed.is_none_or(|(driven, _)| drives && !driven) {
            speed = Some((drives, vehicle.speed));
        }
        let groups = groups_of(vehicle, place, here.turned, rake.length_mm);
        rake.length_mm += vehicle.length_mm;
        match rake.groups.last_mut().filter(|_| joins && vehicle.pickups_joined) {
            Some(last) => groups.into_iter().for_each(|more| last.take(more)),
            None => rake.groups.extend(groups),
        }
        joins = here.joined && vehicle.pickups_joined;
    }
    rake.speed = speed.map_or(rake.speed, |(_, speed)| speed);
    rake
}

impl Group {
    pub(super) fn take(&mut self, more: Group) {
        self.vehicles.extend(more.vehicles);
        self.axles.extend(more.axles);
        self.loads.extend(more.loads);
        self.contact_ohm.low = self.contact_ohm.low.min(more.contact_ohm.low);
        self.contact_ohm.high = self.contact_ohm.high.max(more.contact_ohm.high);
        let least = |a: Quantity, b: Quantity| if b.value < a.value { b } else { a };
        self.wiring_a = match (self.wiring_a, more.wiring_a) {
            (Some(a), Some(b)) => Some(least(a, b)),
            (a, b) => a.or(b),
        };
    }

    /// True if two groups differ only in where they are.
    pub(super) fn alike(&self, other: &Group) -> bool {
        self.loads == other.loads
            && self.contact_ohm == other.contact_ohm
            && self.wiring_a == other.wiring_a
    }
}

/// The farthest apart that two gaps can be for a rake to bridge both with its pickups at once, mm: from its first to its
/// last pickup that belongs to a group of two wheelsets or more. 0 if none does.
pub fn bridging_span_mm(rake: &Rake) -> f64 {
    let spans = rake.groups.iter().flat_map(|group| {
        contacts::pickups_mm(&group.axles, rake.length_mm, Facing::FrontAhead)
            .into_iter()
            .flatten()
            .filter(|(first, last)| first < last)
    });
    let (first, last) = spans.fold((f64::INFINITY, f64::NEG_INFINITY), |(first, last), (a, b)| {
        (first.min(a), last.max(b))
    });
    (last - first).max(0.0)
}
