//! The electrical neighbourhood of a cut, as numbers.
//!
//! A [`Wiring`] holds the supplies and drivers that a vehicle over the cut can bring together, with every value they
//! have; it has no identities, so that equal neighbourhoods are equal values. [`Names`] stands beside it and says what
//! each number belongs to.

use std::collections::{BTreeMap, BTreeSet};

use super::chain::{CaseDevice, Through};
use super::path::Span;
use crate::layout::wire::feed_leg_ohm;
use crate::layout::{
    AfterTrip, DeviceId, Drive, DriverId, EntityId, Layout, Quantity, Senses, SupplyId, TripKind,
};
use crate::rails::Plan;

/// A value with the range in which it is believed to lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Value {
    /// The value to compute with.
    pub nominal: f64,
    /// Least believable value.
    pub low: f64,
    /// Largest believable value.
    pub high: f64,
}

/// A resistance or voltage as a sum of multiples of values.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sum {
    /// What does not depend on a value.
    pub constant: f64,
    /// (index of the value, factor).
    pub terms: Vec<(usize, f64)>,
}

impl Sum {
    /// The sum for given values.
    pub fn at(&self, values: &[f64]) -> f64 {
        self.terms.iter().fold(self.constant, |sum, &(k, factor)| sum + factor * values[k])
    }

    fn of(index: usize) -> Sum {
        Sum { constant: 0.0, terms: vec![(index, 1.0)] }
    }
}

/// Smallest resistance in a circuit, Ω: joints and terminals have at least that.
pub const FLOOR_OHM: f64 = 1e-3;

/// A supply in a case.
#[derive(Debug, Clone, PartialEq)]
pub struct CaseSupply {
    /// Open-circuit voltage, V (of each half).
    pub open_v: usize,
    /// Source resistance, Ω (of each half).
    pub source_ohm: usize,
    /// Whether it can take current back.
    pub can_sink: bool,
    /// Whether it has a midpoint.
    pub split: bool,
    /// What the negative pole is tied to, and the tie's resistance.
    pub tie: Option<(usize, usize)>,
    /// Bulk capacitance, F, and its series resistance, Ω.
    pub bulk: Option<(usize, Option<usize>)>,
    /// Sustained limit, A.
    pub limit_a: Option<usize>,
    /// Highest bearable voltage, V.
    pub bearable_v: Option<usize>,
}

/// How a driver's output stage is built.
#[derive(Debug, Clone, PartialEq)]
pub enum Stage {
    /// Two half-bridges.
    Bridge,
    /// One half-bridge and the supply's midpoint.
    Half,
    /// A regulated voltage behind a resistance and a reversing switch, without body diodes.
    Smooth {
        /// Output resistance, Ω.
        output_ohm: usize,
        /// Whether it can take current back.
        can_sink: bool,
    },
}

/// The trip of a driver in a case.
#[derive(Debug, Clone, PartialEq)]
pub struct CaseTrip {
    /// Threshold, A; of a thermal trip its rating.
    pub amps: usize,
    /// Where it senses.
    pub senses: Senses,
    /// Whether only the usual direction counts.
    pub signed: bool,
    /// How it decides.
    pub kind: TripKind,
    /// What it does then.
    pub then: AfterTrip,
}

impl CaseTrip {
    /// The current beyond which it acts if that lasts for ever, A, from the wiring's values.
    pub fn threshold(&self, values: &[f64]) -> f64 {
        values[self.amps] * self.kind.acts_beyond()
    }
}

/// A feeder of one output of a driver.
#[derive(Debug, Clone, PartialEq)]
pub struct CaseLeg {
    /// The net that it ends on.
    pub net: usize,
    /// Its resistance and that of the rail up to the cut, Ω.
    pub ohm: Sum,
    /// The device that it comes off; straight off the driver without one.
    pub through: Option<Through>,
}

