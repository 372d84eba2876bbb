//! Which blocks to make reversing sections.

use std::collections::{BTreeMap, BTreeSet};

use super::graph::{Edge, Joined, Parity, Signed};
use super::hitting::{Found, Problem, smallest};
use super::{Cycle, LinkKind, Track, unbalanced};

/// What the caller knows of blocks.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Conditions {
    /// Blocks that cannot be reversing sections, for instance because a train can bridge two of their ends at once.
    pub barred: BTreeSet<usize>,
    /// Pairs of blocks that cannot both be, for instance neighbours (see [`neighbours`]) that would both reverse by
    /// themselves.
    pub apart: Vec<[usize; 2]>,
}

/// How far to search.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Budget {
    /// Visits of links and of members of cycles, all in all. It is no time, so that the same layout gives the same
    /// answer on every machine.
    pub steps: u64,
    /// Sets to list for each group.
    pub sets: usize,
}

impl Default for Budget {
    fn default() -> Self {
        Budget { steps: 40_000_000, sets: 100 }
    }
}

/// Which blocks to make reversing sections.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sections {
    /// Groups of unbalanced cycles that have nothing to do with each other. One set of each group together make the track
    /// balanced, and every smallest choice is of this kind.
    pub groups: Vec<Group>,
    /// Blocks on unbalanced cycles that share a rail with another block there, and the links (indices in the track) that do
    /// not interrupt both rails. They cannot be reversing sections.
    pub sharing: BTreeMap<usize, Vec<usize>>,
    /// Blocks that meet themselves the other way round, without a cut or across one cut only (or across one end of a
    /// turntable): see [`Cycle::parted_at`]. No reversing section cures that; all else is judged as if it were cured.
    pub against_themselves: BTreeSet<usize>,
}

/// Unbalanced cycles that have blocks in common.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// The blocks on them.
    pub blocks: Vec<usize>,
    /// Smallest sets of blocks such that each cycle holds one of them, in order. Empty if there is none.
    pub sets: Vec<Vec<usize>>,
    /// No set is smaller. What is listed is of this size, unless the search was not exhaustive.
    pub at_least: usize,
    /// Whether all smallest sets are listed.
    pub all: bool,
    /// Whether the search came to its end. If not, there may be smaller sets than those listed.
    pub exhaustive: bool,
    /// If blocks that cannot be reversing sections close an unbalanced cycle by themselves: that cycle. There is then no
    /// set.
    pub stuck: Option<Cycle>,
}

/// Pairs of blocks with a link between them, each the lower number first, in order.
pub fn neighbours(track: &Track) -> Vec<[usize; 2]> {
    let pairs: BTreeSet<[usize; 2]> = (track.sound_links())
        .map(|(_, link)| link.ends.map(|(s, _)| track.stretches[s].block))
        .filter(|[a, b]| a != b)
        .map(|[a, b]| [a.min(b), a.max(b)])
        .collect();
    pairs.into_iter().collect()
}

/// The smallest sets of blocks that, made reversing sections, leave no unbalanced cycle.
///
/// A block can be one if it is not barred and if each of its links to another block that lies on an unbalanced cycle
/// interrupts both rails. If no set of the least size meets the conditions, the next size is searched, and so on.
/// Stretches of one block should hang together by metal links; where they do not, they are taken to be reversed
/// together all the same.
pub fn reversing_sections(track: &Track, conditions: &Conditions, budget: &Budget) -> Sections {
    let blocks = Blocks::new(track);
    let mut out =
        Sections { against_themselves: blocks.against_themselves.clone(), ..Sections::default() };
    let graph = &blocks.graph;
    let kept: Vec<usize> =
        graph.biconnected().into_iter().filter(|part| graph.unbalanced(part)).flatten().collect();
    for &e in &kept {
        let link = blocks.links[e];
        let ends = graph.edges[e].ends;
        if !track.links[link].kind.parts() && blocks.block[ends[0]] != blocks.block[ends[1]] {
            for node in ends {
                out.sharing.entry(blocks.block[node]).or_default().push(link);
            }
        }
    }
    out.sharing.values_mut().for_each(|links| {
        links.sort_unstable();
        links.dedup();
    });
    let can_be =
        |block: &usize| !out.sharing.contains_key(block) && !conditions.barred.contains(block);

    // What belongs to one group: cycles with a node, a block, or a forbidden pair in common.
    let mut together = Parity::new(graph.at.len());
    let mut first: BTreeMap<usize, usize> = BTreeMap::new();
    for &e in &kept {
        let [a, b] = graph.edges[e].ends;
        together.join(a, b, false);
        for node in [a, b] {
            let other = *first.entry(blocks.block[node]).or_insert(node);
            together.join(node, other, false);
        }
    }
    let apart: BTreeSet<[usize; 2]> = (conditions.apart.iter())
        .filter(|[a, b]| a != b && can_be(a) && can_be(b))
        .map(|[a, b]| [*a.min(b), *a.max(b)])
        .collect();
    for [a, b] in &apart {
        if let (Some(&a), Some(&b)) = (first.get(a), first.get(b)) {
            together.join(a, b, false);
        }
    }
    let mut groups: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for &e in &kept {
        groups.entry(together.find(graph.edges[e].ends[0]).0).or_default().push(e);
    }
    let (mut steps, mut left) = (budget.steps, groups.len() as u64);
    for edges in groups.into_values() {
        // What one group does not need is left to the others.
        let mut share = steps / left.max(1);
        steps -= share;
        left -= 1;
        out.groups.push(group(track, &blocks, &edges, &can_be, &apart, budget.sets, &mut share));
        steps += share;
    }
    out
}

