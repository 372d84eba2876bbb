//! In which positions of the selectors metal joins given ends: the search behind standing shorts.
//!
//! A *selector* is anything with positions: a turnout, a contact, a cab selector, several of them ganged. Metal is a
//! graph of which some edges join only in some positions of one selector. [`joined`] tells all that must be set, and no
//! more than that, for given pairs of nodes to be joined all at once.
//!
//! What the answer means: an edge *joins throughout* a set of needs if the positions that the set leaves to its selector
//! are all among those in which the edge joins. A set joins a pair if edges that join throughout lead from one end to
//! the other. Sets in which any need could be dropped, or given one position more, are not told. So positions join
//! all pairs exactly if they meet one of the sets, and each set comes with one same metal in all its positions.
//!
//! How it is found, exactly, unless the steps run out:
//!
//! 1. Fixed metal is contracted to nets; nets in between are taken out where that leaves no more ways than before.
//! 2. All ways between two nets pass the same dividing nets (the block-cut tree), so only the pieces between
//!    the two count, and each piece by itself.
//! 3. In a piece all nets but the two ends are taken out one by one. The ways that remain are those of the piece.
//! 4. Positions that join every pair through every piece are those that meet one set of each at once.
//!
//! Positions chosen anywhere on a way go with it to its end: agreement of neighbours is not enough. A net reached in other
//! positions is another place: having seen a net is no reason to leave it.

mod dive;
mod needs;
mod pieces;
mod web;

use std::collections::{BTreeMap, BTreeSet};

use petgraph::unionfind::UnionFind;

use dive::{Stage, dive};
use needs::{Needs, Sets, Spent, Steps};
use pieces::{Link, Pieces};
use web::Web;

/// Metal with switches in it.
#[derive(Debug, Clone, Default)]
pub struct Switched {
    /// Number of nodes; they are called `0..nodes`.
    pub nodes: usize,
    /// Number of positions of each selector. Ganged ones are one selector.
    pub positions: Vec<u32>,
    /// What joins the nodes. An edge with a node or a selector that is not there joins nothing.
    pub edges: Vec<SwitchedEdge>,
}

/// Metal between two nodes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SwitchedEdge {
    /// The two nodes.
    pub ends: [usize; 2],
    /// The selector, and the positions in which it joins: bit *k* for position *k*, so at most 64 positions can be
    /// told apart. None: fixed metal.
    pub when: Option<(usize, u64)>,
}

/// Steps for taking out nets beforehand. What is left in is searched; it takes longer.
const THINNING_STEPS: u64 = 10_000_000;

/// How much work a search may do. A step is about one comparison of two sets of needs: some ten nanoseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Budget {
    /// Steps at most.
    pub steps: u64,
}

impl Default for Budget {
    fn default() -> Self {
        Budget { steps: 4_000_000 }
    }
}

/// What must be set: each selector named, in order, stands in one of the positions of its mask (never empty, never all
/// of them). Selectors that are not named may stand anyhow.
pub type SetOfNeeds = Vec<(usize, u64)>;

/// The outcome of a search.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Found {
    /// Every set joins all pairs, and none can do with less. The shortest first. A set without needs: joined by fixed
    /// metal. Ends joined in every position, but by other metal in each, have a set for each.
    pub sets: Vec<SetOfNeeds>,
    /// Whether these are all. If not, the steps ran out, and there may be more.
    pub exhaustive: bool,
    /// Steps that were done.
    pub steps: u64,
}

/// All that must be set for each pair of `joins` to be joined, all at the same time.
pub fn joined(switched: &Switched, joins: &[[usize; 2]], budget: Budget) -> Found {
    let ends: Vec<usize> = joins.iter().flatten().copied().collect();
    prepare(switched, &ends).joined(joins, budget)
}

/// What is known of some metal once and for all, and of the questions that were asked.
#[derive(Debug, Clone)]
pub struct Prepared<'a> {
    switched: &'a Switched,
    /// Net of each node.
    net: Vec<usize>,
    /// Nets that were not free to be taken out.
    kept: Vec<bool>,
    /// All positions of each selector.
    full: Vec<u64>,
    web: Web,
    pieces: Pieces,
    known: BTreeMap<Link, Known>,
}

/// What came of a piece between two of its nets.
#[derive(Debug, Clone)]
enum Known {
    All(Sets),
    /// Too much for so many steps.
    Beyond(u64),
}

/// Prepares for many questions about pairs of `ends`. Other nodes may be asked about, too; it takes longer.
pub fn prepare<'a>(switched: &'a Switched, ends: &[usize]) -> Prepared<'a> {
    let full: Vec<u64> = switched
        .positions
        .iter()
        .map(|&n| 1_u64.checked_shl(n).map_or(u64::MAX, |bit| bit - 1))
        .collect();
    let mut metal = UnionFind::<usize>::new(switched.nodes);
    let mut turned: Vec<([usize; 2], (usize, u64))> = Vec::new();
    for edge in &switched.edges {
        let [a, b] = edge.ends;
        if a.max(b) >= switched.nodes {
            continue;
        }
        let Some((selector, mask)) = edge.when else {
            metal.union(a, b);
            continue;
        };
        let Some((&all, &positions)) = full.get(selector).zip(switched.positions.get(selector))
        else {
            continue;
        };
        let mask = mask & all;
        if mask == all && (1..=64).contains(&positions) {
            metal.union(a, b);
        } else if mask != 0 {
            turned.push(([a, b], (selector, mask)));
        }
    }
    let mut number: BTreeMap<usize, usize> = BTreeMap::new();
    let net: Vec<usize> = metal
        .into_labeling()
        .into_iter()
        .map(|label| {
            let next = number.len();
            *number.entry(label).or_insert(next)
        })
        .collect();
    let mut web = Web::of(number.len());
    for (ends, need) in turned {
        let [a, b] = ends.map(|end| net[end]);
        // As many steps as it takes: this is linear but for the ways of one pair of nets.
        let _ = web.add(a, b, Needs::from(vec![need]), &mut Steps { left: u64::MAX });
    }
    let mut kept = vec![false; number.len()];
    for net in ends.iter().filter_map(|&end| net.get(end)) {
        kept[*net] = true;
    }
    web.thin(&kept, &mut Steps { left: THINNING_STEPS });
    let pieces = Pieces::of(&web);
    Prepared { switched, net, kept, full, web, pieces, known: BTreeMap::new() }
}

