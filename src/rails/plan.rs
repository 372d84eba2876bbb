//! The plan of a layout with its selectors in given positions: nets, blocks and what feeds them.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::anatomy::bridge_exchanged;
use super::feeders::{FeedEnd, Feeders};
use super::grid::Grid;
use super::ids::PlanNet;
use super::metal::Metal;
use super::parts::{Beyond, Block, CutAt, Leg, Net, Piece};
use super::positions::{Positions, SelectorId};
use super::wires::{LooseWires, loose_wires};
use crate::drive;
use crate::layout::{CutId, DriverId, Layout, RunId, resolve};

/// The derived plan of a layout.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Plan {
    /// Nets by identity.
    pub nets: Vec<Net>,
    /// Pieces by run and distance.
    pub pieces: Vec<Piece>,
    /// Blocks by identity.
    pub blocks: Vec<Block>,
    /// Where each cut stands.
    pub cuts: BTreeMap<CutId, CutAt>,
    /// What holds in every position.
    pub metal: Arc<Metal>,
    /// The feeds on it, as they are wired.
    pub feeders: Arc<Feeders>,
    /// The positions.
    pub positions: Positions,
    /// Net of each net of fixed metal: indices in `nets` by index in [`Metal::nets`].
    pub net_of_metal: Vec<usize>,
    /// Beyond each run's start (`true`) or end.
    beyond: BTreeMap<(RunId, bool), Beyond>,
    /// Wires that meet at a device with nothing behind it.
    wires: Vec<LooseWires>,
    /// What meets behind the rails.
    grid: Grid,
}

impl Plan {
    /// Derives the plan of a layout, its selectors standing as they do now.
    pub fn derive(layout: &Layout) -> Plan {
        Plan::on(layout, Arc::new(Metal::derive(layout)))
    }

    /// The plan of a layout whose metal is known, its selectors standing as they do now.
    pub fn on(layout: &Layout, metal: Arc<Metal>) -> Plan {
        let feeders = Arc::new(Feeders::derive(layout, &metal));
        Plan::of(layout, (metal, feeders), Positions::default())
    }

    /// The plan of the same layout with selectors in other positions.
    pub fn at(&self, layout: &Layout, positions: Positions) -> Plan {
        Plan::of(layout, (Arc::clone(&self.metal), Arc::clone(&self.feeders)), positions)
    }

    fn of(
        layout: &Layout,
        (metal, feeders): (Arc<Metal>, Arc<Feeders>),
        positions: Positions,
    ) -> Plan {
        let net_of_metal = metal.joined(layout, &positions);
        let mut nets: Vec<Net> = Vec::new();
        for (&net, &id) in net_of_metal.iter().zip(&metal.nets) {
            // Nets of fixed metal are in the order of their identities, so the first one met names the joined net.
            if net == nets.len() {
                nets.push(Net { id, legs: Vec::new() });
            }
        }
        let exchanged = exchanged_bridges(layout, &positions);
        for (net, leg) in legs(layout, &feeders, &positions, &exchanged) {
            nets[net_of_metal[net]].legs.push(leg);
        }
        let joined = |pair: [usize; 2]| pair.map(|net| net_of_metal[net]);
        let blocks =
            metal.blocks.iter().map(|block| powered(block, joined(block.nets), &nets)).collect();
        let pieces = metal
            .pieces
            .iter()
            .map(|piece| Piece { nets: joined(piece.nets), ..piece.clone() })
            .collect();
        let beyond = ways_on(layout, &metal, &positions);
        let wires = loose_wires(
            layout,
            &feeders,
            &|net| PlanNet(net_of_metal[net]),
            &|device| positions.of(layout, SelectorId::Device(device.id)),
            &exchanged,
        );
        let grid = Grid::derive(layout, &nets, &wires);
        Plan {
            wires,
            nets,
            pieces,
            blocks,
            cuts: metal.cuts.clone(),
            positions,
            net_of_metal,
            beyond,
            grid,
            metal,
            feeders,
        }
    }

    /// Drivers whose two poles stand on one net.
    pub fn shorted(&self) -> BTreeSet<DriverId> {
        let mut shorted = BTreeSet::new();
        for net in &self.nets {
            let poles = |p: bool| net.legs.iter().filter(move |leg| leg.is_p == p);
            let on_m: BTreeSet<DriverId> = poles(false).map(|leg| leg.driver).collect();
            shorted.extend(poles(true).map(|leg| leg.driver).filter(|d| on_m.contains(d)));
        }
        shorted
    }

    /// A net of the plan.
    pub fn net(&self, at: PlanNet) -> &Net {
        &self.nets[at.0]
    }

    /// Wires that meet at a device with nothing behind it.
    pub fn wires(&self) -> &[LooseWires] {
        &self.wires
    }

