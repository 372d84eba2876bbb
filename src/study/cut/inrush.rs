//! Lifted poles that are charged at the moment of joining, and whose trip that sets off.

use crate::signal::{Inrush, InrushTrip};
use crate::straddle::ix::{DriverIx, SupplyIx, Table};

use super::super::judge::{Bench, Judged, Lifted, NumericStand, Scenario, numeric_trip};
use super::super::types::Relation;
use super::case::Case;
use super::result::{CutResult, Evaluated, InrushAt};

/// The charging of one supply's bulk capacitance from the moment at which the wheels join the rails.
#[derive(Debug, Clone, PartialEq)]
pub struct Rush {
    /// The supply, and its voltage before and after.
    pub lifted: Lifted,
    /// The current into its capacitance.
    pub into: Inrush,
    /// The current where the trip of each driver senses, or in its larger leg.
    pub sensed: Table<DriverIx, Inrush>,
    /// The longest that a driver of another supply drives without a break, s; `None` means indefinitely.
    pub longest_s: Option<f64>,
    /// Drivers whose trips act on it, and after how long, s.
    pub trips: Vec<(DriverIx, Option<f64>)>,
}

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
        let rushes = self.rushes(bench, &worst.scenario, &self.stands[at], &worst.judged);
        let inrush = |rush: Rush| InrushAt {
            settings: worst.settings.clone(),
            stand: at,
            relation,
            supply: rush.lifted.supply,
            from_v: rush.lifted.from_v,
            to_v: rush.lifted.to_v,
            amps: rush.into.peak_a,
            tau_s: rush.into.decay_s,
            trips: rush.trips.into_iter().map(|(driver, _)| driver).collect(),
        };
        rushes.into_iter().map(inrush).collect()
    }

    /// The charging of each pole that a situation lifts, from the moment at which the wheels join the rails. A supply
    /// without bulk capacitance is not charged.
    pub(in crate::study) fn rushes(
        &self,
        bench: &Bench,
        scenario: &Scenario,
        stand: &NumericStand,
        judged: &Judged,
    ) -> Vec<Rush> {
        let of = |lifted: &Lifted| {
            let (amps, ohm, sensed) = bench.inrush(scenario, stand, lifted)?;
            let (farads, _) = self.wiring.supplies[lifted.supply].bulk?;
            let decay_s = ohm * self.wiring.values[farads].nominal;
            let longest_s = self.longest_drive_s(scenario, lifted.supply);
            let inrush = |peak_a: f64| Inrush { peak_a, decay_s };
            let sensed: Table<DriverIx, Inrush> = sensed.iter().map(|amps| inrush(*amps)).collect();
            let trips = (sensed.indices())
                // A board without power has no trip that could act.
                .filter(|&d| scenario.powered[self.wiring.drivers[d].supply])
                .filter_map(|d| {
                    let outcome = self.trip_on(d, sensed[d], longest_s)?;
                    outcome.acts.then_some((d, outcome.after_s))
                })
                .collect();
            Some(Rush { lifted: *lifted, into: inrush(amps), sensed, longest_s, trips })
        };
        judged.lifted.iter().filter_map(of).collect()
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

    /// The outcome of a driver's trip on an inrush; `None` without a trip that can act.
    fn trip_on(
        &self,
        driver: DriverIx,
        inrush: Inrush,
        longest_s: Option<f64>,
    ) -> Option<InrushTrip> {
        let trip = self.wiring.drivers[driver].trip.as_ref()?;
        let threshold = self.wiring.values[trip.amps].nominal * trip.kind.acts_beyond();
        let kind = numeric_trip(trip.kind, driver)?;
        Some(inrush.trips(threshold, &kind, longest_s))
    }
}
