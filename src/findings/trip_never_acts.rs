//! `trip-never-acts`: a trip that does not see the fault that it is there for, because it looks where the current does not
//! pass.

use std::collections::BTreeMap;

use super::finding::at_cuts;
use super::units::amps;
use super::{Caution, Class, Cure, Evident, Found, Kind, Near, Text, Verdict, View, Words};
use crate::job::Job;
use crate::layout::{CutId, DriverId, Senses};
use crate::study::cut::Blind;

/// A trip that looks where the current of a fault does not pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// The driver.
    pub driver: DriverId,
    /// Its threshold, A.
    pub threshold_a: f64,
    /// Peak of the larger leg, A.
    pub carried_a: f64,
    /// Peak where it senses, A.
    pub sensed_a: f64,
}

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let mut seen: BTreeMap<DriverId, (Blind, Vec<CutId>)> = BTreeMap::new();
    for (&cut, known) in &view.known {
        for (&at, blind) in &known.result.blinds {
            let driver = known.around.names.drivers[at];
            let (worst, cuts) = seen.entry(driver).or_insert((*blind, Vec::new()));
            worst.take(blind);
            cuts.push(cut);
        }
    }
    let told = seen.into_iter().map(|(driver, (blind, cuts))| {
        let (class, verdict) = if blind.another_trips {
            (Class::Note, Verdict::Caution)
        } else {
            (Class::Fault, blind.verdict.max(Verdict::Caution))
        };
        let Blind { threshold_a, carried_a, sensed_a, .. } = blind;
        let evidence = Evidence { driver, threshold_a, carried_a, sensed_a };
        let found = Found::new(Kind::TripNeverActs, class, verdict, evidence);
        Found { places: at_cuts(cuts), drivers: vec![driver], ..found }
    });
    told.collect()
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let name = w.driver(e.driver);
    let trip = w.layout.drivers.get(&e.driver).and_then(|d| d.trip.as_ref());
    let place = trip.map_or("where it senses", |t| senses(t.senses));
    Text {
        says: format!(
            "{name}: a short drives {} through it and its trip sees {}; sense the current in the outputs",
            amps(e.carried_a),
            amps(e.sensed_a)
        ),
        why: format!(
            "Its {}trip senses {place} and waits for {}. While the driver brakes, the current of the short flows through its \
             two switches of one side and not there.",
            w.trip_kind(e.driver),
            amps(e.threshold_a)
        ),
        more: String::new(),
        advice: vec![
            "Sense the current in the outputs.".into(),
            "Or rely on the neighbour's trip, and say so on the gap's card.".into(),
        ],
        cautions: vec![Caution::Rewire],
    }
}

fn senses(senses: Senses) -> &'static str {
    match senses {
        Senses::SupplyLead => "the lead from the supply",
        Senses::GroundReturn => "the return to the supply",
        Senses::LegP => "output P",
        Senses::LegM => "output M",
        Senses::LargerLeg => "the outputs",
        Senses::HighSwitchP => "the high switch of P",
        Senses::LowSwitchP => "the low switch of P",
        Senses::HighSwitchM => "the high switch of M",
        Senses::LowSwitchM => "the low switch of M",
    }
}

pub fn cures(e: &Evidence, _: &Near) -> Vec<Cure> {
    [Senses::LargerLeg, Senses::SupplyLead]
        .map(|senses| Job::Sense { driver: e.driver, senses }.into())
        .into()
}

#[cfg(test)]
pub(super) mod tests {
    use approx::assert_abs_diff_eq;

    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Evidence as Any, Kind, Verdict, check};
    use crate::layout::Senses;

    pub fn pairs() -> Vec<Pair> {
        // The braking side's supply carries nothing, and that is where its trip looks.
        let with = with_driver(&brake_low_pair(), D1, |d| {
            if let Some(trip) = &mut d.trip {
                trip.senses = Senses::SupplyLead;
            }
        });
        vec![Pair {
            with,
            twin: brake_low_pair(),
            class: Class::Note,
            verdict: Verdict::Caution,
            peak_a: None,
            cuts: &[1],
            blocks: 0,
            says: "Driver d1: a short drives 8.1 A through it and its trip sees 0 A; sense the current in the outputs",
        }]
    }

    #[test]
    fn the_legs_carry_what_the_supply_lead_does_not() {
        let report = check(&pairs()[0].with);
        let found = the_one(&report, Kind::TripNeverActs, Class::Note, Verdict::Caution);
        let Any::TripNeverActs(e) = &found.evidence else { panic!("{found:?}") };
        assert_abs_diff_eq!(e.carried_a, 14.0 / 1.73, epsilon = 1e-3);
        assert_abs_diff_eq!(e.sensed_a, 0.0, epsilon = 1e-3);
    }
}
