//! Which selectors matter at a place, and the sets of positions to look at there.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use super::plan::Plan;
use super::positions::{Positions, SelectorId, leader};
use crate::layout::{DeviceId, DeviceKind, Layout, Origin, SpecialId};

/// At most so many sets of positions are looked at in one place.
pub const MOST_SETS: usize = 32;

/// Selectors that matter somewhere, the nearest first, each standing for its gang.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Near {
    /// Those that are tried in every position.
    pub tried: Vec<SelectorId>,
    /// Those that are left as they stand, because there would be too many sets.
    pub held: Vec<SelectorId>,
}

/// The selectors whose positions change what the given nets of fixed metal are joined to or fed from, and the points of
/// `specials` besides.
///
/// From the nets one goes on through what positions join, up to nets that are fed. A frog that only its own special work
/// joins to anything leads nowhere.
pub fn near(layout: &Layout, plan: &Plan, nets: &BTreeSet<usize>, specials: &[SpecialId]) -> Near {
    let (metal, feeders) = (&plan.metal, &plan.feeders);
    let mut found: Vec<SelectorId> = Vec::new();
    let mut add = |selector: SelectorId| {
        if selector.positions(layout) > 1 && !found.contains(&selector) {
            found.push(selector);
        }
    };
    specials.iter().for_each(|&id| add(leader(layout, SelectorId::Points(id))));

    let ends_here = |net: usize| nets.contains(&net) || !feeders.none_on(net);
    let mut seen: BTreeSet<usize> = nets.clone();
    let mut waiting: VecDeque<usize> = nets.iter().copied().collect();
    // Edges by net: the selector, its positions, and the net beyond.
    let mut edges: BTreeMap<usize, Vec<(SelectorId, u64, usize)>> = BTreeMap::new();
    let mut order: Vec<SelectorId> = Vec::new();
    while let Some(net) = waiting.pop_front() {
        let fed = !feeders.none_on(net) && !nets.contains(&net);
        for switch in metal.switches_on(net).iter().map(|&at| &metal.switches[at]) {
            let [a, b] = switch.nets;
            let beyond = if a == net { b } else { a };
            let selector = leader(layout, switch.selector);
            edges.entry(net).or_default().push((selector, switch.mask, beyond));
            if !fed && seen.insert(beyond) {
                waiting.push_back(beyond);
            }
            if !order.contains(&selector) {
                order.push(selector);
            }
        }
    }
    // A net that one cannot pass through, because no two of its edges can be used together, leads nowhere.
    let passable = |net: usize, edges: &BTreeMap<usize, Vec<(SelectorId, u64, usize)>>| {
        let here = edges.get(&net).map_or(&[][..], Vec::as_slice);
        here.iter()
            .enumerate()
            .any(|(at, one)| here[at + 1..].iter().any(|two| one.0 != two.0 || one.1 & two.1 != 0))
    };
    loop {
        let dead: Vec<usize> = edges
            .keys()
            .copied()
            .filter(|&net| !ends_here(net) && !passable(net, &edges))
            .collect();
        if dead.is_empty() {
            break;
        }
        for net in dead {
            edges.remove(&net);
            for others in edges.values_mut() {
                others.retain(|edge| edge.2 != net);
            }
        }
        edges.retain(|_, here| !here.is_empty());
    }
    let used: BTreeSet<SelectorId> = edges.values().flatten().map(|edge| edge.0).collect();
    order.into_iter().filter(|selector| used.contains(selector)).for_each(&mut add);

    let fed_nets: BTreeSet<usize> = nets.iter().chain(edges.keys()).copied().collect();
    for net in fed_nets {
        for end in feeders.on(net) {
            let origin = layout.feeds.get(&end.feed).map(|feed| feed.driver);
            // An auto-reverser finds its position by itself: what it does is judged with the fault that makes it act.
            let by_hand = |id: &DeviceId| {
                !layout
                    .devices
                    .get(id)
                    .is_some_and(|d| matches!(d.kind, DeviceKind::AutoReverser { .. }))
            };
            for id in devices_behind(layout, origin).into_iter().filter(by_hand) {
                add(leader(layout, SelectorId::Device(id)));
            }
        }
    }
    let mut near = Near::default();
    let mut sets = 1;
    for selector in found {
        let positions = selector.positions(layout) as usize;
        if sets * positions <= MOST_SETS {
            sets *= positions;
            near.tried.push(selector);
        } else {
            near.held.push(selector);
        }
    }
    near
}

/// Every device that a feed can come through.
fn devices_behind(layout: &Layout, origin: Option<Origin>) -> BTreeSet<DeviceId> {
    let mut seen = BTreeSet::new();
    let mut waiting: Vec<Origin> = origin.into_iter().collect();
    while let Some(origin) = waiting.pop() {
        if let Origin::Device(id) = origin
            && seen.insert(id)
        {
            waiting.extend(layout.devices.get(&id).into_iter().flat_map(|d| d.kind.sources()));
        }
    }
    seen
}

/// Every set of positions of some selectors, that in which all stand now first. A contact that stands apart from its points
/// now goes with them in all others.
pub fn sets(layout: &Layout, selectors: &[SelectorId]) -> Vec<Positions> {
    let mut all = BTreeSet::from([Positions::default()]);
    for &selector in selectors {
        for set in all.clone() {
            all.extend((0..selector.positions(layout)).map(|position| {
                let mut set = set.clone();
                set.throw(layout, selector, position);
                set
            }));
        }
    }
    // Nothing thrown is the least of them.
    all.into_iter().collect()
}
