//! What a new supply, driver or vehicle starts from.
//!
//! Unless a comment names a source, every value here is common practice, no source. What a builder should measure is
//! given as assumed with a range, so that a verdict that rests on it says so. Identities are 0: adding gives fresh ones.
//! What a new drive starts from is in the file of its kind: see [`crate::drive`].

use super::drive::Drive;
use super::driver::{Direction, Driver, Setting};
use super::ids::{DriverId, SupplyId, TrainId, VehicleId};
use super::supply::{Limit, LimitKind, Supply};
use super::vehicle::{
    Axle, Coupled, Load, SpeedRange, Train, Vehicle, Wheel, default_contact_ohm, default_patch_mm,
    default_tread_mm,
};
use crate::drive::{self, SetWord};
use crate::units::Quantity;

pub use crate::drive::{dcc_booster, pwm_bridge, smooth_dc, split_half_bridge};

/// A new supply: 14 V, isolated, cannot sink.
pub fn supply() -> Supply {
    Supply {
        id: SupplyId(0),
        name: String::new(),
        open_v: Quantity::assumed(14.0, 13.5, 14.5),
        source_ohm: Quantity::assumed(0.1, 0.03, 0.3),
        limit: Some(Limit { amps: Quantity::assumed(5.0, 4.0, 6.0), kind: LimitKind::Constant }),
        bulk_f: Some(Quantity::assumed(0.001, 0.000_47, 0.002_2)),
        bulk_ohm: Some(Quantity::assumed(0.05, 0.02, 0.2)),
        can_sink: false,
        negative: None,
        bearable_v: None,
        split: false,
        powered: true,
        separately_switched: false,
        notes: String::new(),
    }
}

/// A new split supply: twice 14 V about a midpoint, isolated, cannot sink.
pub fn split_supply() -> Supply {
    Supply { split: true, ..supply() }
}

/// A new driver on a supply, with the trip and the setting that go with its kind of drive.
pub fn driver(supply: SupplyId, drive: Drive) -> Driver {
    let kind = drive::of(&drive);
    let can_be = |word| kind.settings().contains(&word);
    let setting = if can_be(SetWord::Forward) {
        Setting { direction: Direction::Forward, throttle: 0.5 }
    } else if can_be(SetWord::On) {
        Setting { direction: Direction::On, throttle: 0.0 }
    } else {
        Setting { direction: Direction::Off, throttle: 0.0 }
    };
    let trip = kind.trip();
    drop(kind);
    Driver {
        id: DriverId(0),
        name: String::new(),
        supply,
        drive,
        high_ohm: Quantity::assumed(0.15, 0.05, 0.4),
        low_ohm: Quantity::assumed(0.15, 0.05, 0.4),
        diode_v: Quantity::assumed(0.8, 0.6, 1.1),
        diode_ohm: Quantity::assumed(0.05, 0.02, 0.15),
        rating_a: None,
        trip,
        lowest_throttle: 0.1,
        wake_v: None,
        separately_switched: false,
        setting,
        notes: String::new(),
    }
}

fn vehicle(name: &str, length_mm: f64, axles: Vec<Axle>, load: Load, notes: &str) -> Vehicle {
    Vehicle {
        id: VehicleId(0),
        name: name.into(),
        length_mm,
        axles,
        load,
        contact_ohm: default_contact_ohm(),
        speed: SpeedRange::default(),
        patch_mm: default_patch_mm(),
        wiring_a: None,
        pickups_joined: true,
        tread_mm: default_tread_mm(),
        notes: notes.into(),
    }
}

fn axles(places_mm: &[f64], left: Wheel, right: Wheel) -> Vec<Axle> {
    places_mm.iter().map(|&at_mm| Axle { at_mm, left, right }).collect()
}

fn motor(ohm: Quantity, emf_v: Quantity) -> Load {
    Load::Motor { ohm, emf_v }
}

