//! Lengths of metal: how far it is along the rails from one place to another.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

use petgraph::unionfind::UnionFind;

use super::parts::cut_place_mm;
use super::plan::Plan;
use crate::layout::{JointId, Layout, Rail, RunEnd, RunId};

/// The rails as a graph: its nodes are the ends of every piece and the places of the feeds, on each rail; its edges the
/// metal between them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Lengths {
    /// Per piece: distances of its nodes along the run, mm, in order. The same on both rails.
    places: Vec<Vec<f64>>,
    /// Per piece: the first node of its left rail; those of its right rail follow.
    first: Vec<usize>,
    /// Per node: the lengths of metal to its neighbours.
    edges: Vec<Vec<Length>>,
}

/// A length of metal from a node.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Length {
    to: usize,
    mm: f64,
    /// The joint whose rail joiner it leads through.
    joint: Option<JointId>,
}

/// A place in a block, and how much rail lies between it and the nearest feeders.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Far {
    /// Index of the piece in [`Plan::pieces`].
    pub piece: usize,
    /// Distance along the piece's run, mm.
    pub at_mm: f64,
    /// On the rail of the block's first net and on that of its second, mm.
    pub rail_mm: [f64; 2],
}

impl Lengths {
    /// The metal of a plan.
    pub fn of(layout: &Layout, plan: &Plan) -> Lengths {
        let mut marks: BTreeMap<RunId, Vec<f64>> = BTreeMap::new();
        for feed in layout.feeds.values() {
            marks.entry(feed.run).or_default().push(feed.at_mm);
        }
        for spot in layout.bonds.values().flat_map(|bond| [bond.from, bond.to]) {
            marks.entry(spot.run).or_default().push(spot.at_mm);
        }
        let mut metal = Lengths {
            places: Vec::with_capacity(plan.pieces.len()),
            first: Vec::with_capacity(plan.pieces.len()),
            edges: Vec::new(),
        };
        for piece in &plan.pieces {
            let inside = marks.get(&piece.run).into_iter().flatten().copied();
            let mut places: Vec<f64> =
                inside.filter(|at| piece.from_mm < *at && *at < piece.to_mm).collect();
            places.extend([piece.from_mm, piece.to_mm]);
            places.sort_by(f64::total_cmp);
            metal.first.push(metal.edges.len());
            metal.edges.resize(metal.edges.len() + 2 * places.len(), Vec::new());
            metal.places.push(places);
        }
        for at in 0..plan.pieces.len() {
            for side in 0..2 {
                for k in 1..metal.places[at].len() {
                    let length = metal.places[at][k] - metal.places[at][k - 1];
                    metal.join(metal.node(at, side, k - 1), metal.node(at, side, k), length, None);
                }
            }
        }
        metal.join_along_runs(layout, plan);
        metal.join_at_joints(layout, plan);
        metal.join_special_work(layout, plan);
        metal.join_bonds(layout, plan);
        metal.join_the_rest(plan);
        metal
    }

    /// On one run the metal goes on from piece to piece where that rail is whole.
    fn join_along_runs(&mut self, layout: &Layout, plan: &Plan) {
        let mut gaps: BTreeSet<(RunId, usize, u64)> = BTreeSet::new();
        for cut in layout.cuts.values() {
            for (side, rail) in Rail::BOTH.into_iter().enumerate() {
                gaps.extend(cut_place_mm(cut, rail).map(|at| (cut.run, side, at.to_bits())));
            }
        }
        for at in 1..plan.pieces.len() {
            let (before, after) = (&plan.pieces[at - 1], &plan.pieces[at]);
            for side in 0..2 {
                let gap = (after.run, side, after.from_mm.to_bits());
                if before.run == after.run && !gaps.contains(&gap) {
                    let last = self.places[at - 1].len() - 1;
                    self.join(self.node(at - 1, side, last), self.node(at, side, 0), 0.0, None);
                }
            }
        }
    }