impl Prepared<'_> {
    /// The same as [`joined`] for the metal that was prepared. What is worked out on the way is kept for later questions.
    pub fn joined(&mut self, joins: &[[usize; 2]], budget: Budget) -> Found {
        let none = Found { exhaustive: true, ..Found::default() };
        let mut links: BTreeSet<Link> = BTreeSet::new();
        for &[a, b] in joins {
            let (Some(&net_a), Some(&net_b)) = (self.net.get(a), self.net.get(b)) else {
                return none;
            };
            if net_a == net_b {
                continue;
            }
            if !(self.kept[net_a] && self.kept[net_b]) {
                return joined(self.switched, joins, budget);
            }
            match self.pieces.links(net_a, net_b) {
                Some(between) => links.extend(between),
                None => return none,
            }
        }
        let links: Vec<Link> = links.into_iter().collect();
        // Half of the steps for all there is; if that is too much, the rest for what can be had.
        let mut steps = Steps { left: budget.steps - budget.steps / 2 };
        let (sets, exhaustive) = match self.all_through(&links, &mut steps) {
            Ok(sets) => (sets, true),
            Err(Spent) => {
                steps.left += budget.steps / 2;
                dive(&self.stages(&links), &self.full, &mut steps)
            }
        };
        let mut sets: Vec<SetOfNeeds> = sets.into_vec().into_iter().map(Needs::into_list).collect();
        sets.sort_by(|a, b| a.len().cmp(&b.len()).then_with(|| a.cmp(b)));
        Found { sets, exhaustive, steps: budget.steps - steps.left }
    }

    /// What it takes to pass all links at once.
    fn all_through(&mut self, links: &[Link], steps: &mut Steps) -> Result<Sets, Spent> {
        let mut outcome = Ok(());
        for (k, &link) in links.iter().enumerate() {
            let mut share = Steps { left: steps.left / (links.len() - k) as u64 };
            let given = share.left;
            match self.through(link, &mut share) {
                // One link that nothing passes settles it, whatever became of the others.
                Ok(sets) if sets.is_empty() => return Ok(Sets::default()),
                Ok(_) => {}
                Err(spent) => outcome = Err(spent),
            }
            steps.left -= given - share.left;
        }
        outcome?;
        let mut parts: Vec<&Sets> = links
            .iter()
            .filter_map(|link| match self.known.get(link) {
                Some(Known::All(sets)) => Some(sets),
                _ => None,
            })
            .collect();
        parts.sort_by_key(|sets| sets.len());
        parts.iter().try_fold(Sets::from(Needs::default()), |all, part| all.and(part, steps))
    }

    /// What it takes to pass one link.
    fn through(&mut self, link: Link, steps: &mut Steps) -> Result<&Sets, Spent> {
        if matches!(self.known.get(&link), Some(&Known::Beyond(tried)) if tried < steps.left) {
            self.known.remove(&link);
        }
        let known = match self.known.entry(link) {
            std::collections::btree_map::Entry::Occupied(known) => known.into_mut(),
            std::collections::btree_map::Entry::Vacant(place) => {
                let given = steps.left;
                place.insert(match way_through(&self.web, &self.pieces, link, steps) {
                    Ok(sets) => Known::All(sets),
                    Err(Spent) => Known::Beyond(given),
                })
            }
        };
        match known {
            Known::All(sets) => Ok(sets),
            Known::Beyond(_) => Err(Spent),
        }
    }

    fn stages(&self, links: &[Link]) -> Vec<Stage<'_>> {
        let stage = |link: &Link| match self.known.get(link) {
            Some(Known::All(sets)) => Stage::of(link.1, [(link.1, sets)]),
            _ => Stage::of(link.1, ways_of(&self.web, &self.pieces, link.0)),
        };
        links.iter().map(stage).collect()
    }
}

fn ways_of<'a>(
    web: &'a Web,
    pieces: &'a Pieces,
    piece: usize,
) -> impl Iterator<Item = ([usize; 2], &'a Sets)> {
    let pairs = pieces.pairs.get(piece).into_iter().flatten();
    pairs.filter_map(|&[a, b]| Some(([a, b], web.between(a, b)?)))
}

fn way_through(
    web: &Web,
    pieces: &Pieces,
    (piece, ends): Link,
    steps: &mut Steps,
) -> Result<Sets, Spent> {
    let mut number: BTreeMap<usize, usize> = BTreeMap::new();
    for net in ends.into_iter().chain(ways_of(web, pieces, piece).flat_map(|(ends, _)| ends)) {
        let next = number.len();
        number.entry(net).or_insert(next);
    }
    let mut part = Web::of(number.len());
    for (ends, sets) in ways_of(web, pieces, piece) {
        let [a, b] = ends.map(|net| number.get(&net).copied().unwrap_or(0));
        part.set(a, b, sets.clone());
    }
    part.all_between(0, 1, steps)
}

#[cfg(test)]
mod tests;
