//! What comes after something has acted: a driver that has tripped, a device that has opened, an auto-reverser that has
//! turned.

use super::super::types::Trips;
use super::bench::Bench;
use super::judged::{After, Decided, Judged};
use super::scenario::Scenario;
use super::stand::NumericStand;
use crate::drive::{Schedule, StateWord};
use crate::layout::AfterTrip;
use crate::straddle::ix::{DeviceIx, DriverIx};

impl Bench<'_> {
    /// What goes on once the drivers and devices that trip first have gone to what they do after a trip; `None` if none
    /// trips.
    pub fn after_first(
        &mut self,
        scenario: &Scenario,
        stand: Option<&NumericStand>,
        judged: &Judged,
    ) -> Option<After> {
        let (first, devices) = (&judged.first, &judged.first_devices);
        if first.is_empty() && devices.is_empty() {
            return None;
        }
        let then = self.tripped(&scenario.after(&judged.exchanged).after(devices), first);
        let judged = self.judge_once(&then, stand);
        let legs = judged.drivers.iter().flat_map(|d| [d.figures[0].peak, d.figures[1].peak]);
        Some(After {
            conflict: judged.share > 0.0,
            peak_a: legs.fold(0.0, f64::max),
            trips: (judged.drivers.indices())
                .filter(|at| !first.contains(at) && judged.drivers[*at].trips != Trips::No)
                .collect(),
            devices: (judged.devices.indices())
                .filter(|at| !devices.contains(at) && judged.devices[*at].trips != Trips::No)
                .collect(),
        })
    }

    /// The scenario in which some drivers have gone to what they do after a trip.
    pub fn tripped(&self, scenario: &Scenario, which: &[DriverIx]) -> Scenario {
        let mut then = scenario.clone();
        for &at in which {
            let Some(trip) = &self.wiring.drivers[at].trip else { continue };
            let state = match trip.then {
                AfterTrip::HighImpedance => StateWord::HighImpedance,
                AfterTrip::BrakeLow => StateWord::BrakeLow,
                AfterTrip::BrakeHigh => StateWord::BrakeHigh,
            };
            let level = then.runs[at].schedule.level;
            then.runs[at].schedule = Schedule::steady(state, false, level);
        }
        then
    }

    /// Judges a situation as it is at first, some devices standing as they do once they have acted.
    pub fn judge_as_acted(
        &mut self,
        scenario: &Scenario,
        acted: &[DeviceIx],
        stand: Option<&NumericStand>,
    ) -> Judged {
        self.thoroughly(|bench| bench.judge_once(&scenario.after(acted), stand))
    }

    /// What counts of a judged situation in which auto-reversers act first: if they end the conflict, the verdict of
    /// afterwards; if they leave something better, that; else they do not help.
    pub(super) fn reversed(
        &mut self,
        scenario: &Scenario,
        stand: Option<&NumericStand>,
        judged: Judged,
    ) -> Judged {
        let sure = |&at: &DeviceIx| self.is_reverser(at) && judged.devices[at].trips == Trips::Yes;
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
