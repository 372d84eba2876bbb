//! `trip-never-acts`: a trip that does not see the fault that it is there for, because it looks where the current does not
//! pass.

use crate::job::Job;
use std::collections::BTreeMap;

use super::finding::at_cuts;
use super::units::amps;
use super::{
    Caution, Class, Cure, Evident, Found, Kind, Near, Relation, Text, Trips, Verdict, View, Words,
};
use crate::layout::{CutId, DriverId, Senses};

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

struct Seen {
    threshold_a: f64,
    carried_a: f64,
    sensed_a: f64,
    another_trips: bool,
    verdict: Verdict,
    cuts: Vec<CutId>,
}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let mut seen: BTreeMap<DriverId, Seen> = BTreeMap::new();
    for (&cut, known) in &view.known {
        let result = &known.result;
        // At each pair of settings: a trip that looks at one direction only is blind to the other.
        let cells = result.cells.iter().filter(|cell| cell.relation != Relation::OneDead);
        let beside = result.beside.iter().filter(|(relation, _)| **relation != Relation::OneDead);
        let settings = cells.map(|cell| &cell.worst).chain(beside.map(|(_, worst)| worst));
        for evaluated in settings.filter_map(|worst| worst.worst.as_ref()) {
            let judged = &evaluated.judged;
            if judged.share <= 0.0 {
                continue;
            }
            for (at, driver) in judged.drivers.pairs() {
                let Some(trip) = &known.case.wiring.drivers[at].trip else { continue };
                let threshold_a = trip.threshold(&known.case.wiring.nominal());
                let carried_a = driver.figures[0].peak.max(driver.figures[1].peak);
                let sensed_a = driver.sensed.map_or(0.0, |s| s.peak);
                let blind = carried_a > threshold_a
                    && sensed_a < 0.5 * carried_a
                    && sensed_a < threshold_a
                    && driver.trips == Trips::No;
                if !blind {
                    continue;
                }
                let another_trips = judged.drivers.iter().any(|d| d.trips == Trips::Yes);
                let entry = seen.entry(known.around.names.drivers[at]).or_insert(Seen {
                    threshold_a,
                    carried_a,
                    sensed_a,
                    another_trips: true,
                    verdict: Verdict::Clear,
                    cuts: Vec::new(),
                });
                if carried_a > entry.carried_a {
                    (entry.carried_a, entry.sensed_a) = (carried_a, sensed_a);
                }
                entry.another_trips &= another_trips;
                if !another_trips {
                    entry.verdict = entry.verdict.max(judged.verdict);
                }
                if !entry.cuts.contains(&cut) {
                    entry.cuts.push(cut);
                }
            }
        }
    }
    let told = seen.into_iter().map(|(driver, seen)| {
        let (class, verdict) = if seen.another_trips {
            (Class::Note, Verdict::Caution)
        } else {
            (Class::Fault, seen.verdict.max(Verdict::Caution))
        };
        let Seen { threshold_a, carried_a, sensed_a, cuts, .. } = seen;
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
