//! Lifted poles that are charged at the moment of joining, and whose trip that sets off.

use crate::signal::Inrush;
use crate::straddle::ix::{DriverIx, SupplyIx};

use super::super::judge::{Bench, Lifted, Scenario, numeric_trip};
use super::super::types::Relation;
use super::case::Case;
use super::result::{CutResult, Evaluated, InrushAt};

impl Case {
    /// The heaviest inrush for each relation of the settings.
    pub(super) fn inrush(&self, bench: &mut Bench, result: &CutResult) -> Vec<InrushAt> {
        let mut found: Vec<InrushAt> = Vec::new();
        let cells = result
            .cells
            .iter()
            .filter_map(|cell| cell.worst.worst.as_ref().map(|worst| (cell.relation, worst)));
        for (relation, worst) in cells {
            for new in self.inrushes(bench, relation, worst) {
                let weight = |i: &InrushAt| (!i.trips.is_empty(), i.amps);
                match found.iter_mut().find(|old| old.relation == relation) {
                    Some(old) if weight(&new) > weight(old) => *old = new,
                    Some(_) => {}
                    None => found.push(new),
                }
            }
        }
        found
    }

    /// What each lifted pole of a situation is charged with.
    fn inrushes(&self, bench: &Bench, relation: Relation, worst: &Evaluated) -> Vec<InrushAt> {
        let Some(at) = worst.stand.filter(|_| worst.woke.is_empty()) else { return Vec::new() };
        let (powered, scenario) = (&worst.scenario.powered, &worst.scenario);
        let of = |lifted: &Lifted| {
            let (amps, ohm, sensed) = bench.inrush(scenario, &self.stands[at], lifted)?;
            let (farads, _) = self.wiring.supplies[lifted.supply].bulk?;
            let tau_s = ohm * self.wiring.values[farads].nominal;
            let longest_s = self.longest_drive_s(scenario, lifted.supply);
            let trips = (sensed.indices())
                // A board without power has no trip that could act.
                .filter(|&d| powered[self.wiring.drivers[d].supply])
                .filter(|&d| {
                    self.trips_at(d, Inrush { peak_a: sensed[d], decay_s: tau_s }, longest_s)
                })
                .collect();
            Some(InrushAt {
                settings: worst.settings.clone(),
                stand: at,
                relation,
                supply: lifted.supply,
                from_v: lifted.from_v,
                to_v: lifted.to_v,
                amps,
                tau_s,
                trips,
            })
        };
        worst.judged.lifted.iter().filter_map(of).collect()
    }

    /// For how long at the most a driver of another supply drives without a break, s; `None` for ever.
    fn longest_drive_s(&self, scenario: &Scenario, supply: SupplyIx) -> Option<f64> {
        let longest_s = scenario
            .runs
            .iter()
            .zip(&self.wiring.drivers)
            .filter(|(_, driver)| driver.supply != supply)
            .filter_map(|(run, _)| {
                let drives = run.schedule.parts.iter().find(|part| part.drives)?;
                let steady = run.schedule.parts.len() == 1;
                Some(if steady { f64::INFINITY } else { drives.share * run.schedule.period_s })
            })
            .fold(0.0, f64::max);
        longest_s.is_finite().then_some(longest_s)
    }

    /// Whether a driver's trip acts on an inrush.
    fn trips_at(&self, driver: DriverIx, inrush: Inrush, longest_s: Option<f64>) -> bool {
        self.wiring.drivers[driver].trip.as_ref().is_some_and(|trip| {
            let threshold = self.wiring.values[trip.amps].nominal * trip.kind.acts_beyond();
            numeric_trip(trip.kind, driver)
                .is_some_and(|kind| inrush.trips(threshold, &kind, longest_s).acts)
        })
    }
}
