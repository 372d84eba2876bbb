//! `supply-too-small`: drivers that can together ask for more than their supply gives.

use super::units::amps_apart;
use super::words::capital;
use super::{Caution, Class, Cure, Evident, Found, Kind, Near, Text, Verdict, View, Words};
use crate::drive;
use crate::job::Job;
use crate::layout::{Driver, Supply, SupplyId};
use crate::study::coin::{feeds_something, working_load};

/// What the drivers on a supply can ask of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// The supply.
    pub supply: SupplyId,
    /// Its sustained limit, A.
    pub limit_a: f64,
    /// What its drivers can draw together, A: ratings, or trips where those are lower.
    pub asked_a: f64,
    /// What one train on each of them draws, A; `None` where no vehicle has a load.
    pub trains_a: Option<f64>,
}

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    view.layout.supplies.values().filter_map(|supply| too_small(view, supply)).collect()
}

fn too_small(view: &View, supply: &Supply) -> Option<Found<Evidence>> {
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
    // A single driver that can ask for more than its supply gives is a finding about its trip.
    if !stalls && (drivers.len() < 2 || asked_a <= limit_a) {
        return None;
    }
    let class = if stalls { Class::Fault } else { Class::Note };
    let evidence = Evidence { supply: supply.id, limit_a, asked_a, trains_a };
    Some(Found {
        vehicle: vehicle.filter(|_| stalls),
        drivers: drivers.iter().map(|d| d.id).collect(),
        things: vec![supply.id.into()],
        ..Found::new(Kind::SupplyTooSmall, class, Verdict::Caution, evidence)
    })
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let name = w.supply(e.supply);
    let drivers = w.names(&w.finding.drivers);
    let larger = "Use a larger supply, with fuses to suit the wires.".to_owned();
    let spread = "Or spread the drivers over several supplies.".to_owned();
    let cautions = vec![Caution::Guard, Caution::Rewire];
    if let Some(trains_a) = e.trains_a.filter(|trains| *trains > e.limit_a) {
        let [draw, gives] = amps_apart(trains_a, e.limit_a);
        return Text {
            says: format!(
                "{name} is too small for its trains: they draw {draw} and it gives {gives}; use a larger one"
            ),
            why: format!(
                "One train on each of {drivers}, each like {}, draws {draw} together. The supply gives up while they run.",
                w.vehicle(w.finding.vehicle),
            ),
            more: String::new(),
            advice: vec![larger, spread],
            cautions,
        };
    }
    let [asked, gives] = amps_apart(e.asked_a, e.limit_a);
    Text {
        says: format!(
            "{name} gives {gives} and its drivers may draw {asked} together; use a larger one"
        ),
        why: format!(
            "{} may each draw their rating or what their trip lets through. When all do, the supply gives up for all of \
             them before any trip acts.",
            capital(&drivers)
        ),
        more: String::new(),
        advice: vec![larger, spread, "Or set the trips lower.".into()],
        cautions,
    }
}

pub fn cures(e: &Evidence, _: &Near) -> Vec<Cure> {
    vec![Job::BiggerSupply { supply: e.supply, amps: e.asked_a }.into()]
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::LimitKind;

    pub fn pairs() -> Vec<Pair> {
        // Twice 3 A against 5 A, and against 6.5 A.
        let with = limited(&on_one_supply(), 1, 5.0, LimitKind::Constant);
        vec![Pair {
            with,
            twin: limited(&on_one_supply(), 1, 6.5, LimitKind::Constant),
            class: Class::Note,
            verdict: Verdict::Caution,
            peak_a: None,
            cuts: &[],
            blocks: 0,
            says: "Supply s1 gives 5.0 A and its drivers may draw 6.0 A together; use a larger one",
        }]
    }
}
