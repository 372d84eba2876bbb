//! Rules for vehicles and trains.

use super::found::{AMP, Found, HIGHEST_V, May, OHM, nearest};
use super::limits::{MOST_AXLES, MOST_COUPLED, MOST_TRAIN_AXLES};
use crate::layout::model::{Layout, Load, Train, Vehicle};
use crate::layout::words::mm;

/// Longest vehicle, mm.
const LONGEST_MM: f64 = 100_000.0;

pub(super) fn vehicle(vehicle: &Vehicle, found: &mut Found) {
    found.of(vehicle.id);
    found.number(vehicle.id);
    found.name("name", &vehicle.name);
    let may = May::Be(0.1, LONGEST_MM);
    let long =
        found.value("length_mm", vehicle.length_mm, may, " mm", "the length over the couplers");
    axles(vehicle, long, found);
    load(&vehicle.load, found);
    let hint = "a clean wheel has about 0.02 Ω, a dirty one 0.5 Ω";
    let low = found.value("contact_ohm.low", vehicle.contact_ohm.low, OHM, " Ω", hint);
    let high = found.value("contact_ohm.high", vehicle.contact_ohm.high, OHM, " Ω", hint);
    if low && high && vehicle.contact_ohm.low > vehicle.contact_ohm.high {
        found.add(
            "contact_ohm.low",
            "the least contact resistance is above the largest",
            "a low that is not above the high",
            "exchange the two",
        );
    }
    let speed = May::Be(0.01, 100_000.0);
    let hint = "speeds are in mm of the model per s";
    let from = found.value("speed.from_mm_s", vehicle.speed.from_mm_s, speed, " mm/s", hint);
    let to = found.value("speed.to_mm_s", vehicle.speed.to_mm_s, speed, " mm/s", hint);
    if from && to && vehicle.speed.from_mm_s > vehicle.speed.to_mm_s {
        found.add(
            "speed.from_mm_s",
            "the least speed is above the largest",
            "a speed that is not above `to_mm_s`",
            "exchange the two",
        );
    }
    let may = May::Be(0.0, 20.0);
    found.value("patch_mm", vehicle.patch_mm, may, " mm", "a wheel touches along about 0.5 mm");
    let hint = "for no rating leave `wiring_a` away";
    found.maybe("wiring_a", vehicle.wiring_a.as_ref(), AMP, " A", hint);
    let may = May::Be(0.1, 50.0);
    found.value("tread_mm", vehicle.tread_mm, may, " mm", "a tread at 1:87 is about 2.8 mm wide");
}

/// `long` says whether the vehicle's length is one that wheelsets can be held against.
fn axles(vehicle: &Vehicle, long: bool, found: &mut Found) {
    if vehicle.axles.is_empty() {
        found.add(
            "axles",
            "the vehicle has no wheelsets",
            "at least one wheelset",
            "give each as its distance from the front coupler, such as (at_mm: 20)",
        );
    } else if vehicle.axles.len() > MOST_AXLES {
        found.add(
            "axles",
            format!("the vehicle has {} wheelsets", vehicle.axles.len()),
            format!("at most {MOST_AXLES}"),
            "divide it into several vehicles",
        );
        return;
    }
    let mut before = f64::NEG_INFINITY;
    for (i, axle) in vehicle.axles.iter().enumerate() {
        let field = format!("axles[{i}].at_mm");
        let end = if long { vehicle.length_mm } else { LONGEST_MM };
        let hint =
            "distances count from the front coupler; the vehicle is as long as `length_mm` says";
        if !found.value(&field, axle.at_mm, May::Be(0.0, end), " mm", hint) {
            continue;
        }
        if axle.at_mm <= before {
            found.add(
                field,
                format!("the wheelset at {} follows one at {}", mm(axle.at_mm), mm(before)),
                "wheelsets in order from front to rear",
                "list the wheelset nearest the front coupler first",
            );
        }
        before = before.max(axle.at_mm);
    }
}

fn load(load: &Load, found: &mut Found) {
    match load {
        Load::Nothing => {}
        Load::Resistor { ohm } => found.ohm("load.ohm", ohm),
        Load::Motor { ohm, emf_v } => {
            found.ohm("load.ohm", ohm);
            let may = May::Be(0.0, HIGHEST_V);
            found.quantity("load.emf_v", emf_v, may, " V", "voltages are in V");
        }
        Load::Rectifier { ohm, volts } => {
            found.ohm("load.ohm", ohm);
            let may = May::Be(0.0, HIGHEST_V);
            found.quantity("load.volts", volts, may, " V", "voltages are in V");
        }
    }
}

pub(super) fn train(layout: &Layout, train: &Train, found: &mut Found) {
    found.of(train.id);
    found.number(train.id);
    found.name("name", &train.name);
    if train.vehicles.is_empty() {
        found.add(
            "vehicles",
            "the train has no vehicles",
            "at least one vehicle",
            "list its vehicles from front to rear, such as (vehicle: \"v1\")",
        );
    } else if train.vehicles.len() > MOST_COUPLED {
        found.add(
            "vehicles",
            format!("the train has {} vehicles", train.vehicles.len()),
            format!("at most {MOST_COUPLED}"),
            "divide it into several trains",
        );
        return;
    }
    for (i, coupled) in train.vehicles.iter().enumerate() {
        if !layout.vehicles.contains_key(&coupled.vehicle) {
            let near = nearest(layout.vehicles.keys(), coupled.vehicle.0);
            found.missing(&format!("vehicles[{i}].vehicle"), coupled.vehicle, near);
        }
    }
    let vehicles = train.vehicles.iter().filter_map(|c| layout.vehicles.get(&c.vehicle));
    let axles: usize = vehicles.map(|vehicle| vehicle.axles.len()).sum();
    if axles > MOST_TRAIN_AXLES {
        found.add(
            "vehicles",
            format!("the vehicles of the train have {axles} wheelsets together"),
            format!("at most {MOST_TRAIN_AXLES}"),
            "divide it into several trains",
        );
    }
}
