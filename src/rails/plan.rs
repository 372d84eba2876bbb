//! Deriving nets, pieces and blocks from a layout.

use std::collections::BTreeMap;

use petgraph::unionfind::UnionFind;

use super::grid::Grid;
use super::ids::{BlockId, NetId};
use crate::layout::{Cut, CutId, Drive, DriverId, FeedId, LabelId, Layout, Rail, RunId, geometry};

/// A net: its identity and the feed legs that end on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Net {
    /// Identity.
    pub id: NetId,
    /// Feed legs on it, by feed.
    pub legs: Vec<Leg>,
}

/// One leg of a feed, on a net.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leg {
    /// The feed.
    pub feed: FeedId,
    /// The driver.
    pub driver: DriverId,
    /// Whether it is the P output (otherwise M).
    pub is_p: bool,
    /// Run on which the leg is soldered.
    pub run: RunId,
    /// Distance along that run, mm.
    pub at_mm: f64,
}

/// What a piece of track is part of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Within {
    /// The block with this index in [`Plan::blocks`].
    Block(usize),
    /// The stretch between the two rails' gaps of one staggered cut.
    StaggerZone(CutId),
}

/// A piece of a run between neighbouring cut places.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// The run.
    pub run: RunId,
    /// Where it starts, mm along the run.
    pub from_mm: f64,
    /// Where it ends, mm.
    pub to_mm: f64,
    /// Net of the left and of the right rail (seen from the run's start): indices in [`Plan::nets`].
    pub nets: [usize; 2],
    /// What it is part of.
    pub within: Within,
}

impl Piece {
    /// Length, mm.
    pub fn length_mm(&self) -> f64 {
        self.to_mm - self.from_mm
    }
}

/// A block.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Identity.
    pub id: BlockId,
    /// Its two nets, the left rail's of its first piece first: indices in [`Plan::nets`].
    pub nets: [usize; 2],
    /// Its pieces: indices in [`Plan::pieces`].
    pub pieces: Vec<usize>,
    /// Length of its track, mm.
    pub length_mm: f64,
    /// Names that the user gave to places in it.
    pub labels: Vec<LabelId>,
    /// Drivers with an output on each of its two rails: those that drive it.
    pub drivers: Vec<DriverId>,
    /// Drivers with an output on one of its rails only.
    pub half_drivers: Vec<DriverId>,
}

/// A cut in the derived plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CutAt {
    /// The piece that ends where the cut begins (index in [`Plan::pieces`]).
    pub before: usize,
    /// The piece that starts where the cut ends.
    pub after: usize,
    /// Block before.
    pub block_before: usize,
    /// Block after.
    pub block_after: usize,
    /// Whether the reference directions of the two sides agree (+1) or the closing cut of an unbalanced cycle
    /// reverses them (−1). Plain track cannot reverse them.
    pub sign: i8,
}

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
    /// Range of indices in `pieces` of each run.
    runs: BTreeMap<RunId, (usize, usize)>,
    /// Beyond each run's start (`true`) or end: the next run, and whether one enters it at its start.
    beyond: BTreeMap<(RunId, bool), (RunId, bool)>,
    /// +1 where the reference direction is the run's own, −1 where it is against it.
    directions: BTreeMap<RunId, i8>,
    /// What meets behind the rails.
    grid: Grid,
}

/// Where a cut goes through one rail, mm along its run; `None` if that rail is whole.
pub fn cut_place_mm(cut: &Cut, rail: Rail) -> Option<f64> {
    let place = match rail {
        Rail::Left => cut.at_mm,
        Rail::Right => cut.at_mm + cut.stagger_mm,
    };
    cut.rails.has(rail).then_some(place)
}

