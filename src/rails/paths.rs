//! The whole layout as metal with switches in it: rails, feeders and feed chains in every position of the selectors.

use std::collections::BTreeMap;

use super::anatomy::bridge_exchanged;
use super::plan::Plan;
use super::positions::{Positions, SelectorId, leader};
use super::standing::{SetOfNeeds, Switched, SwitchedEdge};
use crate::drive;
use crate::layout::{Device, DriverId, Layout, Origin, SpecialId, Work};

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

    /// Joins that close a loop between two drivers: one is enough where they meet behind the rails as well.
    pub fn ways_to_meet(&self, layout: &Layout, a: DriverId, b: DriverId) -> Vec<Vec<[usize; 2]>> {
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
