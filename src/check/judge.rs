//! Judging one situation: drivers set in one way, a vehicle standing in one way over the cut.
//!
//! All in numbers: what a number belongs to is known only to the caller.

mod chain;

use std::cell::{Cell, RefCell};
use std::collections::HashMap;

use crate::circuit::Unsolved;
use crate::crossing::assemble::{
    Assembled, GroupTouch, Moment, NumericLoad, Touch, assemble, read,
};
use crate::crossing::case::Wiring;
use crate::crossing::contacts::Touched;
use crate::drive::{Part, Schedule, StateWord};
use crate::layout::{AfterTrip, Senses, TripKind};
use crate::signal::{self, Beat, ClockId, Figures, Joint, TripOutcome};

use super::types::{Motion, Trips, Verdict};
use chain::Guard;
pub use chain::JudgedDevice;

/// A leg that differs by more than this from what it carries with the rails apart is in conflict, A.
pub const CONFLICT_A: f64 = 0.1;

/// Verdicts within this fraction of a threshold, on its clear side, are cautions.
pub const NEAR: f64 = 0.2;

/// One driver's schedule in a scenario.
#[derive(Debug, Clone, PartialEq)]
pub struct DriverRun {
    /// What it does.
    pub schedule: Schedule,
    /// Its clock.
    pub clock: ClockId,
}

/// All drivers set in one way.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// Per driver of the wiring.
    pub runs: Vec<DriverRun>,
    /// Per supply of the wiring: whether it is on.
    pub powered: Vec<bool>,
    /// Drivers held in their drive state because too many take part to look at every joint state.
    pub held: Vec<usize>,
    /// Devices that have acted: opened, or exchanged their poles.
    pub acted: Vec<usize>,
}

impl Scenario {
    /// Which supplies are on and which devices have acted.
    fn switched(&self) -> (&[bool], &[usize]) {
        (&self.powered, &self.acted)
    }

    fn beats(&self) -> Vec<Beat> {
        self.runs
            .iter()
            .map(|run| {
                let parts = run
                    .schedule
                    .parts
                    .iter()
                    .enumerate()
                    .map(|(state, part)| signal::Part { state, share: part.share });
                Beat::new(run.schedule.period_s, parts, run.clock)
            })
            .collect()
    }

    /// The part that each driver is in, at a joint state.
    pub fn parts(&self, joint: &Joint, at: usize) -> Vec<Part> {
        joint
            .decode(at)
            .into_iter()
            .zip(&self.runs)
            .map(|(part, run)| run.schedule.parts[part])
            .collect()
    }
}

/// A group of joined pickups over the cut, as numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct NumericGroup {
    /// Nets (indices of the wiring) under the left and right pickups, with wheels.
    pub touched: [Touched; 2],
    /// Least and largest contact resistance of a wheel, Ω.
    pub wheel_ohm: (f64, f64),
    /// Loads, on where both sides touch.
    pub loads: Vec<NumericLoad>,
}

/// A vehicle or a train standing over the cut, as numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct NumericStand {
    /// Which of the vehicles or trains it is, by place.
    pub vehicle: usize,
    /// The groups that join nets.
    pub groups: Vec<NumericGroup>,
    /// How far the vehicle rolls with these joins, mm.
    pub length_mm: f64,
    /// Least and largest speed, mm/s.
    pub speed_mm_s: (f64, f64),
    /// A single wheel rather than a pickup group.
    pub single_wheel: bool,
    /// What the vehicle's wiring bears, A: least believable, value, largest.
    pub wiring_a: Option<[f64; 3]>,
}

impl NumericStand {
    /// No wheels but metal of so much resistance from each net to where its side meets, and nothing that rolls.
    pub fn of_metal(touched: [Touched; 2], ohm: f64) -> NumericStand {
        NumericStand {
            vehicle: 0,
            groups: vec![NumericGroup { touched, wheel_ohm: (ohm, ohm), loads: Vec::new() }],
            length_mm: 1.0,
            speed_mm_s: (1.0, 1.0),
            single_wheel: false,
            wiring_a: None,
        }
    }

    /// Whether any group joins nets on a side.
    pub fn joins(&self, side: usize) -> bool {
        self.groups.iter().any(|group| group.touched[side].len() > 1)
    }

    /// Its wheels on the rails, clean and without loads.
    fn clean(&self) -> Touch {
        self.touch(|group| group.wheel_ohm.0)
    }

    /// Its wheels on the rails at their largest contact resistance, without loads.
    fn dirty(&self) -> Touch {
        self.touch(|group| group.wheel_ohm.1)
    }

    fn touch(&self, wheel_ohm: impl Fn(&NumericGroup) -> f64) -> Touch {
        self.groups
            .iter()
            .map(|group| GroupTouch {
                sides: group.touched.clone(),
                wheel_ohm: wheel_ohm(group),
                loads: Vec::new(),
            })
            .collect()
    }

    /// Its wheels on the rails, clean, with the loads.
    fn with_loads(&self) -> Touch {
        let mut touch = self.clean();
        for (on, group) in touch.iter_mut().zip(&self.groups) {
            on.loads.clone_from(&group.loads);
        }
        touch
    }

    /// The same with motors at rest, without back-EMF.
    fn at_rest(&self) -> Touch {
        let mut touch = self.with_loads();
        for load in touch.iter_mut().flat_map(|group| &mut group.loads) {
            if let NumericLoad::Series { emf_v, .. } = load {
                *emf_v = 0.0;
            }
        }
        touch
    }

    fn loaded(&self) -> bool {
        self.groups.iter().any(|group| !group.loads.is_empty())
    }
}

/// What the circuit carries in one joint state.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Carried {
    /// Per driver: leaving P, leaving M, drawn from the positive pole, where the trip senses.
    pub drivers: Vec<[f64; 4]>,
    /// Per device: magnitude in the larger of its poles.
    pub devices: Vec<f64>,
    /// Per supply: positive over negative pole, V.
    pub poles_v: Vec<Option<f64>>,
    /// Through each load, left to right, group by group.
    pub loads: Vec<f64>,
    /// Which one-way branches conduct.
    pub conducting: Vec<bool>,
}

const P: usize = 0;
const M: usize = 1;
const SUPPLY: usize = 2;
const SENSED: usize = 3;