impl Plan {
    /// Derives the plan of a layout.
    pub fn derive(layout: &Layout) -> Plan {
        let mut of_run: BTreeMap<RunId, Vec<&Cut>> = BTreeMap::new();
        for cut in layout.cuts.values() {
            of_run.entry(cut.run).or_default().push(cut);
        }

        // Segments: the lengths of one rail between its own gaps.
        let mut segments: Vec<NetId> = Vec::new();
        let mut first_segment: BTreeMap<(RunId, Rail), (usize, Vec<f64>)> = BTreeMap::new();
        for &run in layout.runs.keys() {
            for rail in Rail::BOTH {
                let mut places: Vec<f64> = of_run
                    .get(&run)
                    .into_iter()
                    .flatten()
                    .filter_map(|cut| cut_place_mm(cut, rail))
                    .collect();
                places.sort_by(f64::total_cmp);
                first_segment.insert((run, rail), (segments.len(), places.clone()));
                for segment in 0..=places.len() {
                    segments.push(NetId { run, rail, segment: segment as u32 });
                }
            }
        }

        let mut metal = UnionFind::<usize>::new(segments.len());
        let end_segment = |run: RunId, rail: Rail, at_start: bool| {
            let (first, places) = &first_segment[&(run, rail)];
            if at_start { *first } else { *first + places.len() }
        };
        let meetings = meetings(layout);
        for &[(a, a_start), (b, b_start)] in &meetings {
            for rail in Rail::BOTH {
                // Seen through the joint a rail keeps its hand if one run ends where the other starts.
                let other = if a_start == b_start { rail.other() } else { rail };
                metal.union(end_segment(a, rail, a_start), end_segment(b, other, b_start));
            }
        }

        // Segments are in the order of their identities, so the first one met names its net.
        let mut net_of_root: BTreeMap<usize, usize> = BTreeMap::new();
        let mut nets: Vec<Net> = Vec::new();
        let mut net_of_segment: Vec<usize> = Vec::with_capacity(segments.len());
        for (index, &id) in segments.iter().enumerate() {
            let net = *net_of_root.entry(metal.find(index)).or_insert_with(|| {
                nets.push(Net { id, legs: Vec::new() });
                nets.len() - 1
            });
            net_of_segment.push(net);
        }
        // What is soldered at a gap is soldered beyond it, but at the end of its run on this side: a feed stands on its run.
        let net_at = |run: RunId, rail: Rail, at_mm: f64| {
            let (first, places) = &first_segment[&(run, rail)];
            let end_mm = layout.runs.get(&run).map_or(0.0, |run| geometry::length_mm(layout, run));
            let beyond = places.iter().filter(|&&place| place <= at_mm && place < end_mm).count();
            net_of_segment[first + beyond]
        };

        for feed in layout.feeds.values() {
            if layout.drivers.get(&feed.driver).is_none_or(|d| d.drive == Drive::Nothing) {
                continue;
            }
            for (rail, is_p) in [(feed.p, true), (feed.m, false)] {
                if let Some(rail) = rail {
                    nets[net_at(feed.run, rail, feed.at_mm)].legs.push(Leg {
                        feed: feed.id,
                        driver: feed.driver,
                        is_p,
                        run: feed.run,
                        at_mm: feed.at_mm,
                    });
                }
            }
        }

        let mut plan = Plan { nets, directions: directions(layout, &meetings), ..Plan::default() };
        for &[a, b] in &meetings {
            plan.beyond.insert(a, b);
            plan.beyond.insert(b, a);
        }
        plan.grid = Grid::derive(layout, &plan.nets);
        let mut block_of_pair: BTreeMap<(usize, usize), usize> = BTreeMap::new();
        for (&id, run) in &layout.runs {
            let length_mm = geometry::length_mm(layout, run);
            let cuts = of_run.get(&id).map_or(&[][..], Vec::as_slice);
            let mut places: Vec<f64> = cuts
                .iter()
                .flat_map(|cut| Rail::BOTH.into_iter().filter_map(|rail| cut_place_mm(cut, rail)))
                .collect();
            places.sort_by(f64::total_cmp);
            places.dedup();
            let start = plan.pieces.len();
            for index in 0..=places.len() {
                let from_mm = if index == 0 { 0.0 } else { places[index - 1] };
                // A cut may stand a hair beyond the drawn end.
                let to_mm = places.get(index).copied().unwrap_or(length_mm.max(from_mm));
                let segment_of = |rail: Rail| {
                    let (first, gaps) = &first_segment[&(id, rail)];
                    let passed =
                        if index == 0 { 0 } else { gaps.iter().filter(|&&g| g <= from_mm).count() };
                    net_of_segment[first + passed]
                };
                let piece_nets = [segment_of(Rail::Left), segment_of(Rail::Right)];
                // Another cut within the stagger makes blocks of its parts.
                let zone = cuts.iter().find(|cut| {
                    let (low, high) = stagger_mm(cut);
                    low < high
                        && from_mm == low
                        && to_mm == high
                        && index > 0
                        && index < places.len()
                });
                let within = match zone {
                    Some(cut) => Within::StaggerZone(cut.id),
                    None => {
                        let pair =
                            (piece_nets[0].min(piece_nets[1]), piece_nets[0].max(piece_nets[1]));
                        let block = *block_of_pair.entry(pair).or_insert_with(|| {
                            plan.blocks.push(Block {
                                id: BlockId { run: id, piece: index as u32 },
                                nets: piece_nets,
                                pieces: Vec::new(),
                                length_mm: 0.0,
                                labels: Vec::new(),
                                drivers: Vec::new(),
                                half_drivers: Vec::new(),
                            });
                            plan.blocks.len() - 1
                        });
                        plan.blocks[block].pieces.push(plan.pieces.len());
                        plan.blocks[block].length_mm += to_mm - from_mm;
                        Within::Block(block)
                    }
                };
                plan.pieces.push(Piece { run: id, from_mm, to_mm, nets: piece_nets, within });
            }
            plan.runs.insert(id, (start, plan.pieces.len()));
        }

        for label in layout.labels.values() {
            if let Some(block) = plan.block_at(label.run, label.at_mm) {
                plan.blocks[block].labels.push(label.id);
            }
        }
        for block in &mut plan.blocks {
            let on = |net: usize| plan.nets[net].legs.iter().map(|leg| leg.driver);
            let mut left: Vec<DriverId> = on(block.nets[0]).collect();
            let mut right: Vec<DriverId> = on(block.nets[1]).collect();
            for side in [&mut left, &mut right] {
                side.sort();
                side.dedup();
            }
            block.drivers = left.iter().copied().filter(|d| right.contains(d)).collect();
            block.half_drivers =
                left.iter().chain(&right).copied().filter(|d| !block.drivers.contains(d)).collect();
            block.half_drivers.sort();
            block.half_drivers.dedup();
        }
        for cut in layout.cuts.values() {
            let (low, high) = stagger_mm(cut);
            let (start, end) = plan.runs[&cut.run];
            let pieces = &plan.pieces[start..end];
            // The piece before ends at the lower gap; the piece after starts at the upper one.
            // Where the stagger zone of another cut follows at once, the next block beyond it counts.
            let is_block = |p: &Piece| matches!(p.within, Within::Block(_));
            let before = pieces
                .iter()
                .position(|p| p.to_mm == low)
                .and_then(|i| (0..=i).rev().find(|&i| is_block(&pieces[i])).map(|i| start + i));
            let after = pieces
                .iter()
                .rposition(|p| p.from_mm == high)
                .and_then(|i| (i..pieces.len()).find(|&i| is_block(&pieces[i])).map(|i| start + i));
            let (Some(before), Some(after)) = (before, after) else { continue };
            if let (Within::Block(block_before), Within::Block(block_after)) =
                (plan.pieces[before].within, plan.pieces[after].within)
            {
                plan.cuts
                    .insert(cut.id, CutAt { before, after, block_before, block_after, sign: 1 });
            }
        }
        plan
    }

