//! The figures of a judged situation: of drivers, of loads, of what is fed back into supplies, of inductance.

use std::rc::Rc;

use super::CONFLICT_A;
use super::bench::Bench;
use super::carried::{Carried, M, P, SENSED, SUPPLY, highest_pole_v, larger_leg, outward};
use super::judged::{JudgedDriver, Lifted};
use super::scenario::Scenario;
use super::stand::NumericStand;
use super::trips::{Outcomes, told};
use crate::layout::Senses;
use crate::signal::{self, Figures, Joint};
use crate::straddle::ix::{DriverIx, SupplyIx, Table};

/// The shares of time of the moments, and what reads the figures of currents in them.
pub(super) type ByTime<'a> = (&'a [f64], &'a dyn Fn(&[f64]) -> Figures);

impl Bench<'_> {
    /// What is told of each driver.
    pub(super) fn figures(
        &self,
        (shares, read): ByTime<'_>,
        carried: &[Rc<Carried>],
        trips: Option<&Outcomes<DriverIx>>,
    ) -> Table<DriverIx, JudgedDriver> {
        (self.wiring.drivers.indices())
            .map(|at| {
                let column = |c: usize| -> Vec<f64> {
                    carried.iter().map(|state| state.drivers[at][c]).collect()
                };
                let driver = &self.wiring.drivers[at];
                let sensed = driver.trip.as_ref().map(|trip| match trip.senses {
                    Senses::LargerLeg if trip.signed => {
                        let out: Vec<f64> =
                            carried.iter().map(|c| outward(&c.drivers[at])).collect();
                        read(&out)
                    }
                    Senses::LargerLeg => read(&column(larger_leg(at, carried, shares))),
                    _ => read(&column(SENSED)),
                });
                let outcome = trips.and_then(|trips| trips[at].as_ref());
                let trip_compares_a = outcome.map(|outcome| outcome.worst);
                let (trips, trips_share, trip_after_s) = told(outcome);
                JudgedDriver {
                    figures: [P, M, SUPPLY].map(|c| read(&column(c))),
                    sensed,
                    pole_v: highest_pole_v(driver.supply, carried, shares),
                    trips,
                    trips_share,
                    trip_after_s,
                    trip_compares_a,
                }
            })
            .collect()
    }

    /// Poles that are lifted, and supplies that take steady current back, with how much, A.
    pub(super) fn back_feed(
        &self,
        scenario: &Scenario,
        shares: &[f64],
        low: &[Rc<Carried>],
        apart: &[Rc<Carried>],
    ) -> (Vec<Lifted>, Vec<(SupplyIx, f64)>) {
        let mut lifted = Vec::new();
        let mut sunk = Vec::new();
        for (at, supply) in self.wiring.supplies.pairs() {
            let highest = |carried| highest_pole_v(at, carried, shares);
            if let Some(to_v) = highest(low) {
                let from_v = if scenario.powered[at] { highest(apart).unwrap_or(0.0) } else { 0.0 };
                let lift = !supply.can_sink || !scenario.powered[at];
                if lift && to_v > from_v + 0.05 {
                    lifted.push(Lifted { supply: at, from_v, to_v });
                }
            }
            if supply.can_sink && scenario.powered[at] {
                let mean = self.mean_drawn(at, low, shares);
                if mean < -CONFLICT_A {
                    sunk.push((at, -mean));
                }
            }
        }
        (lifted, sunk)
    }

    /// Current that all drivers of a supply draw from its positive pole, A.
    fn drawn(&self, supply: SupplyIx, carried: &Carried) -> f64 {
        let drivers = self.wiring.drivers.iter().zip(&carried.drivers);
        drivers.filter(|(d, _)| d.supply == supply).map(|(_, amps)| amps[SUPPLY]).sum()
    }

    /// Mean current that all drivers of a supply draw from its positive pole, A.
    pub(super) fn mean_drawn(
        &self,
        supply: SupplyIx,
        carried: &[Rc<Carried>],
        shares: &[f64],
    ) -> f64 {
        carried.iter().zip(shares).map(|(c, share)| share * self.drawn(supply, c)).sum()
    }

    /// What all drivers of a supply draw from its positive pole with no train on the track. `None` if the circuit could not
    /// be solved.
    pub fn load(&mut self, scenario: &Scenario, supply: SupplyIx) -> Option<Figures> {
        let beats = scenario.beats();
        let joint = Joint::of(&beats);
        let shares = signal::shares(&beats);
        let carried = self.all(scenario, &joint, None).ok()?;
        let amps: Vec<f64> = carried.iter().map(|c| self.drawn(supply, c)).collect();
        let range = signal::figures_range(&amps, &beats, None);
        Some(Figures { range, ..signal::figures(&amps, &shares) })
    }

    /// How long the inductance of the whole loop holds a current back: every feeder and the rail up to the cut, against
    /// the resistance that the highest driving voltage and the peak tell.
    pub(super) fn resistive_after_s(&self, scenario: &Scenario, peak_a: f64) -> f64 {
        let length_m: f64 = self.wiring.drivers.iter().map(|driver| driver.pair_m).sum();
        let volts = self
            .wiring
            .supplies
            .iter()
            .zip(&scenario.powered)
            .filter(|(_, powered)| **powered)
            .map(|(supply, _)| self.nominal[supply.open_v])
            .fold(0.0, f64::max);
        signal::resistive_after_s(signal::pair_inductance_h(length_m), volts / peak_a)
    }

    /// What each load of a stand would carry at standstill, left to right, group by group: mean, and mean of the
    /// magnitude, A. `None` if the circuit could not be solved.
    pub fn drawn_at_rest(
        &mut self,
        scenario: &Scenario,
        stand: &NumericStand,
    ) -> Option<Vec<(f64, f64)>> {
        let beats = scenario.beats();
        let joint = Joint::of(&beats);
        let shares = signal::shares(&beats);
        let carried = self.all(scenario, &joint, Some(&stand.at_rest())).ok()?;
        let loads = stand.groups.iter().map(|group| group.loads.len()).sum();
        Some(
            (0..loads)
                .map(|at| {
                    carried.iter().zip(&shares).fold((0.0, 0.0), |(mean, size), (c, share)| {
                        (mean + share * c.loads[at], size + share * c.loads[at].abs())
                    })
                })
                .collect(),
        )
    }
}
