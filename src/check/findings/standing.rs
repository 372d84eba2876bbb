//! What shorts with no train on the track as soon as selectors stand so: `fed-beyond-frog` where live points join the
//! poles of a driver, `frog-wired-wrong` where a frog's own contact does, `standing-short` for everything else, and
//! `search-not-exhausted` where not every joint position could be looked at.
//!
//! Paths of metal are found by search over the joint positions ([`standing`]); whether current flows, and how much, is
//! asked of the circuit.

use std::collections::{BTreeMap, BTreeSet};

use super::super::{Class, Context, Evidence, Finding, Kind, SelectorAt, Verdict};
use super::fight;
use crate::layout::{Device, Drive, DriverId, Layout, Origin, SpecialId, Work};
use crate::rails::anatomy::bridge_exchanged;
use crate::rails::standing::{Budget, Prepared, SetOfNeeds, Switched, SwitchedEdge, prepare};
use crate::rails::{Plan, Positions, SelectorId, balance, leader};

/// So many sets of positions are told of one driver, or of one pair; the rest is counted.
const MOST_TOLD: usize = 12;
/// Steps of search for one question.
const STEPS: u64 = 400_000;

pub fn find(context: &Context, found: &mut Vec<Finding>) {
    let (layout, plan) = (context.layout, context.plan);
    let graph = Graph::of(layout, plan, None);
    if graph.selectors.is_empty() && !loops_join(plan) && layout.bonds.is_empty() {
        return;
    }
    let drivers: Vec<DriverId> = graph.poles.keys().copied().collect();
    let ends: Vec<usize> = graph.poles.values().flatten().copied().collect();
    let mut prepared = prepare(&graph.switched, &ends);
    let mut unfinished: BTreeSet<DriverId> = BTreeSet::new();
    for (at, &a) in drivers.iter().enumerate() {
        let [p, m] = graph.poles[&a];
        let sets = graph.ask(&mut prepared, &[[p, m]], &[a], &mut unfinished);
        of_one_driver(context, &graph, a, sets, found);
        for &b in &drivers[at + 1..] {
            let mut sets: Vec<SetOfNeeds> = Vec::new();
            for joins in graph.ways_to_meet(layout, a, b) {
                sets.extend(graph.ask(&mut prepared, &joins, &[a, b], &mut unfinished));
            }
            of_two_drivers(context, &graph, [a, b], sets, found);
        }
    }
    if !unfinished.is_empty() {
        found.push(Finding {
            kind: Kind::SearchNotExhausted,
            class: Class::Note,
            verdict: Verdict::Caution,
            cuts: Vec::new(),
            special: None,
            blocks: Vec::new(),
            selectors: Vec::new(),
            drivers: unfinished.into_iter().collect(),
            vehicle: None,
            evidence: Evidence::NotExhausted,
        });
    }
}

/// Whether the metal of some loop joins its own two rails: told as the loop that it is.
fn loops_join(plan: &Plan) -> bool {
    balance::unbalanced(&plan.metal.track).cycles.iter().any(balance::Cycle::is_joined)
}

/// Metal, wires and devices, with everything that has positions.
struct Graph {
    switched: Switched,
    /// The selector behind each number, one for its gang.
    selectors: Vec<SelectorId>,
    /// P and M of each driver that feeds anything.
    poles: BTreeMap<DriverId, [usize; 2]>,
}

impl Graph {
    /// `without_contact` leaves out what the contact of one special work joins.
    fn of(layout: &Layout, plan: &Plan, without_contact: Option<SpecialId>) -> Graph {
        let metal = &plan.metal;
        let mut graph = Graph {
            switched: Switched { nodes: metal.nets.len(), ..Switched::default() },
            selectors: Vec::new(),
            poles: BTreeMap::new(),
        };
        let mut outputs: BTreeMap<Origin, [usize; 2]> = BTreeMap::new();
        for driver in layout.drivers.values().filter(|d| d.drive != Drive::Nothing) {
            let pair = graph.two_nodes();
            outputs.insert(driver.id.into(), pair);
            graph.poles.insert(driver.id, pair);
        }
        for &device in layout.devices.keys() {
            let pair = graph.two_nodes();
            outputs.insert(device.into(), pair);
        }
        for device in layout.devices.values() {
            graph.device(layout, device, &outputs);
        }
        for switch in &metal.switches {
            if without_contact.is_none_or(|id| switch.selector != SelectorId::Contact(id)) {
                graph.edge(layout, switch.nets, switch.selector, switch.mask);
            }
        }
        let bridges: BTreeMap<_, _> = layout
            .specials
            .values()
            .filter_map(|special| Some((special.work.bridge()?, special)))
            .collect();
        for end in &metal.feed_ends {
            let Some(feed) = layout.feeds.get(&end.feed) else { continue };
            let Some(&pair) = outputs.get(&feed.driver) else { continue };
            let pole = |exchanged: bool| pair[usize::from(end.is_p == exchanged)];
            match bridges.get(&feed.run).filter(|s| matches!(s.work, Work::Turntable { .. })) {
                Some(special) => {
                    let selector = SelectorId::Points(special.id);
                    let exchanged = (0..special.work.positions().min(64))
                        .filter(|&k| bridge_exchanged(layout, special, k))
                        .fold(0u64, |mask, k| mask | 1 << k);
                    graph.edge(layout, [pole(false), end.net], selector, !exchanged);
                    graph.edge(layout, [pole(true), end.net], selector, exchanged);
                }
                None => graph.fixed([pole(false), end.net]),
            }
        }
        graph
    }

