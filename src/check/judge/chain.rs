//! Devices of the feed chains in a judged situation: what they carry, whether they act, and what an auto-reverser that
//! acts first leads to.

use crate::crossing::chain::Acts;
use crate::signal::{self, Beat, Figures, TripOutcome};

use super::super::types::{Trips, Verdict};
use super::{
    Bench, CONFLICT_A, Carried, Decided, Judged, NEAR, NumericStand, Rated, Scenario, trips_word,
};

/// What guards against a fault: its trip, or a driver's rating.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Guard {
    /// A driver.
    Driver(usize),
    /// A device.
    Device(usize),
}

/// A device in a judged situation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JudgedDevice {
    /// In the larger of its poles.
    pub figures: Figures,
    /// Whether it acts.
    pub trips: Trips,
    /// Share of phases in which it does.
    pub trips_share: f64,
    /// Earliest time until it does, s.
    pub trip_after_s: Option<f64>,
}

/// Times closer than this, as a factor, are the same: who of two is first is not told.
const TOGETHER: f64 = 1.05;

impl Scenario {
    /// The same once some devices have acted. An auto-reverser that acts again turns back.
    pub(super) fn after(&self, devices: &[usize]) -> Scenario {
        let mut then = self.clone();
        for &at in devices {
            match then.acted.iter().position(|&known| known == at) {
                Some(known) => drop(then.acted.remove(known)),
                None => then.acted.push(at),
            }
        }
        then.acted.sort_unstable();
        then
    }
}

/// Which drivers and which devices act first.
pub(super) fn first(
    drivers: &[Option<TripOutcome>],
    devices: &[Option<TripOutcome>],
) -> [Vec<usize>; 2] {
    let after = |outcome: &Option<TripOutcome>| {
        outcome.as_ref().filter(|t| t.trips != signal::Trips::No).and_then(|t| t.after_s)
    };
    let earliest = drivers.iter().chain(devices).filter_map(after).fold(f64::INFINITY, f64::min);
    [drivers, devices].map(|outcomes| {
        (0..outcomes.len())
            .filter(|&at| after(&outcomes[at]).is_some_and(|s| s <= earliest * TOGETHER + 1e-12))
            .collect()
    })
}

