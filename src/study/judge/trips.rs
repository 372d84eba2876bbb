//! Trips: what they sense, whether they act on it, and who acts.

use std::collections::HashMap;
use std::rc::Rc;

use serde::Serialize;

use super::super::key::Key;
use super::super::types::Trips;
use super::bench::Bench;
use super::carried::{Carried, SENSED, larger_leg, outward};
use super::scenario::Scenario;
use super::stand::NumericStand;
use crate::layout::{Senses, TripKind};
use crate::signal::{self, Beat, Joint, TripOutcome};
use crate::straddle::chain::Acts;
use crate::straddle::ix::{DeviceIx, DriverIx, Ix, Table};

/// What guards against a fault: its trip, or a driver's rating.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
pub(super) enum Guard {
    /// A driver.
    Driver(DriverIx),
    /// A device.
    Device(DeviceIx),
}

/// A trip with what it senses: all that its outcome depends on beside the wiring.
#[derive(Serialize)]
pub(super) struct Sensed<'a> {
    whose: Guard,
    amps: &'a [f64],
    /// Number of the beats, see [`Timings`].
    timing: usize,
    threshold_a: f64,
    window_s: Option<f64>,
    /// True if the time until it acts is wanted too.
    thorough: bool,
}

pub(super) type TripKey = Key<Sensed<'static>>;

/// Numbers for lists of beats: many trips are asked about the same one.
#[derive(Default)]
pub(super) struct Timings {
    known: HashMap<Key<[Beat]>, usize>,
    last: Vec<Beat>,
    number: usize,
}

impl Timings {
    /// The number of some beats: equal for equal ones.
    fn number(&mut self, beats: &[Beat]) -> usize {
        if self.last != beats {
            let next = self.known.len();
            self.number = *self.known.entry(Key::of(&beats)).or_insert(next);
            self.last.clear();
            self.last.extend_from_slice(beats);
        }
        self.number
    }
}

/// What each trip does, of drivers or of devices; `None` where there is none or it cannot act.
pub(super) type Outcomes<I> = Table<I, Option<TripOutcome>>;

fn trips_word(trips: signal::Trips) -> Trips {
    match trips {
        signal::Trips::Yes => Trips::Yes,
        signal::Trips::Sometimes => Trips::Sometimes,
        signal::Trips::No => Trips::No,
    }
}

/// A trip for the signal room, with its threshold at [`CaseTrip::threshold`](crate::straddle::case::CaseTrip::threshold); a
/// locked sampler is locked to its own driver's beat. None for what never trips.
pub fn numeric_trip(kind: TripKind, driver: DriverIx) -> Option<signal::Trip> {
    Some(match kind {
        TripKind::Instant { blanking_s } => signal::Trip::Instant { blanking_s },
        TripKind::Sampled { every_s, in_a_row, locked_at } => {
            signal::Trip::Sampled { every_s, in_a_row, locked: locked_at.map(|at| (driver.0, at)) }
        }
        TripKind::Averaged { tau_s } => signal::Trip::Averaged { tau_s },
        TripKind::Thermal { points } => {
            let points: Vec<(f64, f64)> = points.iter().map(|p| (p.times, p.after_s)).collect();
            signal::Trip::Thermal { curve: signal::Curve::new(&points)? }
        }
        TripKind::Chopping => return None,
    })
}

/// The same trip where dirty contacts let less flow: what acts on clean contacts may act only sometimes.
pub(super) fn weakened(
    clean: TripOutcome,
    dirty: impl FnOnce() -> Option<TripOutcome>,
) -> TripOutcome {
    let yes = signal::Trips::Yes;
    if clean.trips == yes && dirty().is_some_and(|dirty| dirty.trips != yes) {
        return TripOutcome { trips: signal::Trips::Sometimes, ..clean };
    }
    clean
}

/// What is told of an outcome: whether the trip acts, in which share of phases, and when, s.
pub(super) fn told(outcome: Option<&TripOutcome>) -> (Trips, f64, Option<f64>) {
    outcome.map_or((Trips::No, 0.0, None), |outcome| {
        let after_s = outcome.after_s.filter(|_| outcome.trips != signal::Trips::No);
        (trips_word(outcome.trips), outcome.share, after_s)
    })
}