    /// What meets behind the rails.
    pub fn grid(&self) -> &Grid {
        &self.grid
    }

    /// Pieces of a run, by distance.
    pub fn pieces_of(&self, run: RunId) -> &[Piece] {
        self.metal.runs.get(&run).map_or(&[], |&(from, to)| &self.pieces[from..to])
    }

    /// Index of the first piece of a run in [`Plan::pieces`].
    pub fn first_piece(&self, run: RunId) -> Option<usize> {
        self.metal.runs.get(&run).map(|&(from, _)| from)
    }

    /// The run beyond a run's end (or its start), and whether one enters it at its start. `None` at the end of track.
    pub fn beyond(&self, run: RunId, at_end: bool) -> Option<Beyond> {
        self.beyond.get(&(run, !at_end)).copied()
    }

    /// Index of the block at a place, `None` in a stagger zone, in special work or off the track.
    pub fn block_at(&self, run: RunId, at_mm: f64) -> Option<usize> {
        self.metal.block_at(run, at_mm)
    }

    /// Whether the reference direction at a piece is its run's own (+1) or against it (−1).
    pub fn direction(&self, piece: usize) -> i8 {
        self.metal.directions.of_stretch.get(piece).copied().unwrap_or(1)
    }

    /// The name of a block: the user's, or its number among all blocks of the plan.
    pub fn block_name(&self, layout: &Layout, block: usize) -> String {
        let number = block + 1;
        let block = &self.blocks[block];
        let mut names: Vec<&str> = block
            .labels
            .iter()
            .filter_map(|id| layout.labels.get(id))
            .map(|label| label.name.as_str())
            .collect();
        names.dedup();
        if !names.is_empty() {
            return names.join(" + ");
        }
        let made = format!("block {number}");
        let taken = layout.labels.values().any(|label| label.name.eq_ignore_ascii_case(&made));
        if taken { format!("{made} (unnamed)") } else { made }
    }
}

/// The feed legs that are connected in given positions, each with the net of fixed metal on which it ends.
fn legs(
    layout: &Layout,
    feeders: &Feeders,
    positions: &Positions,
    exchanged: &BTreeSet<RunId>,
) -> Vec<(usize, Leg)> {
    let position =
        |device: &crate::layout::Device| positions.of(layout, SelectorId::Device(device.id));
    let leg = |end: &FeedEnd| {
        let feed = layout.feeds.get(&end.feed)?;
        let origin = resolve(layout, feed.driver, &position)?;
        let driver = layout.drivers.get(&origin.driver)?;
        if !drive::of(&driver.drive).feeds() {
            return None;
        }
        let swapped = origin.exchanged ^ exchanged.contains(&feed.run);
        let leg = Leg {
            feed: feed.id,
            driver: origin.driver,
            is_p: end.is_p ^ swapped,
            exchanged: swapped,
            run: feed.run,
            at_mm: feed.at_mm,
        };
        Some((end.net, leg))
    };
    feeders.ends.iter().filter_map(leg).collect()
}

/// A block whose rails are on a pair of nets, with the drivers that have outputs on them.
fn powered(block: &Block, pair: [usize; 2], nets: &[Net]) -> Block {
    // Per rail: each driver that is on it, and by which output.
    let [left, right] = pair.map(|net| {
        let legs = nets[net].legs.iter().map(|leg| (leg.driver, leg.is_p));
        legs.collect::<BTreeSet<(DriverId, bool)>>()
    });
    // Where a position joins both rails nothing drives the block.
    let split = pair[0] != pair[1];
    // One and the same output on both rails drives no more than an output on one of them.
    let across = |&(driver, is_p): &(DriverId, bool)| split && right.contains(&(driver, !is_p));
    let drives: BTreeSet<DriverId> =
        left.iter().filter(|leg| across(leg)).map(|leg| leg.0).collect();
    let reaches: BTreeSet<DriverId> = left.iter().chain(&right).map(|leg| leg.0).collect();
    let half_drivers =
        if split { reaches.difference(&drives).copied().collect() } else { Vec::new() };
    Block { nets: pair, drivers: drives.into_iter().collect(), half_drivers, ..block.clone() }
}

