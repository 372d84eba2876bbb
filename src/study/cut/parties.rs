//! The parties of a place: the drivers whose nets a train joins there, and how their directions stand to each other.

use std::collections::BTreeSet;

use serde::Serialize;

use super::super::places::Place;
use super::case::Case;
use super::result::Evaluated;
use crate::layout::DriverId;
use crate::rails::{Plan, PlanNet};
use crate::straddle::case::{Names, Wiring};
use crate::straddle::ix::{DriverIx, NetIx, PartyIx, StandIx, Table};
use crate::straddle::path::Span;

/// A driver on the two rails of a stretch of a place.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize)]
pub struct Party {
    /// The driver.
    pub driver: DriverIx,
    /// The two rails; `None` for one that no stand touches.
    pub nets: [Option<NetIx>; 2],
    /// +1 if its forward drives up the ruler of the place by the reference directions and its label, −1 if down.
    pub along: i8,
}

/// Two parties that a train joins, or one that it joins with itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Pair {
    /// The drivers, in the order in which the ruler meets them for the two sides of the place.
    pub drivers: [DriverIx; 2],
    /// +1 where equal directions carry a train on from one to the other, −1 where opposite ones do.
    pub sign: i8,
}

/// The parties at a place: drivers with a feed on a rail of its ruler that is among `touched`, one for each pair of rails and
/// way round. The nearest come first; `own` are the drivers of the two sides.
pub(super) fn parties(
    plan: &Plan,
    (place, own): (&Place, [Option<DriverId>; 2]),
    touched: &BTreeSet<PlanNet>,
    names: &Names,
) -> Table<PartyIx, Party> {
    // From the gaps, so that nothing depends on which of a staggered cut's two is the zero of the ruler.
    let gaps = || place.gaps_mm.into_iter().flatten();
    let least_mm = gaps().reduce(f64::min).unwrap_or(0.0);
    let most_mm = gaps().reduce(f64::max).unwrap_or(0.0);
    let distance = |span: &Span| (span.from_mm - most_mm).max(least_mm - span.to_mm).max(0.0);
    // Of two stretches that are equally near a driver is first a party on the side that is its own.
    let foreign = |span: &Span, driver: DriverId| {
        let side = if span.to_mm <= least_mm + 1e-9 { own[0] } else { own[1] };
        side != Some(driver)
    };
    let mut all: Vec<(f64, bool, Party)> = Vec::new();
    for span in &place.spans {
        let Some(direction) = direction(plan, span) else { continue };
        let rails: Vec<PlanNet> =
            span.nets.into_iter().filter(|net| touched.contains(net)).collect();
        let nets = span.nets.map(|net| names.nets.of(&net));
        for leg in rails.iter().flat_map(|&net| &plan.net(net).legs) {
            let Some(driver) = names.drivers.of(&leg.driver) else { continue };
            let along = direction * if leg.exchanged { -1 } else { 1 };
            let party = Party { driver, nets, along };
            all.push((distance(span), foreign(span, leg.driver), party));
        }
    }
    // Equals are told apart by their drivers, not by which end of the ruler the track was drawn from.
    all.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.driver.cmp(&b.2.driver)));
    let mut found: Table<PartyIx, Party> = Table::new();
    for (_, _, party) in all {
        let [left, right] = party.nets;
        let known = found.iter().any(|old| {
            let same = old.nets == party.nets || old.nets == [right, left];
            (old.driver, old.along) == (party.driver, party.along) && same
        });
        if !known {
            found.push(party);
        }
    }
    found
}

/// +1 if the reference direction on a span is up the ruler, −1 if down; `None` off the plan.
fn direction(plan: &Plan, span: &Span) -> Option<i8> {
    let middle = span.run_mm(f64::midpoint(span.from_mm, span.to_mm));
    let first = plan.first_piece(span.run)?;
    let pieces = plan.pieces_of(span.run);
    let at = pieces.iter().position(|p| p.from_mm <= middle && middle <= p.to_mm)?;
    Some(plan.direction(first + at) * span.along)
}

impl Case {
    /// Drivers with a feed on a net that a stand joins with another.
    pub(super) fn joined_by(&self, stand: StandIx) -> BTreeSet<DriverIx> {
        let groups = self.stands[stand].groups.iter();
        let sides = groups.flat_map(|group| &group.touched).filter(|side| side.len() > 1);
        let nets: BTreeSet<NetIx> = sides.flatten().map(|touched| touched.0).collect();
        on_nets(&self.wiring, &nets)
    }

