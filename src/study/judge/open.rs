//! Whether the ranges of assumed values leave a verdict open, and which value to measure.
//!
//! Every trip grows with what it senses, so the least and the largest current of the heaviest joint state bound what
//! it can do.

use std::collections::HashMap;
use std::rc::Rc;

use super::super::types::Motion;
use super::bench::Bench;
use super::carried::{Carried, larger_leg};
use super::judged::{Decided, Judged};
use super::scenario::Scenario;
use super::stand::NumericStand;
use super::trips::Guard;
use crate::circuit::{BranchId, ParamRange, Solution, Unsolved, extremes};
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
    /// Guards, with what they look at.
    watched: &'a [Watched<'a>],
    beats: &'a [Beat],
    shares: &'a [f64],
    frozen: &'a [ValueId],
}

/// The circuit of one joint state, put together once and solved once for the same values.
struct Circuit {
    built: Assembled,
    /// By the bits of the values.
    solved: HashMap<Vec<u64>, Result<Rc<Solution>, Unsolved>>,
}

impl Circuit {
    fn solve(&mut self, values: &Values) -> Result<Rc<Solution>, Unsolved> {
        self.built.set(values);
        let built = &self.built;
        let key = values.iter().map(|value| value.to_bits()).collect();
        self.solved.entry(key).or_insert_with(|| built.solve().map(Rc::new)).clone()
    }

    /// Per value, whether the circuit has it at all.
    fn has(&self, count: usize) -> Vec<bool> {
        let mut has = vec![false; count];
        let sums = self.built.ohm_of.iter().chain(&self.built.volts_of).flatten();
        for &(at, _) in sums.flat_map(|sum| &sum.terms) {
            has[at.at()] = true;
        }
        has
    }

    /// Per value, whether nothing changes from its nominal value to either end of its range while the others rest: it sets
    /// resistances that carry nothing, and forward voltages of diodes that go on blocking.
    fn inert(&self, nominal: &Solution, ranges: &[ParamRange]) -> Vec<bool> {
        let mut inert = vec![true; ranges.len()];
        let branches = self.built.network.branches().iter().enumerate();
        for (number, branch) in branches {
            let id = BranchId(number);
            let carries = nominal.amps(id).abs() > STILL_A;
            for &(at, _) in self.built.ohm_of[number].iter().flat_map(|sum| &sum.terms) {
                inert[at.at()] &= !carries;
            }
            for &(at, factor) in self.built.volts_of[number].iter().flat_map(|sum| &sum.terms) {
                let ParamRange { lo, nominal: now, hi } = ranges[at.at()];
                let most = branch.volts + factor.abs() * (hi - now).max(now - lo);
                let across = nominal.between(branch.from, branch.to).unwrap_or(0.0);
                let blocks = branch.diode && !nominal.conducting()[number] && across + most < 0.0;
                inert[at.at()] &= blocks;
            }
        }
        inert
    }
}

/// A branch that carries less than this can have any resistance in its range, A.
const STILL_A: f64 = 1e-9;

/// The circuits of a question, by joint state.
type Circuits = HashMap<usize, Circuit>;

/// Whether some guard acts for certain, and whether one may act; with the weight of each value.
struct Bounds {
    certain: bool,
    possible: bool,
    weights: Vec<(ValueId, f64)>,
}

