//! The electrical neighbourhood of a cut, as numbers.
//!
//! A [`Wiring`] holds the supplies and drivers that a vehicle over the cut can bring together, with every value they
//! have; it has no identities, so that equal neighbourhoods are equal values. [`Names`] stands beside it and says what
//! each number belongs to.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use smallvec::{SmallVec, smallvec};

use super::chain::{CaseDevice, Through};
use super::ix::{DeviceIx, DriverIx, NetIx, SupplyIx, Table, TieIx};
use super::path::Tape;
use crate::drive::{self, Output};
use crate::layout::wire::feed_leg_ohm;
use crate::layout::{
    AfterTrip, DeviceId, Driver, DriverId, EntityId, Layout, Quantity, Senses, Supply, SupplyId,
    TripKind,
};
use crate::rails::{Leg, LooseLeg, Plan, PlanNet};
use crate::units::{Amp, Farad, Ohm, OhmPerMetre, ValueId, Volt};

/// A value with the range in which it is believed to lie.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Value {
    /// The value to compute with.
    pub nominal: f64,
    /// Least believable value.
    pub low: f64,
    /// Largest believable value.
    pub high: f64,
}

/// One number for each value of a wiring.
pub type Values = Table<ValueId, f64>;

/// A resistance or voltage as a sum of multiples of values.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Sum {
    /// Part that depends on no value.
    pub constant: f64,
    /// Values with their factors; seldom more than two.
    pub terms: SmallVec<[(ValueId, f64); 2]>,
}

impl Sum {
    /// The sum for given values.
    pub fn at(&self, values: &Values) -> f64 {
        self.terms.iter().fold(self.constant, |sum, &(k, factor)| sum + factor * values[k])
    }

    /// One value by itself.
    pub fn of<U>(value: ValueId<U>) -> Sum {
        Sum { constant: 0.0, terms: smallvec![(value.any(), 1.0)] }
    }
}

/// Smallest resistance in a circuit, Ω: joints and terminals have at least that.
pub const FLOOR_OHM: f64 = 1e-3;

/// A supply in a case.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CaseSupply {
    /// Open-circuit voltage, V (of each half).
    pub open_v: ValueId<Volt>,
    /// Source resistance, Ω (of each half).
    pub source_ohm: ValueId<Ohm>,
    /// True if it can take current back.
    pub can_sink: bool,
    /// True if it has a midpoint.
    pub split: bool,
    /// Shared negative that the negative pole is tied to, and resistance of the tie.
    pub tie: Option<(TieIx, ValueId<Ohm>)>,
    /// Bulk capacitance, F, and its series resistance, Ω.
    pub bulk: Option<(ValueId<Farad>, Option<ValueId<Ohm>>)>,
    /// Sustained limit, A.
    pub limit_a: Option<ValueId<Amp>>,
    /// Highest bearable voltage, V.
    pub bearable_v: Option<ValueId<Volt>>,
}

/// How a driver's output stage is built.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub enum Stage {
    /// Two half-bridges.
    Bridge,
    /// One half-bridge and the supply's midpoint.
    Half,
    /// A regulated voltage behind a resistance and a reversing switch, without body diodes.
    Smooth {
        /// Output resistance, Ω.
        output_ohm: ValueId<Ohm>,
        /// True if it can take current back.
        can_sink: bool,
    },
}

/// The trip of a driver in a case.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CaseTrip {
    /// Threshold, A; of a thermal trip its rating.
    pub amps: ValueId<Amp>,
    /// Where it senses.
    pub senses: Senses,
    /// True if only the usual direction counts.
    pub signed: bool,
    /// How it decides.
    pub kind: TripKind,
    /// What it does then.
    pub then: AfterTrip,
}

impl CaseTrip {
    /// The current that it bears indefinitely, A, from the wiring's values. Beyond that it acts.
    pub fn threshold(&self, values: &Values) -> f64 {
        values[self.amps] * self.kind.acts_beyond()
    }
}

