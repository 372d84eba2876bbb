//! Rating a situation: every trip, rating, limit and bearable voltage against what flows; the worst decides.
//!
//! Of equals the first that is offered stands, so the order is part of the result: trips of drivers, devices, ratings,
//! supplies, the vehicle's wiring, and last a conflict that nothing guards against.

use std::rc::Rc;

use super::super::types::Verdict;
use super::CONFLICT_A;
use super::bench::Bench;
use super::carried::{Carried, M, P, SENSED, highest_pole_v, larger_leg, larger_leg_rms, peak};
use super::flows::Flows;
use super::judged::Decided;
use super::rated::{NEAR, Rated};
use super::trips::{Outcomes, weakened};
use crate::layout::{Senses, TripKind};
use crate::signal::{self, TripOutcome};
use crate::straddle::case::{CaseDriver, CaseTrip};
use crate::straddle::ix::{DeviceIx, DriverIx};

/// What the trips of drivers and of devices do.
pub(super) type AllOutcomes = (Outcomes<DriverIx>, Outcomes<DeviceIx>);

impl Bench<'_> {
    /// Rates what flows while a vehicle stands there for `window_s` (`None`: for ever), with what the trips of the drivers
    /// and of the devices do.
    pub(super) fn rate(&self, flows: &Flows, window_s: Option<f64>) -> (Rated, AllOutcomes) {
        let mut rated =
            Rated { verdict: Verdict::Clear, margin: Some(1.0), decided: Decided::Nothing };
        let conflict = flows.conflict();
        let (trips, mut guarded) = self.rate_trips(&mut rated, flows, window_s);
        let devices = self.rate_devices(&mut rated, flows, window_s);
        guarded |= conflict && self.device_guards(&flows.low, &flows.over);
        // What is rated for ever must bear no more than a chopping driver lets through.
        let loaded = flows.loaded.as_ref().unwrap_or(&flows.low);
        let chopped = self.chopped(flows, loaded);
        let with_load = chopped.as_ref().unwrap_or(loaded);
        // A load that is too much for its driver without any conflict is so everywhere, not only at this gap.
        let beyond = if conflict { Verdict::Overload } else { Verdict::Caution };
        guarded |= self.rate_ratings(&mut rated, flows, with_load, beyond);
        guarded |= self.rate_supplies(&mut rated, flows, with_load, beyond);
        if let Some([_, bears, _]) = flows.stand.and_then(|s| s.wiring_a) {
            // What crosses the cut is what some leg of a driver carries.
            let crossing = (self.wiring.drivers.indices())
                .map(|at| larger_leg_rms(at, with_load, &flows.shares))
                .fold(0.0, f64::max);
            rated.continuous(crossing, bears, beyond, Decided::VehicleWiring);
        }
        if conflict && !guarded {
            rated.offer(Verdict::Short, None, Decided::Unguarded);
        }
        (rated, (trips, devices))
    }

    /// Rates the trips of all drivers: what they do, and whether some of them guards against the conflict.
    fn rate_trips(
        &self,
        rated: &mut Rated,
        flows: &Flows,
        window_s: Option<f64>,
    ) -> (Outcomes<DriverIx>, bool) {
        let mut guarded = false;
        let rate = |(at, driver): (DriverIx, &CaseDriver)| {
            // None, or of a board without power: it cannot act.
            let trip = driver.trip.as_ref().filter(|_| flows.scenario.powered[driver.supply])?;
            let (outcome, guards) = self.rate_trip(rated, flows, (at, trip), window_s)?;
            guarded |= guards;
            Some(outcome)
        };
        let outcomes = self.wiring.drivers.pairs().map(rate).collect();
        (outcomes, guarded)
    }

    /// Rates the trip of one driver: what it does, and whether it guards against the conflict.
    fn rate_trip(
        &self,
        rated: &mut Rated,
        flows: &Flows,
        (at, trip): (DriverIx, &CaseTrip),
        window_s: Option<f64>,
    ) -> Option<(TripOutcome, bool)> {
        let Flows { beats, shares, low, over, .. } = flows;
        let threshold = trip.threshold(&self.nominal);
        let outcome_of = |sensed: &[f64]| self.driver_trip(at, sensed, beats, window_s);
        let sensed = self.sensed(at, low, shares)?;
        let dirty = || outcome_of(&self.sensed(at, flows.high.as_ref()?, shares)?);
        let outcome = weakened(outcome_of(&sensed)?, dirty);
        let acts = outcome.trips != signal::Trips::No;
        // A trip that does not act on the moments to which the vehicle adds something is the business of whatever flows
        // with no train.
        if flows.stand.is_some() && acts {
            let by_the_vehicle = outcome_of(&added(flows, at, trip, &sensed))?;
            if by_the_vehicle.trips == signal::Trips::No {
                return Some((outcome, true));
            }
        }
        let margin = 1.0 - outcome.worst / threshold;
        let peak = peak(&sensed, shares);
        let verdict = if acts {
            Verdict::Short
        } else if margin < NEAR || peak > threshold {
            // A peak beyond the threshold that only its shortness saves is worth knowing, and so is a driver that
            // chops for as long as the vehicle stands there.
            Verdict::Caution
        } else {
            Verdict::Clear
        };
        let larger = larger_leg(at, low, shares);
        let carried = low
            .iter()
            .zip(over)
            .filter(|(_, over)| **over)
            .fold(0.0_f64, |peak, (c, _)| peak.max(c.drivers[at][larger].abs()));
        let guards = peak >= carried * 0.5 && carried > CONFLICT_A;
        // A driver that carries more than its trip allows, where the trip does not look.
        let unrated = self.wiring.drivers[at].rating_a.is_none();
        if !acts && peak <= threshold && unrated && flows.conflict() {
            let rms = larger_leg_rms(at, low, shares);
            if rms > threshold {
                let margin = Some(1.0 - rms / threshold);
                rated.offer(Verdict::Overload, margin, Decided::Rating(at));
            }
        }
        rated.offer(verdict, Some(margin), Decided::Trip(at));
        Some((outcome, guards))
    }

    /// Rates the continuous ratings of the drivers; returns whether there is any.
    fn rate_ratings(
        &self,
        rated: &mut Rated,
        flows: &Flows,
        with_load: &[Rc<Carried>],
        beyond: Verdict,
    ) -> bool {
        let mut any = false;
        for (at, driver) in self.wiring.drivers.pairs() {
            let Some(rating) = driver.rating_a else { continue };
            let rms = larger_leg_rms(at, with_load, &flows.shares);
            rated.continuous(rms, self.nominal[rating], beyond, Decided::Rating(at));
            any = true;
        }
        any
    }

    /// Rates the limits of the supplies, and what is fed back into them; returns whether any has a limit.
    fn rate_supplies(
        &self,
        rated: &mut Rated,
        flows: &Flows,
        with_load: &[Rc<Carried>],
        beyond: Verdict,
    ) -> bool {
        let Flows { scenario, shares, low, .. } = flows;
        let mut any = false;
        for (at, supply) in self.wiring.supplies.pairs() {
            if let Some(limit) = supply.limit_a {
                let mean = self.mean_drawn(at, with_load, shares);
                rated.continuous(mean, self.nominal[limit], beyond, Decided::Limit(at));
                any = true;
            }
            if flows.stand.is_none() {
                continue;
            }
            let powered = scenario.powered[at];
            if let Some(bearable) = supply.bearable_v {
                let highest = highest_pole_v(at, low, shares).unwrap_or(0.0);
                // Its own voltage alone is no back-feed, however near the limit it was chosen.
                let halves = if supply.split { 2.0 } else { 1.0 };
                let own = if powered { halves * self.nominal[supply.open_v] } else { 0.0 };
                if highest > own + 0.05 {
                    let bearable = self.nominal[bearable];
                    rated.continuous(highest, bearable, Verdict::BackFeed, Decided::Pole(at));
                }
            }
            if supply.can_sink && powered && self.mean_drawn(at, low, shares) < -CONFLICT_A {
                rated.offer(Verdict::BackFeed, None, Decided::Sink(at));
            }
        }
        any
    }

    /// What is carried once drivers that limit cycle by cycle do so: in every state in which such a driver drives and
    /// would sense more than its limit, its own legs and what it draws are brought down to it. Still an upper bound: it
    /// is off for part of the time, and what others carry is left as it is without the limit. `None` if none limits.
    fn chopped(&self, flows: &Flows, carried: &[Rc<Carried>]) -> Option<Vec<Rc<Carried>>> {
        let Flows { scenario, joint, shares, .. } = flows;
        let mut chopped: Option<Vec<Rc<Carried>>> = None;
        for (at, driver) in self.wiring.drivers.pairs() {
            let Some(trip) = driver.trip.as_ref().filter(|t| t.kind == TripKind::Chopping) else {
                continue;
            };
            let limit = trip.threshold(&self.nominal);
            let sensed = self.sensed(at, carried, shares).unwrap_or_default();
            let all = chopped.get_or_insert_with(|| carried.to_vec());
            for (state, (now, amps)) in all.iter_mut().zip(sensed).enumerate() {
                if amps > limit && scenario.parts(joint, state)[at].drives {
                    for leg in &mut Rc::make_mut(now).drivers[at] {
                        *leg *= limit / amps;
                    }
                }
            }
        }
        chopped
    }
}

/// What a driver's trip senses in the joint states in which the vehicle adds something where it looks; else 0.
fn added(flows: &Flows, driver: DriverIx, trip: &CaseTrip, sensed: &[f64]) -> Vec<f64> {
    let columns: &[usize] = if trip.senses == Senses::LargerLeg { &[P, M] } else { &[SENSED] };
    let states = flows.low.iter().zip(&flows.apart).zip(sensed);
    states
        .map(|((now, before), amps)| {
            let grows = |&c: &usize| {
                now.drivers[driver][c].abs() - before.drivers[driver][c].abs() > CONFLICT_A
            };
            if columns.iter().any(grows) { *amps } else { 0.0 }
        })
        .collect()
}
