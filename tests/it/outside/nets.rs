//! Nets and blocks against a graph walk: petgraph on tracks laid, turned and cut at random.
//!
//! The graph knows nothing of segments: every rail is chopped into lengths of 100 mm, held by the hand of someone who
//! walks the whole track one way, and joined wherever no cut is.

use std::collections::BTreeMap;
use std::fmt::Write;

use gapwright::layout::{Layout, load};
use gapwright::rails::{Plan, Within};
use petgraph::graph::{NodeIndex, UnGraph};
use petgraph::visit::Dfs;
use proptest::prelude::*;

/// Lengths in a run.
const LENGTHS: usize = 10;

/// A run of a track: whether it is laid against the walker, and at each inner boundary which rails are cut, by the hand of
/// the walker: left, right.
#[derive(Debug, Clone)]
struct Laid {
    against: bool,
    cuts: Vec<[bool; 2]>,
}

fn track() -> impl Strategy<Value = (bool, Vec<Laid>)> {
    let cut = prop_oneof![
        6 => Just([false, false]),
        1 => Just([true, true]),
        1 => Just([true, false]),
        1 => Just([false, true]),
    ];
    let run = (any::<bool>(), prop::collection::vec(cut, LENGTHS - 1))
        .prop_map(|(against, cuts)| Laid { against, cuts });
    (any::<bool>(), prop::collection::vec(run, 3..7))
}

fn layout(ring: bool, runs: &[Laid]) -> Layout {
    let joints = runs.len() + usize::from(!ring);
    let mut t = String::from("(version: 1, joints: [");
    for j in 0..joints {
        let turn = std::f64::consts::TAU * j as f64 / joints as f64;
        let (x, y) = (1000.0 * turn.cos(), 1000.0 * turn.sin());
        write!(t, "(id: \"j{}\", x_mm: {x}, y_mm: {y}), ", 1 + j).unwrap();
    }
    t.push_str("], runs: [");
    for (n, run) in runs.iter().enumerate() {
        let (near, far) = (1 + n, 1 + (n + 1) % joints);
        let (from, to) = if run.against { (far, near) } else { (near, far) };
        let id = 100 + n;
        write!(t, "(id: \"r{id}\", from: \"j{from}\", to: \"j{to}\", length_mm: 1000), ").unwrap();
    }
    t.push_str("], cuts: [");
    let mut id = 200;
    for (n, run) in runs.iter().enumerate() {
        for (k, &[left, right]) in run.cuts.iter().enumerate() {
            // The run's own hands are the walker's, or the other way round.
            let (own_left, own_right) = if run.against { (right, left) } else { (left, right) };
            let rails = match (own_left, own_right) {
                (true, true) => "Both",
                (true, false) => "Left",
                (false, true) => "Right",
                (false, false) => continue,
            };
            let at = if run.against { LENGTHS - 1 - k } else { k + 1 } * 100;
            write!(t, "(id: \"c{id}\", run: \"r{}\", at_mm: {at}, rails: {rails}), ", 100 + n)
                .unwrap();
            id += 1;
        }
    }
    t.push_str("])");
    load(&t).unwrap_or_else(|e| panic!("{e:?}\n{t}")).layout
}

/// Component of each length: run, hand, place.
fn components(ring: bool, runs: &[Laid]) -> (BTreeMap<(usize, usize, usize), usize>, usize) {
    let mut graph: UnGraph<(), ()> = UnGraph::new_undirected();
    let mut at: BTreeMap<(usize, usize, usize), NodeIndex> = BTreeMap::new();
    for n in 0..runs.len() {
        for hand in 0..2 {
            for k in 0..LENGTHS {
                at.insert((n, hand, k), graph.add_node(()));
            }
        }
    }
    for (n, run) in runs.iter().enumerate() {
        for hand in 0..2 {
            for (k, cut) in run.cuts.iter().enumerate() {
                if !cut[hand] {
                    graph.add_edge(at[&(n, hand, k)], at[&(n, hand, k + 1)], ());
                }
            }
            let next = if n + 1 < runs.len() { Some(n + 1) } else { ring.then_some(0) };
            if let Some(next) = next {
                graph.add_edge(at[&(n, hand, LENGTHS - 1)], at[&(next, hand, 0)], ());
            }
        }
    }
    let mut component: BTreeMap<NodeIndex, usize> = BTreeMap::new();
    let mut count = 0;
    for start in graph.node_indices() {
        if component.contains_key(&start) {
            continue;
        }
        let mut walk = Dfs::new(&graph, start);
        while let Some(node) = walk.next(&graph) {
            component.insert(node, count);
        }
        count += 1;
    }
    assert_eq!(count, petgraph::algo::connected_components(&graph));
    (at.into_iter().map(|(key, node)| (key, component[&node])).collect(), count)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn nets_and_blocks_are_those_of_a_graph_walk((ring, runs) in track()) {
        let layout = layout(ring, &runs);
        let plan = Plan::derive(&layout);
        let (component, count) = components(ring, &runs);
        prop_assert_eq!(plan.nets.len(), count);
        // One to one: a net is a component, a component is a net; a block is a pair of components.
        let mut net_of: BTreeMap<usize, usize> = BTreeMap::new();
        let mut block_of: BTreeMap<[usize; 2], usize> = BTreeMap::new();
        for (n, run) in runs.iter().enumerate() {
            let id = *layout.runs.keys().nth(n).unwrap();
            for k in 0..LENGTHS {
                let own = if run.against { LENGTHS - 1 - k } else { k };
                let middle = own as f64 * 100.0 + 50.0;
                let piece = plan.pieces_of(id).iter().find(|p| p.from_mm < middle && middle < p.to_mm).unwrap();
                let mut pair = [0; 2];
                for (hand, held) in pair.iter_mut().enumerate() {
                    let own_hand = if run.against { 1 - hand } else { hand };
                    let theirs = component[&(n, hand, k)];
                    let net = *net_of.entry(theirs).or_insert(piece.nets[own_hand]);
                    prop_assert_eq!(net, piece.nets[own_hand]);
                    *held = theirs;
                }
                pair.sort_unstable();
                let Within::Block(block) = piece.within else { panic!("no cut is staggered here") };
                prop_assert_eq!(*block_of.entry(pair).or_insert(block), block);
                prop_assert_eq!(plan.block_at(id, middle), Some(block));
            }
        }
        let mut nets: Vec<usize> = net_of.values().copied().collect();
        nets.sort_unstable();
        nets.dedup();
        prop_assert_eq!(nets.len(), count);
        let mut blocks: Vec<usize> = block_of.values().copied().collect();
        blocks.sort_unstable();
        blocks.dedup();
        prop_assert_eq!(blocks.len(), block_of.len());
        prop_assert_eq!(plan.blocks.len(), block_of.len());
    }
}
