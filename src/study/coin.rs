//! The coin test: a dead short at the far end of a block, where the rails between it and the feeders are longest.
//!
//! Common practice, no source: a coin laid across the rails at the far end of every block must trip its driver, at every
//! throttle, or the driver and its supply feed the short indefinitely.

use serde::Serialize;

use std::sync::Arc;

use rayon::prelude::*;

use crate::drive::{self, SetWord};
use crate::layout::{
    DriverId, EntityId, FeedId, JointId, Layout, LimitKind, Load, RunId, VehicleId,
};
use crate::rails::{Far, Lengths, Plan, PlanNet};
use crate::signal::Figures;
use crate::straddle::case::{CaseDriver, Names, Stage, Sum, Values, Wiring};
use crate::straddle::chain::Acts;
use crate::straddle::ix::{DeviceIx, DriverIx, NetIx};
use crate::straddle::path::{Span, Tape};

use super::cut::{Case, Set, Settings};
use super::judge::{Bench, CONFLICT_A, Judged, NumericStand};
use super::key::Key;
use super::limit::Limit;
use super::memo::Memo;
use super::types::Trips;
use crate::units::{ValueId, Volt};

/// Resistance of a coin across the rails, Ω (common practice, no source).
pub const COIN_OHM: f64 = 0.01;

/// Load of a train where no vehicle of the layout has one, A (common practice, no source).
pub const STAND_IN_LOAD_A: f64 = 0.5;

/// A coin across the rails of a block, in numbers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoinCase {
    /// The drivers around it.
    pub case: Case,
    /// The driver that is tried; the others are off.
    pub driver: DriverIx,
    /// The two nets that the coin joins.
    pub nets: [NetIx; 2],
    /// The sustained limit of its supply, and what else that feeds.
    pub limit: Option<Limit>,
}

/// Place of a coin, and names for its numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct CoinAt {
    /// Index of the block in [`Plan::blocks`].
    pub block: usize,
    /// The driver that is tried.
    pub driver: DriverId,
    /// Where the coin lies.
    pub run: RunId,
    /// Distance along that run, mm.
    pub at_mm: f64,
    /// Rail between it and the nearest feeder, on the two rails, mm.
    pub rail_mm: [f64; 2],
    /// Names of the wiring.
    pub names: Names,
}

/// The coin test at one setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Try {
    /// The setting.
    pub set: Set,
    /// In the larger leg.
    pub leg: Figures,
    /// Per output (P, M): RMS, A.
    pub rms_a: [f64; 2],
    /// Where the trip senses.
    pub sensed: Option<Figures>,
    /// Current from the supply, A.
    pub supply_a: f64,
    /// True if the supply holds that at its limit.
    pub limited: bool,
    /// True if the driver's trip acts, or a breaker or a fuse on the way to the coin.
    pub trips: Trips,
    /// Values whose ranges leave that open.
    pub open: Vec<ValueId>,
}

impl Try {
    /// True if the fault is fed indefinitely, as far as the values are known.
    pub fn fails(&self) -> bool {
        self.leg.peak > CONFLICT_A && (self.trips != Trips::Yes || !self.open.is_empty())
    }
}

/// The coin test at every setting that counts.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CoinResult {
    /// One try per setting: the lowest usable throttle and full, in both directions.
    pub tries: Vec<Try>,
    /// Peak at full throttle, A, the supply not limiting.
    pub far_a: f64,
    /// The same with a coin at the feeders, A.
    pub at_feeders_a: f64,
    /// Resistance of wires and rails, there and back, Ω.
    pub wires_ohm: f64,
}

/// The largest load of one vehicle of the layout on a supply of `volts`: A, and the vehicle. Without a loaded
/// vehicle, [`STAND_IN_LOAD_A`].
pub fn working_load(layout: &Layout, volts: f64) -> (f64, Option<VehicleId>) {
    let amps = |load: &Load| match load {
        Load::Nothing => 0.0,
        Load::Resistor { ohm } => volts / ohm.value,
        Load::Motor { ohm, emf_v } => (volts - emf_v.value).max(0.0) / ohm.value,
        Load::Rectifier { ohm, volts: held } => (volts - held.value).max(0.0) / ohm.value,
    };
    layout
        .vehicles
        .values()
        .map(|v| (amps(&v.load), Some(v.id)))
        .filter(|(amps, _)| *amps > 0.0)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap_or((STAND_IN_LOAD_A, None))
}

