//! Solves instants with counterfactuals applied.

use std::collections::{BTreeSet, HashMap};
use std::rc::Rc;

use super::counterfactual::Counterfactual;
use super::instant::{Booster, Instant};
use crate::drive::{self, SetWord, Signal};
use crate::straddle::assemble::Moment;
use crate::straddle::case::{Stage, Values, Wiring};
use crate::straddle::ix::{DriverIx, PartyIx, StandIx, SupplyIx, Table};
use crate::study::cut::Case;
use crate::study::judge::{self, CONFLICT_A, Carried};

/// A lift below this is no lift, V.
pub const LIFT_V: f64 = 0.05;

/// How a wiring is changed.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
struct Variant {
    divided: bool,
    one_voltage: bool,
    exchanged: Vec<PartyIx>,
}

impl Variant {
    fn of(changes: &[Counterfactual]) -> Variant {
        let mut variant = Variant::default();
        for &change in changes {
            match change {
                Counterfactual::SuppliesDivided | Counterfactual::TiesOpened => {
                    variant.divided = true;
                }
                Counterfactual::OneVoltage => variant.one_voltage = true,
                Counterfactual::WiresExchanged(at) => variant.exchanged.push(at),
                Counterfactual::TakenOff(_)
                | Counterfactual::StaysAsleep(_)
                | Counterfactual::Coasts(_)
                | Counterfactual::PhaseExchanged(_)
                | Counterfactual::OneSignal
                | Counterfactual::NoDelay(_)
                | Counterfactual::Silenced(_) => {}
            }
        }
        variant.exchanged.sort();
        variant
    }
}

/// What an instant comes to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Outcome {
    /// Drivers whose legs change by more than [`CONFLICT_A`] when the rails are joined.
    pub carrying: Vec<DriverIx>,
    /// Supplies whose positive pole is lifted above what they give by themselves: to how many V.
    pub lifted: Vec<(SupplyIx, f64)>,
}

/// What flows with the rails joined, and with the rails apart.
type Flow = Option<Rc<[Carried; 2]>>;

/// What a lab solves before searches are broken off: drivers in solved circuits. Two parties seldom take more than a hundred,
/// three seldom more than two thousand.
const MOST_WORK: usize = 12_000;

/// Solves instants of one case with counterfactuals applied. Remembers what it has solved.
pub struct Lab<'a> {
    case: &'a Case,
    boosters: Vec<Booster>,
    smooth: Vec<DriverIx>,
    wirings: HashMap<Variant, Rc<(Wiring, Values)>>,
    solved: HashMap<(Variant, Instant), Flow>,
    /// Drivers in the circuits solved so far.
    work: usize,
    /// Ways of standing whose conflict has no cause because the search was broken off; `None` is no train.
    broken_off: BTreeSet<Option<StandIx>>,
}