    /// At joints the metal goes on from run to run.
    fn join_at_joints(&mut self, layout: &Layout, plan: &Plan) {
        let plain: BTreeSet<[(RunId, bool); 2]> =
            plan.metal.meetings.iter().flat_map(|&[a, b]| [[a, b], [b, a]]).collect();
        for link in &plan.metal.track.links {
            let [(a, a_start), (b, b_start)] = link.ends;
            let inside = a.abs_diff(b) == 1 && a_start != b_start && (a < b) == b_start;
            if inside && plan.pieces[a].run == plan.pieces[b].run {
                continue;
            }
            let meeting = [(plan.pieces[a].run, a_start), (plan.pieces[b].run, b_start)];
            // Inside special work there is no rail joiner.
            let joint = plain
                .contains(&meeting)
                .then(|| layout.runs.get(&plan.pieces[a].run))
                .flatten()
                .map(|run| if a_start { run.from } else { run.to });
            for side in 0..2 {
                // Where two starts or two ends meet, a rail changes hands.
                let other = if a_start == b_start { 1 - side } else { side };
                if plan.pieces[a].nets[side] == plan.pieces[b].nets[other] {
                    let end = |piece: usize, start: bool| {
                        if start { 0 } else { self.places[piece].len() - 1 }
                    };
                    let (from, to) =
                        (self.node(a, side, end(a, a_start)), self.node(b, other, end(b, b_start)));
                    self.join(from, to, 0.0, joint);
                }
            }
        }
    }

    /// Bonds join two places for good.
    fn join_bonds(&mut self, layout: &Layout, plan: &Plan) {
        for bond in layout.bonds.values() {
            let ends = [bond.from, bond.to].map(|spot| {
                let side = usize::from(spot.rail == Rail::Right);
                self.place(plan, spot.run, side, spot.at_mm)
            });
            if let [Some(a), Some(b)] = ends {
                self.join(a, b, 0.0, None);
            }
        }
    }

    /// Inside special work all metal of one net is one point: what is bonded or fed by a contact there is near.
    fn join_special_work(&mut self, layout: &Layout, plan: &Plan) {
        for special in layout.specials.values() {
            let reach_mm = special.work.reach_mm() + 0.01;
            let mut met: BTreeMap<usize, usize> = BTreeMap::new();
            for end in special.work.ends() {
                let Some(first) = plan.first_piece(end.run) else { continue };
                let pieces = plan.pieces_of(end.run);
                let Some(length_mm) = pieces.last().map(|piece| piece.to_mm) else { continue };
                for (n, piece) in pieces.iter().enumerate() {
                    for k in 0..self.places[first + n].len() {
                        let at = self.places[first + n][k];
                        let past = if end.end == RunEnd::Start { at } else { length_mm - at };
                        for side in (0..2).filter(|_| past <= reach_mm) {
                            let node = self.node(first + n, side, k);
                            match met.get(&piece.nets[side]) {
                                Some(&other) => self.join(other, node, 0.0, None),
                                None => drop(met.insert(piece.nets[side], node)),
                            }
                        }
                    }
                }
            }
        }
    }

    /// What is one net although no rail leads from one part to the other is joined by a wire of no account.
    fn join_the_rest(&mut self, plan: &Plan) {
        let mut parts = UnionFind::<usize>::new(self.edges.len());
        for (node, lengths) in self.edges.iter().enumerate() {
            for length in lengths {
                parts.union(node, length.to);
            }
        }
        let mut met: BTreeMap<usize, usize> = BTreeMap::new();
        for (at, piece) in plan.pieces.iter().enumerate() {
            for side in 0..2 {
                let node = self.node(at, side, 0);
                match met.get(&piece.nets[side]) {
                    Some(&other) if parts.union(other, node) => self.join(other, node, 0.0, None),
                    Some(_) => {}
                    None => drop(met.insert(piece.nets[side], node)),
                }
            }
        }
    }

    /// The node at a place on one rail of a run; at a gap the one beyond it, but at the end of the run the one before.
    fn place(&self, plan: &Plan, run: RunId, side: usize, at_mm: f64) -> Option<usize> {
        let first = plan.first_piece(run)?;
        (0..plan.pieces_of(run).len()).rev().find_map(|n| {
            let k = self.places[first + n].iter().position(|&at| (at - at_mm).abs() < 0.01)?;
            Some(self.node(first + n, side, k))
        })
    }

    fn join(&mut self, a: usize, b: usize, mm: f64, joint: Option<JointId>) {
        self.edges[a].push(Length { to: b, mm, joint });
        self.edges[b].push(Length { to: a, mm, joint });
    }