/// The coin at the far end of a block, for one of its drivers, the rail joiners at the joint `open` taken as open. `None` where the block has no two rails fed by it.
pub fn coin_of(
    layout: &Layout,
    plan: &Plan,
    lengths: &Lengths,
    block: usize,
    driver: DriverId,
    open: Option<JointId>,
) -> Option<(CoinCase, CoinAt)> {
    let nets = plan.blocks[block].nets;
    if nets[0] == nets[1] {
        return None;
    }
    let legs_on = |net: usize| plan.nets[net].legs.iter().filter(|leg| leg.driver == driver);
    let to_feeders = nets.map(|net| {
        let from: Vec<(usize, f64)> = legs_on(net)
            .flat_map(|leg| lengths.nodes_at(plan, net, leg.run, leg.at_mm))
            .map(|node| (node, 0.0))
            .collect();
        lengths.distances(&from, open)
    });
    let far = lengths.farthest(plan, block, [&to_feeders[0], &to_feeders[1]])?;
    let ruler = ruler_from(plan, lengths, &far, driver, open);
    let always = [driver].into();
    let tape = Tape { spans: &ruler, ..Tape::default() };
    let (wiring, names) = Wiring::around(layout, plan, &nets.map(PlanNet).into(), &always, tape);
    let index = |net: usize| names.nets.of(&PlanNet(net));
    let at = names.drivers.of(&driver)?;
    let joined = [index(nets[0])?, index(nets[1])?];
    let case = Case { sides: [Some(at), Some(at)], ..Case::bare(layout, wiring, &names) };
    let limit = Limit::of(layout, plan, driver);
    let place = CoinAt {
        block,
        driver,
        run: plan.pieces[far.piece].run,
        at_mm: far.at_mm,
        rail_mm: far.rail_mm,
        names,
    };
    Some((CoinCase { case, driver: at, nets: joined, limit }, place))
}

/// The length of rail from the coin to each feeder, as a ruler that touches those places only. Where the two rails go
/// different ways round, the longer one counts for both.
fn ruler_from(
    plan: &Plan,
    lengths: &Lengths,
    far: &Far,
    driver: DriverId,
    open: Option<JointId>,
) -> Vec<Span> {
    let mut ways: Vec<(RunId, f64, f64)> = Vec::new();
    for net in plan.pieces[far.piece].nets {
        let from_coin = lengths.distances_from(plan, far, net, open);
        for leg in plan.nets[net].legs.iter().filter(|leg| leg.driver == driver) {
            let nodes = lengths.nodes_at(plan, net, leg.run, leg.at_mm);
            let length = nodes.iter().map(|&n| from_coin[n]).fold(f64::INFINITY, f64::min);
            if !length.is_finite() {
                continue;
            }
            match ways.iter_mut().find(|way| way.0 == leg.run && way.1 == leg.at_mm) {
                Some(way) => way.2 = way.2.max(length),
                None => ways.push((leg.run, leg.at_mm, length)),
            }
        }
    }
    ways.into_iter().map(|(run, at_mm, mm)| Span::at_a_distance(run, at_mm, mm)).collect()
}

/// True if a driver feeds some rail in the present positions of the selectors.
pub fn feeds_something(plan: &Plan, driver: DriverId) -> bool {
    plan.nets.iter().any(|net| net.legs.iter().any(|leg| leg.driver == driver))
}

/// What a supply does at its limit is stated: one that hiccups does not feed a fault without a break.
pub fn hiccups(layout: &Layout, driver: DriverId) -> bool {
    let supply = layout.drivers.get(&driver).and_then(|d| layout.supplies.get(&d.supply));
    supply.and_then(|s| s.limit).is_some_and(|limit| limit.kind == LimitKind::Hiccup)
}

/// The least share of its voltage to which a supply is taken to sink.
const LEAST_SAG: f64 = 1e-3;

/// A coin across the rails at the far end of a block, and what flows.
#[derive(Debug, Clone, PartialEq)]
pub struct Coin {
    /// Where it lies.
    pub at: CoinAt,
    /// Its numbers.
    pub case: CoinCase,
    /// What flows.
    pub result: Arc<CoinResult>,
}

impl Coin {
    /// Lays a coin across the rails at the far end of every block, for each of its drivers.
    pub(super) fn all(layout: &Layout, plan: &Plan, lengths: &Lengths, memo: &Memo) -> Vec<Coin> {
        let blocks: Vec<(usize, DriverId)> = plan
            .blocks
            .iter()
            .enumerate()
            .flat_map(|(at, block)| block.drivers.iter().map(move |&driver| (at, driver)))
            .collect();
        let found: Vec<(CoinCase, CoinAt)> = blocks
            .into_par_iter()
            .filter_map(|(at, driver)| coin_of(layout, plan, lengths, at, driver, None))
            .collect();
        Coin::solved(found, memo)
    }

    /// The same coins with the drivers set as they are in a layout whose rails and wires are the same.
    pub(super) fn as_set_in(
        coins: &[Coin],
        layout: &Layout,
        plan: &Plan,
        memo: &Memo,
    ) -> Vec<Coin> {
        let case = |coin: &Coin| (coin.case.as_set_in(layout, plan, &coin.at), coin.at.clone());
        Coin::solved(coins.iter().map(case).collect(), memo)
    }