/// What lies beyond each run's start (`true`) or end, special work in given positions.
fn ways_on(
    layout: &Layout,
    metal: &Metal,
    positions: &Positions,
) -> BTreeMap<(RunId, bool), Beyond> {
    let mut beyond: BTreeMap<(RunId, bool), Beyond> = BTreeMap::new();
    for &[a, b] in &metal.meetings {
        for ((run, start), (next, at_start)) in [(a, b), (b, a)] {
            let plain = Beyond { run: next, at_start, special: None, past_mm: 0.0, against: false };
            beyond.insert((run, start), plain);
        }
    }
    let starts = |end: crate::layout::TrackEnd| (end.run, end.end == crate::layout::RunEnd::Start);
    for (special, way) in &metal.ways {
        let position = positions.of(layout, SelectorId::Points(*special));
        if way.mask >> position.min(63) & 1 == 0 {
            continue;
        }
        // Who comes back from there would not come here: the points are set for another road.
        let set_for_another = way.against >> position.min(63) & 1 == 1;
        let leads_back = metal.ways.iter().any(|(other, back)| {
            other == special
                && back.ends == [way.ends[1], way.ends[0]]
                && back.mask >> position.min(63) & 1 == 1
        });
        let against = set_for_another || !leads_back;
        let (run, at_start) = starts(way.ends[1]);
        beyond.entry(starts(way.ends[0])).or_insert(Beyond {
            run,
            at_start,
            special: Some(*special),
            past_mm: way.past_mm,
            against,
        });
    }
    beyond
}

