//! Random vehicles and trains.

use gapwright::layout::*;

use super::dice::Dice;
use super::track::Ground;

fn q(value: f64) -> Quantity {
    Quantity::given(value)
}

fn axles(places_mm: &[f64], left: Wheel, right: Wheel) -> Vec<Axle> {
    places_mm.iter().map(|&at_mm| Axle { at_mm, left, right }).collect()
}

fn vehicle(id: VehicleId, length_mm: f64, axles: Vec<Axle>, load: Load) -> Vehicle {
    Vehicle {
        id,
        name: format!("Vehicle {}", id.0),
        length_mm,
        axles,
        load,
        contact_ohm: default_contact_ohm(),
        speed: SpeedRange::default(),
        patch_mm: default_patch_mm(),
        wiring_a: None,
        pickups_joined: true,
        tread_mm: default_tread_mm(),
        notes: String::new(),
    }
}

fn railcar(dice: &mut Dice, id: VehicleId) -> Vehicle {
    let between = *dice.pick(&[40.0, 70.0]);
    let axles = axles(&[20.0, 20.0 + between], Wheel::Pickup, Wheel::Pickup);
    vehicle(id, 40.0 + between, axles, Load::Motor { ohm: q(20.0), emf_v: q(5.0) })
}

fn long_engine(dice: &mut Dice, id: VehicleId) -> Vehicle {
    let places = [25.0, 45.0, 65.0, 145.0, 165.0, 185.0];
    let load = if dice.percent(60) {
        Load::Motor { ohm: q(12.0), emf_v: q(5.0) }
    } else {
        Load::Rectifier { ohm: q(5.0), volts: q(13.0) }
    };
    vehicle(id, 210.0, axles(&places, Wheel::Pickup, Wheel::Pickup), load)
}

/// Six axles with pickups on all wheels, and no load.
pub fn long_diesel(id: VehicleId) -> Vehicle {
    let places = [25.0, 45.0, 65.0, 145.0, 165.0, 185.0];
    vehicle(id, 210.0, axles(&places, Wheel::Pickup, Wheel::Pickup), Load::Nothing)
}

/// An engine that picks up from one rail, its tender from the other.
fn split_pickup(dice: &mut Dice, id: VehicleId) -> Vehicle {
    let plain = *dice.pick(&[Wheel::Metal, Wheel::Insulated]);
    let mut all = axles(&[50.0, 72.0], plain, Wheel::Pickup);
    all.extend(axles(&[140.0, 162.0], Wheel::Pickup, plain));
    vehicle(id, 200.0, all, Load::Motor { ohm: q(20.0), emf_v: q(4.0) })
}

fn coach(dice: &mut Dice, id: VehicleId) -> Vehicle {
    let wheel = *dice.pick(&[Wheel::Pickup, Wheel::Metal]);
    let load =
        if wheel == Wheel::Pickup { Load::Resistor { ohm: q(220.0) } } else { Load::Nothing };
    let mut coach = vehicle(id, 240.0, axles(&[30.0, 55.0, 185.0, 210.0], wheel, wheel), load);
    coach.pickups_joined = !dice.percent(20);
    coach
}

/// Adds vehicles, and now and then a train of them.
pub fn stock(ground: &mut Ground, dice: &mut Dice) {
    let kinds: [fn(&mut Dice, VehicleId) -> Vehicle; 4] =
        [railcar, long_engine, split_pickup, coach];
    for _ in 0..dice.below(4) {
        let id = VehicleId(ground.fresh());
        let mut vehicle = dice.pick(&kinds)(dice, id);
        if dice.percent(20) {
            vehicle.wiring_a = Some(q(*dice.pick(&[1.11, 3.07])));
        }
        if dice.percent(20) {
            vehicle.speed = SpeedRange { from_mm_s: 100.0, to_mm_s: 800.0 };
        }
        ground.layout.vehicles.insert(id, vehicle);
    }
    let ids: Vec<VehicleId> = ground.layout.vehicles.keys().copied().collect();
    if ids.is_empty() || !dice.percent(30) {
        return;
    }
    let id = TrainId(ground.fresh());
    let joined = dice.percent(50);
    let vehicles = (0..2 + dice.below(2))
        .map(|_| Coupled { vehicle: *dice.pick(&ids), turned: dice.percent(30), joined })
        .collect();
    let train = Train { id, name: format!("Train {}", id.0), vehicles, notes: String::new() };
    ground.layout.trains.insert(id, train);
}