    fn node(&self, piece: usize, side: usize, place: usize) -> usize {
        self.first[piece] + side * self.places[piece].len() + place
    }

    /// Nodes of a net at a place on a run: more than one where pieces meet there.
    pub fn nodes_at(&self, plan: &Plan, net: usize, run: RunId, at_mm: f64) -> Vec<usize> {
        let first = plan.first_piece(run).unwrap_or(0);
        let mut nodes = Vec::new();
        for (n, piece) in plan.pieces_of(run).iter().enumerate() {
            // What stands a hair beyond the drawn end stands at it.
            let at_mm =
                if piece.to_mm < at_mm && at_mm < piece.to_mm + 0.01 { piece.to_mm } else { at_mm };
            for side in 0..2 {
                if piece.nets[side] == net
                    && let Some(k) = self.places[first + n].iter().position(|&at| at == at_mm)
                {
                    nodes.push(self.node(first + n, side, k));
                }
            }
        }
        nodes
    }

    /// Length of metal from the nearest of some nodes (each already so far away) to every node, mm; infinite where there
    /// is none. The rail joiners at the joint `open` count as open.
    pub fn distances(&self, from: &[(usize, f64)], open: Option<JointId>) -> Vec<f64> {
        let mut found = vec![f64::INFINITY; self.edges.len()];
        // Lengths are not negative, so their bits are in their order.
        let mut waiting: BinaryHeap<Reverse<(u64, usize)>> = BinaryHeap::new();
        for &(node, length) in from {
            if length < found[node] {
                found[node] = length;
                waiting.push(Reverse((length.to_bits(), node)));
            }
        }
        while let Some(Reverse((bits, node))) = waiting.pop() {
            let length = f64::from_bits(bits);
            if length > found[node] {
                continue;
            }
            for &Length { to, mm, joint } in &self.edges[node] {
                let open = open.is_some() && joint == open;
                if !open && length + mm < found[to] {
                    found[to] = length + mm;
                    waiting.push(Reverse((found[to].to_bits(), to)));
                }
            }
        }
        found
    }

    /// The nodes around a place on a piece's rail, each with the length of metal to it, mm.
    fn around(&self, piece: usize, side: usize, at_mm: f64) -> Vec<(usize, f64)> {
        let places = &self.places[piece];
        let after = places.partition_point(|&at| at < at_mm).min(places.len() - 1);
        let before = after.saturating_sub(1);
        [before, after]
            .into_iter()
            .map(|k| (self.node(piece, side, k), (places[k] - at_mm).abs()))
            .collect()
    }

    /// Length of metal from a place in a block, on the rail of one of its nets, to every node, mm.
    pub fn distances_from(
        &self,
        plan: &Plan,
        far: &Far,
        net: usize,
        open: Option<JointId>,
    ) -> Vec<f64> {
        let sides = (0..2).filter(|&side| plan.pieces[far.piece].nets[side] == net);
        let from: Vec<(usize, f64)> =
            sides.flat_map(|side| self.around(far.piece, side, far.at_mm)).collect();
        self.distances(&from, open)
    }

    /// The joints within a block through whose rail joiners its rails go on.
    pub fn joints_of(&self, plan: &Plan, block: usize) -> BTreeSet<JointId> {
        let nodes = plan.blocks[block].pieces.iter().flat_map(|&piece| {
            let first = self.first[piece];
            first..first + 2 * self.places[piece].len()
        });
        nodes.flat_map(|node| &self.edges[node]).filter_map(|length| length.joint).collect()
    }

    /// The place in a block with the most rail between it and the nearest feeders, given the distances to the feeders on
    /// its two nets. `None` if no place has a feeder on both rails.
    pub fn farthest(&self, plan: &Plan, block: usize, to_feeders: [&[f64]; 2]) -> Option<Far> {
        let mut farthest: Option<Far> = None;
        self.each_place(plan, block, to_feeders, |new| {
            let more =
                |far: &Far| new.rail_mm[0] + new.rail_mm[1] > far.rail_mm[0] + far.rail_mm[1];
            if new.rail_mm.iter().all(|mm| mm.is_finite()) && farthest.as_ref().is_none_or(more) {
                farthest = Some(new);
            }
        });
        farthest
    }