    /// What meets behind the rails.
    pub fn grid(&self) -> &Grid {
        &self.grid
    }

    /// Pieces of a run, by distance.
    pub fn pieces_of(&self, run: RunId) -> &[Piece] {
        self.runs.get(&run).map_or(&[], |&(from, to)| &self.pieces[from..to])
    }

    /// Index of the first piece of a run in [`Plan::pieces`].
    pub fn first_piece(&self, run: RunId) -> Option<usize> {
        self.runs.get(&run).map(|&(from, _)| from)
    }

    /// The run beyond a run's end (or its start), and whether one enters it at its start. `None` at the end of track.
    pub fn beyond(&self, run: RunId, at_end: bool) -> Option<(RunId, bool)> {
        self.beyond.get(&(run, !at_end)).copied()
    }

    /// Index of the block at a place, `None` in a stagger zone or off the track.
    pub fn block_at(&self, run: RunId, at_mm: f64) -> Option<usize> {
        // At a gap the piece beyond it counts, as for feeds.
        let piece = self
            .pieces_of(run)
            .iter()
            .rev()
            .find(|p| p.from_mm <= at_mm && at_mm <= p.to_mm && p.length_mm() > 0.0)?;
        match piece.within {
            Within::Block(block) => Some(block),
            Within::StaggerZone(_) => None,
        }
    }

