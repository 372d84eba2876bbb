//! What rolls on a layout, worked out once for all its cuts.

use std::collections::BTreeSet;

use crate::layout::{self, Axle, Layout, Load, TrainId, Vehicle, VehicleId};
use crate::straddle::rake::{self, Rake};

/// A vehicle that stands in where a layout has none: six axles, pickups on all wheels (common practice, no source).
pub fn stand_in() -> Vehicle {
    let axle = |at_mm| Axle { at_mm, left: Default::default(), right: Default::default() };
    Vehicle {
        id: VehicleId(0),
        name: String::new(),
        length_mm: 210.0,
        axles: [25.0, 45.0, 65.0, 145.0, 165.0, 185.0].map(axle).to_vec(),
        load: Load::Nothing,
        contact_ohm: layout::default_contact_ohm(),
        speed: Default::default(),
        patch_mm: layout::default_patch_mm(),
        wiring_a: None,
        pickups_joined: true,
        tread_mm: layout::default_tread_mm(),
        notes: String::new(),
    }
}

/// What rolls on a layout, worked out once for all its cuts.
pub struct Stock {
    /// Vehicles; what stands in where the layout has none has no identity.
    pub(super) vehicles: Vec<(Option<VehicleId>, Vehicle)>,
    /// Trains as they are coupled.
    pub(super) trains: Vec<(TrainId, Rake)>,
    /// Vehicles whose pickups are joined to another's in some train: they never run without it.
    pub never_alone: BTreeSet<VehicleId>,
}

impl Stock {
    /// The stock of a layout.
    pub fn of(layout: &Layout) -> Stock {
        let mut vehicles: Vec<_> =
            layout.vehicles.values().map(|v| (Some(v.id), v.clone())).collect();
        if vehicles.is_empty() {
            vehicles.push((None, stand_in()));
        }
        let trains: Vec<(TrainId, Rake)> =
            layout.trains.values().map(|train| (train.id, rake::coupled(layout, train))).collect();
        let groups = trains.iter().flat_map(|(_, rake)| &rake.groups);
        let never_alone = groups
            .filter(|group| group.vehicles.len() > 1)
            .flat_map(|group| group.vehicles.iter().copied())
            .collect();
        Stock { vehicles, trains, never_alone }
    }

    pub(super) fn longest_vehicle_mm(&self) -> f64 {
        self.vehicles.iter().map(|(_, vehicle)| vehicle.length_mm).fold(0.0, f64::max)
    }

    pub(super) fn longest_train_mm(&self) -> f64 {
        self.trains.iter().map(|(_, rake)| rake.length_mm).fold(0.0, f64::max)
    }

    /// How far any of it reaches over a place, mm.
    pub fn reach_mm(&self) -> f64 {
        self.longest_vehicle_mm().max(self.longest_train_mm()) + 1.0
    }
}