    fn two_nodes(&mut self) -> [usize; 2] {
        self.switched.nodes += 2;
        [self.switched.nodes - 2, self.switched.nodes - 1]
    }

    fn fixed(&mut self, ends: [usize; 2]) {
        self.switched.edges.push(SwitchedEdge { ends, when: None });
    }

    fn edge(&mut self, layout: &Layout, ends: [usize; 2], selector: SelectorId, mask: u64) {
        let first = leader(layout, selector);
        let positions = first.positions(layout);
        let all = if positions >= 64 { u64::MAX } else { (1 << positions) - 1 };
        match mask & all {
            0 => {}
            mask if mask == all => self.fixed(ends),
            mask => {
                let at = self.selectors.iter().position(|s| *s == first).unwrap_or_else(|| {
                    self.selectors.push(first);
                    self.switched.positions.push(positions);
                    self.selectors.len() - 1
                });
                self.switched.edges.push(SwitchedEdge { ends, when: Some((at, mask)) });
            }
        }
    }

    fn device(&mut self, layout: &Layout, device: &Device, outputs: &BTreeMap<Origin, [usize; 2]>) {
        let Some(&[p, m]) = outputs.get(&device.id.into()) else { return };
        let mut by_source: BTreeMap<(Origin, bool), u64> = BTreeMap::new();
        for position in 0..device.kind.positions().min(64) {
            if let Some(source) = device.kind.at(position) {
                *by_source.entry(source).or_default() |= 1 << position;
            }
        }
        for ((origin, swapped), mask) in by_source {
            let Some(&[from_p, from_m]) = outputs.get(&origin) else { continue };
            let (to_p, to_m) = if swapped { (m, p) } else { (p, m) };
            let selector = SelectorId::Device(device.id);
            self.edge(layout, [from_p, to_p], selector, mask);
            self.edge(layout, [from_m, to_m], selector, mask);
        }
    }

    /// Joins that close a loop between two drivers: one is enough where they meet behind the rails as well.
    fn ways_to_meet(&self, layout: &Layout, a: DriverId, b: DriverId) -> Vec<Vec<[usize; 2]>> {
        let (Some(a_poles), Some(b_poles)) = (self.poles.get(&a), self.poles.get(&b)) else {
            return Vec::new();
        };
        let supply = |id: DriverId| layout.drivers.get(&id).map(|d| d.supply);
        let tie = |id: DriverId| {
            let supply = layout.supplies.get(&supply(id)?)?;
            supply.negative.as_ref().map(|negative| &negative.name)
        };
        let [ap, am] = *a_poles;
        let [bp, bm] = *b_poles;
        if supply(a) == supply(b) || (tie(a).is_some() && tie(a) == tie(b)) {
            [[ap, bp], [ap, bm], [am, bp], [am, bm]].map(|join| vec![join]).to_vec()
        } else {
            vec![vec![[ap, bp], [am, bm]], vec![[ap, bm], [am, bp]]]
        }
    }

    fn ask(
        &self,
        prepared: &mut Prepared,
        joins: &[[usize; 2]],
        drivers: &[DriverId],
        unfinished: &mut BTreeSet<DriverId>,
    ) -> Vec<SetOfNeeds> {
        let found = prepared.joined(joins, Budget { steps: STEPS });
        if !found.exhaustive {
            unfinished.extend(drivers);
        }
        found.sets
    }

    /// A set of needs as positions: those of now where they do, else the lowest that does.
    fn positions(&self, layout: &Layout, set: &SetOfNeeds) -> (Positions, Vec<SelectorAt>) {
        let now = Positions::default();
        let mut positions = Positions::default();
        let mut told = Vec::new();
        for &(at, mask) in set {
            let Some(&id) = self.selectors.get(at) else { continue };
            let here = now.of(layout, id);
            let position = if mask >> here.min(63) & 1 == 1 { here } else { mask.trailing_zeros() };
            positions.throw(layout, id, position);
            told.push(SelectorAt { id, position });
        }
        (positions, told)
    }
}