    /// Length of the parts of a block that have no feeder on one of their rails or on both, mm.
    pub fn dead_mm(&self, plan: &Plan, block: usize, to_feeders: [&[f64]; 2]) -> f64 {
        let nets = plan.blocks[block].nets;
        let mut dead = 0.0;
        for &piece in &plan.blocks[block].pieces {
            for k in 1..self.places[piece].len() {
                let fed = (0..2).all(|n| {
                    (0..2).any(|side| {
                        plan.pieces[piece].nets[side] == nets[n]
                            && to_feeders[n][self.node(piece, side, k)].is_finite()
                    })
                });
                if !fed {
                    dead += self.places[piece][k] - self.places[piece][k - 1];
                }
            }
        }
        dead
    }

    /// Every place in a block at which the length of rail to the feeders may be largest: the ends of its stretches, and
    /// where the ways to two feeders meet.
    fn each_place(
        &self,
        plan: &Plan,
        block: usize,
        to_feeders: [&[f64]; 2],
        mut look: impl FnMut(Far),
    ) {
        let nets = plan.blocks[block].nets;
        for &piece in &plan.blocks[block].pieces {
            let Some(sides) = [0, 1]
                .map(|n: usize| (0..2).find(|&side| plan.pieces[piece].nets[side] == nets[n]))
                .into_iter()
                .collect::<Option<Vec<usize>>>()
            else {
                continue;
            };
            for k in 1..self.places[piece].len() {
                let (start, end) = (self.places[piece][k - 1], self.places[piece][k]);
                let length = end - start;
                let ends = [0, 1].map(|n: usize| {
                    let of = |k| to_feeders[n][self.node(piece, sides[n], k)];
                    (of(k - 1), of(k))
                });
                let middles = ends.map(|(a, b)| ((length + b - a) / 2.0).clamp(0.0, length));
                for past in [0.0, length, middles[0], middles[1]] {
                    // Without a feeder the middle is nowhere.
                    let past = if past.is_nan() { 0.0 } else { past };
                    let rail_mm = ends.map(|(a, b)| (a + past).min(b + length - past));
                    look(Far { piece, at_mm: start + past, rail_mm });
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::layout;
    use crate::layout::FeedId;

    fn track(middle: &str) -> (Layout, Plan) {
        let text = format!(
            r#"(version: 1,
            joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 1000, y_mm: 0), (id: "j3", x_mm: 2000, y_mm: 0),
                (id: "j4", x_mm: 3000, y_mm: 0), (id: "j5", x_mm: 2000, y_mm: 80)],
            supplies: [(id: "s1", open_v: 14, source_ohm: 0.1)],
            drivers: [(id: "d1", supply: "s1", drive: PwmBridge(clock: (hz: 490), idle: BrakeLow), high_ohm: 0.1,
                low_ohm: 0.1, diode_v: 0.7, diode_ohm: 0.1, setting: (direction: Forward))],
            {middle})"#
        );
        let layout = layout::load(&text).unwrap().layout;
        let plan = Plan::derive(&layout);
        (layout, plan)
    }

    fn far(layout: &Layout, plan: &Plan, open: Option<u32>) -> Option<(u32, f64, [f64; 2])> {
        let open = open.map(JointId);
        let metal = Lengths::of(layout, plan);
        let at = plan.block_at(layout.feeds[&FeedId(1)].run, layout.feeds[&FeedId(1)].at_mm)?;
        let to = plan.blocks[at].nets.map(|net| {
            let legs = plan.nets[net].legs.iter();
            let from: Vec<(usize, f64)> = legs
                .flat_map(|leg| metal.nodes_at(plan, net, leg.run, leg.at_mm))
                .map(|node| (node, 0.0))
                .collect();
            metal.distances(&from, open)
        });
        let far = metal.farthest(plan, at, [&to[0], &to[1]])?;
        Some((plan.pieces[far.piece].run.0, far.at_mm, far.rail_mm))
    }

    const LINE: &str = r#"runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j3", to: "j2"),
        (id: "r3", from: "j3", to: "j4")],"#;