/// The graph of blocks: a node for each part of a block that hangs together by metal.
struct Blocks {
    graph: Signed,
    /// Block of each node.
    block: Vec<usize>,
    /// Link of each edge.
    links: Vec<usize>,
    against_themselves: BTreeSet<usize>,
}

impl Blocks {
    fn new(track: &Track) -> Self {
        let block = |s: usize| track.stretches[s].block;
        let mut parts = Parity::new(track.stretches.len());
        let mut against_themselves = BTreeSet::new();
        let mut between = Vec::new();
        for (index, link) in track.sound_links() {
            let [(a, _), (b, _)] = link.ends;
            if block(a) != block(b) || link.kind != LinkKind::Metal {
                between.push(index);
            } else if parts.join(a, b, link.turns()) == Joined::Against {
                against_themselves.insert(block(a));
            }
        }
        // A part has the place of the stretch that stands for it; places of other stretches have no edges.
        let (mut edges, mut links) = (Vec::new(), Vec::new());
        for index in between {
            let link = &track.links[index];
            let [(a, at), (b, bt)] = link.ends.map(|(s, _)| parts.find(s));
            let turns = link.turns() ^ at ^ bt;
            if a != b {
                edges.push(Edge { ends: [a, b], turns });
                links.push(index);
            } else if turns {
                against_themselves.insert(block(a));
            }
        }
        let block = track.stretches.iter().map(|s| s.block).collect();
        let graph = Signed::new(track.stretches.len(), edges);
        Blocks { graph, block, links, against_themselves }
    }
}

/// Searches one group.
fn group(
    track: &Track,
    blocks: &Blocks,
    edges: &[usize],
    can_be: &dyn Fn(&usize) -> bool,
    apart: &BTreeSet<[usize; 2]>,
    most: usize,
    steps: &mut u64,
) -> Group {
    let nodes: BTreeSet<usize> = edges.iter().flat_map(|&e| blocks.graph.edges[e].ends).collect();
    let nodes: Vec<usize> = nodes.into_iter().collect();
    let numbers: BTreeSet<usize> = nodes.iter().map(|&n| blocks.block[n]).collect();
    let candidates: Vec<usize> = numbers.iter().copied().filter(can_be).collect();
    let place = |block: usize| candidates.binary_search(&block).ok();
    let local = |node: usize| nodes.binary_search(&node).unwrap_or(0);
    let own = edges.iter().map(|&e| blocks.graph.edges[e]);
    let graph = Signed::new(
        nodes.len(),
        own.map(|e| Edge { ends: e.ends.map(local), turns: e.turns }).collect(),
    );
    let candidate: Vec<Option<usize>> = nodes.iter().map(|&n| place(blocks.block[n])).collect();
    let fixed: Vec<usize> = (0..graph.edges.len())
        .filter(|&e| graph.edges[e].ends.iter().all(|&n| candidate[n].is_none()))
        .collect();
    let found = if graph.unbalanced(&fixed) {
        Found { all: true, exhaustive: true, ..Found::default() }
    } else {
        let mut pairs = vec![Vec::new(); candidates.len()];
        for [a, b] in apart {
            if let (Some(a), Some(b)) = (place(*a), place(*b)) {
                pairs[a].push(b);
                pairs[b].push(a);
            }
        }
        let problem = Problem { graph: &graph, candidate: &candidate, apart: &pairs };
        smallest(&problem, most, steps)
    };
    let stuck = graph.unbalanced(&fixed).then(|| {
        let links: BTreeSet<usize> = fixed.iter().map(|&e| blocks.links[edges[e]]).collect();
        stuck(track, &links, &|block| numbers.contains(&block) && place(block).is_none())
    });
    Group {
        blocks: numbers.iter().copied().collect(),
        sets: found.sets.iter().map(|set| set.iter().map(|&k| candidates[k]).collect()).collect(),
        at_least: found.at_least,
        all: found.all,
        exhaustive: found.exhaustive,
        stuck: stuck.flatten(),
    }
}

/// A shortest unbalanced cycle over these links and the metal within the blocks.
fn stuck(track: &Track, links: &BTreeSet<usize>, within: &dyn Fn(usize) -> bool) -> Option<Cycle> {
    let mut parts = Parity::new(track.stretches.len());
    let mut kept = Vec::new();
    for (index, link) in track.sound_links() {
        let [(a, _), (b, _)] = link.ends;
        let [block, other] = [a, b].map(|s| track.stretches[s].block);
        let metal = block == other && within(block) && link.kind == LinkKind::Metal;
        let sound = metal && parts.join(a, b, link.turns()) != Joined::Against;
        if sound || links.contains(&index) {
            kept.push(index);
        }
    }
    let part = Track {
        stretches: track.stretches.clone(),
        links: kept.iter().map(|&l| track.links[l]).collect(),
    };
    let mut cycle = unbalanced(&part).cycles.into_iter().next()?;
    cycle.links.iter_mut().for_each(|p| p.link = kept[p.link]);
    cycle.parted_at.iter_mut().for_each(|l| *l = kept[*l]);
    Some(cycle)
}
