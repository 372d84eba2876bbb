//! What feeds a block, in each position of the selectors on the way to its own feeds.

use std::collections::BTreeSet;

use crate::drive;
use crate::layout::{Device, DeviceId, DriverId, Layout, Origin, resolve};
use crate::rails::{Positions, SelectorId, leader};
use crate::study::View;

/// At most so many joint positions of one block's selectors are looked at, those with the fewest thrown first.
const MOST_POSITIONS: usize = 1024;

/// Drivers on both rails of a block, by its own feeds.
pub(super) fn drivers_at(view: &View, block: usize, positions: &Positions) -> Vec<DriverId> {
    let layout = view.layout;
    let (metal, feeders) = (&view.plan.metal, &view.plan.feeders);
    let position = |device: &Device| positions.of(layout, SelectorId::Device(device.id));
    let [left, right] = metal.blocks[block].nets.map(|net| {
        feeders
            .on(net)
            .filter_map(|end| layout.feeds.get(&end.feed))
            .filter_map(|feed| resolve(layout, feed.driver, &position))
            .map(|chain| chain.driver)
            .filter(|id| layout.drivers.get(id).is_some_and(|d| drive::of(&d.drive).feeds()))
            .collect::<BTreeSet<DriverId>>()
    });
    left.intersection(&right).copied().collect()
}

/// Joint positions of the selectors on the way to a block's own feeds other than those now, the fewest thrown first; and
/// whether these are all.
pub(super) fn other_positions(view: &View, block: usize) -> (Vec<Positions>, bool) {
    let layout = view.layout;
    let nets = view.plan.metal.blocks[block].nets;
    let mut devices: BTreeSet<DeviceId> = BTreeSet::new();
    let ends = &view.plan.feeders.ends;
    let mut waiting: Vec<Origin> = ends
        .iter()
        .filter(|end| nets.contains(&end.net))
        .filter_map(|end| layout.feeds.get(&end.feed))
        .map(|feed| feed.driver)
        .collect();
    while let Some(origin) = waiting.pop() {
        if let Origin::Device(id) = origin
            && devices.insert(id)
            && let Some(device) = layout.devices.get(&id)
        {
            waiting.extend(device.kind.sources());
        }
    }
    let selectors: BTreeSet<SelectorId> = devices
        .into_iter()
        .map(SelectorId::Device)
        .filter(|selector| selector.positions(layout) > 1)
        .map(|selector| leader(layout, selector))
        .collect();
    let now = &view.plan.positions;
    let mut all = vec![now.clone()];
    let mut thrown = vec![0_usize];
    let mut whole = true;
    for selector in selectors {
        for at in 0..all.len() {
            for position in 0..selector.positions(layout) {
                if position == now.of(layout, selector) {
                    continue;
                }
                if all.len() >= MOST_POSITIONS {
                    whole = false;
                    break;
                }
                let mut other = all[at].clone();
                other.throw(layout, selector, position);
                all.push(other);
                thrown.push(thrown[at] + 1);
            }
        }
    }
    let mut order: Vec<usize> = (1..all.len()).collect();
    order.sort_by_key(|&at| thrown[at]);
    (order.into_iter().map(|at| all[at].clone()).collect(), whole)
}

/// The devices that stand differently in some positions than now.
pub(super) fn thrown(
    layout: &Layout,
    now: &Positions,
    positions: &Positions,
) -> Vec<(DeviceId, u32)> {
    layout
        .devices
        .keys()
        .map(|&id| (id, positions.of(layout, SelectorId::Device(id))))
        .filter(|&(id, position)| position != now.of(layout, SelectorId::Device(id)))
        .collect()
}
