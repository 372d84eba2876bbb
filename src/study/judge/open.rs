//! Whether the ranges of assumed values leave a verdict open, and which value to measure.
//!
//! Every trip grows with what it senses, so the least and the largest current of the heaviest joint state bound what
//! it can do.

use super::super::types::Motion;
use super::bench::Bench;
use super::carried::{Carried, larger_leg};
use super::judged::{Decided, Judged};
use super::scenario::Scenario;
use super::stand::NumericStand;
use super::trips::Guard;
use crate::circuit::{ParamRange, Solution, Unsolved, extremes};
use crate::layout::{Senses, TripKind};
use crate::signal::{self, Beat, Joint};
use crate::straddle::assemble::{Assembled, Probe, read};
use crate::straddle::case::{CaseTrip, Values};
use crate::straddle::ix::Table;
use crate::units::{Amp, ValueId};

/// What is asked about: a judged situation, the guards that may act in it, and the values that are taken as exact.
struct Question<'a> {
    scenario: &'a Scenario,
    stand: Option<&'a NumericStand>,
    judged: &'a Judged,
    guards: &'a [Guard],
    frozen: &'a [ValueId],
}

/// Whether some guard acts for certain, and whether one may act; with the weight of each value.
struct Bounds {
    certain: bool,
    possible: bool,
    weights: Vec<(ValueId, f64)>,
}

impl Bounds {
    fn settled(&self) -> bool {
        self.certain == self.possible
    }
}

/// A guard with what it looks at.
struct Watched<'a> {
    guard: Guard,
    trip: Option<&'a CaseTrip>,
    rating_a: Option<ValueId<Amp>>,
    /// Per joint state, A.
    amps: Vec<f64>,
}

/// The range that the believable values leave to a current, A.
struct Spread {
    least: f64,
    largest: f64,
    /// How much of it is due to each value.
    weights: Values,
}