/// A railcar on two axles, pickups on both.
pub fn two_axle_railcar() -> Vehicle {
    vehicle(
        "Thistle railcar",
        150.0,
        axles(&[40.0, 110.0], Wheel::Pickup, Wheel::Pickup),
        motor(Quantity::assumed(25.0, 15.0, 40.0), Quantity::assumed(6.0, 3.0, 9.0)),
        "",
    )
}

/// A long diesel on two three-axle bogies, pickups on all six axles.
pub fn long_diesel() -> Vehicle {
    vehicle(
        "Heron diesel",
        240.0,
        axles(&[35.0, 57.0, 79.0, 161.0, 183.0, 205.0], Wheel::Pickup, Wheel::Pickup),
        motor(Quantity::assumed(12.0, 8.0, 20.0), Quantity::assumed(7.0, 3.0, 10.0)),
        "",
    )
}

/// A steam engine whose engine picks up from the right-hand rail and whose tender picks up from the left-hand one.
pub fn steam_engine() -> Vehicle {
    let mut wheels = axles(&[60.0, 82.0, 104.0], Wheel::Metal, Wheel::Pickup);
    wheels.extend(axles(&[150.0, 172.0, 194.0], Wheel::Pickup, Wheel::Metal));
    vehicle(
        "Marigold with tender",
        225.0,
        wheels,
        motor(Quantity::assumed(20.0, 12.0, 35.0), Quantity::assumed(6.0, 3.0, 9.0)),
        "The engine picks up from the right-hand rail, the tender from the left-hand rail.",
    )
}

/// A lit carriage on two two-axle bogies with pickups on all axles, joined through the carriage.
pub fn lit_carriage() -> Vehicle {
    vehicle(
        "Lantern carriage",
        280.0,
        axles(&[32.0, 61.0, 219.0, 248.0], Wheel::Pickup, Wheel::Pickup),
        Load::Resistor { ohm: Quantity::assumed(220.0, 100.0, 500.0) },
        "",
    )
}

/// A wagon whose two wheelsets are metal, each wheel insulated from the other.
pub fn wagon() -> Vehicle {
    vehicle(
        "Quarry wagon",
        110.0,
        axles(&[30.0, 80.0], Wheel::Metal, Wheel::Metal),
        Load::Nothing,
        "",
    )
}

/// A new train of the given vehicles, front to rear, none turned, no pickups joined across a coupler.
pub fn train(vehicles: &[VehicleId]) -> Train {
    let coupled = |&vehicle| Coupled { vehicle, turned: false, joined: false };
    Train {
        id: TrainId(0),
        name: String::new(),
        vehicles: vehicles.iter().map(coupled).collect(),
        notes: String::new(),
    }
}

/// The vehicles above.
pub fn vehicles() -> Vec<Vehicle> {
    vec![two_axle_railcar(), long_diesel(), steam_engine(), lit_carriage(), wagon()]
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::layout::{Edit, EntityId, Layout, applied};

    #[test]
    fn every_default_can_be_added_to_a_layout() {
        let mut layout = Layout::default();
        let mut add = |entity| applied(&mut layout, Edit::Add(entity)).unwrap().1[0];
        let EntityId::Supply(whole) = add(supply().into()) else { panic!("no supply") };
        let EntityId::Supply(split) = add(split_supply().into()) else { panic!("no supply") };
        let drives = drive::examples();
        let count = drives.len();
        for drive in drives {
            let half = drive::of(&drive).output().needs_midpoint();
            add(driver(if half { split } else { whole }, drive).into());
        }
        let mut all = Vec::new();
        for vehicle in vehicles() {
            let EntityId::Vehicle(id) = add(vehicle.into()) else { panic!("no vehicle") };
            all.push(id);
        }
        add(train(&all).into());
        assert_eq!((layout.drivers.len(), layout.vehicles.len()), (count, 5));
        assert_eq!(layout.trains.len(), 1);
    }
}
