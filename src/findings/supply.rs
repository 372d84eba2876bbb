//! `supply-gives-up-first`: a supply whose sustained limit is below a trip's threshold: the trip never acts on a lasting
//! short. `supply-too-small`: drivers that can together ask for more than their supply gives.

use super::of_drivers;
use super::{Blind, Class, Evidence, Finding, Kind, Verdict, View};
use crate::drive;
use crate::layout::{Driver, LimitKind, Supply, TripKind};
use crate::study::coin::{feeds_something, working_load};

pub fn find(view: &View, found: &mut Vec<Finding>) {
    for driver in view.layout.drivers.values() {
        let Some(supply) = view.layout.supplies.get(&driver.supply) else { continue };
        found.extend(gives_up_first(driver, supply));
    }
    for supply in view.layout.supplies.values() {
        found.extend(too_small(view, supply));
    }
}

fn gives_up_first(driver: &Driver, supply: &Supply) -> Option<Finding> {
    // What only limits is not there to act.
    let trip = driver.trip.as_ref().filter(|trip| trip.kind != TripKind::Chopping)?;
    let threshold_a = trip.amps.value * trip.kind.acts_beyond();
    let limit = supply.limit?;
    if limit.amps.value >= threshold_a {
        return None;
    }
    // The supply then feeds the fault at its limit for ever, or in bursts: harmful only beyond what the driver bears.
    let bears = limit.kind == LimitKind::Hiccup
        || driver.rating_a.is_none_or(|rating| rating.value >= limit.amps.value);
    let verdict = if bears { Verdict::Caution } else { Verdict::Overload };
    let evidence = Evidence::Blind {
        driver: driver.id,
        threshold_a,
        blind: Blind::SupplyGivesUpFirst { limit_a: limit.amps.value },
    };
    let kind = Kind::SupplyGivesUpFirst;
    Some(of_drivers(kind, Class::Fault, verdict, Vec::new(), vec![driver.id], evidence))
}

fn too_small(view: &View, supply: &Supply) -> Option<Finding> {
    let limit_a = supply.limit?.amps.value;
    let layout = view.layout;
    let drivers: Vec<&Driver> = layout
        .drivers
        .values()
        .filter(|d| d.supply == supply.id && drive::of(&d.drive).feeds())
        .filter(|d| feeds_something(&view.plan, d.id))
        .collect();
    let asks = |driver: &&Driver| {
        let rating = driver.rating_a.map_or(f64::INFINITY, |a| a.value);
        let trip = driver
            .trip
            .as_ref()
            .map_or(f64::INFINITY, |trip| trip.amps.value * trip.kind.acts_beyond());
        rating.min(trip)
    };
    // What is not known adds nothing.
    let asked_a: f64 = drivers.iter().map(asks).filter(|amps| amps.is_finite()).sum();
    let (load_a, vehicle) = working_load(layout, supply.open_v.value);
    let trains_a = vehicle.map(|_| load_a * drivers.len() as f64);
    let stalls = trains_a.is_some_and(|trains| trains > limit_a);
    // A single driver that can ask for more than its supply gives is told by its trip.
    if !stalls && (drivers.len() < 2 || asked_a <= limit_a) {
        return None;
    }
    let class = if stalls { Class::Fault } else { Class::Note };
    Some(Finding {
        vehicle: vehicle.filter(|_| stalls),
        ..of_drivers(
            Kind::SupplyTooSmall,
            class,
            Verdict::Caution,
            Vec::new(),
            drivers.iter().map(|d| d.id).collect(),
            Evidence::Asked { supply: supply.id, limit_a, asked_a, trains_a },
        )
    })
}