/// A feeder of one output of a driver.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CaseLeg {
    /// The net that it ends on.
    pub net: NetIx,
    /// Its resistance and that of the rail up to the cut, Ω.
    pub ohm: Sum,
    /// The device that it comes off; straight off the driver without one.
    pub through: Option<Through>,
}

/// A driver in a case.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CaseDriver {
    /// Its supply.
    pub supply: SupplyIx,
    /// Output stage.
    pub stage: Stage,
    /// On-resistance of a high switch, Ω.
    pub high_ohm: ValueId<Ohm>,
    /// On-resistance of a low switch, Ω.
    pub low_ohm: ValueId<Ohm>,
    /// Forward voltage of a body diode, V.
    pub diode_v: ValueId<Volt>,
    /// Series resistance of a body diode, Ω.
    pub diode_ohm: ValueId<Ohm>,
    /// Feeders of P and of M.
    pub legs: [Vec<CaseLeg>; 2],
    /// Length of its wire pairs and of the track up to the cut, m.
    pub pair_m: f64,
    /// Trip.
    pub trip: Option<CaseTrip>,
    /// Continuous rating, A.
    pub rating_a: Option<ValueId<Amp>>,
    /// Wake-up voltage of its controller, V.
    pub wake_v: Option<ValueId<Volt>>,
}

/// Supplies and drivers around a cut.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Wiring {
    /// Values.
    pub values: Table<ValueId, Value>,
    /// Number of nets.
    pub nets: usize,
    /// Number of shared negatives.
    pub ties: usize,
    /// Supplies.
    pub supplies: Table<SupplyIx, CaseSupply>,
    /// Drivers.
    pub drivers: Table<DriverIx, CaseDriver>,
    /// Devices of the feed chains, each after what feeds it.
    pub devices: Table<DeviceIx, CaseDevice>,
    /// Wires that meet at a device with nothing behind it: the nets that each star joins, and through which resistance, Ω.
    pub stars: Vec<Vec<(NetIx, Sum)>>,
}