impl Bench<'_> {
    /// Whether any device exchanges its poles by itself.
    pub(super) fn reverses(&self) -> bool {
        self.wiring.devices.iter().any(|d| matches!(d.trip, Some((_, Acts::Exchanges))))
    }

    fn is_reverser(&self, device: usize) -> bool {
        matches!(self.wiring.devices[device].trip, Some((_, Acts::Exchanges)))
    }

    /// Whose trip it is, as [`Bench::trip`] counts them.
    pub(super) fn whose(&self, guard: Guard) -> usize {
        match guard {
            Guard::Driver(at) => at,
            Guard::Device(at) => self.wiring.drivers.len() + at,
        }
    }

    /// The driver whose beat a trip would be locked to.
    pub(super) fn beat_of(&self, whose: usize) -> usize {
        let device = whose.checked_sub(self.wiring.drivers.len());
        device.map_or(whose, |at| self.wiring.devices[at].driver)
    }

    /// All that can end a fault: drivers, and devices that open.
    pub(super) fn guards(&self) -> Vec<Guard> {
        let opens = |at: &usize| matches!(self.wiring.devices[*at].trip, Some((_, Acts::Opens)));
        (0..self.wiring.drivers.len())
            .map(Guard::Driver)
            .chain((0..self.wiring.devices.len()).filter(opens).map(Guard::Device))
            .collect()
    }

    fn device_trip(
        &self,
        at: usize,
        amps: &[f64],
        beats: &[Beat],
        window_s: Option<f64>,
    ) -> Option<TripOutcome> {
        let (trip, _) = self.wiring.devices[at].trip.as_ref()?;
        let whose = self.whose(Guard::Device(at));
        Some(self.trip(whose, trip.kind, amps, beats, trip.threshold(&self.nominal), window_s))
    }

    /// The outcome of each device's trip.
    pub(super) fn device_trips(
        &self,
        carried: &[Carried],
        beats: &[Beat],
        window_s: Option<f64>,
    ) -> Vec<Option<TripOutcome>> {
        (0..self.wiring.devices.len())
            .map(|at| {
                let amps: Vec<f64> = carried.iter().map(|c| c.devices[at]).collect();
                self.device_trip(at, &amps, beats, window_s)
            })
            .collect()
    }

    /// The auto-reversers that surely act before anything else does.
    pub(super) fn reverse_first(
        &self,
        drivers: &[Option<TripOutcome>],
        devices: &[Option<TripOutcome>],
    ) -> Vec<usize> {
        let [others, found] = first(drivers, devices);
        let sure = |&at: &usize| {
            self.is_reverser(at)
                && devices[at].as_ref().is_some_and(|t| t.trips == signal::Trips::Yes)
        };
        if others.is_empty() && found.iter().all(sure) { found } else { Vec::new() }
    }

    /// Judges the trips of devices as those of drivers are judged: what flows with no train does not count, and dirty
    /// contacts make of *trips* a *trips sometimes*.
    #[allow(clippy::too_many_arguments)]
    pub(super) fn rate_devices(
        &self,
        rated: &mut Rated,
        beats: &[Beat],
        shares: &[f64],
        low: &[Carried],
        apart: &[Carried],
        high: Option<&[Carried]>,
        stand: Option<&NumericStand>,
        window_s: Option<f64>,
    ) -> Vec<Option<TripOutcome>> {
        let mut outcomes = self.device_trips(low, beats, window_s);
        let weak = high.map(|high| self.device_trips(high, beats, window_s));
        for (at, outcome) in outcomes.iter_mut().enumerate() {
            let (Some(outcome), Some((trip, acts))) = (outcome, &self.wiring.devices[at].trip)
            else {
                continue;
            };
            let weak = weak.as_ref().and_then(|weak| weak[at]);
            if outcome.trips == signal::Trips::Yes
                && weak.is_some_and(|weak| weak.trips != signal::Trips::Yes)
            {
                outcome.trips = signal::Trips::Sometimes;
            }
            let acting = outcome.trips != signal::Trips::No;
            if stand.is_some() && acting {
                let added: Vec<f64> = low
                    .iter()
                    .zip(apart)
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
            let peak = low
                .iter()
                .zip(shares)
                .filter(|(_, share)| **share > 0.0)
                .fold(0.0_f64, |peak, (c, _)| peak.max(c.devices[at]));
            let verdict = if acting {
                Verdict::Short
            } else if *acts == Acts::Opens && (margin < NEAR || peak > threshold) {
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
    pub(super) fn device_guards(&self, low: &[Carried], over: &[bool]) -> bool {
        self.guards().into_iter().any(|guard| {
            let Guard::Device(at) = guard else { return false };
            low.iter().zip(over).filter(|(_, over)| **over).any(|(c, _)| {
                let largest = c
                    .drivers
                    .iter()
                    .flat_map(|d| [d[0], d[1]])
                    .fold(0.0_f64, |a, b| a.max(b.abs()));
                c.devices[at] > CONFLICT_A && c.devices[at] >= 0.5 * largest
            })
        })
    }

    pub(super) fn device_figures(
        &self,
        shares: &[f64],
        carried: &[Carried],
        outcomes: &[Option<TripOutcome>],
    ) -> Vec<JudgedDevice> {
        outcomes
            .iter()
            .enumerate()
            .map(|(at, outcome)| {
                let amps: Vec<f64> = carried.iter().map(|c| c.devices[at]).collect();
                JudgedDevice {
                    figures: signal::figures(&amps, shares),
                    trips: outcome.map_or(Trips::No, |o| trips_word(o.trips)),
                    trips_share: outcome.map_or(0.0, |o| o.share),
                    trip_after_s: outcome
                        .filter(|o| o.trips != signal::Trips::No)
                        .and_then(|o| o.after_s),
                }
            })
            .collect()
    }

    /// Judges a situation as it is at first, some devices standing as they do once they have acted.
    pub fn judge_as_acted(
        &mut self,
        scenario: &Scenario,
        acted: &[usize],
        stand: Option<&NumericStand>,
    ) -> Judged {
        self.thorough.set(true);
        let judged = self.judge_once(&scenario.after(acted), stand);
        self.thorough.set(false);
        judged
    }

    /// What counts of a judged situation in which auto-reversers act first: if they end the conflict, the verdict of
    /// afterwards; if they leave something better, that; else they do not help.
    pub(super) fn reversed(
        &mut self,
        scenario: &Scenario,
        stand: Option<&NumericStand>,
        judged: Judged,
    ) -> Judged {
        let sure = |&at: &usize| self.is_reverser(at) && judged.devices[at].trips == Trips::Yes;
        let reversers = &judged.first_devices;
        if reversers.is_empty() || !judged.first.is_empty() || !reversers.iter().all(sure) {
            return judged;
        }
        let after = self.judge_once(&scenario.after(reversers), stand);
        if after.decided == Decided::Unsolved || after.verdict >= judged.verdict {
            return judged;
        }
        if after.share > 0.0 {
            return Judged { exchanged: reversers.clone(), ..after };
        }
        Judged {
            verdict: after.verdict,
            margin: after.margin,
            decided: after.decided,
            resolved: true,
            ..judged
        }
    }
}
