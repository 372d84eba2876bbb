//! A smallest basis of cycles, and the unbalanced ones of it.
//!
//! Candidates are Horton's (J. D. Horton, "A polynomial-time algorithm to find the shortest cycle basis of a graph", 1987):
//! from every node, the shortest ways to both ends of every edge. Taken from the smallest up, each that is no sum of those
//! before it belongs to the basis.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

use super::cycle::{Passing, Way, positive};
use super::graph::{Edge, Joined, Parity, Signed};
use super::{Cycle, Track, Unbalanced};

/// Candidates beyond which only a shortest spanning tree offers cycles.
const MOST_CANDIDATES: usize = 1_000_000;

/// What a way costs, the first thing first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
struct Cost {
    /// Places where both rails are interrupted.
    both: u32,
    /// Places where one is.
    one: u32,
    /// Length, µm: whole, so that sums do not depend on their order.
    length_um: u64,
    /// Edges.
    edges: u32,
}

impl Cost {
    fn plus(self, more: Self) -> Self {
        Cost {
            both: self.both.saturating_add(more.both),
            one: self.one.saturating_add(more.one),
            length_um: self.length_um.saturating_add(more.length_um),
            edges: self.edges.saturating_add(more.edges),
        }
    }
}

/// See [`super::unbalanced`].
pub(super) fn unbalanced(track: &Track) -> Unbalanced {
    // Two nodes to a stretch, its start and its end; first an edge along each stretch, then one for each link.
    let mut edges: Vec<Edge> = (0..track.stretches.len())
        .map(|s| Edge { ends: [2 * s, 2 * s + 1], turns: false })
        .collect();
    let mut cost: Vec<Cost> = (track.stretches.iter())
        .map(|s| Cost {
            length_um: (positive(s.length_mm) * 1000.0) as u64,
            edges: 1,
            ..Cost::default()
        })
        .collect();
    let mut link_of = Vec::new();
    for (index, link) in track.sound_links() {
        edges.push(Edge {
            ends: link.ends.map(|(s, start)| 2 * s + usize::from(!start)),
            turns: link.turns(),
        });
        let cuts = link.kind.interrupts().iter().filter(|&&cut| cut).count();
        cost.push(Cost {
            both: u32::from(cuts == 2),
            one: u32::from(cuts == 1),
            edges: 1,
            ..Cost::default()
        });
        link_of.push(index);
    }
    let graph = Signed::new(2 * track.stretches.len(), edges);
    let mut found: Vec<(Cost, Cycle)> = Vec::new();
    let mut shortest = true;
    for part in graph.biconnected() {
        if !graph.unbalanced(&part) {
            continue;
        }
        let chains = chains(&graph, &part, &cost);
        let (cycles, whole) = basis(&chains);
        shortest &= whole;
        for (cost, ring) in cycles.into_iter().filter(|(_, ring)| chains.turns(ring)) {
            let walk = chains.walk(&graph, &ring);
            found.push((cost, Cycle::new(track, round(track, &link_of, &walk))));
        }
    }
    found.sort_by(|(a, x), (b, y)| a.cmp(b).then_with(|| x.links.cmp(&y.links)));
    Unbalanced { cycles: found.into_iter().map(|(_, cycle)| cycle).collect(), shortest }
}

/// From a closed walk over ends of stretches, as (edge, node it is left from), to stretches and links.
fn round(track: &Track, link_of: &[usize], walk: &[(usize, usize)]) -> Vec<(usize, Way, Passing)> {
    let stretches = track.stretches.len();
    let passing = |&(edge, from): &(usize, usize)| {
        let index = link_of[edge - stretches];
        let (stretch, start) = track.links[index].ends[0];
        Passing { link: index, from_first: from == 2 * stretch + usize::from(!start) }
    };
    // A cycle has a link, for stretches alone do not meet.
    let first = walk.iter().position(|w| w.0 >= stretches).unwrap_or(0);
    let mut round = Vec::new();
    let mut way = None;
    for step in walk[first..].iter().skip(1).chain(&walk[..=first]) {
        let &(edge, from) = step;
        let at_start = from % 2 == 0;
        if edge < stretches {
            way = Some(if at_start { Way::Forward } else { Way::Backward });
        } else {
            let touched = if at_start { Way::AtStart } else { Way::AtEnd };
            round.push((from / 2, way.take().unwrap_or(touched), passing(step)));
        }
    }
    round
}

