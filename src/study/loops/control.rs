//! What feeds a block, and what can reverse it against its neighbours.

use std::collections::{BTreeMap, BTreeSet};

use crate::drive::{self, Signal};
use crate::layout::{DeviceId, DeviceKind, DriverId, Feed, Layout, Origin, SpecialId, Work};
use crate::rails::Plan;
use crate::study::types::Reversal;

/// Whatever a feed can come from, in any position of its selectors.
#[derive(Debug, Clone, Default)]
struct Chain {
    drivers: BTreeSet<DriverId>,
    devices: BTreeSet<DeviceId>,
}

fn chain(layout: &Layout, feed: &Feed) -> Chain {
    let mut chain = Chain::default();
    let mut left = vec![feed.driver];
    while let Some(origin) = left.pop() {
        match origin {
            Origin::Driver(id) => {
                if layout.drivers.get(&id).is_some_and(|d| drive::of(&d.drive).feeds()) {
                    chain.drivers.insert(id);
                }
            }
            Origin::Device(id) if chain.devices.insert(id) => {
                left.extend(layout.devices.get(&id).into_iter().flat_map(|d| d.kind.sources()));
            }
            Origin::Device(_) => {}
        }
    }
    chain
}

/// What feeds every block of the track.
pub struct Feeding<'a> {
    layout: &'a Layout,
    /// Chains of the feeds of each block.
    chains: BTreeMap<usize, Vec<Chain>>,
    /// Blocks that each device feeds.
    fed_by: BTreeMap<DeviceId, BTreeSet<usize>>,
    /// Bridges that exchange their rails by themselves.
    bridges: BTreeMap<usize, SpecialId>,
}

impl<'a> Feeding<'a> {
    /// Of a plan.
    pub fn of(layout: &'a Layout, plan: &Plan) -> Self {
        let stretches = &plan.metal.track.stretches;
        let mut chains: BTreeMap<usize, Vec<Chain>> = BTreeMap::new();
        let mut fed_by: BTreeMap<DeviceId, BTreeSet<usize>> = BTreeMap::new();
        for feed in layout.feeds.values() {
            let Some(first) = plan.first_piece(feed.run) else { continue };
            // What is soldered at a gap is soldered beyond it.
            let here = |p: &crate::rails::Piece| p.from_mm <= feed.at_mm && feed.at_mm <= p.to_mm;
            let Some(at) = plan.pieces_of(feed.run).iter().rposition(here) else { continue };
            let Some(block) = stretches.get(first + at).map(|s| s.block) else { continue };
            let chain = chain(layout, feed);
            for &device in &chain.devices {
                fed_by.entry(device).or_default().insert(block);
            }
            chains.entry(block).or_default().push(chain);
        }
        let mut bridges = BTreeMap::new();
        for special in layout.specials.values() {
            if let Work::Turntable { bridge, exchange_deg: Some(_), .. } = special.work
                && let Some(piece) = plan.first_piece(bridge)
            {
                bridges.insert(stretches[piece].block, special.id);
            }
        }
        Feeding { layout, chains, fed_by, bridges }
    }

    fn drivers(&self, block: usize) -> BTreeSet<DriverId> {
        self.chains.get(&block).into_iter().flatten().flat_map(|c| c.drivers.clone()).collect()
    }

    /// Whether a block is fed by DCC (in some position), if it is fed.
    pub fn dcc(&self, block: usize) -> Option<bool> {
        let drivers = self.drivers(block);
        let dcc = drivers.iter().any(|&id| self.is_booster(id));
        (!drivers.is_empty()).then_some(dcc)
    }

    fn is_booster(&self, id: DriverId) -> bool {
        let driver = self.layout.drivers.get(&id);
        driver.is_some_and(|driver| drive::of(&driver.drive).signal() != Signal::Direct)
    }

    /// What can reverse a block against others: an exchange through which all its feeds come and no other block's, or a
    /// driver that the others need not be on. A booster follows its station, so that it is none.
    pub fn reversal(&self, block: usize, others: &[usize]) -> Option<Reversal> {
        if let Some(&bridge) = self.bridges.get(&block) {
            return Some(Reversal::Bridge(bridge));
        }
        let chains = self.chains.get(&block)?;
        let exchanges = chains.first()?.devices.iter().filter(|id| {
            chains.iter().all(|chain| chain.devices.contains(id))
                && self.fed_by.get(id).is_some_and(|fed| fed.len() == 1)
        });
        let exchanges = exchanges.filter_map(|&id| match self.layout.devices.get(&id)?.kind {
            DeviceKind::AutoReverser { .. } => Some(Reversal::AutoReverser(id)),
            DeviceKind::ReversingSwitch { .. } => Some(Reversal::Switch(id)),
            _ => None,
        });
        if let Some(exchange) = exchanges.min_by_key(Reversal::rank) {
            return Some(exchange);
        }
        let bound: Vec<BTreeSet<DriverId>> = others
            .iter()
            .filter(|&&other| other != block)
            .map(|&other| self.drivers(other))
            .collect();
        let own = |id: &DriverId| {
            !self.is_booster(*id)
                && bound.iter().all(|drivers| drivers.len() != 1 || !drivers.contains(id))
        };
        self.drivers(block).into_iter().find(own).map(Reversal::Driver)
    }
}

/// Whether both poles of a driver end on the rails of some stretches.
pub fn is_fed(layout: &Layout, plan: &Plan, stretches: impl Iterator<Item = usize>) -> bool {
    let pieces = &plan.metal.pieces;
    let nets: BTreeSet<usize> =
        stretches.filter_map(|at| pieces.get(at)).flat_map(|p| p.nets).collect();
    let (mut p, mut m) = (BTreeSet::new(), BTreeSet::new());
    for end in plan.feeders.ends.iter().filter(|end| nets.contains(&end.net)) {
        if let Some(feed) = layout.feeds.get(&end.feed) {
            if end.is_p { &mut p } else { &mut m }.extend(chain(layout, feed).drivers);
        }
    }
    p.intersection(&m).next().is_some()
}