/// What decided a verdict.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Decided {
    /// Nothing flows that matters.
    Nothing,
    /// A driver's trip.
    Trip(usize),
    /// A device's trip.
    Device(usize),
    /// A driver's continuous rating.
    Rating(usize),
    /// A supply's sustained limit.
    Limit(usize),
    /// The voltage that a supply's pole may bear.
    Pole(usize),
    /// Steady current into a supply that can take it.
    Sink(usize),
    /// The vehicle's wiring.
    VehicleWiring,
    /// A conflict that nothing guards against: no trip, no rating, no limit is known.
    Unguarded,
    /// The circuit of some moment could not be solved and verified.
    Unsolved,
}

/// One driver in a judged situation.
#[derive(Debug, Clone, PartialEq)]
pub struct JudgedDriver {
    /// Leaving P, leaving M, drawn from the positive pole.
    pub figures: [Figures; 3],
    /// Where its trip senses.
    pub sensed: Option<Figures>,
    /// Highest voltage between its supply's poles, V.
    pub pole_v: Option<f64>,
    /// Its trip.
    pub trips: Trips,
    /// Share of phases in which it acts.
    pub trips_share: f64,
    /// Earliest time until it acts, s.
    pub trip_after_s: Option<f64>,
}

/// A pole that stands above its supply's own voltage because a neighbour feeds it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lifted {
    /// The supply.
    pub supply: usize,
    /// Voltage with the rails apart, V.
    pub from_v: f64,
    /// Voltage with them joined, V.
    pub to_v: f64,
}

/// What goes on once the drivers that trip first have done so.
#[derive(Debug, Clone, PartialEq)]
pub struct After {
    /// Whether the conflict goes on.
    pub conflict: bool,
    /// Largest current in any leg, A.
    pub peak_a: f64,
    /// Drivers whose trips then act.
    pub trips: Vec<usize>,
    /// Devices that then act.
    pub devices: Vec<usize>,
}

/// A judged situation.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// Verdict.
    pub verdict: Verdict,
    /// (threshold − figure)/threshold of what decided.
    pub margin: Option<f64>,
    /// What decided.
    pub decided: Decided,
    /// Moving or standing, whichever is worse.
    pub motion: Motion,
    /// Share of time in conflict.
    pub share: f64,
    /// Longest unbroken conflict, s; `None` lasts for ever.
    pub longest_s: Option<f64>,
    /// Least and largest share of time in conflict, where one clock holds a phase that nobody knows.
    pub share_range: Option<(f64, f64)>,
    /// Time until the inductance of wires and rails lets 95 % of the resistive peak through, s: in a shorter conflict the
    /// peak is an upper bound.
    pub resistive_after_s: Option<f64>,
    /// Joint states: share and the part of each driver.
    pub joints: Vec<(f64, Vec<Part>)>,
    /// The joint state of the largest conflict current, and that current (A).
    pub worst_joint: Option<(usize, f64)>,
    /// Drivers.
    pub drivers: Vec<JudgedDriver>,
    /// Devices of the feed chains.
    pub devices: Vec<JudgedDevice>,
    /// Drivers whose trip is first.
    pub first: Vec<usize>,
    /// Devices that act first, beside those drivers.
    pub first_devices: Vec<usize>,
    /// Whether the devices that act first are auto-reversers, and nothing is in conflict once they have: the verdict is
    /// that of afterwards, the figures are those of before.
    pub resolved: bool,
    /// Auto-reversers that have acted before all that is told here, because they end a part of the conflict.
    pub exchanged: Vec<usize>,
    /// What goes on after they have tripped, where that was asked.
    pub after: Option<After>,
    /// The same with the vehicle's load.
    pub loaded: Option<Vec<JudgedDriver>>,
    /// Poles lifted.
    pub lifted: Vec<Lifted>,
    /// Supplies that take steady current back, and how much, A.
    pub sunk: Vec<(usize, f64)>,
    /// Values whose range leaves the verdict open, the one worth measuring first.
    pub open: Vec<usize>,
    /// Drivers that were held in their drive state.
    pub held: Vec<usize>,
}

/// Solves and remembers the moments of one wiring.
pub struct Bench<'a> {
    wiring: &'a Wiring,
    nominal: Vec<f64>,
    solved: HashMap<MomentKey, Result<Carried, Unsolved>>,
    /// Outcomes of trips: one judgement is asked for by many vehicles and settings.
    tripped: RefCell<HashMap<TripKey, TripOutcome>>,
    /// Whether the time until a trip acts is wanted too: only of the situations that are told.
    thorough: Cell<bool>,
}

/// Sensed currents, beats (period, shares, clock), threshold, window, and whose trip it is: drivers count first, then
/// devices.
type TripKey = (Vec<u64>, usize, bool);

/// What each trip does, of drivers or of devices; `None` where there is none or it cannot act.
type Outcomes = Vec<Option<TripOutcome>>;

type MomentKey = (Vec<StateWord>, Vec<u64>, Vec<bool>, Vec<usize>, Option<TouchKey>);
type TouchKey = Vec<([Touched; 2], u64, Vec<(u8, u64, u64)>)>;

fn touch_key(touch: &[GroupTouch]) -> TouchKey {
    let load = |load: &NumericLoad| match load {
        NumericLoad::Series { ohm, emf_v } => (0, ohm.to_bits(), emf_v.to_bits()),
        NumericLoad::Rectifier { ohm, volts } => (1, ohm.to_bits(), volts.to_bits()),
    };
    touch
        .iter()
        .map(|group| {
            let loads = group.loads.iter().map(load).collect();
            (group.sides.clone(), group.wheel_ohm.to_bits(), loads)
        })
        .collect()
}

impl<'a> Bench<'a> {
    /// A bench for a wiring.
    pub fn new(wiring: &'a Wiring) -> Self {
        Self {
            wiring,
            nominal: wiring.nominal(),
            solved: HashMap::new(),
            tripped: RefCell::default(),
            thorough: Cell::new(false),
        }
    }