    /// Whether the reference direction of the blocks on a run is the run's own (+1) or against it (−1).
    pub fn direction(&self, run: RunId) -> i8 {
        self.directions.get(&run).copied().unwrap_or(1)
    }

    /// The name of a block: the user's, or one made from its place.
    pub fn block_name(&self, layout: &Layout, block: usize) -> String {
        let block = &self.blocks[block];
        let mut names: Vec<&str> = block
            .labels
            .iter()
            .filter_map(|id| layout.labels.get(id))
            .map(|label| label.name.as_str())
            .collect();
        names.dedup();
        if names.is_empty() { format!("block {}", block.id) } else { names.join(" + ") }
    }
}

/// From the lower to the upper gap of a cut, mm along its run.
fn stagger_mm(cut: &Cut) -> (f64, f64) {
    let places = Rail::BOTH.map(|rail| cut_place_mm(cut, rail));
    match places {
        [Some(left), Some(right)] => (left.min(right), left.max(right)),
        [left, right] => {
            let place = left.or(right).unwrap_or(cut.at_mm);
            (place, place)
        }
    }
}

/// Pairs of run ends that meet at a joint; `true` marks a run's start.
fn meetings(layout: &Layout) -> Vec<[(RunId, bool); 2]> {
    let mut ends: BTreeMap<_, Vec<(RunId, bool)>> = BTreeMap::new();
    for run in layout.runs.values() {
        ends.entry(run.from).or_default().push((run.id, true));
        ends.entry(run.to).or_default().push((run.id, false));
    }
    ends.into_values().filter_map(|ends| <[_; 2]>::try_from(ends).ok()).collect()
}

/// Reference direction of every run: the lowest run of each stretch of track gives it, joints hand it on.
fn directions(layout: &Layout, meetings: &[[(RunId, bool); 2]]) -> BTreeMap<RunId, i8> {
    let mut neighbours: BTreeMap<RunId, Vec<(RunId, i8)>> = BTreeMap::new();
    for &[(a, a_start), (b, b_start)] in meetings {
        let turn = if a_start == b_start { -1 } else { 1 };
        neighbours.entry(a).or_default().push((b, turn));
        neighbours.entry(b).or_default().push((a, turn));
    }
    let mut directions = BTreeMap::new();
    for &root in layout.runs.keys() {
        if directions.contains_key(&root) {
            continue;
        }
        directions.insert(root, 1);
        let mut stack = vec![root];
        while let Some(run) = stack.pop() {
            let own: i8 = directions[&run];
            for &(next, turn) in neighbours.get(&run).into_iter().flatten() {
                if let std::collections::btree_map::Entry::Vacant(entry) = directions.entry(next) {
                    entry.insert(own * turn);
                    stack.push(next);
                }
            }
        }
    }
    directions
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::layout::{self, Edit, EntityId};

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
            assert_eq!(plan.direction(RunId(run)), 1);
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
        assert_eq!([1, 2, 3].map(|run| plan.direction(RunId(run))), [1, -1, 1]);
    }

    #[test]
    fn the_lowest_run_gives_the_direction() {
        // r1 is laid westwards and is the lowest: the others turn to it.
        let plan = plan(
            r#"runs: [(id: "r2", from: "j1", to: "j2"), (id: "r3", from: "j2", to: "j3"),
            (id: "r1", from: "j4", to: "j3")],"#,
        );
        assert_eq!([1, 2, 3].map(|run| plan.direction(RunId(run))), [1, -1, -1]);
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
            assert_eq!(out.0, RunId(2));
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