/// Times closer than this, as a factor, are the same: who of two is first is not told.
const TOGETHER: f64 = 1.05;

/// Which drivers and which devices act first.
pub(super) fn first(
    drivers: &Outcomes<DriverIx>,
    devices: &Outcomes<DeviceIx>,
) -> (Vec<DriverIx>, Vec<DeviceIx>) {
    let earliest = drivers.iter().chain(devices).filter_map(after_s).fold(f64::INFINITY, f64::min);
    (at_about(drivers, earliest), at_about(devices, earliest))
}

/// When a trip acts, s; `None` if it does not.
fn after_s(outcome: &Option<TripOutcome>) -> Option<f64> {
    outcome.as_ref().filter(|t| t.trips != signal::Trips::No).and_then(|t| t.after_s)
}

/// Who acts by a time, s, or so little later that it is the same.
fn at_about<I: Ix>(outcomes: &Outcomes<I>, time_s: f64) -> Vec<I> {
    (outcomes.indices())
        .filter(|&at| after_s(&outcomes[at]).is_some_and(|s| s <= time_s * TOGETHER + 1e-12))
        .collect()
}

impl Bench<'_> {
    /// The driver whose beat a trip would be locked to.
    fn beat_of(&self, whose: Guard) -> DriverIx {
        match whose {
            Guard::Driver(at) => at,
            Guard::Device(at) => self.wiring.devices[at].driver,
        }
    }

    /// All that can end a fault: drivers, and devices that open.
    pub(super) fn guards(&self) -> Vec<Guard> {
        let opens = |at: &DeviceIx| matches!(self.wiring.devices[*at].trip, Some((_, Acts::Opens)));
        let devices = self.wiring.devices.indices().filter(opens);
        self.wiring.drivers.indices().map(Guard::Driver).chain(devices.map(Guard::Device)).collect()
    }

    /// The outcome of a trip on what it senses. One that only limits, cycle by cycle, never acts; what counts against its
    /// limit is the peak that would flow without it.
    pub(super) fn trip(
        &self,
        who: Guard,
        kind: TripKind,
        sensed: &[f64],
        beats: &[Beat],
        threshold_a: f64,
        window_s: Option<f64>,
    ) -> TripOutcome {
        let Some(trip) = numeric_trip(kind, self.beat_of(who)) else {
            let peak = signal::figures(sensed, &signal::shares(beats)).peak;
            let trips = signal::Trips::No;
            return TripOutcome { trips, share: 0.0, after_s: None, worst: peak, exact: true };
        };
        // Who reverses before whom is a matter of times.
        let thorough = self.thorough.get() || self.reverses();
        // Most drivers around a place carry nothing.
        if sensed.iter().all(|amps| *amps == 0.0) && threshold_a >= 0.0 {
            let trips = signal::Trips::No;
            return TripOutcome { trips, share: 0.0, after_s: None, worst: 0.0, exact: true };
        }
        let timing = self.timings.borrow_mut().number(beats);
        let asked = Sensed { whose: who, amps: sensed, timing, threshold_a, window_s, thorough };
        let key: TripKey = Key::of(&asked);
        if let Some(known) = self.tripped.borrow().get(&key) {
            return *known;
        }
        let judge = if thorough { signal::trip } else { signal::trip_acts };
        let outcome = judge(sensed, beats, threshold_a, &trip, window_s);
        self.tripped.borrow_mut().insert(key, outcome);
        outcome
    }

    /// The outcome of a driver's trip, if it has one.
    pub(super) fn driver_trip(
        &self,
        at: DriverIx,
        sensed: &[f64],
        beats: &[Beat],
        window_s: Option<f64>,
    ) -> Option<TripOutcome> {
        let trip = self.wiring.drivers[at].trip.as_ref()?;
        let threshold_a = trip.threshold(self.thresholds());
        Some(self.trip(Guard::Driver(at), trip.kind, sensed, beats, threshold_a, window_s))
    }

    /// Sensed current per joint state, magnitudes or clipped to the usual direction.
    pub(super) fn sensed(
        &self,
        driver: DriverIx,
        carried: &[Rc<Carried>],
        shares: &[f64],
    ) -> Option<Vec<f64>> {
        let trip = self.wiring.drivers[driver].trip.as_ref()?;
        if trip.signed && trip.senses == Senses::LargerLeg {
            return Some(carried.iter().map(|c| outward(&c.drivers[driver])).collect());
        }
        let column = match trip.senses {
            Senses::LargerLeg => larger_leg(driver, carried, shares),
            _ => SENSED,
        };
        Some(
            carried
                .iter()
                .map(|c| {
                    let amps = c.drivers[driver][column];
                    if trip.signed { amps.max(0.0) } else { amps.abs() }
                })
                .collect(),
        )
    }

    /// Whether any trip acts within a window (`None`: the vehicle stands there for ever), the share of phases and the
    /// earliest time, s.
    pub fn acts(
        &mut self,
        scenario: &Scenario,
        stand: &NumericStand,
        window_s: Option<f64>,
    ) -> (Trips, f64, Option<f64>) {
        let beats = scenario.beats();
        let joint = Joint::of(&beats);
        let shares = signal::shares(&beats);
        let touch = stand.clean();
        let Ok(low) = self.all(scenario, &joint, Some(&touch)) else {
            return (Trips::No, 0.0, None);
        };
        let drivers: Outcomes<DriverIx> = (self.wiring.drivers.indices())
            .map(|at| {
                let sensed = self.sensed(at, &low, &shares)?;
                self.driver_trip(at, &sensed, &beats, window_s)
            })
            .collect();
        let devices = self.device_trips(&low, &beats, window_s);
        let reversers = self.reverse_first(&drivers, &devices);
        if !reversers.is_empty() && scenario.acted.is_empty() {
            return self.acts(&scenario.after(&reversers), stand, window_s);
        }
        let mut worst = (Trips::No, 0.0, None);
        for outcome in drivers.iter().chain(&devices).flatten() {
            let trips = trips_word(outcome.trips);
            if (trips, outcome.share) > (worst.0, worst.1) {
                worst = (trips, outcome.share, outcome.after_s);
            }
        }
        worst
    }

    /// The auto-reversers that surely act before anything else does.
    pub(super) fn reverse_first(
        &self,
        drivers: &Outcomes<DriverIx>,
        devices: &Outcomes<DeviceIx>,
    ) -> Vec<DeviceIx> {
        let (others, found) = first(drivers, devices);
        let sure = |&at: &DeviceIx| {
            self.is_reverser(at)
                && devices[at].as_ref().is_some_and(|t| t.trips == signal::Trips::Yes)
        };
        if others.is_empty() && found.iter().all(sure) { found } else { Vec::new() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn acts(trips: signal::Trips, after_s: f64) -> Option<TripOutcome> {
        let after_s = Some(after_s);
        Some(TripOutcome { trips, share: 1.0, after_s, worst: 2.0, exact: true })
    }

    #[test]
    fn who_acts_at_almost_the_same_time_is_first_together() {
        use signal::Trips::{No, Sometimes, Yes};
        let drivers = vec![acts(Yes, 1.04e-3), None, acts(No, 1e-6)];
        let devices = vec![acts(Sometimes, 1e-3), acts(Yes, 1.06e-3)];
        let first = |drivers: &[_], devices: &[_]| {
            first(&drivers.to_vec().into(), &devices.to_vec().into())
        };
        assert_eq!(first(&drivers, &devices), (vec![DriverIx(0)], vec![DeviceIx(0)]));
        assert_eq!(first(&drivers[1..], &devices[1..]), (vec![], vec![DeviceIx(0)]));
        assert_eq!(first(&[None], &[]), (vec![], vec![]));
    }

    #[test]
    fn dirty_contacts_only_weaken_what_surely_acts() {
        use signal::Trips::{No, Sometimes, Yes};
        let trips = |clean, dirty: Option<_>| {
            let dirty = || dirty.and_then(|dirty| acts(dirty, 1.0));
            acts(clean, 1.0).map(|clean| weakened(clean, dirty).trips)
        };
        assert_eq!(trips(Yes, Some(No)), Some(Sometimes));
        assert_eq!(trips(Yes, Some(Yes)), Some(Yes));
        assert_eq!(trips(Yes, None), Some(Yes));
        assert_eq!(trips(No, Some(No)), Some(No));
    }
}