fn of_one_driver(
    context: &Context,
    graph: &Graph,
    driver: DriverId,
    sets: Vec<SetOfNeeds>,
    found: &mut Vec<Finding>,
) {
    let layout = context.layout;
    let more = sets.len().saturating_sub(MOST_TOLD);
    for set in sets.into_iter().take(MOST_TOLD) {
        if set.is_empty() && loops_join(context.plan) {
            continue;
        }
        let kind = kind_of(context, graph, driver, &set);
        let (positions, selectors) = graph.positions(layout, &set);
        tell(context, kind, [driver, driver], positions, selectors, more, found);
    }
}

fn of_two_drivers(
    context: &Context,
    graph: &Graph,
    drivers: [DriverId; 2],
    sets: Vec<SetOfNeeds>,
    found: &mut Vec<Finding>,
) {
    // What is joined in every position is a common rail, or a block with two drivers: told as such.
    let sets: Vec<SetOfNeeds> = sets.into_iter().filter(|set| !set.is_empty()).collect();
    let more = sets.len().saturating_sub(MOST_TOLD);
    for set in sets.into_iter().take(MOST_TOLD) {
        let (positions, selectors) = graph.positions(context.layout, &set);
        // And so is what is joined now.
        if !positions.is_now() {
            tell(context, Kind::StandingShort, drivers, positions, selectors, more, found);
        }
    }
}

/// Why one driver's poles meet in a set of positions.
fn kind_of(context: &Context, graph: &Graph, driver: DriverId, set: &SetOfNeeds) -> Kind {
    let layout = context.layout;
    let specials: Vec<SpecialId> = set
        .iter()
        .filter_map(|&(at, _)| match graph.selectors.get(at)? {
            SelectorId::Points(id) => Some(*id),
            _ => None,
        })
        .collect();
    if let ([_], [special]) = (&set[..], &specials[..]) {
        let has_contact = layout
            .specials
            .get(special)
            .and_then(|s| s.work.frog())
            .is_some_and(|frog| frog.has_contact());
        if has_contact {
            let bare = Graph::of(layout, context.plan, Some(*special));
            let [p, m] = bare.poles[&driver];
            let mut prepared = prepare(&bare.switched, &[p, m]);
            let found = prepared.joined(&[[p, m]], Budget { steps: STEPS });
            let still = |needs: &SetOfNeeds| {
                needs
                    .iter()
                    .all(|(at, _)| bare.selectors.get(*at) == Some(&SelectorId::Points(*special)))
            };
            if !found.sets.iter().any(still) {
                return Kind::FrogWiredWrong;
            }
        }
    }
    let live = specials.iter().any(|id| {
        layout.specials.get(id).and_then(|s| s.work.frog()).is_some_and(|f| f.is_one_metal())
    });
    if live { Kind::FedBeyondFrog } else { Kind::StandingShort }
}

/// Asks the circuit what flows between two drivers (or one driver's poles) in a set of positions.
fn tell(
    context: &Context,
    kind: Kind,
    [a, b]: [DriverId; 2],
    positions: Positions,
    selectors: Vec<SelectorAt>,
    more: usize,
    found: &mut Vec<Finding>,
) {
    let layout = context.layout;
    let is_now = positions.is_now();
    let plan = context.plan.at(layout, positions);
    let there = Context::bare(context.layout, &plan, is_now);
    let Some(standing) = fight::standing(&there, a, b, true) else { return };
    // One driver's poles joined are a fault however it is set; two drivers may be set so that nothing flows.
    let set_now = standing.now.is_some();
    let Some(situation) = standing.worst.or(standing.now) else { return };
    let class = if a == b || set_now { Class::Fault } else { Class::Rule };
    let special = selectors.iter().find_map(|selector| match selector.id {
        SelectorId::Points(id) | SelectorId::Contact(id) => Some(id),
        SelectorId::Device(_) => None,
    });
    let mut drivers = vec![a, b];
    drivers.dedup();
    let blocks = context
        .plan
        .blocks
        .iter()
        .filter(|block| drivers.iter().any(|d| block.drivers.contains(d)))
        .map(|block| block.id)
        .collect();
    found.push(Finding {
        kind,
        class,
        verdict: situation.verdict.max(Verdict::Caution),
        cuts: Vec::new(),
        special,
        blocks,
        selectors,
        drivers,
        vehicle: None,
        evidence: Evidence::Standing { situation: Box::new(situation), now: is_now, more },
    });
}
