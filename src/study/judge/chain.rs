//! Devices of the feed chains in a judged situation: what they carry, whether they act, and how that is rated.

use std::rc::Rc;

use super::super::types::Verdict;
use super::CONFLICT_A;
use super::bench::Bench;
use super::carried::{Carried, M, P, peak};
use super::flows::Flows;
use super::judged::{Decided, JudgedDevice};
use super::rated::{NEAR, Rated};
use super::trips::{Guard, Outcomes, told, weakened};
use crate::signal::{self, Beat, Figures, TripOutcome};
use crate::straddle::chain::Acts;
use crate::straddle::ix::{DeviceIx, Table};

impl Bench<'_> {
    /// Whether any device exchanges its poles by itself.
    pub(super) fn reverses(&self) -> bool {
        self.wiring.devices.iter().any(|d| matches!(d.trip, Some((_, Acts::Exchanges))))
    }

    pub(super) fn is_reverser(&self, device: DeviceIx) -> bool {
        matches!(self.wiring.devices[device].trip, Some((_, Acts::Exchanges)))
    }

    fn device_trip(
        &self,
        at: DeviceIx,
        amps: &[f64],
        beats: &[Beat],
        window_s: Option<f64>,
    ) -> Option<TripOutcome> {
        let (trip, _) = self.wiring.devices[at].trip.as_ref()?;
        let threshold_a = trip.threshold(self.thresholds());
        Some(self.trip(Guard::Device(at), trip.kind, amps, beats, threshold_a, window_s))
    }

    /// The outcome of each device's trip.
    pub(super) fn device_trips(
        &self,
        carried: &[Rc<Carried>],
        beats: &[Beat],
        window_s: Option<f64>,
    ) -> Outcomes<DeviceIx> {
        (self.wiring.devices.indices())
            .map(|at| {
                let amps: Vec<f64> = carried.iter().map(|c| c.devices[at]).collect();
                self.device_trip(at, &amps, beats, window_s)
            })
            .collect()
    }

    /// Judges the trips of devices as those of drivers are judged: what flows with no train does not count, and dirty
    /// contacts make of *trips* a *trips sometimes*.
    pub(super) fn rate_devices(
        &self,
        rated: &mut Rated,
        flows: &Flows,
        window_s: Option<f64>,
    ) -> Outcomes<DeviceIx> {
        let Flows { beats, shares, low, .. } = flows;
        let mut outcomes = self.device_trips(low, beats, window_s);
        let weak = flows.high.as_ref().map(|high| self.device_trips(high, beats, window_s));
        for at in self.wiring.devices.indices() {
            let (Some(outcome), Some((trip, acts))) =
                (&mut outcomes[at], &self.wiring.devices[at].trip)
            else {
                continue;
            };
            *outcome = weakened(*outcome, || weak.as_ref().and_then(|weak| weak[at]));
            let acting = outcome.trips != signal::Trips::No;
            if flows.stand.is_some() && acting {
                let added: Vec<f64> = low
                    .iter()
                    .zip(&flows.apart)
                    .map(|(now, before)| {
                        let grows = now.devices[at] - before.devices[at] > CONFLICT_A;
                        if grows { now.devices[at] } else { 0.0 }
                    })
                    .collect();
                let by_the_vehicle = self.device_trip(at, &added, beats, window_s);
                if by_the_vehicle.is_none_or(|t| t.trips == signal::Trips::No) {
                    continue;
                }
            }
            let threshold = trip.threshold(&self.nominal);
            let margin = 1.0 - outcome.worst / threshold;
            let amps: Vec<f64> = low.iter().map(|c| c.devices[at]).collect();
            let verdict = if acting {
                Verdict::Short
            } else if *acts == Acts::Opens && (margin < NEAR || peak(&amps, shares) > threshold) {
                Verdict::Caution
            } else {
                Verdict::Clear
            };
            // An auto-reverser that is near to acting harms nobody.
            if acting || *acts == Acts::Opens {
                rated.offer(verdict, Some(margin), Decided::Device(at));
            }
        }
        outcomes
    }

    /// Whether some device that opens carries at least half of the conflict's current: it then guards against it.
    pub(super) fn device_guards(&self, low: &[Rc<Carried>], over: &[bool]) -> bool {
        self.guards().into_iter().any(|guard| {
            let Guard::Device(at) = guard else { return false };
            low.iter().zip(over).filter(|(_, over)| **over).any(|(c, _)| {
                let largest = c
                    .drivers
                    .iter()
                    .flat_map(|d| [d[P], d[M]])
                    .fold(0.0_f64, |a, b| a.max(b.abs()));
                c.devices[at] > CONFLICT_A && c.devices[at] >= 0.5 * largest
            })
        })
    }

    /// What is told of each device.
    pub(super) fn device_figures(
        &self,
        read: &dyn Fn(&[f64]) -> Figures,
        carried: &[Rc<Carried>],
        outcomes: &Outcomes<DeviceIx>,
    ) -> Table<DeviceIx, JudgedDevice> {
        outcomes
            .pairs()
            .map(|(at, outcome)| {
                let amps: Vec<f64> = carried.iter().map(|c| c.devices[at]).collect();
                let (trips, trips_share, trip_after_s) = told(outcome.as_ref());
                let figures = read(&amps);
                JudgedDevice { figures, trips, trips_share, trip_after_s }
            })
            .collect()
    }
}
