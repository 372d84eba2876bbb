//! Trips that act while something stands there with its loads: what a person sees trip.
//!
//! A verdict leaves out the loads and what flows with no train, because neither is a fault of the gap. A person who watches
//! a trial sees a trip act whatever it acts on.

use std::rc::Rc;

use super::bench::Bench;
use super::carried::Carried;
use super::scenario::Scenario;
use super::stand::NumericStand;
use super::trips::{Outcomes, first};
use crate::circuit::Unsolved;
use crate::signal::{self, Joint};
use crate::straddle::case::Values;
use crate::straddle::ix::{DeviceIx, DriverIx};

/// The guards that act first, and the share of phases in which they do.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Acting {
    /// Drivers whose trip is first.
    pub drivers: Vec<DriverIx>,
    /// Devices that open first, beside those.
    pub devices: Vec<DeviceIx>,
    /// Share of phases in which something acts.
    pub share: f64,
    /// Auto-reversers that have exchanged their poles before.
    pub exchanged: Vec<DeviceIx>,
}

/// The guards that act, and the currents through the loads.
#[derive(Debug, Clone, PartialEq)]
pub struct Acts {
    /// The guards that act; `None` if none does.
    pub acting: Option<Acting>,
    /// Mean current and mean of its magnitude through each load with motors at rest, A, left to right, group by group.
    pub drawn: Vec<(f64, f64)>,
}

impl Bench<'_> {
    /// Values of the wiring at which trips act.
    pub(super) fn thresholds(&self) -> &Values {
        self.trips_at.as_ref().unwrap_or(&self.nominal)
    }

    /// Moves the threshold of every trip within its range: −1 is its least believable value, 0 its value, +1 its largest.
    pub fn trip_at(&mut self, within: f64) {
        let values = self.wiring.values.iter().map(|value| {
            let end = if within < 0.0 { value.low } else { value.high };
            value.nominal + within.abs().min(1.0) * (end - value.nominal)
        });
        self.trips_at = (within != 0.0).then(|| values.collect());
    }

    /// The guards that act first with loads in and wheels clean, within a time (`None`: for ever). Auto-reversers that surely act
    /// before anything else have acted.
    ///
    /// # Errors
    /// The circuit of some joint state has no verified solution.
    pub fn acting(
        &mut self,
        scenario: &Scenario,
        stand: Option<&NumericStand>,
        window_s: Option<f64>,
    ) -> Result<Acts, Unsolved> {
        let beats = scenario.beats();
        let joint = Joint::of(&beats);
        let shares = signal::shares(&beats);
        let touch = match stand {
            Some(stand) => Some(self.against(scenario, &joint, &shares, stand)?),
            None => None,
        };
        let carried = self.all(scenario, &joint, touch.as_deref())?;
        self.thorough.set(true);
        let (drivers, devices) = self.outcomes(&carried, &beats, &shares, window_s);
        self.thorough.set(false);
        let reversers = self.reverse_first(&drivers, &devices);
        if !reversers.is_empty() && scenario.acted.is_empty() {
            let mut acts = self.acting(&scenario.after(&reversers), stand, window_s)?;
            if let Some(acting) = &mut acts.acting {
                acting.exchanged = reversers;
            }
            return Ok(acts);
        }
        let outcomes = || drivers.iter().chain(&devices).flatten();
        let share = outcomes()
            .filter(|outcome| outcome.trips != signal::Trips::No)
            .map(|outcome| if outcome.trips == signal::Trips::Yes { 1.0 } else { outcome.share })
            .fold(0.0, f64::max);
        let (acting_drivers, acting_devices) = first(&drivers, &devices);
        let acts = !acting_drivers.is_empty() || !acting_devices.is_empty();
        let drawn = stand.and_then(|stand| self.drawn_at_rest(scenario, stand));
        Ok(Acts {
            acting: acts.then(|| Acting {
                drivers: acting_drivers,
                devices: acting_devices,
                share,
                exchanged: Vec::new(),
            }),
            drawn: drawn.unwrap_or_default(),
        })
    }

    /// The outcome of every trip on what flows.
    fn outcomes(
        &self,
        carried: &[Rc<Carried>],
        beats: &[signal::Beat],
        shares: &[f64],
        window_s: Option<f64>,
    ) -> (Outcomes<DriverIx>, Outcomes<DeviceIx>) {
        let drivers = self.wiring.drivers.indices().map(|at| {
            let sensed = self.sensed(at, carried, shares)?;
            self.driver_trip(at, &sensed, beats, window_s)
        });
        (drivers.collect(), self.device_trips(carried, beats, window_s))
    }

    /// Mean current through the first load of a stand as it is given, back-EMF and all, A.
    ///
    /// # Errors
    /// The circuit of some joint state has no verified solution.
    pub fn through_load(
        &mut self,
        scenario: &Scenario,
        stand: &NumericStand,
    ) -> Result<f64, Unsolved> {
        let beats = scenario.beats();
        let joint = Joint::of(&beats);
        let shares = signal::shares(&beats);
        let carried = self.all(scenario, &joint, Some(&stand.with_loads()))?;
        let of = |c: &Rc<Carried>| c.loads.first().copied().unwrap_or(0.0);
        Ok(carried.iter().zip(&shares).map(|(c, share)| share * of(c)).sum())
    }
}
