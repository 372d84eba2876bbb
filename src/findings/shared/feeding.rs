//! What feeds a block, in each position of the selectors on the way to its own feeds.

use std::collections::BTreeSet;

use crate::drive;
use crate::findings::{Class, Evident, Found, Kind, Place, Verdict};
use crate::layout::geometry::END_TOLERANCE_MM;
use crate::layout::{Device, DeviceId, DriverId, Layout, Origin, RunId, resolve};
use crate::rails::{Block, Positions, SelectorId, leader};
use crate::study::View;

/// What is left of a run beyond a cut at its end is no longer than this, mm.
const NOTHING_MM: f64 = 2.0 * END_TOLERANCE_MM;

/// At most so many joint positions of one block's selectors are looked at, those with the fewest thrown first.
const MOST_POSITIONS: usize = 1024;

/// Drivers on both rails of a block, by its own feeds.
pub(crate) fn drivers_at(view: &View, block: usize, positions: &Positions) -> Vec<DriverId> {
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
pub(crate) fn other_positions(view: &View, block: usize) -> (Vec<Positions>, bool) {
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
pub(crate) fn thrown(
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

/// A block on which no train can run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// A run of it.
    pub run: RunId,
    /// Distance along the run, mm.
    pub at_mm: f64,
    /// Length of the block's track, mm.
    pub length_mm: f64,
    /// Whether a driver has the same output on both rails.
    pub same_output: bool,
}

impl Evident for Evidence {}

/// Blocks without a driver in any position.
struct Dead(Vec<Found<Evidence>>);

/// Those of them of one kind: unfed, or fed on one rail only.
pub(crate) fn of_kind(view: &View, kind: Kind) -> Vec<Found<Evidence>> {
    let dead = view.shared.get(|| Dead(dead(view)));
    dead.0.iter().filter(|f| f.kind == kind).cloned().collect()
}

fn dead(view: &View) -> Vec<Found<Evidence>> {
    let mut found = Vec::new();
    // A layout without any feed is a drawing in progress: its one finding is said once per block all the same, since
    // that is what has to be done next.
    let blocks = view.plan.blocks.iter().enumerate();
    for (at, block) in blocks
        .filter(|(_, b)| b.drivers.is_empty() && b.follows.is_empty() && b.length_mm > NOTHING_MM)
    {
        let pieces = || block.pieces.iter().map(|&at| &view.plan.pieces[at]);
        // A driver that does nothing, on purpose, leaves its rails floating, on purpose.
        let on_purpose = view.layout.feeds.values().any(|feed| {
            feed.driver
                .driver()
                .and_then(|id| view.layout.drivers.get(&id))
                .is_some_and(|d| !drive::of(&d.drive).feeds())
                && pieces()
                    .any(|p| p.run == feed.run && p.from_mm <= feed.at_mm && feed.at_mm <= p.to_mm)
        });
        // What some position of its selectors feeds is dead now, not unfed. Where there are too many to look at them all,
        // one of the others may.
        let (others, all) = other_positions(view, at);
        let fed = others.iter().any(|other| !drivers_at(view, at, other).is_empty());
        if on_purpose || fed || !all {
            continue;
        }
        let kind = if block.half_drivers.is_empty() { Kind::Unfed } else { Kind::HalfFed };
        let Some(piece) = pieces().find(|p| p.length_mm() > NOTHING_MM) else { continue };
        let evidence = Evidence {
            run: piece.run,
            at_mm: (piece.from_mm + piece.to_mm) / 2.0,
            length_mm: block.length_mm,
            same_output: same_output(view, block),
        };
        found.push(Found {
            places: vec![Place::Block(block.id)],
            blocks: vec![block.id],
            drivers: block.half_drivers.clone(),
            ..Found::new(kind, Class::Fault, Verdict::Stall, evidence)
        });
    }
    found
}

/// Whether a driver has the same output on both rails of a block.
fn same_output(view: &View, block: &Block) -> bool {
    let [left, right] = block.nets.map(|net| &view.plan.nets[net].legs);
    left.iter().any(|a| right.iter().any(|b| (a.driver, a.is_p) == (b.driver, b.is_p)))
}