    /// The wiring on the bench.
    pub fn wiring(&self) -> &'a Wiring {
        self.wiring
    }

    fn build(
        &self,
        states: &[StateWord],
        levels: &[f64],
        (powered, acted): (&[bool], &[usize]),
        touch: Option<&[GroupTouch]>,
        values: &[f64],
        held: Option<(usize, f64, f64)>,
    ) -> Assembled {
        assemble(self.wiring, Moment { states, levels, powered, values, touch, acted, held })
    }

    fn carried(&self, assembled: &Assembled) -> Result<Carried, Unsolved> {
        let solution = assembled.solve()?;
        let drivers = assembled
            .probes
            .iter()
            .zip(&self.wiring.drivers)
            .map(|(probes, driver)| {
                let sensed = driver.trip.as_ref().map_or(0.0, |trip| match trip.senses {
                    Senses::LargerLeg => 0.0,
                    senses => read(&solution, probes.at(senses)),
                });
                [
                    read(&solution, &probes.p),
                    read(&solution, &probes.m),
                    read(&solution, &probes.supply),
                    sensed,
                ]
            })
            .collect();
        Ok(Carried {
            drivers,
            devices: assembled
                .devices
                .iter()
                .map(|poles| poles.iter().map(|p| read(&solution, p).abs()).fold(0.0, f64::max))
                .collect(),
            poles_v: assembled.poles.iter().map(|&(a, b)| solution.between(a, b)).collect(),
            loads: assembled.loads.iter().map(|load| read(&solution, load)).collect(),
            conducting: solution.conducting().to_vec(),
        })
    }

    /// What flows at a moment, all values nominal and no device having acted.
    pub fn moment(
        &mut self,
        states: &[StateWord],
        levels: &[f64],
        powered: &[bool],
        touch: Option<&[GroupTouch]>,
    ) -> Result<Carried, Unsolved> {
        self.moment_after(states, levels, (powered, &[]), touch)
    }

    fn moment_after(
        &mut self,
        states: &[StateWord],
        levels: &[f64],
        (powered, acted): (&[bool], &[usize]),
        touch: Option<&[GroupTouch]>,
    ) -> Result<Carried, Unsolved> {
        let key: MomentKey = (
            states.to_vec(),
            levels.iter().map(|l| l.to_bits()).collect(),
            powered.to_vec(),
            acted.to_vec(),
            touch.map(touch_key),
        );
        if let Some(known) = self.solved.get(&key) {
            return known.clone();
        }
        let assembled = self.build(states, levels, (powered, acted), touch, &self.nominal, None);
        let result = self.carried(&assembled);
        self.solved.insert(key, result.clone());
        result
    }

    /// What flows in each joint state of a scenario.
    fn all(
        &mut self,
        scenario: &Scenario,
        joint: &Joint,
        touch: Option<&[GroupTouch]>,
    ) -> Result<Vec<Carried>, Unsolved> {
        let levels: Vec<f64> = scenario.runs.iter().map(|r| r.schedule.level).collect();
        (0..joint.count())
            .map(|at| {
                let states: Vec<StateWord> =
                    scenario.parts(joint, at).iter().map(|part| part.state).collect();
                self.moment_after(&states, &levels, scenario.switched(), touch)
            })
            .collect()
    }

    /// The stand with its loads. A motor's back-EMF stands against what drives it: it has the sign that the mean current
    /// would have without any.
    fn against(
        &mut self,
        scenario: &Scenario,
        joint: &Joint,
        shares: &[f64],
        stand: &NumericStand,
    ) -> Result<Touch, Unsolved> {
        let mut touch = stand.with_loads();
        let turns =
            |load: &NumericLoad| matches!(load, NumericLoad::Series { emf_v, .. } if *emf_v != 0.0);
        if !touch.iter().flat_map(|group| &group.loads).any(turns) {
            return Ok(touch);
        }
        let carried = self.all(scenario, joint, Some(&stand.at_rest()))?;
        for (at, load) in touch.iter_mut().flat_map(|group| &mut group.loads).enumerate() {
            let mean: f64 = carried.iter().zip(shares).map(|(c, share)| share * c.loads[at]).sum();
            if let NumericLoad::Series { emf_v, .. } = load
                && mean < 0.0
            {
                *emf_v = -*emf_v;
            }
        }
        Ok(touch)
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
        let drivers: Vec<Option<TripOutcome>> = (0..self.wiring.drivers.len())
            .map(|at| {
                let trip = self.wiring.drivers[at].trip.as_ref()?;
                let sensed = self.sensed(at, &low, &shares).unwrap_or_default();
                let threshold = trip.threshold(&self.nominal);
                Some(self.trip(at, trip.kind, &sensed, &beats, threshold, window_s))
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

    /// Which one-way branches conduct in each joint state of a scenario, loads removed: where two scenarios agree in
    /// it, every current is affine between them.
    pub fn regions(&mut self, scenario: &Scenario, stand: Option<&NumericStand>) -> Vec<Vec<bool>> {
        let joint = Joint::of(&scenario.beats());
        let touch = stand.map(NumericStand::clean);
        self.all(scenario, &joint, touch.as_deref())
            .map(|carried| carried.into_iter().map(|c| c.conducting).collect())
            .unwrap_or_default()
    }

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
            trips: (0..judged.drivers.len())
                .filter(|at| !first.contains(at) && judged.drivers[*at].trips != Trips::No)
                .collect(),
            devices: (0..judged.devices.len())
                .filter(|at| !devices.contains(at) && judged.devices[*at].trips != Trips::No)
                .collect(),
        })
    }

    /// The scenario in which some drivers have gone to what they do after a trip.
    pub fn tripped(&self, scenario: &Scenario, which: &[usize]) -> Scenario {
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

    /// Judges a situation that is to be told: with the times at which trips act.
    pub fn judge_thoroughly(
        &mut self,
        scenario: &Scenario,
        stand: Option<&NumericStand>,
    ) -> Judged {
        self.thorough.set(true);
        let judged = self.judge(scenario, stand);
        self.thorough.set(false);
        judged
    }

    /// Judges a situation; the times at which averaged trips act are left out. Where auto-reversers act before anything
    /// else, what counts is what they lead to.
    pub fn judge(&mut self, scenario: &Scenario, stand: Option<&NumericStand>) -> Judged {
        let judged = self.judge_once(scenario, stand);
        self.reversed(scenario, stand, judged)
    }

    /// Judges a situation with no device having acted but those that the scenario says.
    fn judge_once(&mut self, scenario: &Scenario, stand: Option<&NumericStand>) -> Judged {
        match self.try_judge(scenario, stand) {
            Ok(judged) => judged,
            Err(_) => Judged {
                verdict: Verdict::NotKnown,
                margin: None,
                decided: Decided::Unsolved,
                motion: Motion::Standing,
                share: 0.0,
                longest_s: Some(0.0),
                share_range: None,
                resistive_after_s: None,
                joints: Vec::new(),
                worst_joint: None,
                drivers: Vec::new(),
                devices: Vec::new(),
                first: Vec::new(),
                first_devices: Vec::new(),
                resolved: false,
                exchanged: Vec::new(),
                after: None,
                loaded: None,
                lifted: Vec::new(),
                sunk: Vec::new(),
                open: Vec::new(),
                held: scenario.held.clone(),
            },
        }
    }

    fn try_judge(
        &mut self,
        scenario: &Scenario,
        stand: Option<&NumericStand>,
    ) -> Result<Judged, Unsolved> {
        let beats = scenario.beats();
        let joint = Joint::of(&beats);
        let shares = signal::shares(&beats);
        let low_touch = stand.map(NumericStand::clean);
        let low = self.all(scenario, &joint, low_touch.as_deref())?;
        let apart = self.all(scenario, &joint, None)?;
        let nothing;
        let reference = if stand.is_some() {
            &apart
        } else {
            // With no vehicle the question is what flows at all.
            nothing = vec![
                Carried {
                    drivers: vec![[0.0; 4]; self.wiring.drivers.len()],
                    devices: vec![0.0; self.wiring.devices.len()],
                    poles_v: apart[0].poles_v.clone(),
                    loads: Vec::new(),
                    conducting: Vec::new(),
                };
                apart.len()
            ];
            &nothing
        };

        let mut over = vec![false; joint.count()];
        let mut worst_joint: Option<(usize, f64)> = None;
        for at in 0..joint.count() {
            let largest = low[at]
                .drivers
                .iter()
                .zip(&reference[at].drivers)
                .flat_map(|(now, before)| [now[P] - before[P], now[M] - before[M]])
                .fold(0.0_f64, |largest, change| largest.max(change.abs()));
            over[at] = largest > CONFLICT_A && shares[at] > 0.0;
            if over[at] && worst_joint.is_none_or(|(_, old)| largest > old) {
                worst_joint = Some((at, largest));
            }
        }
        let share: f64 = (0..joint.count()).filter(|&at| over[at]).map(|at| shares[at]).sum();

        let window_s = stand.map(|s| s.length_mm / s.speed_mm_s.0.max(1e-6));
        let mut outcomes: Vec<(Motion, Rated, [Outcomes; 2])> = Vec::new();
        // Whatever acts on a vehicle that rolls over acts on one that stands there; only a single wheel is bridged too
        // narrowly to be found standing.
        let motions: &[Motion] = if stand.is_some_and(|s| s.single_wheel) {
            &[Motion::Standing, Motion::Moving]
        } else {
            &[Motion::Standing]
        };
        // Dirty contacts can only turn "trips" into "trips sometimes", and a load only matters where something continuous
        // is rated: neither is needed to find the worst situation.
        let thorough = self.thorough.get();
        let rated_for_ever = stand.is_some_and(|s| s.wiring_a.is_some())
            || self.wiring.drivers.iter().any(|d| d.rating_a.is_some())
            || self.wiring.supplies.iter().any(|s| s.limit_a.is_some());
        let high = match stand.filter(|_| thorough) {
            Some(s) => Some(self.all(scenario, &joint, Some(&s.dirty()))?),
            None => None,
        };
        let loaded = match stand.filter(|_| thorough || rated_for_ever) {
            Some(s) if s.loaded() => {
                let touch = self.against(scenario, &joint, &shares, s)?;
                Some(self.all(scenario, &joint, Some(&touch))?)
            }
            _ => None,
        };
        for &motion in motions {
            let window = if motion == Motion::Moving { window_s } else { None };
            let (mut rated, trips) = self.rate(
                scenario,
                &beats,
                &shares,
                &low,
                &apart,
                high.as_deref(),
                loaded.as_deref(),
                &over,
                stand,
                window,
            );
            if motion == Motion::Standing && stand.is_some_and(|s| s.single_wheel) {
                rated.verdict = rated.verdict.min(Verdict::Caution);
            }
            outcomes.push((motion, rated, trips));
        }
        // Standing comes first: of equals the standing one is told.
        let mut chosen = 0;
        for at in 1..outcomes.len() {
            if worse(&outcomes[at].1, &outcomes[chosen].1) {
                chosen = at;
            }
        }
        let (motion, rated, [trips, device_trips]) = outcomes.swap_remove(chosen);

        let drivers = self.figures(&shares, &low, Some(&trips));
        let [first, first_devices] = chain::first(&trips, &device_trips);
        let devices = self.device_figures(&shares, &low, &device_trips);
        let longest = if motion == Motion::Moving { window_s } else { None };
        let share_range = (share > 0.0
            && signal::phase_case(&beats, longest) == signal::PhaseCase::Frozen)
            .then(|| signal::share_spread(&over, &beats, longest))
            .map(|spread| (spread.min, spread.max));
        let longest_s =
            if share > 0.0 { signal::longest_run_s(&over, &beats, longest) } else { Some(0.0) };
        let (lifted, sunk) = self.back_feed(scenario, &shares, &low, &apart);
        Ok(Judged {
            verdict: rated.verdict,
            margin: rated.margin,
            decided: rated.decided,
            motion,
            share,
            longest_s,
            share_range,
            resistive_after_s: worst_joint.map(|(_, peak)| self.resistive_after_s(scenario, peak)),
            joints: (0..joint.count()).map(|at| (shares[at], scenario.parts(&joint, at))).collect(),
            worst_joint,
            drivers,
            devices,
            first,
            first_devices,
            resolved: false,
            exchanged: Vec::new(),
            after: None,
            loaded: loaded.map(|loaded| self.figures(&shares, &loaded, None)),
            lifted,
            sunk,
            open: Vec::new(),
            held: scenario.held.clone(),
        })
    }

    /// The outcome of a trip on what it senses: of a driver, or of a device, which count on after the drivers. One that
    /// only limits, cycle by cycle, never acts; what counts against its limit is the peak that would flow without it.
    fn trip(
        &self,
        who: usize,
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
        let clock = |beat: &Beat| {
            [
                beat.period_s.to_bits(),
                beat.clock.shared.map_or(u64::MAX, u64::from),
                beat.clock.phase.map_or(u64::MAX, f64::to_bits),
                beat.clock.tolerance.to_bits(),
                beat.parts.len() as u64,
            ]
        };
        let numbers: Vec<u64> = sensed
            .iter()
            .map(|amps| amps.to_bits())
            .chain(beats.iter().flat_map(clock))
            .chain(beats.iter().flat_map(|b| b.parts.iter().map(|part| part.share.to_bits())))
            .chain([threshold_a.to_bits(), window_s.map_or(u64::MAX, f64::to_bits)])
            .collect();
        // Who reverses before whom is a matter of times.
        let thorough = self.thorough.get() || self.reverses();
        let key = (numbers, who, thorough);
        if let Some(known) = self.tripped.borrow().get(&key) {
            return *known;
        }
        let judge = if thorough { signal::trip } else { signal::trip_acts };
        let outcome = judge(sensed, beats, threshold_a, &trip, window_s);
        self.tripped.borrow_mut().insert(key, outcome);
        outcome
    }

    /// How long the inductance of the whole loop holds a current back: every feeder and the rail up to the cut, against
    /// the resistance that the highest driving voltage and the peak tell.
    fn resistive_after_s(&self, scenario: &Scenario, peak_a: f64) -> f64 {
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

    /// Sensed current per joint state, magnitudes or clipped to the usual direction.
    fn sensed(&self, driver: usize, carried: &[Carried], shares: &[f64]) -> Option<Vec<f64>> {
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

    fn figures(
        &self,
        shares: &[f64],
        carried: &[Carried],
        trips: Option<&[Option<TripOutcome>]>,
    ) -> Vec<JudgedDriver> {
        (0..self.wiring.drivers.len())
            .map(|at| {
                let column = |c: usize| -> Vec<f64> {
                    carried.iter().map(|state| state.drivers[at][c]).collect()
                };
                let driver = &self.wiring.drivers[at];
                let sensed = driver.trip.as_ref().map(|trip| match trip.senses {
                    Senses::LargerLeg if trip.signed => {
                        let out: Vec<f64> =
                            carried.iter().map(|c| outward(&c.drivers[at])).collect();
                        signal::figures(&out, shares)
                    }
                    Senses::LargerLeg => {
                        signal::figures(&column(larger_leg(at, carried, shares)), shares)
                    }
                    _ => signal::figures(&column(SENSED), shares),
                });
                let outcome = trips.and_then(|t| t[at].as_ref());
                JudgedDriver {
                    figures: [P, M, SUPPLY].map(|c| signal::figures(&column(c), shares)),
                    sensed,
                    pole_v: carried
                        .iter()
                        .zip(shares)
                        .filter(|(_, share)| **share > 0.0)
                        .filter_map(|(c, _)| c.poles_v[driver.supply])
                        .reduce(f64::max),
                    trips: outcome.map_or(Trips::No, |o| trips_word(o.trips)),
                    trips_share: outcome.map_or(0.0, |o| o.share),
                    trip_after_s: outcome.and_then(|o| {
                        (o.trips != signal::Trips::No).then_some(o.after_s).flatten()
                    }),
                }
            })
            .collect()
    }

    fn back_feed(
        &self,
        scenario: &Scenario,
        shares: &[f64],
        low: &[Carried],
        apart: &[Carried],
    ) -> (Vec<Lifted>, Vec<(usize, f64)>) {
        let mut lifted = Vec::new();
        let mut sunk = Vec::new();
        for (at, supply) in self.wiring.supplies.iter().enumerate() {
            let highest = |carried: &[Carried]| {
                carried
                    .iter()
                    .zip(shares)
                    .filter(|(_, share)| **share > 0.0)
                    .filter_map(|(c, _)| c.poles_v[at])
                    .reduce(f64::max)
            };
            if let Some(to_v) = highest(low) {
                let from_v = if scenario.powered[at] { highest(apart).unwrap_or(0.0) } else { 0.0 };
                let lift = !supply.can_sink || !scenario.powered[at];
                if lift && to_v > from_v + 0.05 {
                    lifted.push(Lifted { supply: at, from_v, to_v });
                }
            }
            if supply.can_sink && scenario.powered[at] {
                let mean: f64 =
                    low.iter().zip(shares).map(|(c, share)| share * self.drawn(at, c)).sum();
                if mean < -CONFLICT_A {
                    sunk.push((at, -mean));
                }
            }
        }
        (lifted, sunk)
    }

    /// Current that all drivers of a supply draw from its positive pole.
    fn drawn(&self, supply: usize, carried: &Carried) -> f64 {
        self.wiring
            .drivers
            .iter()
            .zip(&carried.drivers)
            .filter(|(driver, _)| driver.supply == supply)
            .map(|(_, amps)| amps[SUPPLY])
            .sum()
    }

    #[allow(clippy::too_many_arguments)]
    fn rate(
        &self,
        scenario: &Scenario,
        beats: &[Beat],
        shares: &[f64],
        low: &[Carried],
        apart: &[Carried],
        high: Option<&[Carried]>,
        loaded: Option<&[Carried]>,
        over: &[bool],
        stand: Option<&NumericStand>,
        window_s: Option<f64>,
    ) -> (Rated, [Outcomes; 2]) {
        let value = |at: usize| self.nominal[at];
        let mut rated =
            Rated { verdict: Verdict::Clear, margin: Some(1.0), decided: Decided::Nothing };
        let mut trips = Vec::with_capacity(self.wiring.drivers.len());
        let conflict = over.iter().any(|&o| o);
        let mut guarded = false;
        for (at, driver) in self.wiring.drivers.iter().enumerate() {
            let Some(trip) = driver.trip.as_ref().filter(|_| scenario.powered[driver.supply])
            else {
                // None, or of a board without power: it cannot act.
                trips.push(None);
                continue;
            };
            let threshold = trip.threshold(&self.nominal);
            let sensed = self.sensed(at, low, shares).unwrap_or_default();
            let mut outcome = self.trip(at, trip.kind, &sensed, beats, threshold, window_s);
            if outcome.trips == signal::Trips::Yes
                && let Some(high) = high
                && let Some(weak) = self.sensed(at, high, shares)
                && self.trip(at, trip.kind, &weak, beats, threshold, window_s).trips
                    != signal::Trips::Yes
            {
                outcome.trips = signal::Trips::Sometimes;
            }
            let margin = 1.0 - outcome.worst / threshold;
            let peak = sensed
                .iter()
                .zip(shares)
                .filter(|(_, share)| **share > 0.0)
                .fold(0.0_f64, |peak, (amps, _)| peak.max(*amps));
            // A trip that does not act on the moments to which the vehicle adds something is the business of whatever flows
            // with no train.
            let standing = stand.is_some() && outcome.trips != signal::Trips::No && {
                let columns: &[usize] =
                    if trip.senses == Senses::LargerLeg { &[P, M] } else { &[SENSED] };
                let added: Vec<f64> = low
                    .iter()
                    .zip(apart)
                    .zip(&sensed)
                    .map(|((now, before), amps)| {
                        let grows = |&c: &usize| {
                            now.drivers[at][c].abs() - before.drivers[at][c].abs() > CONFLICT_A
                        };
                        if columns.iter().any(grows) { *amps } else { 0.0 }
                    })
                    .collect();
                self.trip(at, trip.kind, &added, beats, threshold, window_s).trips
                    == signal::Trips::No
            };
            if standing {
                trips.push(Some(outcome));
                guarded = true;
                continue;
            }
            let verdict = if outcome.trips != signal::Trips::No {
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
            guarded |= peak >= carried * 0.5 && carried > CONFLICT_A;
            // A driver that carries more than its trip allows, where the trip does not look.
            if outcome.trips == signal::Trips::No && peak <= threshold && driver.rating_a.is_none()
            {
                let legs: Vec<f64> = low.iter().map(|c| c.drivers[at][larger]).collect();
                let rms = signal::figures(&legs, shares).rms;
                if conflict && rms > threshold {
                    rated.offer(
                        Verdict::Overload,
                        Some(1.0 - rms / threshold),
                        Decided::Rating(at),
                    );
                }
            }
            rated.offer(verdict, Some(margin), Decided::Trip(at));
            trips.push(Some(outcome));
        }
        let devices =
            self.rate_devices(&mut rated, beats, shares, low, apart, high, stand, window_s);
        guarded |= conflict && self.device_guards(low, over);
        // What is rated for ever must bear no more than a chopping driver lets through.
        let chopped = self.chopped(scenario, loaded.unwrap_or(low), shares);
        let with_load = chopped.as_deref().unwrap_or(loaded.unwrap_or(low));
        // A load that is too much for its driver without any conflict is so everywhere, not only at this gap.
        let beyond = if conflict { Verdict::Overload } else { Verdict::Caution };
        for (at, driver) in self.wiring.drivers.iter().enumerate() {
            if let Some(rating) = driver.rating_a {
                let larger = larger_leg(at, with_load, shares);
                let legs: Vec<f64> = with_load.iter().map(|c| c.drivers[at][larger]).collect();
                let rms = signal::figures(&legs, shares).rms;
                rated.continuous(rms, value(rating), beyond, Decided::Rating(at));
                guarded = true;
            }
        }
        for (at, supply) in self.wiring.supplies.iter().enumerate() {
            if let Some(limit) = supply.limit_a {
                let mean: f64 =
                    with_load.iter().zip(shares).map(|(c, share)| share * self.drawn(at, c)).sum();
                rated.continuous(mean, value(limit), beyond, Decided::Limit(at));
                guarded = true;
            }
            if let Some(bearable) = supply.bearable_v {
                let highest = low
                    .iter()
                    .zip(shares)
                    .filter(|(_, share)| **share > 0.0)
                    .filter_map(|(c, _)| c.poles_v[at])
                    .fold(0.0, f64::max);
                // Its own voltage alone is no back-feed, however near the limit it was chosen.
                let halves = if supply.split { 2.0 } else { 1.0 };
                let own = if scenario.powered[at] { halves * value(supply.open_v) } else { 0.0 };
                if stand.is_some() && highest > own + 0.05 {
                    rated.continuous(
                        highest,
                        value(bearable),
                        Verdict::BackFeed,
                        Decided::Pole(at),
                    );
                }
            }
            if supply.can_sink {
                let mean: f64 =
                    low.iter().zip(shares).map(|(c, share)| share * self.drawn(at, c)).sum();
                if scenario.powered[at] && mean < -CONFLICT_A && stand.is_some() {
                    rated.offer(Verdict::BackFeed, None, Decided::Sink(at));
                }
            }
        }
        if let Some([_, bears, _]) = stand.and_then(|s| s.wiring_a) {
            // What crosses the cut is what some leg of a driver carries.
            let crossing: f64 = (0..self.wiring.drivers.len())
                .map(|at| {
                    let larger = larger_leg(at, with_load, shares);
                    let legs: Vec<f64> = with_load.iter().map(|c| c.drivers[at][larger]).collect();
                    signal::figures(&legs, shares).rms
                })
                .fold(0.0, f64::max);
            rated.continuous(crossing, bears, beyond, Decided::VehicleWiring);
        }
        if conflict && !guarded {
            rated.offer(Verdict::Short, None, Decided::Unguarded);
        }
        (rated, [trips, devices])
    }

    /// What is carried once drivers that limit cycle by cycle do so: in every state in which such a driver drives and
    /// would sense more than its limit, its own legs and what it draws are brought down to it. Still an upper bound: it
    /// is off for part of the time, and what others carry is left as it is without the limit. `None` if none limits.
    fn chopped(
        &self,
        scenario: &Scenario,
        carried: &[Carried],
        shares: &[f64],
    ) -> Option<Vec<Carried>> {
        let beats = scenario.beats();
        let joint = Joint::of(&beats);
        let mut chopped: Option<Vec<Carried>> = None;
        for (at, driver) in self.wiring.drivers.iter().enumerate() {
            let Some(trip) = driver.trip.as_ref().filter(|t| t.kind == TripKind::Chopping) else {
                continue;
            };
            let limit = trip.threshold(&self.nominal);
            let sensed = self.sensed(at, carried, shares).unwrap_or_default();
            let all = chopped.get_or_insert_with(|| carried.to_vec());
            for (state, (now, amps)) in all.iter_mut().zip(sensed).enumerate() {
                if amps > limit && scenario.parts(&joint, state)[at].drives {
                    for leg in &mut now.drivers[at] {
                        *leg *= limit / amps;
                    }
                }
            }
        }
        chopped
    }

    /// The range that the believable values leave to a guard's sensed (or largest) current at one joint state:
    /// least, largest, and the weight of each value.
    pub fn extremes(
        &self,
        scenario: &Scenario,
        stand: Option<&NumericStand>,
        at: usize,
        guard: Guard,
        frozen: &[usize],
    ) -> Option<(f64, f64, Vec<f64>)> {
        let beats = scenario.beats();
        let joint = Joint::of(&beats);
        let states: Vec<StateWord> =
            scenario.parts(&joint, at).iter().map(|part| part.state).collect();
        let levels: Vec<f64> = scenario.runs.iter().map(|r| r.schedule.level).collect();
        let touch = stand.map(NumericStand::clean);
        let trip = match guard {
            Guard::Driver(driver) => self.wiring.drivers[driver].trip.as_ref(),
            Guard::Device(_) => None,
        };
        let ranges: Vec<crate::circuit::ParamRange> = self
            .wiring
            .values
            .iter()
            .enumerate()
            .map(|(k, v)| {
                let fixed = frozen.contains(&k);
                crate::circuit::ParamRange {
                    lo: if fixed { v.nominal } else { v.low },
                    nominal: v.nominal,
                    hi: if fixed { v.nominal } else { v.high },
                }
            })
            .collect();
        // A magnitude is not monotone, so each signed current is bounded by itself. Which leg is the larger may change
        // with the values: it carries at least what either carries at least.
        let magnitude = trip.is_none_or(|t| !t.signed);
        let mut both = (0.0_f64, 0.0_f64, vec![0.0_f64; ranges.len()]);
        let places: &[Senses] = match trip.map(|t| t.senses) {
            Some(Senses::LargerLeg) | None => &[Senses::LegP, Senses::LegM],
            Some(senses) => &[senses],
        };
        for &place in places {
            let mut eval = |values: &[f64]| -> Result<(f64, Vec<f64>), Unsolved> {
                let switched = scenario.switched();
                let assembled =
                    self.build(&states, &levels, switched, touch.as_deref(), values, None);
                let solution = assembled.solve()?;
                let probe = match guard {
                    Guard::Driver(driver) => assembled.probes[driver].at(place),
                    Guard::Device(device) => {
                        &assembled.devices[device][usize::from(place == Senses::LegM)]
                    }
                };
                let slopes = solution.sensitivity(&assembled.network, probe);
                let mut gradient = vec![0.0; values.len()];
                for (sums, slope) in
                    [(&assembled.ohm_of, &slopes.per_ohm), (&assembled.volts_of, &slopes.per_volt)]
                {
                    for (sum, slope) in sums.iter().zip(slope) {
                        for &(k, factor) in sum.iter().flat_map(|sum| &sum.terms) {
                            gradient[k] += factor * slope;
                        }
                    }
                }
                Ok((read(&solution, probe), gradient))
            };
            let found = crate::circuit::extremes(&ranges, &mut eval).ok()?;
            let (_, gradient) = eval(&self.nominal).ok()?;
            let (least, largest) = if magnitude {
                (found.min.max(-found.max).max(0.0), found.max.max(-found.min))
            } else {
                (found.min.max(0.0), found.max.max(0.0))
            };
            both.0 = both.0.max(least);
            both.1 = both.1.max(largest);
            for ((weight, slope), range) in both.2.iter_mut().zip(&gradient).zip(&ranges) {
                *weight = weight.max(slope.abs() * (range.hi - range.lo));
            }
        }
        Some(both)
    }

    /// Whether the ranges of assumed values leave the verdict open. If so: the value to measure first, or the two that
    /// weigh most if no single one settles it.
    ///
    /// Every trip grows with what it senses, so the least and the largest current of the heaviest joint state bound
    /// what it can do.
    pub fn left_open(
        &self,
        scenario: &Scenario,
        stand: Option<&NumericStand>,
        judged: &Judged,
    ) -> Vec<usize> {
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
        let bounds = |frozen: &[usize]| self.bounds(scenario, stand, judged, &guards, frozen);
        let (certain, possible, mut weights) = bounds(&[]);
        if certain == possible {
            return Vec::new();
        }
        weights.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        weights.retain(|w| w.1 > 0.0);
        for &(at, _) in weights.iter().take(6) {
            let (certain, possible, _) = bounds(&[at]);
            if certain == possible {
                return vec![at];
            }
        }
        weights.into_iter().take(2).map(|w| w.0).collect()
    }

    /// Whether some guard acts for certain, and whether one may act; with the weight of each value.
    fn bounds(
        &self,
        scenario: &Scenario,
        stand: Option<&NumericStand>,
        judged: &Judged,
        guards: &[Guard],
        frozen: &[usize],
    ) -> (bool, bool, Vec<(usize, f64)>) {
        let beats = scenario.beats();
        let shares: Vec<f64> = judged.joints.iter().map(|j| j.0).collect();
        let window_s = match judged.motion {
            Motion::Moving => stand.map(|s| s.length_mm / s.speed_mm_s.0.max(1e-6)),
            Motion::Standing => None,
        };
        let range = |at: usize| {
            let v = &self.wiring.values[at];
            if frozen.contains(&at) { (v.nominal, v.nominal) } else { (v.low, v.high) }
        };
        let (mut certain, mut possible) = (false, false);
        let mut weights: Vec<(usize, f64)> = Vec::new();
        let joint = Joint::of(&beats);
        let touch = stand.map(NumericStand::clean);
        let levels: Vec<f64> = scenario.runs.iter().map(|r| r.schedule.level).collect();
        let carried: Option<Vec<Carried>> = (0..joint.count())
            .map(|at| {
                let states: Vec<StateWord> =
                    scenario.parts(&joint, at).iter().map(|part| part.state).collect();
                let built = self.build(
                    &states,
                    &levels,
                    scenario.switched(),
                    touch.as_deref(),
                    &self.nominal,
                    None,
                );
                self.carried(&built).ok()
            })
            .collect();
        let Some(carried) = carried else { return (false, true, weights) };
        for &guard in guards {
            let (trip, rating, sensed) = match guard {
                Guard::Driver(at) => {
                    let driver = &self.wiring.drivers[at];
                    let sensed = match &driver.trip {
                        Some(_) => self.sensed(at, &carried, &shares).unwrap_or_default(),
                        None if driver.rating_a.is_some() => {
                            let larger = larger_leg(at, &carried, &shares);
                            carried.iter().map(|c| c.drivers[at][larger].abs()).collect()
                        }
                        None => continue,
                    };
                    (driver.trip.as_ref(), driver.rating_a, sensed)
                }
                Guard::Device(at) => {
                    let trip = self.wiring.devices[at].trip.as_ref().map(|(trip, _)| trip);
                    (trip, None, carried.iter().map(|c| c.devices[at]).collect())
                }
            };
            let heaviest = (0..sensed.len())
                .filter(|&s| shares[s] > 0.0)
                .max_by(|&a, &b| sensed[a].total_cmp(&sensed[b]));
            let Some(heaviest) = heaviest else { continue };
            let Some((least, largest, slopes)) =
                self.extremes(scenario, stand, heaviest, guard, frozen)
            else {
                possible = true;
                continue;
            };
            let nominal = sensed[heaviest];
            let scaled = |to: f64| -> Vec<f64> {
                if nominal > 1e-6 {
                    sensed.iter().map(|amps| amps * to / nominal).collect()
                } else {
                    (0..sensed.len()).map(|s| if s == heaviest { to } else { sensed[s] }).collect()
                }
            };
            let mut threshold_at = None;
            let acts = |amps: Vec<f64>, threshold: f64| match trip {
                Some(trip) => {
                    let figures = signal::figures(&amps, &shares);
                    match trip.kind {
                        _ if figures.peak <= threshold => false,
                        // A vehicle that stands there is averaged for ever.
                        TripKind::Averaged { .. }
                            if window_s.is_none() && figures.mean > threshold =>
                        {
                            true
                        }
                        kind => {
                            self.trip(self.whose(guard), kind, &amps, &beats, threshold, window_s)
                                .trips
                                != signal::Trips::No
                        }
                    }
                }
                None => signal::figures(&amps, &shares).rms > threshold,
            };
            if let Some(amps_at) = trip.map(|t| t.amps).or(rating) {
                let (low, high) = range(amps_at);
                threshold_at = Some((amps_at, low, high));
                let beyond = trip.map_or(1.0, |t| t.kind.acts_beyond());
                certain |= acts(scaled(least), beyond * high);
                possible |= acts(scaled(largest), beyond * low);
            }
            for (k, weight) in slopes.into_iter().enumerate() {
                weights.push((k, weight / nominal.max(0.1)));
            }
            if let Some((k, low, high)) = threshold_at {
                weights.push((k, (high - low) / self.nominal[k].max(1e-9)));
            }
        }
        // One entry a value: its largest weight.
        weights.sort_by(|a, b| a.0.cmp(&b.0).then(b.1.total_cmp(&a.1)));
        weights.dedup_by_key(|w| w.0);
        (certain, possible, weights)
    }

    /// What charges a supply's bulk capacitance at the moment of joining: (current into it at once, A; resistance of
    /// the loop, Ω; sensed current of each driver at once, A). The heaviest joint state counts.
    pub fn inrush(
        &self,
        scenario: &Scenario,
        stand: &NumericStand,
        lifted: &Lifted,
    ) -> Option<(f64, f64, Vec<f64>)> {
        let supply = &self.wiring.supplies[lifted.supply];
        let (_, esr) = supply.bulk?;
        let esr = esr.map_or(0.0, |at| self.nominal[at]);
        let beats = scenario.beats();
        let joint = Joint::of(&beats);
        let levels: Vec<f64> = scenario.runs.iter().map(|r| r.schedule.level).collect();
        let touch = stand.clean();
        (0..joint.count())
            .filter_map(|at| {
                let states: Vec<StateWord> =
                    scenario.parts(&joint, at).iter().map(|part| part.state).collect();
                let held = Some((lifted.supply, lifted.from_v, esr));
                let built = self.build(
                    &states,
                    &levels,
                    scenario.switched(),
                    Some(&touch),
                    &self.nominal,
                    held,
                );
                let solution = built.solve().ok()?;
                let into = -solution.amps(built.held?);
                let carried = self.carried(&built).ok()?;
                let sensed = (0..self.wiring.drivers.len())
                    .map(|d| {
                        let amps = carried.drivers[d];
                        match self.wiring.drivers[d].trip.as_ref().map(|t| t.senses) {
                            Some(Senses::LargerLeg) | None => amps[P].abs().max(amps[M].abs()),
                            Some(_) => amps[SENSED].abs(),
                        }
                    })
                    .collect();
                (into > CONFLICT_A).then(|| (into, (lifted.to_v - lifted.from_v) / into, sensed))
            })
            .max_by(|a, b| a.0.total_cmp(&b.0))
    }
}

fn trips_word(trips: signal::Trips) -> Trips {
    match trips {
        signal::Trips::Yes => Trips::Yes,
        signal::Trips::Sometimes => Trips::Sometimes,
        signal::Trips::No => Trips::No,
    }
}

/// Where only the usual direction counts, the larger leg is the one that current leaves by: in reverse that is M.
fn outward(amps: &[f64; 4]) -> f64 {
    amps[P].max(amps[M]).max(0.0)
}

/// Column of the leg with the larger RMS.
fn larger_leg(driver: usize, carried: &[Carried], shares: &[f64]) -> usize {
    let square = |c: usize| -> f64 {
        carried.iter().zip(shares).map(|(s, share)| share * s.drivers[driver][c].powi(2)).sum()
    };
    if square(M) > square(P) * (1.0 + 1e-9) { M } else { P }
}

/// A trip for the signal room, with its threshold at [`CaseTrip::threshold`](crate::crossing::case::CaseTrip::threshold); a
/// locked sampler is locked to its own driver's beat. None for what never trips.
pub fn numeric_trip(kind: TripKind, driver: usize) -> Option<signal::Trip> {
    Some(match kind {
        TripKind::Instant { blanking_s } => signal::Trip::Instant { blanking_s },
        TripKind::Sampled { every_s, in_a_row, locked_at } => {
            signal::Trip::Sampled { every_s, in_a_row, locked: locked_at.map(|at| (driver, at)) }
        }
        TripKind::Averaged { tau_s } => signal::Trip::Averaged { tau_s },
        TripKind::Thermal { points } => {
            let points: Vec<(f64, f64)> = points.iter().map(|p| (p.times, p.after_s)).collect();
            signal::Trip::Thermal { curve: signal::Curve::new(&points)? }
        }
        TripKind::Chopping => return None,
    })
}

/// A verdict with its margin and what decided it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rated {
    /// Verdict.
    pub verdict: Verdict,
    /// Margin.
    pub margin: Option<f64>,
    /// What decided.
    pub decided: Decided,
}

impl Rated {
    /// Takes a judgement over if it is worse than what there is.
    fn offer(&mut self, verdict: Verdict, margin: Option<f64>, decided: Decided) {
        let new = Rated { verdict, margin, decided };
        if worse(&new, self) {
            *self = new;
        }
    }

    fn continuous(&mut self, figure: f64, threshold: f64, beyond: Verdict, decided: Decided) {
        let margin = 1.0 - figure / threshold;
        let verdict = if margin < 0.0 {
            beyond
        } else if margin < NEAR {
            Verdict::Caution
        } else {
            Verdict::Clear
        };
        self.offer(verdict, Some(margin), decided);
    }
}

/// Worse verdict, then less margin.
pub fn worse(new: &Rated, old: &Rated) -> bool {
    let margin = |r: &Rated| r.margin.unwrap_or(0.0);
    new.verdict > old.verdict || (new.verdict == old.verdict && margin(new) < margin(old))
}
