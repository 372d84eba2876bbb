//! The whole layout as metal with switches in it: rails, feeders and feed chains in every position of the selectors.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Bound;

use petgraph::unionfind::UnionFind;

use super::anatomy::bridge_exchanged;
use super::plan::Plan;
use super::positions::{Positions, SelectorId, leader};
use super::standing::{SetOfNeeds, Switched, SwitchedEdge};
use crate::drive;
use crate::layout::{Device, DriverId, Layout, Origin, SpecialId, Work};

/// Three drivers joined in a ring, and each set of joins of nodes that closes it.
pub type ThreeJoined = ([DriverId; 3], Vec<Vec<[usize; 2]>>);

/// Metal, wires and devices, with everything that has positions: what to search for paths between drivers' poles.
#[derive(Debug, Clone)]
pub struct Paths {
    /// Metal as the search takes it.
    pub switched: Switched,
    /// The selector behind each number, one for its gang.
    pub selectors: Vec<SelectorId>,
    /// P and M of each driver that feeds anything.
    pub poles: BTreeMap<DriverId, [usize; 2]>,
}

impl Paths {
    /// `without_contact` leaves out what the contact of one special work joins.
    pub fn of(layout: &Layout, plan: &Plan, without_contact: Option<SpecialId>) -> Paths {
        let metal = &plan.metal;
        let mut graph = Paths {
            switched: Switched { nodes: metal.nets.len(), ..Switched::default() },
            selectors: Vec::new(),
            poles: BTreeMap::new(),
        };
        let mut outputs: BTreeMap<Origin, [usize; 2]> = BTreeMap::new();
        for driver in layout.drivers.values().filter(|d| drive::of(&d.drive).feeds()) {
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
        for end in &plan.feeders.ends {
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

    /// For each driver, those after it that metal leads to with every selector passable in all its positions at once. All
    /// others it can never meet at the rails: blocks that are cut from each other are asked about no pair.
    pub fn within_reach(&self) -> BTreeMap<DriverId, BTreeSet<DriverId>> {
        let mut metal = UnionFind::<usize>::new(self.switched.nodes);
        for SwitchedEdge { ends: [a, b], .. } in &self.switched.edges {
            if a.max(b) < &self.switched.nodes {
                metal.union(*a, *b);
            }
        }
        let mut at: BTreeMap<usize, BTreeSet<DriverId>> = BTreeMap::new();
        for (&driver, poles) in &self.poles {
            for pole in poles {
                at.entry(metal.find(*pole)).or_default().insert(driver);
            }
        }
        let reached = |driver: DriverId, poles: &[usize; 2]| {
            let beyond = (Bound::Excluded(driver), Bound::Unbounded);
            let drivers = poles.iter().filter_map(|pole| at.get(&metal.find(*pole)));
            drivers.flat_map(|drivers| drivers.range(beyond).copied()).collect()
        };
        self.poles.iter().map(|(&driver, poles)| (driver, reached(driver, poles))).collect()
    }

    /// Joins that close a loop between two drivers: one is enough where they meet behind the rails as well.
    pub fn ways_to_meet(&self, layout: &Layout, a: DriverId, b: DriverId) -> Vec<Vec<[usize; 2]>> {
        let (Some(a_poles), Some(b_poles)) = (self.poles.get(&a), self.poles.get(&b)) else {
            return Vec::new();
        };
        let [ap, am] = *a_poles;
        let [bp, bm] = *b_poles;
        if meet_behind(layout, a, b) {
            [[ap, bp], [ap, bm], [am, bp], [am, bm]].map(|join| vec![join]).to_vec()
        } else {
            vec![vec![[ap, bp], [am, bm]], vec![[ap, bm], [am, bp]]]
        }
    }

    /// The pairs of poles of different drivers that `meet`, both ways round, as long as there are steps left.
    pub fn poles_that_meet(
        &self,
        mut meet: impl FnMut(usize, usize, &mut u64) -> bool,
        left: &mut u64,
    ) -> BTreeSet<(usize, usize)> {
        let mut near = BTreeSet::new();
        for (one, others) in self.within_reach() {
            for two in others {
                let (one, two) = (self.poles[&one], self.poles[&two]);
                for (a, b) in one.iter().flat_map(|&a| two.iter().map(move |&b| (a, b))) {
                    if *left > 0 && meet(a, b, left) {
                        near.extend([(a, b), (b, a)]);
                    }
                }
            }
        }
        near
    }

    /// Joins that close a loop through three drivers, of poles that can meet at all (`near`). Drivers that are `always`
    /// shorted, one with itself or two with each other, are left out.
    pub fn ways_through_three(
        &self,
        layout: &Layout,
        near: &BTreeSet<(usize, usize)>,
        always: &dyn Fn(DriverId, DriverId) -> bool,
    ) -> Vec<ThreeJoined> {
        let drivers: Vec<(DriverId, [usize; 2])> = self
            .poles
            .iter()
            .map(|(&id, &poles)| (id, poles))
            .filter(|&(id, _)| !always(id, id))
            .collect();
        // At least two of the three pairs must meet at poles, so two of the three are neighbours of the third.
        let owner: BTreeMap<usize, usize> = drivers
            .iter()
            .enumerate()
            .flat_map(|(at, (_, poles))| poles.iter().map(move |&pole| (pole, at)))
            .collect();
        let mut beside: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
        for (one, other) in near {
            if let (Some(&a), Some(&b)) = (owner.get(one), owner.get(other)) {
                beside.entry(a).or_default().insert(b);
            }
        }
        let mut threes: BTreeSet<[usize; 3]> = BTreeSet::new();
        for (&middle, others) in &beside {
            for &one in others {
                for &other in others.range(one + 1..) {
                    let mut three = [one, middle, other];
                    three.sort_unstable();
                    threes.insert(three);
                }
            }
        }
        let mut found = Vec::new();
        for three in threes {
            let [(a, a_poles), (b, b_poles), (c, c_poles)] = three.map(|at| drivers[at]);
            if always(a, b) || always(a, c) || always(b, c) {
                continue;
            }
            let poles = [a_poles, b_poles, c_poles];
            let behind = |x: DriverId, y: DriverId| meet_behind(layout, x, y);
            let tied = [behind(b, c), behind(a, c), behind(a, b)];
            let ways = ways_of_three(poles, tied, near);
            if !ways.is_empty() {
                found.push(([a, b, c], ways));
            }
        }
        found
    }

    /// A set of needs as positions: those of now where they do, else the lowest that does.
    pub fn positions(
        &self,
        layout: &Layout,
        set: &SetOfNeeds,
    ) -> (Positions, Vec<(SelectorId, u32)>) {
        let now = Positions::default();
        let mut positions = Positions::default();
        let mut told = Vec::new();
        for &(at, mask) in set {
            let Some(&id) = self.selectors.get(at) else { continue };
            let here = now.of(layout, id);
            let position = if mask >> here.min(63) & 1 == 1 { here } else { mask.trailing_zeros() };
            positions.throw(layout, id, position);
            told.push((id, position));
        }
        (positions, told)
    }
}

/// True if two drivers meet behind the rails: on one supply, or on one shared negative.
pub fn meet_behind(layout: &Layout, a: DriverId, b: DriverId) -> bool {
    let supply = |id: DriverId| layout.drivers.get(&id).map(|driver| driver.supply);
    let tie = |id: DriverId| {
        let supply = layout.supplies.get(&supply(id)?)?;
        supply.negative.as_ref().map(|negative| &negative.name)
    };
    supply(a) == supply(b) || (tie(a).is_some() && tie(a) == tie(b))
}

/// Joins of the poles of three drivers that close a loop through all of them. `tied[k]` says whether the two drivers
/// beside `k` meet behind the rails: then one join fewer is needed.
fn ways_of_three(
    poles: [[usize; 2]; 3],
    tied: [bool; 3],
    near: &BTreeSet<(usize, usize)>,
) -> Vec<Vec<[usize; 2]>> {
    let mut ways = Vec::new();
    for turned in 0..8_usize {
        // Of each driver one pole leads on to the next driver, the other comes from the one before.
        let pole = |at: usize, on: bool| poles[at][(turned >> at & 1) ^ usize::from(on)];
        let joins = [0, 1, 2].map(|at| [pole(at, true), pole((at + 1) % 3, false)]);
        let mut offer = |joins: Vec<[usize; 2]>| {
            if joins.iter().all(|&[a, b]| near.contains(&(a, b))) {
                ways.push(joins);
            }
        };
        if tied == [false; 3] {
            offer(joins.to_vec());
        }
        // Drivers that meet behind the rails, both by whichever of their poles; with more ties, two drivers close a loop.
        for apart in (0..3).filter(|&at| tied[at] && tied.iter().filter(|tied| **tied).count() == 1)
        {
            offer(vec![joins[(apart + 2) % 3], joins[apart]]);
        }
    }
    ways
}
