//! `supply-gives-up-first`: a supply whose sustained limit is below a trip's threshold, so that the trip never acts on a
//! lasting short.

use super::units::{amps, amps_apart};
use super::words::capital;
use super::{Caution, Class, Cure, Evident, Found, Kind, Near, Text, Verdict, View, Words};
use crate::job::Job;
use crate::layout::{Driver, DriverId, LimitKind, Supply, TripKind};

/// A supply that gives less than a trip waits for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// The driver whose trip it is.
    pub driver: DriverId,
    /// The trip's threshold, A.
    pub threshold_a: f64,
    /// Sustained limit of the supply, A.
    pub limit_a: f64,
}

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let drivers = view.layout.drivers.values();
    let found = drivers.filter_map(|driver| {
        let supply = view.layout.supplies.get(&driver.supply)?;
        gives_up_first(driver, supply)
    });
    found.collect()
}

fn gives_up_first(driver: &Driver, supply: &Supply) -> Option<Found<Evidence>> {
    // What only limits is not there to act.
    let trip = driver.trip.as_ref().filter(|trip| trip.kind != TripKind::Chopping)?;
    let threshold_a = trip.amps.value * trip.kind.acts_beyond();
    let limit = supply.limit?;
    if limit.amps.value >= threshold_a {
        return None;
    }
    // The supply then feeds the fault at its limit without end, or in bursts: harmful only beyond what the driver bears.
    let bears = limit.kind == LimitKind::Hiccup
        || driver.rating_a.is_none_or(|rating| rating.value >= limit.amps.value);
    let verdict = if bears { Verdict::Caution } else { Verdict::Overload };
    let limit_a = limit.amps.value;
    let evidence = Evidence { driver: driver.id, threshold_a, limit_a };
    let found = Found::new(Kind::SupplyGivesUpFirst, Class::Fault, verdict, evidence);
    Some(Found { drivers: vec![driver.id], ..found })
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let name = w.driver(e.driver);
    let [limit, threshold] = amps_apart(e.limit_a, e.threshold_a);
    let driver = w.layout.drivers.get(&e.driver);
    let supply = driver.and_then(|driver| w.layout.supplies.get(&driver.supply));
    let whose = supply.map_or("its supply".to_owned(), |supply| w.supply(supply.id));
    let then = match supply.and_then(|supply| supply.limit).map(|limit| limit.kind) {
        Some(LimitKind::Constant) | None => {
            "In a lasting short the supply holds the current there, and feeds the short without end."
        }
        Some(LimitKind::FoldBack) => {
            "In a lasting short the supply goes back to less than that, and feeds the short without end."
        }
        Some(LimitKind::Hiccup) => {
            "In a lasting short the supply switches itself off, tries again, and so on without end."
        }
    };
    let rating = driver.and_then(|driver| driver.rating_a);
    let more = match rating.filter(|rating| rating.value < e.limit_a) {
        Some(rating) => {
            format!("{} stands only {} continuously.", capital(&name), amps(rating.value))
        }
        None => String::new(),
    };
    Text {
        says: format!(
            "{name} can never trip: its trip waits for {threshold} and {whose} gives {limit}; set the trip lower"
        ),
        why: format!(
            "Its {}trip acts at {threshold}, above the {limit} that {whose} can give. {then}",
            w.trip_kind(e.driver)
        ),
        more,
        advice: vec![
            format!("Set the trip well below {limit}."),
            "Or use a larger supply, with fuses to suit the wires.".into(),
        ],
        cautions: vec![Caution::Guard],
    }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    let supply = near.layout().drivers.get(&e.driver).map(|driver| driver.supply);
    let bigger = supply.map(|supply| Job::BiggerSupply { supply, amps: e.threshold_a * 1.25 });
    let lower = near.lower_trip(e.driver, e.limit_a * 0.8);
    lower.into_iter().chain(bigger).map(Cure::from).collect()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::LimitKind;

    pub fn pairs() -> Vec<Pair> {
        // The trip waits for 3 A.
        vec![Pair {
            with: limited(&yard(""), 1, 2.0, LimitKind::Constant),
            twin: limited(&yard(""), 1, 4.0, LimitKind::Constant),
            class: Class::Fault,
            verdict: Verdict::Caution,
            peak_a: None,
            cuts: &[],
            blocks: 0,
            says: "Driver d1 can never trip: its trip waits for 3.0 A and supply s1 gives 2.0 A; set the trip lower",
        }]
    }
}