    fn solved(found: Vec<(CoinCase, CoinAt)>, memo: &Memo) -> Vec<Coin> {
        let cases: Vec<&CoinCase> = found.iter().map(|(case, _)| case).collect();
        let results = memo.coins(&cases);
        let coins = found.into_iter().zip(results);
        coins.map(|((case, at), result)| Coin { at, case, result }).collect()
    }
}

impl CoinCase {
    /// The same case with the drivers set as they are in a layout whose rails and wires are the same.
    fn as_set_in(&self, layout: &Layout, plan: &Plan, at: &CoinAt) -> CoinCase {
        let case = self.case.as_set_in(layout, &at.names).unwrap_or_else(|| self.case.clone());
        CoinCase { case, limit: Limit::of(layout, plan, at.driver), ..*self }
    }

    /// Its content, for remembering results.
    pub fn key(&self) -> Key<CoinCase> {
        Key::of(self)
    }

    /// Tries every setting that counts. Pure: equal cases give equal results.
    pub fn solve(&self) -> CoinResult {
        let wiring = &self.case.wiring;
        let mut bench = Bench::new(wiring);
        let mut result = CoinResult::default();
        for set in self.settings() {
            if let Some(tried) = self.attempt(&mut bench, set) {
                result.tries.push(tried);
            }
        }
        let full = self.settings().into_iter().find(|set| set.1 == 1.0);
        let Some(full) = full else { return result };
        let peak = |wiring: &Wiring| -> f64 {
            let judged = self.judged(&mut Bench::new(wiring), full);
            judged.drivers.get(self.driver).map_or(0.0, |d| larger(d.figures).peak)
        };
        result.far_a = peak(wiring);
        result.at_feeders_a = peak(&self.with_legs(|leg| leg.terms.truncate(1)));
        let near_a = peak(&self.with_legs(|leg| *leg = Sum::default()));
        let volts = wiring.values[self.open_v()].nominal;
        if result.far_a > 0.0 && near_a > 0.0 {
            result.wires_ohm = (volts / result.far_a - volts / near_a).max(0.0);
        }
        result
    }

    /// The coin test at one setting of the driver; `None` if its circuit could not be solved.
    pub fn at(&self, set: Set) -> Option<Try> {
        self.attempt(&mut Bench::new(&self.case.wiring), set)
    }

    /// The wiring with the legs of the driver changed.
    fn with_legs(&self, change: impl Fn(&mut Sum)) -> Wiring {
        let mut wiring = self.case.wiring.clone();
        for leg in wiring.drivers[self.driver].legs.iter_mut().flatten() {
            change(&mut leg.ohm);
        }
        wiring
    }

    /// The lowest usable throttle and full, in both directions: what holds at both holds between, and nothing depends on how
    /// the throttles are set now.
    fn settings(&self) -> Vec<Set> {
        let control = &self.case.controls[self.driver];
        let mut settings: Vec<Set> = Vec::new();
        let mut add = |set: Set| {
            if !settings.contains(&set) {
                settings.push(set);
            }
        };
        for &word in drive::reachable(&control.driver).iter().filter(|word| word.drives()) {
            if word == SetWord::On {
                add((word, 1.0));
                continue;
            }
            for throttle in [control.driver.lowest_throttle, 1.0].into_iter().filter(|t| *t > 0.0) {
                add((word, throttle));
            }
        }
        settings
    }

    /// The open-circuit voltage of the driver's supply.
    fn open_v(&self) -> ValueId<Volt> {
        let wiring = &self.case.wiring;
        wiring.supplies[wiring.drivers[self.driver].supply].open_v
    }

    fn stand(&self) -> NumericStand {
        // Both rails meet in one star: two contacts make the coin.
        NumericStand::of_metal([self.nets.map(|net| (net, 1)).to_vec(), Vec::new()], COIN_OHM / 2.0)
    }

    fn scenario(&self, set: Set) -> super::judge::Scenario {
        let mut settings = Settings::filled((SetWord::Off, 0.0), self.case.controls.len());
        settings[self.driver] = set;
        let mut powered = self.case.powered.clone();
        powered[self.case.wiring.drivers[self.driver].supply] = true;
        self.case.scenario(&settings, &powered)
    }

    fn judged(&self, bench: &mut Bench, set: Set) -> Judged {
        bench.judge_thoroughly(&self.scenario(set), Some(&self.stand()))
    }