/// A biconnected part with its nodes of degree two left out.
#[derive(Debug, Default)]
struct Chains {
    nodes: usize,
    chains: Vec<Chain>,
    /// Chains at each node, a loop once.
    at: Vec<Vec<usize>>,
}

#[derive(Debug)]
struct Chain {
    ends: [usize; 2],
    cost: Cost,
    turns: bool,
    /// Edges from the first end to the second, with the node from which each is left.
    walk: Vec<(usize, usize)>,
}

fn chains(graph: &Signed, part: &[usize], cost: &[Cost]) -> Chains {
    let mut at: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for &edge in part {
        let [a, b] = graph.edges[edge].ends;
        at.entry(a).or_default().push(edge);
        at.entry(b).or_default().push(edge);
    }
    let mut kept: Vec<usize> = at.iter().filter(|(_, e)| e.len() != 2).map(|(&n, _)| n).collect();
    if kept.is_empty() {
        kept.extend(at.keys().next());
    }
    let place = |node: usize| kept.binary_search(&node).ok();
    let mut used: BTreeMap<usize, bool> = part.iter().map(|&e| (e, false)).collect();
    let mut out =
        Chains { nodes: kept.len(), at: vec![Vec::new(); kept.len()], ..Chains::default() };
    for (start, &node) in kept.iter().enumerate() {
        for &first in &at[&node] {
            let (mut edge, mut from) = (first, node);
            let mut chain =
                Chain { ends: [start; 2], cost: Cost::default(), turns: false, walk: Vec::new() };
            let end = loop {
                if used.insert(edge, true) == Some(true) {
                    break None;
                }
                chain.walk.push((edge, from));
                chain.cost = chain.cost.plus(cost[edge]);
                chain.turns ^= graph.edges[edge].turns;
                from = graph.edges[edge].other(from);
                if let Some(end) = place(from) {
                    break Some(end);
                }
                match at[&from].iter().find(|&&e| e != edge) {
                    Some(&next) => edge = next,
                    None => break None,
                }
            };
            let Some(end) = end else { continue };
            chain.ends[1] = end;
            out.at[start].push(out.chains.len());
            if end != start {
                out.at[end].push(out.chains.len());
            }
            out.chains.push(chain);
        }
    }
    out
}

impl Chains {
    fn other(&self, chain: usize, node: usize) -> usize {
        let [a, b] = self.chains[chain].ends;
        if a == node { b } else { a }
    }

    fn turns(&self, ring: &Ring) -> bool {
        ring.chains.iter().fold(false, |turns, &c| turns ^ self.chains[c].turns)
    }

    fn cost(&self, ring: &Ring) -> Cost {
        ring.chains.iter().fold(Cost::default(), |sum, &c| sum.plus(self.chains[c].cost))
    }

    /// The edges of a ring of chains, in order, with the node from which each is left.
    fn walk(&self, graph: &Signed, ring: &Ring) -> Vec<(usize, usize)> {
        let (mut walk, mut node) = (Vec::new(), ring.from);
        for &chain in &ring.chains {
            let Chain { ends, walk: own, .. } = &self.chains[chain];
            if ends[0] == node {
                walk.extend_from_slice(own);
            } else {
                walk.extend(own.iter().rev().map(|&(e, from)| (e, graph.edges[e].other(from))));
            }
            node = self.other(chain, node);
        }
        walk
    }
}

/// A tree of ways from a node.
#[derive(Debug)]
struct Tree {
    /// Cost from the root, the chain towards it (none at the root), and the chain at which the way left the root.
    nodes: Vec<(Cost, Option<usize>, usize)>,
}

/// A cycle of chains in order, from a node on.
#[derive(Debug)]
struct Ring {
    from: usize,
    chains: Vec<usize>,
}

impl Tree {
    /// Dijkstra's shortest ways from `root` over the chains that are allowed.
    fn shortest(chains: &Chains, root: usize, allowed: impl Fn(usize) -> bool) -> Tree {
        let mut nodes: Vec<Option<(Cost, Option<usize>, usize)>> = vec![None; chains.nodes];
        let mut done = vec![false; chains.nodes];
        nodes[root] = Some((Cost::default(), None, usize::MAX));
        let mut queue = BinaryHeap::from([Reverse((Cost::default(), root))]);
        while let Some(Reverse((cost, node))) = queue.pop() {
            if std::mem::replace(&mut done[node], true) {
                continue;
            }
            for &chain in chains.at[node].iter().filter(|&&c| allowed(c)) {
                let next = chains.other(chain, node);
                let cost = cost.plus(chains.chains[chain].cost);
                if nodes[next].is_none_or(|(known, ..)| cost < known) {
                    let branch = match nodes[node] {
                        Some((_, Some(_), branch)) => branch,
                        _ => chain,
                    };
                    nodes[next] = Some((cost, Some(chain), branch));
                    queue.push(Reverse((cost, next)));
                }
            }
        }
        Tree {
            nodes: nodes
                .into_iter()
                .map(|n| n.unwrap_or((Cost::default(), None, usize::MAX)))
                .collect(),
        }
    }