impl<'a> Lab<'a> {
    /// A lab for a case.
    pub fn new(case: &'a Case) -> Lab<'a> {
        let mut stations: Vec<String> = Vec::new();
        let mut boosters = Vec::new();
        let mut smooth = Vec::new();
        for (driver, control) in case.controls.pairs() {
            let drive = drive::of(&control.driver.drive);
            if let Signal::Station(name) = drive.signal() {
                let name = name.to_owned();
                let known = stations.iter().position(|station| *station == name);
                let station = known.unwrap_or_else(|| {
                    stations.push(name);
                    stations.len() - 1
                });
                let sign = drive.sign(SetWord::On);
                boosters.push(Booster { driver, station, swapped: sign == Some(-1) });
            }
            if matches!(case.wiring.drivers[driver].stage, Stage::Smooth { .. }) {
                smooth.push(driver);
            }
        }
        let (wirings, solved) = (HashMap::new(), HashMap::new());
        Lab { case, boosters, smooth, wirings, solved, work: 0, broken_off: BTreeSet::new() }
    }

    /// True once so much was solved that searches are to stop.
    pub fn is_spent(&self) -> bool {
        self.work > MOST_WORK
    }

    /// Notes that no cause was found for an instant because searches were to stop.
    pub fn break_off(&mut self, instant: &Instant) {
        self.broken_off.insert(instant.stand);
    }

    /// Number of ways of standing for which a search was broken off.
    pub fn broken_off(&self) -> usize {
        self.broken_off.len()
    }

    fn is_half(&self, party: PartyIx) -> bool {
        let driver = self.case.parties[party].driver;
        self.case.wiring.drivers[driver].stage == Stage::Half
    }

    fn variant(&self, changes: &[Counterfactual]) -> Variant {
        let mut variant = Variant::of(changes);
        variant.exchanged.retain(|&at| !self.is_half(at));
        variant
    }

    fn wiring(&mut self, variant: &Variant) -> Rc<(Wiring, Values)> {
        if let Some(known) = self.wirings.get(variant) {
            return Rc::clone(known);
        }
        let mut wiring = self.case.wiring.clone();
        for &party in &variant.exchanged {
            exchange(&mut wiring, self.case, party);
        }
        if variant.divided {
            wiring = divided(&wiring);
        }
        if variant.one_voltage {
            to_one_voltage(&mut wiring);
        }
        let nominal = wiring.nominal();
        let wiring = Rc::new((wiring, nominal));
        self.wirings.insert(variant.clone(), Rc::clone(&wiring));
        wiring
    }

    /// Solves an instant with some counterfactuals applied; `None` if a circuit cannot be solved.
    fn flow(&mut self, instant: &Instant, changes: &[Counterfactual]) -> Flow {
        let mut changed = instant.clone();
        for &change in changes {
            match change {
                // Of a half-bridge only the direction can be exchanged: its other wire is the common rail.
                Counterfactual::WiresExchanged(at) if self.is_half(at) => {
                    changed.turn(self.case.parties[at].driver);
                }
                change => changed.apply(change, &self.boosters, &self.smooth),
            }
        }
        let key = (self.variant(changes), changed);
        if let Some(known) = self.solved.get(&key) {
            return known.clone();
        }
        let wiring = self.wiring(&key.0);
        let flow = self.solve(&wiring, &key.1);
        self.work += wiring.0.drivers.len();
        self.solved.insert(key, flow.clone());
        flow
    }

    fn solve(&self, (wiring, values): &(Wiring, Values), instant: &Instant) -> Flow {
        let supplies = wiring.supplies.indices();
        let powered: Table<SupplyIx, bool> = supplies
            .map(|at| match instant.powered.get(at) {
                Some(&on) => on,
                // A copy is on where the original is.
                None => wiring.drivers.pairs().any(|(driver, own)| {
                    own.supply == at && instant.powered[self.case.wiring.drivers[driver].supply]
                }),
            })
            .collect();
        let touch = instant.stand.map(|at| self.case.stands[at].clean());
        let levels = instant.levels();
        let solved = |touch| {
            let Instant { states, acted, .. } = instant;
            let (levels, powered) = (&levels, &powered);
            let moment = Moment { states, levels, powered, values, touch, acted, held: None };
            judge::solved(wiring, moment).ok()
        };
        Some(Rc::new([solved(touch.as_deref())?, solved(None)?]))
    }

    /// What an instant comes to with some counterfactuals applied. `None` if a circuit cannot be solved.
    pub fn outcome(&mut self, instant: &Instant, changes: &[Counterfactual]) -> Option<Outcome> {
        let flow = self.flow(instant, changes)?;
        let [joined, apart] = &*flow;
        let against = instant.stand.map(|_| apart);
        let drivers = self.case.wiring.drivers.indices();
        let variant = self.variant(changes);
        let wiring = self.wiring(&variant);
        Some(Outcome {
            carrying: drivers.filter(|&at| joined.changes(at, against) > CONFLICT_A).collect(),
            lifted: self.lifted(&wiring.0, instant, joined),
        })
    }

    /// Supplies whose positive pole stands above what they give by themselves.
    fn lifted(
        &self,
        wiring: &Wiring,
        instant: &Instant,
        carried: &Carried,
    ) -> Vec<(SupplyIx, f64)> {
        let lift = |at: SupplyIx| {
            let on = instant.powered[at];
            let pole_v = carried.poles_v[at]?;
            let can_be = !wiring.supplies[at].can_sink || !on;
            (can_be && pole_v > wiring.own_v(at, on) + LIFT_V).then_some((at, pole_v))
        };
        self.case.wiring.supplies.indices().filter_map(lift).collect()
    }

    /// True if an instant has no conflict with some counterfactuals applied, and no more current flows with the rails
    /// apart than before.
    pub fn clears(&mut self, instant: &Instant, changes: &[Counterfactual]) -> bool {
        let Some(flow) = self.flow(instant, changes) else { return false };
        let [joined, apart] = &*flow;
        let against = instant.stand.map(|_| apart);
        let drivers = self.case.wiring.drivers.indices();
        if drivers.clone().any(|at| joined.changes(at, against) > CONFLICT_A) {
            return false;
        }
        if changes.is_empty() || instant.stand.is_none() {
            return true;
        }
        let Some(before) = self.flow(instant, &[]) else { return false };
        drivers.into_iter().all(|at| {
            let more = apart.drivers[at][..2].iter().zip(&before[1].drivers[at][..2]);
            more.into_iter().all(|(after, before)| after.abs() <= before.abs() + CONFLICT_A)
        })
    }
}

/// Exchanges the wires of a party's feeds: what was led to P is led to M.
fn exchange(wiring: &mut Wiring, case: &Case, party: PartyIx) {
    let party = &case.parties[party];
    let driver = &mut wiring.drivers[party.driver];
    let here = |net| party.nets.contains(&Some(net));
    let [p, m] = std::mem::take(&mut driver.legs);
    let turned = |mut leg: crate::straddle::case::CaseLeg| {
        leg.through = leg.through.map(|(device, pole)| (device, 1 - pole));
        leg
    };
    for (own, legs) in [(0, p), (1, m)] {
        for leg in legs {
            if here(leg.net) {
                driver.legs[1 - own].push(turned(leg));
            } else {
                driver.legs[own].push(leg);
            }
        }
    }
}

/// Gives every driver a supply of its own and opens all ties. Supplies keep their indices; copies come behind.
fn divided(wiring: &Wiring) -> Wiring {
    let mut divided = wiring.clone();
    let mut used: Vec<SupplyIx> = Vec::new();
    for supply in &mut divided.supplies {
        supply.tie = None;
    }
    for at in wiring.drivers.indices() {
        let supply = wiring.drivers[at].supply;
        if used.contains(&supply) {
            let copy = divided.supplies[supply].clone();
            divided.drivers[at].supply = divided.supplies.push(copy);
        } else {
            used.push(supply);
        }
    }
    divided
}

/// Brings all supplies to the highest open-circuit voltage among them.
fn to_one_voltage(wiring: &mut Wiring) {
    let open: Vec<_> = wiring.supplies.iter().map(|supply| supply.open_v).collect();
    let highest = open.iter().map(|&at| wiring.values[at].nominal).fold(0.0, f64::max);
    for at in open {
        wiring.values[at].nominal = highest;
    }
}