/// Names of everything in a [`Wiring`].
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Names {
    /// Entity and field of each value; `None` is the layout as a whole.
    pub values: Table<ValueId, (Option<EntityId>, &'static str)>,
    /// Net of the plan for each net.
    pub nets: Table<NetIx, PlanNet>,
    /// Identity of each supply.
    pub supplies: Table<SupplyIx, SupplyId>,
    /// Identity of each driver.
    pub drivers: Table<DriverIx, DriverId>,
    /// Identity of each device.
    pub devices: Table<DeviceIx, DeviceId>,
}

impl Wiring {
    /// What a supply gives between its poles by itself, V.
    pub fn own_v(&self, supply: SupplyIx, powered: bool) -> f64 {
        let supply = &self.supplies[supply];
        let halves = if supply.split { 2.0 } else { 1.0 };
        if powered { halves * self.values[supply.open_v].nominal } else { 0.0 }
    }

    /// The nominal values.
    pub fn nominal(&self) -> Values {
        self.values.iter().map(|v| v.nominal).collect()
    }

    /// Collects the neighbourhood of `nets` and of the drivers in `always`: every driver that can be part of a loop of
    /// current once a vehicle joins those nets. A driver that hangs on the rest by one end only is left out, because no
    /// current can flow through it, and so is a feeder to a rail that nothing else reaches.
    ///
    /// `tape` gives the distance from each feeder to the cut, for the resistance of the rail between them.
    pub fn around(
        layout: &Layout,
        plan: &Plan,
        nets: &BTreeSet<PlanNet>,
        always: &BTreeSet<DriverId>,
        tape: Tape,
    ) -> (Wiring, Names) {
        let members = plan.grid().members(nets, always);
        let mut builder = Builder::default();
        let rail_ohm = builder.value(None, "rail_ohm_per_m", layout.rail_ohm_per_m);
        for &net in nets {
            builder.net(net);
        }
        let mut ties: Vec<&str> = Vec::new();
        for &id in &members.drivers {
            let Some(driver) = layout.drivers.get(&id) else { continue };
            let Some(supply) = layout.supplies.get(&driver.supply) else { continue };
            let supply = match builder.names.supplies.of(&supply.id) {
                Some(at) => at,
                None => builder.supply(supply, &mut ties),
            };
            builder.driver(driver, supply);
        }
        let ends: BTreeSet<PlanNet> =
            members.drivers.iter().flat_map(|&driver| plan.grid().nets_of(driver)).collect();
        let mut wires: BTreeMap<PlanNet, usize> = BTreeMap::new();
        for net in members.wires.iter().flat_map(|&at| &plan.wires()[at]).map(|leg| leg.net) {
            *wires.entry(net).or_default() += 1;
        }
        for net in ends {
            let legs = &plan.net(net).legs;
            let own = legs.iter().filter(|leg| members.drivers.contains(&leg.driver)).count();
            // A wire to a rail that nothing else reaches carries nothing.
            if own + wires.get(&net).copied().unwrap_or(0) < 2 && !nets.contains(&net) {
                continue;
            }
            for leg in legs {
                builder.leg(layout, plan, (net, leg), (tape, rail_ohm));
            }
        }
        for &at in &members.wires {
            let legs = &plan.wires()[at];
            let star = legs.iter().map(|leg| builder.loose(layout, leg, (tape, rail_ohm)));
            let star = star.collect();
            builder.wiring.stars.push(star);
        }
        builder.wiring.nets = builder.names.nets.len();
        builder.wiring.ties = ties.len();
        (builder.wiring, builder.names)
    }
}

#[derive(Default)]
pub(super) struct Builder {
    pub(super) wiring: Wiring,
    pub(super) names: Names,
    net_index: BTreeMap<PlanNet, NetIx>,
    driver_index: BTreeMap<DriverId, DriverIx>,
}

impl Builder {
    pub(super) fn value<U>(
        &mut self,
        entity: Option<EntityId>,
        field: &'static str,
        quantity: Quantity,
    ) -> ValueId<U> {
        let (low, high) = quantity.range();
        // A feed has two legs of one resistance: one value.
        let known = self.names.values.of(&(entity, field));
        let at = known.unwrap_or_else(|| {
            self.wiring.values.push(Value { nominal: quantity.value, low, high });
            self.names.values.push((entity, field))
        });
        ValueId::new(at.at())
    }

    fn net(&mut self, net: PlanNet) -> NetIx {
        let names = &mut self.names.nets;
        *self.net_index.entry(net).or_insert_with(|| names.push(net))
    }

    /// Adds a supply. `ties` are the names of the shared negatives so far.
    fn supply<'a>(&mut self, supply: &'a Supply, ties: &mut Vec<&'a str>) -> SupplyIx {
        let entity = Some(EntityId::Supply(supply.id));
        let tie = supply.negative.as_ref().map(|negative| {
            let at = ties.iter().position(|t| *t == negative.name).unwrap_or_else(|| {
                ties.push(&negative.name);
                ties.len() - 1
            });
            (TieIx(at), self.value(entity, "negative.ohm", negative.ohm))
        });
        let case = CaseSupply {
            open_v: self.value(entity, "open_v", supply.open_v),
            source_ohm: self.value(entity, "source_ohm", supply.source_ohm),
            can_sink: supply.can_sink,
            split: supply.split,
            tie,
            bulk: supply.bulk_f.map(|farads| {
                let at = self.value(entity, "bulk_f", farads);
                (at, supply.bulk_ohm.map(|ohm| self.value(entity, "bulk_ohm", ohm)))
            }),
            limit_a: supply.limit.map(|limit| self.value(entity, "limit.amps", limit.amps)),
            bearable_v: supply.bearable_v.map(|volts| self.value(entity, "bearable_v", volts)),
        };
        self.names.supplies.push(supply.id);
        self.wiring.supplies.push(case)
    }

    /// Adds a driver, without its feeders.
    fn driver(&mut self, driver: &Driver, supply: SupplyIx) {
        let entity = Some(EntityId::Driver(driver.id));
        let stage = match drive::of(&driver.drive).output() {
            Output::Smooth { output_ohm, can_sink } => {
                Stage::Smooth { output_ohm: self.value(entity, "output_ohm", output_ohm), can_sink }
            }
            Output::HalfBridge => Stage::Half,
            Output::Bridge => Stage::Bridge,
        };
        let case = CaseDriver {
            supply,
            stage,
            high_ohm: self.value(entity, "high_ohm", driver.high_ohm),
            low_ohm: self.value(entity, "low_ohm", driver.low_ohm),
            diode_v: self.value(entity, "diode_v", driver.diode_v),
            diode_ohm: self.value(entity, "diode_ohm", driver.diode_ohm),
            legs: [Vec::new(), Vec::new()],
            pair_m: 0.0,
            trip: driver.trip.as_ref().map(|trip| CaseTrip {
                amps: self.value(entity, "trip.amps", trip.amps),
                senses: trip.senses,
                signed: trip.signed,
                kind: trip.kind,
                then: trip.then,
            }),
            rating_a: driver.rating_a.map(|amps| self.value(entity, "rating_a", amps)),
            wake_v: driver.wake_v.map(|volts| self.value(entity, "wake_v", volts)),
        };
        self.names.drivers.push(driver.id);
        let at = self.wiring.drivers.push(case);
        self.driver_index.insert(driver.id, at);
    }

    /// Adds a leg of a feed on a net, if it comes from one of the drivers.
    fn leg(
        &mut self,
        layout: &Layout,
        plan: &Plan,
        (net, leg): (PlanNet, &Leg),
        (tape, rail_ohm): (Tape, ValueId<OhmPerMetre>),
    ) {
        let Some(&driver) = self.driver_index.get(&leg.driver) else { return };
        let Some(feed) = layout.feeds.get(&leg.feed) else { return };
        let net = self.net(net);
        let entity = Some(EntityId::Feed(feed.id));
        let mut ohm = Sum::of(self.value::<Ohm>(entity, "ohm", feed_leg_ohm(feed)));
        // The rail on which the leg is soldered.
        let rail = if leg.is_p == leg.exchanged { feed.m } else { feed.p };
        let distance_mm =
            rail.map_or(f64::INFINITY, |rail| tape.distance_mm(leg.run, leg.at_mm, rail));
        let through = self.chain(layout, plan, feed, driver, leg.is_p);
        let driver = &mut self.wiring.drivers[driver];
        // Two legs make one pair.
        driver.pair_m += feed.wire.map_or(0.0, |w| w.length_m) / 2.0;
        if distance_mm.is_finite() {
            driver.pair_m += distance_mm / 2000.0;
            ohm.terms.push((rail_ohm.any(), distance_mm / 1000.0));
        }
        driver.legs[usize::from(!leg.is_p)].push(CaseLeg { net, ohm, through });
    }

    /// A leg that comes off a device with nothing behind it. The devices on its way count with their resistances.
    fn loose(
        &mut self,
        layout: &Layout,
        leg: &LooseLeg,
        (tape, rail_ohm): (Tape, ValueId<OhmPerMetre>),
    ) -> (NetIx, Sum) {
        let net = self.net(leg.net);
        let mut ohm = Sum::default();
        if let Some(feed) = layout.feeds.get(&leg.feed) {
            let entity = Some(EntityId::Feed(feed.id));
            ohm = Sum::of(self.value::<Ohm>(entity, "ohm", feed_leg_ohm(feed)));
        }
        for device in leg.devices.iter().filter_map(|id| layout.devices.get(id)) {
            let at = self.value::<Ohm>(Some(EntityId::Device(device.id)), "ohm", device.ohm);
            ohm.terms.push((at.any(), 1.0));
        }
        let distance_mm = tape.distance_mm(leg.at.0, leg.at.1, leg.rail);
        if distance_mm.is_finite() {
            ohm.terms.push((rail_ohm.any(), distance_mm / 1000.0));
        }
        (net, ohm)
    }
}