impl Bench<'_> {
    /// Whether the ranges of assumed values leave the verdict open. If so: the value to measure first, or the two that
    /// weigh most if no single one settles it.
    pub fn left_open(
        &self,
        scenario: &Scenario,
        stand: Option<&NumericStand>,
        judged: &Judged,
    ) -> Vec<ValueId> {
        if judged.decided == Decided::Unsolved || !self.wiring.values.iter().any(|v| v.low < v.high)
        {
            return Vec::new();
        }
        let after;
        let (scenario, guards) = if judged.resolved {
            (scenario, judged.first_devices.iter().map(|&at| Guard::Device(at)).collect())
        } else {
            after = scenario.after(&judged.exchanged);
            (&after, self.guards())
        };
        let bounds = |frozen: &[ValueId]| {
            self.bounds(&Question { scenario, stand, judged, guards: &guards, frozen })
        };
        let all = bounds(&[]);
        if all.settled() {
            return Vec::new();
        }
        let mut weights = all.weights;
        weights.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        weights.retain(|w| w.1 > 0.0);
        let settles = |&&(at, _): &&(ValueId, f64)| bounds(&[at]).settled();
        match weights.iter().take(6).find(settles) {
            Some(&(at, _)) => vec![at],
            None => weights.into_iter().take(2).map(|w| w.0).collect(),
        }
    }

    fn bounds(&self, question: &Question) -> Bounds {
        let Question { scenario, stand, judged, .. } = *question;
        let beats = scenario.beats();
        let shares: Vec<f64> = judged.joints.iter().map(|j| j.0).collect();
        let window_s = match judged.motion {
            Motion::Moving => stand.map(NumericStand::slowest_s),
            Motion::Standing | Motion::NoTrain => None,
        };
        let joint = Joint::of(&beats);
        let touch = stand.map(NumericStand::clean);
        let carried: Option<Vec<Carried>> = (0..joint.count())
            .map(|at| {
                let state = (&joint, at);
                let built = self.build(scenario, state, touch.as_deref(), &self.nominal, None);
                self.carried(&built).ok()
            })
            .collect();
        let mut bounds = Bounds { certain: false, possible: false, weights: Vec::new() };
        let Some(carried) = carried else { return Bounds { possible: true, ..bounds } };
        for &guard in question.guards {
            let Some(watched) = self.watched(guard, &carried, &shares) else { continue };
            self.bound(&mut bounds, question, &watched, (&beats, &shares), window_s);
        }
        // One entry a value: its largest weight.
        bounds.weights.sort_by(|a, b| a.0.cmp(&b.0).then(b.1.total_cmp(&a.1)));
        bounds.weights.dedup_by_key(|w| w.0);
        bounds
    }

    /// What a guard looks at. `None` for a driver that has neither a trip nor a rating.
    fn watched(&self, guard: Guard, carried: &[Carried], shares: &[f64]) -> Option<Watched<'_>> {
        let (trip, rating_a, amps) = match guard {
            Guard::Driver(at) => {
                let driver = &self.wiring.drivers[at];
                let amps = match &driver.trip {
                    Some(_) => self.sensed(at, carried, shares)?,
                    None => {
                        driver.rating_a?;
                        let larger = larger_leg(at, carried, shares);
                        carried.iter().map(|c| c.drivers[at][larger].abs()).collect()
                    }
                };
                (driver.trip.as_ref(), driver.rating_a, amps)
            }
            Guard::Device(at) => {
                let trip = self.wiring.devices[at].trip.as_ref().map(|(trip, _)| trip);
                (trip, None, carried.iter().map(|c| c.devices[at]).collect())
            }
        };
        Some(Watched { guard, trip, rating_a, amps })
    }

    /// Adds to the bounds what one guard does at the least and at the largest current of its heaviest joint state.
    fn bound(
        &self,
        bounds: &mut Bounds,
        question: &Question,
        watched: &Watched,
        (beats, shares): (&[Beat], &[f64]),
        window_s: Option<f64>,
    ) {
        let amps = &watched.amps;
        let heaviest = (0..amps.len())
            .filter(|&s| shares[s] > 0.0)
            .max_by(|&a, &b| amps[a].total_cmp(&amps[b]));
        let Some(heaviest) = heaviest else { return };
        let Some(spread) = self.spread(question, heaviest, watched.guard) else {
            bounds.possible = true;
            return;
        };
        let nominal = amps[heaviest];
        let scaled = |to: f64| -> Vec<f64> {
            if nominal > 1e-6 {
                amps.iter().map(|amps| amps * to / nominal).collect()
            } else {
                (0..amps.len()).map(|s| if s == heaviest { to } else { amps[s] }).collect()
            }
        };
        let acts = |to: f64, threshold: f64| {
            self.may_act(watched, &scaled(to), threshold, (beats, shares), window_s)
        };
        let weights = spread.weights.pairs();
        bounds.weights.extend(weights.map(|(k, weight)| (k, weight / nominal.max(0.1))));
        if let Some(at) = watched.trip.map(|t| t.amps).or(watched.rating_a) {
            let ParamRange { lo, hi, .. } = self.range(at.any(), question.frozen);
            let beyond = watched.trip.map_or(1.0, |t| t.kind.acts_beyond());
            bounds.certain |= acts(spread.least, beyond * hi);
            bounds.possible |= acts(spread.largest, beyond * lo);
            bounds.weights.push((at.any(), (hi - lo) / self.nominal[at].max(1e-9)));
        }
    }

    /// Whether a guard may act on some currents, at a threshold.
    fn may_act(
        &self,
        watched: &Watched,
        amps: &[f64],
        threshold: f64,
        (beats, shares): (&[Beat], &[f64]),
        window_s: Option<f64>,
    ) -> bool {
        let figures = signal::figures(amps, shares);
        let Some(trip) = watched.trip else { return figures.rms > threshold };
        match trip.kind {
            _ if figures.peak <= threshold => false,
            // A vehicle that stands there is averaged for ever.
            TripKind::Averaged { .. } if window_s.is_none() && figures.mean > threshold => true,
            kind => {
                let outcome = self.trip(watched.guard, kind, amps, beats, threshold, window_s);
                outcome.trips != signal::Trips::No
            }
        }
    }

    /// The range of a value; of a frozen one that is its nominal value.
    fn range(&self, at: ValueId, frozen: &[ValueId]) -> ParamRange {
        let value = &self.wiring.values[at];
        let nominal = value.nominal;
        if frozen.contains(&at) {
            ParamRange { lo: nominal, nominal, hi: nominal }
        } else {
            ParamRange { lo: value.low, nominal, hi: value.high }
        }
    }

    /// The range of a guard's sensed (or largest) current at one joint state. `None` if some circuit could not be solved.
    fn spread(&self, question: &Question, at: usize, guard: Guard) -> Option<Spread> {
        let scenario = question.scenario;
        let joint = Joint::of(&scenario.beats());
        let touch = question.stand.map(NumericStand::clean);
        let trip = match guard {
            Guard::Driver(driver) => self.wiring.drivers[driver].trip.as_ref(),
            Guard::Device(_) => None,
        };
        let values = self.wiring.values.indices();
        let ranges: Vec<ParamRange> = values.map(|k| self.range(k, question.frozen)).collect();
        // A magnitude is not monotone, so each signed current is bounded by itself. Which leg is the larger may change
        // with the values: it carries at least what either carries at least.
        let magnitude = trip.is_none_or(|t| !t.signed);
        let mut spread =
            Spread { least: 0.0, largest: 0.0, weights: Table::filled(0.0, ranges.len()) };
        let places: &[Senses] = match trip.map(|t| t.senses) {
            Some(Senses::LargerLeg) | None => &[Senses::LegP, Senses::LegM],
            Some(senses) => &[senses],
        };
        for &place in places {
            let mut eval = |values: &[f64]| -> Result<(f64, Vec<f64>), Unsolved> {
                let values: Values = values.to_vec().into();
                let built = self.build(scenario, (&joint, at), touch.as_deref(), &values, None);
                let solution = built.solve()?;
                let probe = match guard {
                    Guard::Driver(driver) => built.probes[driver].at(place),
                    Guard::Device(device) => {
                        &built.devices[device][usize::from(place == Senses::LegM)]
                    }
                };
                let slopes = gradient(&built, &solution, probe, values.len());
                Ok((read(&solution, probe), slopes.to_vec()))
            };
            let found = extremes(&ranges, &mut eval).ok()?;
            let (_, gradient) = eval(&self.nominal).ok()?;
            let (least, largest) = if magnitude {
                (found.min.max(-found.max).max(0.0), found.max.max(-found.min))
            } else {
                (found.min.max(0.0), found.max.max(0.0))
            };
            spread.least = spread.least.max(least);
            spread.largest = spread.largest.max(largest);
            for ((weight, slope), range) in spread.weights.iter_mut().zip(&gradient).zip(&ranges) {
                *weight = weight.max(slope.abs() * (range.hi - range.lo));
            }
        }
        Some(spread)
    }
}

/// How a read current grows with each of the wiring's values, of which there are `count`.
fn gradient(built: &Assembled, solution: &Solution, probe: &Probe, count: usize) -> Values {
    let slopes = solution.sensitivity(&built.network, probe);
    let mut gradient = Values::filled(0.0, count);
    for (sums, slope) in [(&built.ohm_of, &slopes.per_ohm), (&built.volts_of, &slopes.per_volt)] {
        for (sum, slope) in sums.iter().zip(slope) {
            for &(k, factor) in sum.iter().flat_map(|sum| &sum.terms) {
                gradient[k] += factor * slope;
            }
        }
    }
    gradient
}