    /// The ring that `chain` closes over this tree.
    fn close(&self, chains: &Chains, chain: usize) -> Ring {
        let up = |node: usize| {
            let (mut way, mut node) = (Vec::new(), node);
            while let Some(towards) = self.nodes[node].1 {
                way.push((towards, node));
                node = chains.other(towards, node);
            }
            way
        };
        let [a, b] = chains.chains[chain].ends;
        let (mut to_a, mut to_b) = (up(a), up(b));
        while let (Some(x), Some(y)) = (to_a.last(), to_b.last())
            && x.0 == y.0
        {
            to_a.pop();
            to_b.pop();
        }
        let from = to_a.last().map_or(a, |&(towards, node)| chains.other(towards, node));
        let out = to_a.iter().rev().map(|w| w.0);
        Ring { from, chains: out.chain([chain]).chain(to_b.iter().map(|w| w.0)).collect() }
    }
}

/// A smallest basis of the cycles of chains, smallest first, and whether it was looked for among all candidates.
fn basis(chains: &Chains) -> (Vec<(Cost, Ring)>, bool) {
    // The cheapest spanning tree. A cycle is told by the chains outside this tree.
    let mut order: Vec<usize> = (0..chains.chains.len()).collect();
    order.sort_by_key(|&c| (chains.chains[c].cost, c));
    let mut joined = Parity::new(chains.nodes);
    let mut in_tree = vec![false; chains.chains.len()];
    for c in order {
        let [a, b] = chains.chains[c].ends;
        in_tree[c] = joined.join(a, b, false) == Joined::Anew;
    }
    let outside: Vec<usize> = (0..in_tree.len()).filter(|&c| !in_tree[c]).collect();
    let whole = chains.nodes.saturating_mul(chains.chains.len()) <= MOST_CANDIDATES;
    let mut trees = vec![Tree::shortest(chains, 0, |c| in_tree[c])];
    let mut candidates: Vec<(Cost, usize, usize)> =
        (outside.iter()).map(|&c| (chains.cost(&trees[0].close(chains, c)), 0, c)).collect();
    if whole {
        for root in 0..chains.nodes {
            let tree = Tree::shortest(chains, root, |_| true);
            for (c, chain) in chains.chains.iter().enumerate() {
                let [a, b] = chain.ends;
                let [(to_a, up_a, from_a), (to_b, up_b, from_b)] = [tree.nodes[a], tree.nodes[b]];
                // Ways that leave the root together make a ring that another root offers as well.
                let apart = a == root || b == root || from_a != from_b;
                if apart && up_a != Some(c) && up_b != Some(c) && (a != b || a == root) {
                    candidates.push((to_a.plus(chain.cost).plus(to_b), trees.len(), c));
                }
            }
            trees.push(tree);
        }
    }
    candidates.sort_unstable();
    let mut rows: Vec<Option<Vec<u64>>> = vec![None; outside.len()];
    let mut found = Vec::new();
    for (cost, tree, chain) in candidates {
        if found.len() == outside.len() {
            break;
        }
        let ring = trees[tree].close(chains, chain);
        let mut bits = vec![0u64; outside.len().div_ceil(64)];
        for bit in ring.chains.iter().filter_map(|c| outside.binary_search(c).ok()) {
            bits[bit / 64] ^= 1 << (bit % 64);
        }
        while let Some(top) = highest(&bits) {
            match &rows[top] {
                Some(row) => bits.iter_mut().zip(row).for_each(|(b, r)| *b ^= r),
                None => {
                    rows[top] = Some(bits);
                    found.push((cost, ring));
                    break;
                }
            }
        }
    }
    (found, whole)
}

fn highest(bits: &[u64]) -> Option<usize> {
    let word = bits.iter().rposition(|&w| w != 0)?;
    Some(64 * word + bits[word].ilog2() as usize)
}
