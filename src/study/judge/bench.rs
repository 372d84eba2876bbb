//! The bench: solves the moments of one wiring and remembers them by their content.
//!
//! Nothing that is remembered depends on the order in which it was asked for.

use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::rc::Rc;

use serde::Serialize;

use super::super::key::{Key, Scratch};
use super::carried::Carried;
use super::scenario::Scenario;
use super::stand::NumericStand;
use super::trips::{Timings, TripKey};
use crate::circuit::{Solution, Unsolved};
use crate::drive::StateWord;
use crate::layout::Senses;
use crate::signal::{Joint, TripOutcome};
use crate::straddle::assemble::{
    Assembled, GroupTouch, Moment, NumericLoad, Touch, assemble, read,
};
use crate::straddle::case::{Values, Wiring};
use crate::straddle::ix::{DeviceIx, DriverIx, SupplyIx, Table};

/// Solves and remembers the moments of one wiring.
pub struct Bench<'a> {
    pub(super) wiring: &'a Wiring,
    /// The values that are taken to hold.
    pub(super) nominal: Values,
    /// Values at which trips act, where they are not the nominal ones.
    pub(super) trips_at: Option<Values>,
    solved: HashMap<MomentKey, Result<Rc<Carried>, Unsolved>>,
    /// Where keys are made for looking up.
    scratch: Scratch,
    /// Outcomes of trips: one judgement is asked for by many vehicles and settings.
    pub(super) tripped: RefCell<HashMap<TripKey, TripOutcome>>,
    pub(super) timings: RefCell<Timings>,
    /// Whether the time until a trip acts is wanted too: only of the situations that are told.
    pub(super) thorough: Cell<bool>,
}

/// Solves one moment of a wiring.
pub fn solved(wiring: &Wiring, moment: Moment) -> Result<Carried, Unsolved> {
    let assembled = assemble(wiring, moment);
    Ok(carried(wiring, &assembled, &assembled.solve()?))
}

/// Reads the solved circuit of a wiring.
pub(super) fn carried(wiring: &Wiring, assembled: &Assembled, solution: &Solution) -> Carried {
    let drivers = assembled
        .probes
        .iter()
        .zip(&wiring.drivers)
        .map(|(probes, driver)| {
            let sensed = driver.trip.as_ref().map_or(0.0, |trip| match trip.senses {
                Senses::LargerLeg => 0.0,
                senses => read(solution, probes.at(senses)),
            });
            [
                read(solution, &probes.p),
                read(solution, &probes.m),
                read(solution, &probes.supply),
                sensed,
            ]
        })
        .collect();
    Carried {
        drivers,
        devices: assembled
            .devices
            .iter()
            .map(|poles| poles.iter().map(|p| read(solution, p).abs()).fold(0.0, f64::max))
            .collect(),
        poles_v: assembled.poles.iter().map(|&(a, b)| solution.between(a, b)).collect(),
        loads: assembled.loads.iter().map(|load| read(solution, load)).collect(),
        conducting: solution.conducting().to_vec(),
    }
}

/// A mean current below this fraction of what flows both ways turns no motor.
const STANDS: f64 = 1e-6;

type States = Table<DriverIx, StateWord>;
type Powered = Table<SupplyIx, bool>;
type MomentKey = Key<Nominal<'static>>;

/// All of a moment at nominal values that can differ on one bench.
#[derive(Serialize)]
struct Nominal<'a> {
    states: &'a States,
    levels: &'a Table<DriverIx, f64>,
    powered: &'a Powered,
    touch: Option<&'a [GroupTouch]>,
    acted: &'a [DeviceIx],
}

impl<'a> Bench<'a> {
    /// A bench for a wiring.
    pub fn new(wiring: &'a Wiring) -> Self {
        Self {
            wiring,
            nominal: wiring.nominal(),
            trips_at: None,
            solved: HashMap::new(),
            scratch: Scratch::default(),
            tripped: RefCell::default(),
            timings: RefCell::default(),
            thorough: Cell::new(false),
        }
    }

    /// The wiring on the bench.
    pub fn wiring(&self) -> &'a Wiring {
        self.wiring
    }

    /// The circuit of one joint state of a scenario.
    pub(super) fn build(
        &self,
        scenario: &Scenario,
        (joint, at): (&Joint, usize),
        touch: Option<&[GroupTouch]>,
        values: &Values,
        held: Option<(SupplyIx, f64, f64)>,
    ) -> Assembled {
        let (powered, acted) = scenario.switched();
        let (states, levels) = (&scenario.states(joint, at), &scenario.levels());
        assemble(self.wiring, Moment { states, levels, powered, values, touch, acted, held })
    }

    /// What flows at a moment, all values nominal and no device having acted.
    pub fn moment(
        &mut self,
        states: &States,
        levels: &Table<DriverIx, f64>,
        powered: &Powered,
        touch: Option<&[GroupTouch]>,
    ) -> Result<Rc<Carried>, Unsolved> {
        self.moment_after(states, levels, (powered, &[]), touch)
    }

    /// What flows at a moment, all values nominal, some devices having acted.
    pub fn moment_after(
        &mut self,
        states: &States,
        levels: &Table<DriverIx, f64>,
        (powered, acted): (&Powered, &[DeviceIx]),
        touch: Option<&[GroupTouch]>,
    ) -> Result<Rc<Carried>, Unsolved> {
        let key = self.scratch.write(&Nominal { states, levels, powered, touch, acted });
        if let Some(known) = self.solved.get(key) {
            return known.clone();
        }
        let values = &self.nominal;
        let moment = Moment { states, levels, powered, values, touch, acted, held: None };
        let result = solved(self.wiring, moment).map(Rc::new);
        self.solved.insert(self.scratch.key(), result.clone());
        result
    }

    /// What flows in each joint state of a scenario.
    pub(super) fn all(
        &mut self,
        scenario: &Scenario,
        joint: &Joint,
        touch: Option<&[GroupTouch]>,
    ) -> Result<Vec<Rc<Carried>>, Unsolved> {
        let levels = scenario.levels();
        (0..joint.count())
            .map(|at| {
                let states = scenario.states(joint, at);
                self.moment_after(&states, &levels, scenario.switched(), touch)
            })
            .collect()
    }

    /// The stand with its loads. A motor's back-EMF stands against what drives it: it has the sign that the mean current
    /// would have without any. Where that is nothing, as on DCC, the motor does not turn and has none.
    pub(super) fn against(
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
            let parts = || carried.iter().zip(shares).map(|(c, share)| share * c.loads[at]);
            let (mean, both_ways) = (parts().sum::<f64>(), parts().map(f64::abs).sum::<f64>());
            if let NumericLoad::Series { emf_v, .. } = load {
                if mean.abs() <= STANDS * both_ways {
                    *emf_v = 0.0;
                } else if mean < 0.0 {
                    *emf_v = -*emf_v;
                }
            }
        }
        Ok(touch)
    }

    /// Which one-way branches conduct in each joint state of a scenario, loads removed: where two scenarios agree in
    /// it, every current is affine between them.
    pub fn regions(&mut self, scenario: &Scenario, stand: Option<&NumericStand>) -> Vec<Vec<bool>> {
        let joint = Joint::of(&scenario.beats());
        let touch = stand.map(NumericStand::clean);
        self.all(scenario, &joint, touch.as_deref())
            .map(|carried| carried.iter().map(|c| c.conducting.clone()).collect())
            .unwrap_or_default()
    }
}