/// A driver in a case.
#[derive(Debug, Clone, PartialEq)]
pub struct CaseDriver {
    /// Index of its supply.
    pub supply: usize,
    /// Output stage.
    pub stage: Stage,
    /// On-resistance of a high switch, Ω.
    pub high_ohm: usize,
    /// On-resistance of a low switch, Ω.
    pub low_ohm: usize,
    /// Forward voltage of a body diode, V.
    pub diode_v: usize,
    /// Series resistance of a body diode, Ω.
    pub diode_ohm: usize,
    /// Feeders of P and of M.
    pub legs: [Vec<CaseLeg>; 2],
    /// Length of its wire pairs and of the track up to the cut, m.
    pub pair_m: f64,
    /// Trip.
    pub trip: Option<CaseTrip>,
    /// Continuous rating, A.
    pub rating_a: Option<usize>,
    /// Wake-up voltage of its controller, V.
    pub wake_v: Option<usize>,
}

/// Supplies and drivers around a cut.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Wiring {
    /// Values.
    pub values: Vec<Value>,
    /// Number of nets.
    pub nets: usize,
    /// Number of shared negatives.
    pub ties: usize,
    /// Supplies.
    pub supplies: Vec<CaseSupply>,
    /// Drivers.
    pub drivers: Vec<CaseDriver>,
    /// Devices of the feed chains, each after what feeds it.
    pub devices: Vec<CaseDevice>,
}

/// What the numbers of a [`Wiring`] belong to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Names {
    /// Entity and field of each value; `None` is the layout as a whole.
    pub values: Vec<(Option<EntityId>, &'static str)>,
    /// Index in [`Plan::nets`] of each net.
    pub nets: Vec<usize>,
    /// Identity of each supply.
    pub supplies: Vec<SupplyId>,
    /// Identity of each driver.
    pub drivers: Vec<DriverId>,
    /// Identity of each device.
    pub devices: Vec<DeviceId>,
}

impl Wiring {
    /// The nominal values.
    pub fn nominal(&self) -> Vec<f64> {
        self.values.iter().map(|v| v.nominal).collect()
    }