    /// Drivers whose nets a situation joins; with nothing that joins any, the drivers of the two sides.
    pub fn parties_of(&self, evaluated: &Evaluated) -> BTreeSet<DriverIx> {
        match evaluated.stand {
            Some(stand) => self.joined_by(stand),
            None => self.sides.into_iter().flatten().collect(),
        }
    }

    /// How a driver stands on the ruler of the place.
    fn along(&self, driver: DriverIx) -> Option<i8> {
        self.parties.iter().find(|party| party.driver == driver).map(|party| party.along)
    }

    /// Drivers both of whose poles a stand joins with each other.
    pub(super) fn shorted_by(&self, stand: StandIx) -> Vec<DriverIx> {
        let sides: Vec<_> = self.stands[stand].groups.iter().flat_map(|g| &g.touched).collect();
        let poles = |at: &DriverIx| {
            let legs = &self.wiring.drivers[*at].legs;
            sides.iter().any(|side| {
                let on = |pole: usize| {
                    legs[pole].iter().any(|leg| side.iter().any(|touched| touched.0 == leg.net))
                };
                on(0) && on(1)
            })
        };
        self.wiring.drivers.indices().filter(poles).collect()
    }

    /// Pairs of parties that some stand joins: that of the two sides first. A driver whose poles a stand joins with each
    /// other makes a pair with itself: nothing else matters there.
    pub(super) fn pairs(&self) -> Vec<Pair> {
        let mut pairs: Vec<Pair> = Vec::new();
        if let [Some(a), Some(b)] = self.sides {
            pairs.push(Pair { drivers: [a, b], sign: self.sign });
        }
        let mut others: BTreeSet<Pair> = BTreeSet::new();
        for stand in self.stands.indices() {
            let shorted = self.shorted_by(stand);
            if !shorted.is_empty() {
                others.extend(shorted.into_iter().map(|at| {
                    let sign = if self.both_ways(at) { -1 } else { 1 };
                    Pair { drivers: [at, at], sign }
                }));
                continue;
            }
            let joined: Vec<DriverIx> = self.joined_by(stand).into_iter().collect();
            for (at, &a) in joined.iter().enumerate() {
                for &b in &joined[at + 1..] {
                    if let (Some(x), Some(y)) = (self.along(a), self.along(b)) {
                        others.insert(Pair { drivers: [a, b], sign: x * y });
                    }
                }
            }
        }
        let known = |pair: &Pair| {
            pairs.iter().any(|old| {
                let [a, b] = old.drivers;
                [a, b] == pair.drivers || [b, a] == pair.drivers
            })
        };
        let more: Vec<Pair> = others.into_iter().filter(|pair| !known(pair)).collect();
        pairs.extend(more);
        pairs
    }

    /// Parties whose feeds can be exchanged as a whole: those with a leg on both of their rails, or, of a driver without any
    /// such, those with a leg on one.
    pub(super) fn whole(&self, driver: DriverIx) -> Vec<PartyIx> {
        let on = |net: NetIx| {
            let mut legs = self.wiring.drivers[driver].legs.iter().flatten();
            legs.any(|leg| leg.net == net)
        };
        let own = || self.parties.pairs().filter(|(_, party)| party.driver == driver);
        let both = |party: &Party| party.nets.into_iter().all(|net| net.is_some_and(on));
        let whole: Vec<PartyIx> = own().filter(|(_, p)| both(p)).map(|(at, _)| at).collect();
        if whole.is_empty() { own().map(|(at, _)| at).take(1).collect() } else { whole }
    }

    /// True if the ruler meets a driver both ways round.
    pub(super) fn both_ways(&self, driver: DriverIx) -> bool {
        let along = |sign: i8| self.parties.iter().any(|p| p.driver == driver && p.along == sign);
        along(1) && along(-1)
    }

    /// +1 if equal directions of two parties carry a train on from one to the other, −1 if opposite ones do; `None` if one
    /// of them is no party here.
    pub(super) fn sign_between(&self, pair: &Pair, first: DriverIx, other: DriverIx) -> Option<i8> {
        if pair.drivers == [first, other] || pair.drivers == [other, first] {
            return Some(pair.sign);
        }
        Some(self.along(first)? * self.along(other)?)
    }
}

/// Drivers with a feed on one of some nets.
fn on_nets(wiring: &Wiring, nets: &BTreeSet<NetIx>) -> BTreeSet<DriverIx> {
    let feeds = |at: &DriverIx| {
        let mut legs = wiring.drivers[*at].legs.iter().flatten();
        legs.any(|leg| nets.contains(&leg.net))
    };
    wiring.drivers.indices().filter(feeds).collect()
}