    fn attempt(&self, bench: &mut Bench, set: Set) -> Option<Try> {
        let judged = self.judged(bench, set);
        let drawn = self.drawn(&judged)?;
        // A supply at its limit lets its voltage sink until it gives no more than that; in a loop of resistances every
        // current sinks with it.
        let open_v = self.case.wiring.values[self.open_v()].nominal;
        let limit = self.limit.as_ref().and_then(|limit| limit.left_for(drawn, open_v));
        let mut open = self.left_open(bench, set, &judged);
        let Some(limit) = limit else { return self.outcome(set, &judged, (drawn, false), open) };
        // What flows is the limit, or what resistances let through where that is less: both must trip it. A supply that
        // sank at the nominal resistances gives its limit at any others that ask for more.
        let mut sunk = self.case.wiring.clone();
        let thresholds = self.thresholds();
        for at in self.case.wiring.values.indices().filter(|at| !thresholds.contains(at)) {
            let value = &mut sunk.values[at];
            (value.low, value.high) = (value.nominal, value.nominal);
        }
        let volts = self.open_v();
        let share = (limit / drawn).max(LEAST_SAG);
        let value = &mut sunk.values[volts];
        (value.nominal, value.low, value.high) =
            (value.nominal * share, value.nominal * share, value.nominal * share);
        let mut bench = Bench::new(&sunk);
        let judged = self.judged(&mut bench, set);
        for at in self.left_open(&mut bench, set, &judged) {
            if !open.contains(&at) {
                open.push(at);
            }
        }
        self.outcome(set, &judged, (limit, true), open)
    }

    /// Values that say when the driver and the guards behind it trip.
    fn thresholds(&self) -> Vec<ValueId> {
        let wiring = &self.case.wiring;
        let own = wiring.drivers[self.driver].trip.as_ref().map(|trip| trip.amps);
        let guards = self.guards();
        let theirs =
            guards.iter().filter_map(|&at| Some(wiring.devices.get(at)?.trip.as_ref()?.0.amps));
        own.into_iter().chain(theirs).map(|amps| amps.any()).collect()
    }

    /// Values whose ranges leave open whether the coin trips anything.
    fn left_open(&self, bench: &mut Bench, set: Set, judged: &Judged) -> Vec<ValueId> {
        if self.case.wiring.drivers[self.driver].trip.is_none() && self.guards().is_empty() {
            return Vec::new();
        }
        bench.left_open(&self.scenario(set), Some(&self.stand()), judged)
    }

    fn outcome(
        &self,
        set: Set,
        judged: &Judged,
        (supply_a, limited): (f64, bool),
        open: Vec<ValueId>,
    ) -> Option<Try> {
        let own = judged.drivers.get(self.driver)?;
        // An auto-reverser only turns the current round.
        let guards = self.guards();
        let trips = guards
            .iter()
            .filter_map(|&at| Some(judged.devices.get(at)?.trips))
            .fold(own.trips, Trips::max);
        Some(Try {
            set,
            leg: larger(own.figures),
            rms_a: [own.figures[0].rms, own.figures[1].rms],
            sensed: own.sensed,
            supply_a,
            limited,
            trips,
            open,
        })
    }

    /// Breakers and fuses behind the driver.
    pub fn guards(&self) -> Vec<DeviceIx> {
        let devices = self.case.wiring.devices.pairs();
        devices
            .filter(|(_, device)| device.driver == self.driver)
            .filter(|(_, device)| matches!(device.trip, Some((_, Acts::Opens))))
            .map(|(at, _)| at)
            .collect()
    }

    /// Sustained current that the driver draws from its supply, A.
    fn drawn(&self, judged: &Judged) -> Option<f64> {
        let own = judged.drivers.get(self.driver)?;
        Some(match self.case.wiring.drivers[self.driver].stage {
            // Each half of a split supply feeds one direction.
            Stage::Half => own.figures[0].mean_abs,
            _ => own.figures[2].mean.abs(),
        })
    }
}

fn larger(figures: [Figures; 3]) -> Figures {
    if figures[1].rms > figures[0].rms { figures[1] } else { figures[0] }
}

/// How the current of an output divides over the feeds that lead it to a net, at given values: shares that sum to 1.
pub fn shares_of_feeds(
    driver: &CaseDriver,
    output: usize,
    net: NetIx,
    values: &Values,
    names: &Names,
) -> Vec<(FeedId, f64)> {
    let legs: Vec<(FeedId, f64)> = driver.legs[output]
        .iter()
        .filter(|leg| leg.net == net)
        .filter_map(|leg| {
            let ohm = &leg.ohm;
            let feed = ohm.terms.iter().find_map(|term| match names.values.get(term.0)?.0 {
                Some(EntityId::Feed(id)) => Some(id),
                _ => None,
            })?;
            Some((feed, 1.0 / ohm.at(values).max(crate::straddle::case::FLOOR_OHM)))
        })
        .collect();
    let all: f64 = legs.iter().map(|leg| leg.1).sum();
    legs.into_iter().map(|(feed, siemens)| (feed, siemens / all)).collect()
}