impl Bounds {
    fn settled(&self) -> bool {
        self.certain || !self.possible
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
        &mut self,
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
        let beats = scenario.beats();
        let shares: Vec<f64> = judged.joints.iter().map(|j| j.0).collect();
        let touch = stand.map(NumericStand::clean);
        // Where nothing can be said, no value settles it.
        let Ok(carried) = self.all(scenario, &Joint::of(&beats), touch.as_deref()) else {
            return Vec::new();
        };
        let mut watched: Vec<Watched> =
            guards.iter().filter_map(|&guard| self.watched(guard, &carried, &shares)).collect();
        // Whoever is farthest beyond its threshold is asked first: if it acts for certain, nobody else matters.
        let nears = |watched: &Watched| {
            let peak = watched.amps.iter().copied().fold(0.0, f64::max);
            self.threshold(watched).map_or(0.0, |at| peak / self.nominal[at].max(1e-9))
        };
        watched.sort_by(|a, b| nears(b).total_cmp(&nears(a)));
        let mut circuits = Circuits::new();
        let (watched, beats, shares) = (&watched[..], &beats[..], &shares[..]);
        let mut bounds = |frozen: &[ValueId]| {
            let question = Question { scenario, stand, judged, watched, beats, shares, frozen };
            self.bounds(&question, &mut circuits)
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

    /// What the guards do over the ranges. Once one acts for certain the others are not asked.
    fn bounds(&self, question: &Question, circuits: &mut Circuits) -> Bounds {
        let mut bounds = Bounds { certain: false, possible: false, weights: Vec::new() };
        for watched in question.watched {
            self.bound(&mut bounds, question, watched, circuits);
            if bounds.certain {
                return bounds;
            }
        }
        // One entry a value: its largest weight.
        bounds.weights.sort_by(|a, b| a.0.cmp(&b.0).then(b.1.total_cmp(&a.1)));
        bounds.weights.dedup_by_key(|w| w.0);
        bounds
    }

    /// What a guard looks at. `None` for a driver that has neither a trip nor a rating.
    fn watched(
        &self,
        guard: Guard,
        carried: &[Rc<Carried>],
        shares: &[f64],
    ) -> Option<Watched<'_>> {
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
        circuits: &mut Circuits,
    ) {
        let Question { stand, judged, beats, shares, .. } = *question;
        let window_s = match judged.motion {
            Motion::Moving => stand.map(NumericStand::slowest_s),
            Motion::Standing | Motion::NoTrain => None,
        };
        let amps = &watched.amps;
        let heaviest = (0..amps.len())
            .filter(|&s| shares[s] > 0.0)
            .max_by(|&a, &b| amps[a].total_cmp(&amps[b]));
        let Some(heaviest) = heaviest else { return };
        let Some(spread) = self.spread(question, circuits, heaviest, watched.guard) else {
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
        if let Some(at) = self.threshold(watched) {
            let ParamRange { lo, hi, .. } = self.range(at.any(), question.frozen);
            let beyond = watched.trip.map_or(1.0, |t| t.kind.acts_beyond());
            bounds.certain |= acts(spread.least, beyond * hi);
            bounds.possible |= acts(spread.largest, beyond * lo);
            bounds.weights.push((at.any(), (hi - lo) / self.nominal[at].max(1e-9)));
        }
    }

    /// The value that a guard's current is held against.
    fn threshold(&self, watched: &Watched) -> Option<ValueId<Amp>> {
        watched.trip.map(|trip| trip.amps).or(watched.rating_a)
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
    fn spread(
        &self,
        question: &Question,
        circuits: &mut Circuits,
        at: usize,
        guard: Guard,
    ) -> Option<Spread> {
        let trip = match guard {
            Guard::Driver(driver) => self.wiring.drivers[driver].trip.as_ref(),
            Guard::Device(_) => None,
        };
        let circuit = circuits.entry(at).or_insert_with(|| {
            let joint = Joint::of(question.beats);
            let touch = question.stand.map(NumericStand::clean);
            let (scenario, state) = (question.scenario, (&joint, at));
            let built = self.build(scenario, state, touch.as_deref(), &self.nominal, None);
            Circuit { built, solved: HashMap::new() }
        });
        let ranges: Vec<ParamRange> = self
            .wiring
            .values
            .indices()
            .zip(circuit.has(self.wiring.values.len()))
            .map(|(k, has)| match has {
                true => self.range(k, question.frozen),
                false => self.range(k, &[k]),
            })
            .collect();
        let nominal = circuit.solve(&self.nominal).ok()?;
        let inert = circuit.inert(&nominal, &ranges);
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
                let solution = circuit.solve(&values.to_vec().into())?;
                let built = &circuit.built;
                let probe = match guard {
                    Guard::Driver(driver) => built.probes[driver].at(place),
                    Guard::Device(device) => {
                        &built.devices[device][usize::from(place == Senses::LegM)]
                    }
                };
                let slopes = gradient(built, &solution, probe, values.len());
                Ok((read(&solution, probe), slopes.to_vec()))
            };
            let found = extremes(&ranges, &inert, &mut eval).ok()?;
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