/// Bridges whose rails are exchanged behind the feed.
fn exchanged_bridges(layout: &Layout, positions: &Positions) -> BTreeSet<RunId> {
    layout
        .specials
        .values()
        .filter(|special| {
            let position = positions.of(layout, SelectorId::Points(special.id));
            bridge_exchanged(layout, special, position)
        })
        .filter_map(|special| special.work.bridge())
        .collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::layout::FeedId;
    use crate::layout::{self, Edit, EntityId};
    use crate::rails::Within;

    fn layout(middle: &str) -> Layout {
        let text = format!(
            r#"(version: 1,
            joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 1000, y_mm: 0), (id: "j3", x_mm: 2000, y_mm: 0),
                (id: "j4", x_mm: 3000, y_mm: 0)],
            supplies: [(id: "s1", open_v: 14, source_ohm: 0.1)],
            drivers: [(id: "d1", supply: "s1", drive: PwmBridge(clock: (hz: 490), idle: BrakeLow), high_ohm: 0.1,
                low_ohm: 0.1, diode_v: 0.7, diode_ohm: 0.1, setting: (direction: Forward)),
                (id: "d2", supply: "s1", drive: PwmBridge(clock: (hz: 490), idle: BrakeLow), high_ohm: 0.1,
                low_ohm: 0.1, diode_v: 0.7, diode_ohm: 0.1, setting: (direction: Forward))],
            {middle})"#
        );
        layout::load(&text).unwrap().layout
    }

    const IN_LINE: &str = r#"runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j2", to: "j3"),
        (id: "r3", from: "j3", to: "j4")],"#;

    fn plan(middle: &str) -> Plan {
        Plan::derive(&layout(middle))
    }

    #[test]
    fn rails_keep_their_hand_where_one_run_ends_and_the_next_starts() {
        let plan = plan(IN_LINE);
        assert_eq!((plan.nets.len(), plan.blocks.len()), (2, 1));
        for run in 1..=3 {
            assert_eq!(plan.pieces_of(RunId(run))[0].nets, [0, 1]);
            assert_eq!(plan.direction(plan.first_piece(RunId(run)).unwrap()), 1);
        }
        assert_eq!(plan.blocks[0].length_mm, 3000.0);
    }

    #[test]
    fn rails_change_hands_where_two_starts_or_two_ends_meet() {
        let plan = plan(
            r#"runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j3", to: "j2"),
            (id: "r3", from: "j3", to: "j4")],"#,
        );
        assert_eq!(plan.nets.len(), 2);
        let nets = |run| plan.pieces_of(RunId(run))[0].nets;
        assert_eq!((nets(1), nets(2), nets(3)), ([0, 1], [1, 0], [0, 1]));
        assert_eq!(
            [1, 2, 3].map(|run| plan.direction(plan.first_piece(RunId(run)).unwrap())),
            [1, -1, 1]
        );
    }

    #[test]
    fn the_lowest_run_gives_the_direction() {
        // r1 is laid westwards and is the lowest: the others turn to it.
        let plan = plan(
            r#"runs: [(id: "r2", from: "j1", to: "j2"), (id: "r3", from: "j2", to: "j3"),
            (id: "r1", from: "j4", to: "j3")],"#,
        );
        assert_eq!(
            [1, 2, 3].map(|run| plan.direction(plan.first_piece(RunId(run)).unwrap())),
            [1, -1, -1]
        );
    }

    #[test]
    fn a_ring_is_two_nets_however_its_runs_are_laid() {
        for runs in [
            r#"runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j2", to: "j1", shape: Arc(bend_deg: 180))],"#,
            r#"runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j1", to: "j2", shape: Arc(bend_deg: 180))],"#,
        ] {
            let plan = plan(runs);
            assert_eq!((plan.nets.len(), plan.blocks.len()), (2, 1), "{runs}");
            let out = plan.beyond(RunId(1), true).unwrap();
            assert_eq!(out.run, RunId(2));
        }
    }

    #[test]
    fn cuts_make_pieces_that_cover_their_run() {
        let plan = plan(&format!(
            r#"{IN_LINE} cuts: [(id: "c1", run: "r1", at_mm: 0, rails: Both), (id: "c2", run: "r1", at_mm: 300, rails: Left),
            (id: "c3", run: "r1", at_mm: 500, rails: Both, stagger_mm: -50), (id: "c4", run: "r1", at_mm: 1000, rails: Both)],"#
        ));
        let ends: Vec<f64> = plan.pieces_of(RunId(1)).iter().map(|p| p.to_mm).collect();
        assert_eq!(ends, [0.0, 300.0, 450.0, 500.0, 1000.0, 1000.0]);
        assert!(plan.pieces_of(RunId(1)).windows(2).all(|p| p[0].to_mm == p[1].from_mm));
        assert_eq!(plan.pieces_of(RunId(1))[3].within, Within::StaggerZone(CutId(3)));
        assert_eq!(plan.cuts.len(), 4);
        // Two one-rail gaps make a block between them; the stagger of one cut does not.
        let real: Vec<f64> = plan.blocks.iter().map(|b| b.length_mm).filter(|l| *l > 0.0).collect();
        assert_eq!(real, [300.0, 150.0, 500.0, 2000.0]);
    }

    #[test]
    fn feeders_join_nothing() {
        let layout = layout(&format!(
            r#"{IN_LINE} cuts: [(id: "c1", run: "r2", at_mm: 500, rails: Both)],
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 100, p: Right, m: Left),
                (id: "f2", driver: "d1", run: "r3", at_mm: 100, p: Right, m: Left),
                (id: "f3", driver: "d2", run: "r3", at_mm: 200, p: Left)],"#
        ));
        let plan = Plan::derive(&layout);
        assert_eq!(plan.blocks.len(), 2);
        assert_eq!(plan.blocks[0].drivers, [DriverId(1)]);
        assert_eq!(plan.blocks[1].drivers, [DriverId(1)]);
        assert_eq!(plan.blocks[1].half_drivers, [DriverId(2)]);
    }

    #[test]
    fn deleting_another_run_neither_flips_a_feed_nor_renames_a_block() {
        let before = layout(
            r#"runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j3", to: "j2"),
                (id: "r3", from: "j3", to: "j4")],
            cuts: [(id: "c1", run: "r2", at_mm: 900, rails: Both), (id: "c2", run: "r2", at_mm: 100, rails: Both)],
            feeds: [(id: "f1", driver: "d1", run: "r2", at_mm: 500, p: Right, m: Left),
                (id: "f2", driver: "d2", run: "r3", at_mm: 500, p: Right, m: Left)],"#,
        );
        let block = |layout: &Layout, run: u32, at_mm: f64| {
            let plan = Plan::derive(layout);
            let block = plan.block_at(RunId(run), at_mm).unwrap();
            let legs = |net: usize| -> Vec<(FeedId, bool)> {
                plan.nets[net].legs.iter().map(|leg| (leg.feed, leg.is_p)).collect()
            };
            let piece = plan.pieces_of(RunId(run)).iter().find(|p| p.to_mm > at_mm).unwrap();
            (plan.blocks[block].id, piece.nets.map(legs))
        };
        for gone in [RunId(1), RunId(3)] {
            let mut after = before.clone();
            layout::apply(&mut after, Edit::Delete(vec![EntityId::Run(gone)])).unwrap();
            assert_eq!(block(&before, 2, 500.0), block(&after, 2, 500.0), "without {gone}");
        }
    }

    #[test]
    fn what_stands_at_a_gap_is_beyond_it_and_at_a_runs_end_before_it() {
        let plan = plan(&format!(
            r#"{IN_LINE} cuts: [(id: "c1", run: "r1", at_mm: 500, rails: Both),
            (id: "c2", run: "r1", at_mm: 1000, rails: Both, made: InsulatedJoiner)],
            labels: [(id: "n1", name: "A", run: "r1", at_mm: 500), (id: "n2", name: "B", run: "r1", at_mm: 1000)],
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 500, p: Right, m: Left),
                (id: "f2", driver: "d2", run: "r1", at_mm: 1000, p: Right, m: Left)],"#
        ));
        let middle = plan.block_at(RunId(1), 700.0).unwrap();
        assert_eq!(plan.blocks[middle].drivers, [DriverId(1), DriverId(2)]);
        assert_eq!(plan.blocks[middle].labels.len(), 2);
    }
}