    /// Collects the neighbourhood of `nets` (indices in [`Plan::nets`]) and of the drivers in `always`: every driver
    /// that can be part of a loop of current once a vehicle joins those nets. A driver that hangs on the rest by one
    /// end only is left out, because no current can flow through it.
    ///
    /// `ruler` gives the distance from each feeder to the cut, for the resistance of the rail between them.
    pub fn around(
        layout: &Layout,
        plan: &Plan,
        nets: &BTreeSet<usize>,
        always: &BTreeSet<DriverId>,
        ruler: &[Span],
    ) -> (Wiring, Names) {
        let members = plan.grid().members(nets, always);
        let mut builder = Builder { wiring: Wiring::default(), names: Names::default() };
        let rail_ohm = builder.value(None, "rail_ohm_per_m", layout.rail_ohm_per_m);

        let mut net_index: BTreeMap<usize, usize> = BTreeMap::new();
        let mut add_net = |net: usize, names: &mut Names| {
            *net_index.entry(net).or_insert_with(|| {
                names.nets.push(net);
                names.nets.len() - 1
            })
        };
        for &net in nets {
            add_net(net, &mut builder.names);
        }

        let mut supply_index: BTreeMap<SupplyId, usize> = BTreeMap::new();
        let mut ties: Vec<&str> = Vec::new();
        let mut driver_index: BTreeMap<DriverId, usize> = BTreeMap::new();
        for &id in &members {
            let Some(driver) = layout.drivers.get(&id) else { continue };
            let Some(supply) = layout.supplies.get(&driver.supply) else { continue };
            let supply_at = match supply_index.get(&supply.id) {
                Some(&at) => at,
                None => {
                    let entity = Some(EntityId::Supply(supply.id));
                    let tie = supply.negative.as_ref().map(|negative| {
                        let at =
                            ties.iter().position(|t| *t == negative.name).unwrap_or_else(|| {
                                ties.push(&negative.name);
                                ties.len() - 1
                            });
                        (at, builder.value(entity, "negative.ohm", negative.ohm))
                    });
                    let case = CaseSupply {
                        open_v: builder.value(entity, "open_v", supply.open_v),
                        source_ohm: builder.value(entity, "source_ohm", supply.source_ohm),
                        can_sink: supply.can_sink,
                        split: supply.split,
                        tie,
                        bulk: supply.bulk_f.map(|farads| {
                            let at = builder.value(entity, "bulk_f", farads);
                            (at, supply.bulk_ohm.map(|ohm| builder.value(entity, "bulk_ohm", ohm)))
                        }),
                        limit_a: supply
                            .limit
                            .map(|limit| builder.value(entity, "limit.amps", limit.amps)),
                        bearable_v: supply
                            .bearable_v
                            .map(|volts| builder.value(entity, "bearable_v", volts)),
                    };
                    builder.wiring.supplies.push(case);
                    builder.names.supplies.push(supply.id);
                    let at = builder.wiring.supplies.len() - 1;
                    supply_index.insert(supply.id, at);
                    at
                }
            };
            let entity = Some(EntityId::Driver(id));
            let stage = match &driver.drive {
                Drive::SmoothDc { output_ohm, can_sink, .. } => Stage::Smooth {
                    output_ohm: builder.value(entity, "output_ohm", *output_ohm),
                    can_sink: *can_sink,
                },
                Drive::SplitHalfBridge { .. } => Stage::Half,
                _ => Stage::Bridge,
            };
            let case = CaseDriver {
                supply: supply_at,
                stage,
                high_ohm: builder.value(entity, "high_ohm", driver.high_ohm),
                low_ohm: builder.value(entity, "low_ohm", driver.low_ohm),
                diode_v: builder.value(entity, "diode_v", driver.diode_v),
                diode_ohm: builder.value(entity, "diode_ohm", driver.diode_ohm),
                legs: [Vec::new(), Vec::new()],
                pair_m: 0.0,
                trip: driver.trip.as_ref().map(|trip| CaseTrip {
                    amps: builder.value(entity, "trip.amps", trip.amps),
                    senses: trip.senses,
                    signed: trip.signed,
                    kind: trip.kind,
                    then: trip.then,
                }),
                rating_a: driver.rating_a.map(|amps| builder.value(entity, "rating_a", amps)),
                wake_v: driver.wake_v.map(|volts| builder.value(entity, "wake_v", volts)),
            };
            builder.wiring.drivers.push(case);
            builder.names.drivers.push(id);
            driver_index.insert(id, builder.wiring.drivers.len() - 1);
        }

        let ends: BTreeSet<usize> =
            members.iter().flat_map(|&driver| plan.grid().nets_of(driver)).collect();
        for plan_net in ends {
            for leg in &plan.nets[plan_net].legs {
                let Some(&driver) = driver_index.get(&leg.driver) else { continue };
                let Some(feed) = layout.feeds.get(&leg.feed) else { continue };
                let net_at = add_net(plan_net, &mut builder.names);
                let mut ohm = Sum::of(builder.value(
                    Some(EntityId::Feed(feed.id)),
                    "ohm",
                    feed_leg_ohm(feed),
                ));
                let distance_mm = ruler
                    .iter()
                    .filter(|span| span.run == leg.run)
                    .filter_map(|span| span.ruler_mm(leg.at_mm))
                    .map(f64::abs)
                    .fold(f64::INFINITY, f64::min);
                // Two legs make one pair.
                builder.wiring.drivers[driver].pair_m +=
                    feed.wire.map_or(0.0, |w| w.length_m) / 2.0;
                if distance_mm.is_finite() {
                    builder.wiring.drivers[driver].pair_m += distance_mm / 2000.0;
                    ohm.terms.push((rail_ohm, distance_mm / 1000.0));
                }
                let through = builder.chain(layout, plan, feed, driver, leg.is_p);
                builder.wiring.drivers[driver].legs[usize::from(!leg.is_p)].push(CaseLeg {
                    net: net_at,
                    ohm,
                    through,
                });
            }
        }
        builder.wiring.nets = builder.names.nets.len();
        builder.wiring.ties = ties.len();
        (builder.wiring, builder.names)
    }
}

pub(super) struct Builder {
    pub(super) wiring: Wiring,
    pub(super) names: Names,
}

impl Builder {
    pub(super) fn value(
        &mut self,
        entity: Option<EntityId>,
        field: &'static str,
        quantity: Quantity,
    ) -> usize {
        let (low, high) = quantity.range();
        // A feed has two legs of one resistance: one value.
        if let Some(at) = self.names.values.iter().position(|name| *name == (entity, field)) {
            return at;
        }
        self.wiring.values.push(Value { nominal: quantity.value, low, high });
        self.names.values.push((entity, field));
        self.wiring.values.len() - 1
    }
}