    #[test]
    fn the_far_end_is_through_joints_and_runs_laid_backwards() {
        let (layout, plan) = track(&format!(
            r#"{LINE} feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 200, p: Right, m: Left)]"#
        ));
        assert_eq!(far(&layout, &plan, None), Some((3, 1000.0, [2800.0, 2800.0])));
        // With the joiners at j3 open, r3 is dead: the farthest fed place is there.
        assert_eq!(far(&layout, &plan, Some(3)), Some((2, 0.0, [1800.0, 1800.0])));
    }

    #[test]
    fn between_two_feeders_the_far_end_is_in_the_middle() {
        let (layout, plan) = track(&format!(
            r#"{LINE} feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 100, p: Right, m: Left),
            (id: "f2", driver: "d1", run: "r3", at_mm: 900, p: Right, m: Left)]"#
        ));
        assert_eq!(far(&layout, &plan, None), Some((2, 500.0, [1400.0, 1400.0])));
    }

    #[test]
    fn a_gap_ends_the_metal() {
        let (layout, plan) = track(&format!(
            r#"{LINE} cuts: [(id: "c1", run: "r2", at_mm: 400, rails: Both)],
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 500, p: Right, m: Left)]"#
        ));
        assert_eq!(far(&layout, &plan, None), Some((2, 400.0, [1100.0, 1100.0])));
    }

    #[test]
    fn round_a_ring_the_far_end_is_opposite() {
        let (layout, plan) = track(
            r#"runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j2", to: "j1", length_mm: 2000, shape: Arc(bend_deg: 180))],
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 500, p: Right, m: Left)]"#,
        );
        assert_eq!(far(&layout, &plan, None), Some((2, 1000.0, [1500.0, 1500.0])));
        // A joint open on a ring: all the way round from the other side.
        assert_eq!(far(&layout, &plan, Some(2)), Some((2, 0.0, [2500.0, 2500.0])));
    }

    #[test]
    fn the_rails_may_be_fed_at_different_places() {
        let (layout, plan) = track(&format!(
            r#"{LINE} feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 0, p: Right),
            (id: "f2", driver: "d1", run: "r3", at_mm: 1000, m: Left)]"#
        ));
        // Everywhere the two rails together are as long as the line.
        let (_, _, rail_mm) = far(&layout, &plan, None).unwrap();
        assert_eq!(rail_mm[0] + rail_mm[1], 3000.0);
    }

    #[test]
    fn what_a_turnout_feeds_is_within_reach_in_every_position() {
        let mut seen = 0;
        for frog in ["Insulated", "PowerRouting", "PowerRoutingWithContact", "Switched"] {
            for position in [0, 1] {
                let (layout, plan) = track(&format!(
                    r#"runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j2", to: "j3"),
                    (id: "r3", from: "j2", to: "j5")],
                    specials: [(id: "w9", work: Turnout(toe: (run: "r1", end: End), exits: [(run: "r2", end: Start),
                    (run: "r3", end: Start)], frog: {frog}, frog_mm: 150), position: {position})],
                    feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 200, p: Right, m: Left)]"#
                ));
                let lengths = Lengths::of(&layout, &plan);
                let fed = plan.blocks.iter().enumerate().filter(|(_, b)| !b.drivers.is_empty());
                for (at, block) in fed {
                    let to = block.nets.map(|net| {
                        let legs = plan.nets[net].legs.iter();
                        let from: Vec<(usize, f64)> = legs
                            .flat_map(|leg| lengths.nodes_at(&plan, net, leg.run, leg.at_mm))
                            .map(|node| (node, 0.0))
                            .collect();
                        lengths.distances(&from, None)
                    });
                    let to = [&to[0][..], &to[1][..]];
                    let far = lengths.farthest(&plan, at, to).unwrap();
                    assert_eq!(lengths.dead_mm(&plan, at, to), 0.0, "{frog} {position}");
                    // At most the rest of r1 and one of the roads.
                    assert!(
                        far.rail_mm.iter().all(|mm| *mm <= 1810.0),
                        "{frog} {position}: {far:?}"
                    );
                    seen += usize::from(far.rail_mm[0] > 1700.0);
                }
            }
        }
        assert!(seen >= 4, "the far end of a road is reached {seen} times");
    }
}
