//! Labels of cells with the fewest cuts: elimination, piece by piece.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use crate::layout::Rail;

/// Two cells that a cut parts, and the cost of the cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Edge {
    /// The cells.
    pub cells: [usize; 2],
    /// What the cut costs.
    pub cost: u64,
}

/// The two rails of one piece of track. They belong to one owner: a rail of one stretch beside one of another feeds
/// nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pair {
    /// The cells of its rails.
    pub cells: [usize; 2],
    /// What it costs if they belong to different owners.
    pub cost: u64,
}

/// Cells labelled.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Labelled {
    /// The label of each cell.
    pub labels: Vec<usize>,
    /// The cost of all cuts between different labels.
    pub cost: u64,
    /// True if no labelling costs less. False where a piece was too wide for elimination.
    pub exact: bool,
}

/// Entries of the largest table of an elimination.
const MOST_ENTRIES: usize = 5_000_000;

/// What labels mean.
#[derive(Debug, Clone, Default)]
pub struct Meaning {
    /// The owner of each label that has one.
    pub owners: Vec<Option<usize>>,
    /// The label of the same owner on the other hand.
    pub mates: Vec<Option<usize>>,
    /// By label, the hand that it is for; `None` for either.
    pub hands: Vec<Option<Rail>>,
    /// By cell, its hand; `None` for a frog, which has both.
    pub of_cells: Vec<Option<Rail>>,
    /// By label, the reversing section that it is for, if it is for one.
    pub sections: Vec<Option<usize>>,
    /// By cell, the reversing section that it is in.
    pub sections_of_cells: Vec<Option<usize>>,
}

/// More than all cuts of a layout cost.
const BARRED: u64 = 1 << 40;

impl Meaning {
    fn owner(&self, label: usize) -> Option<usize> {
        self.owners.get(label).copied().flatten()
    }

    /// True for a pole of a reversing section outside it, and for other poles inside it. Frogs are where they are.
    fn is_elsewhere(&self, cell: usize, label: usize) -> bool {
        let section = self.sections.get(label).copied().flatten();
        let inside = self.sections_of_cells.get(cell).copied().flatten();
        let is_pole = self.hands.get(label).copied().flatten().is_some();
        section != inside && is_pole
    }

    /// True if some cell has a label of another reversing section.
    pub fn is_amiss(&self, labels: &[usize]) -> bool {
        labels.iter().enumerate().any(|(cell, &label)| self.is_elsewhere(cell, label))
    }

    fn is_barred(&self, cell: usize, label: usize) -> bool {
        let hand = self.hands.get(label).copied().flatten();
        let own = self.of_cells.get(cell).copied().flatten();
        self.is_elsewhere(cell, label) || matches!((hand, own), (Some(a), Some(b)) if a != b)
    }
}

/// Labels `cells` cells so that the edges between different labels, and pairs of different owners, cost least. `fixed` has
/// the label of each terminal. Cells that no terminal reaches keep `usize::MAX`.
pub fn label(
    cells: usize,
    (edges, pairs): (&[Edge], &[Pair]),
    fixed: &BTreeMap<usize, usize>,
    meaning: &Meaning,
) -> Labelled {
    let mut labels = vec![usize::MAX; cells];
    fixed.iter().for_each(|(&cell, &label)| labels[cell] = label);
    let mut near: Near = vec![Vec::new(); cells];
    let edges_to = edges.iter().map(|edge| (edge.cells, edge.cost, false));
    let pairs_to = pairs.iter().map(|pair| (pair.cells, pair.cost, true));
    for ([a, b], cost, is_pair) in edges_to.chain(pairs_to).filter(|(two, ..)| two[0] != two[1]) {
        near[a].push((b, cost, is_pair));
        near[b].push((a, cost, is_pair));
    }
    let mut exact = true;
    let mut seen = vec![false; cells];
    for start in 0..cells {
        if seen[start] || fixed.contains_key(&start) {
            continue;
        }
        // A piece: free cells that hang together without passing a terminal.
        let mut piece = Vec::new();
        let mut queue = VecDeque::from([start]);
        seen[start] = true;
        while let Some(cell) = queue.pop_front() {
            piece.push(cell);
            for &(other, ..) in &near[cell] {
                if !fixed.contains_key(&other) && !seen[other] {
                    seen[other] = true;
                    queue.push_back(other);
                }
            }
        }
        exact &= label_piece(&piece, (&near, meaning), fixed, &mut labels);
    }
    let parted = edges.iter().filter(|edge| {
        let [a, b] = edge.cells.map(|cell| labels[cell]);
        a != b && a != usize::MAX && b != usize::MAX
    });
    let apart = pairs.iter().map(|pair| {
        let [a, b] = pair.cells.map(|cell| labels[cell]);
        costs(meaning, a, b, pair.cost, true)
    });
    let cost = parted.map(|edge| edge.cost).sum::<u64>() + apart.sum::<u64>();
    Labelled { labels, cost, exact }
}

/// What each cell is beside: the other cell, the cost, and whether as the other rail of a piece.
type Near = Vec<Vec<(usize, u64, bool)>>;

/// What two labels cost side by side: across a site, or on the two rails of one piece.
fn costs(meaning: &Meaning, a: usize, b: usize, cost: u64, is_pair: bool) -> u64 {
    let parted = match is_pair {
        true => matches!((meaning.owner(a), meaning.owner(b)), (Some(a), Some(b)) if a != b),
        false => a != b,
    };
    if parted { cost } else { 0 }
}

/// A table over some variables, each with as many values as there are labels.
struct Factor {
    vars: Vec<usize>,
    costs: Vec<u64>,
}

/// Labels one piece. Returns false if it was too wide, so that its labels are a guess.
fn label_piece(
    piece: &[usize],
    (near, meaning): (&Near, &Meaning),
    fixed: &BTreeMap<usize, usize>,
    labels: &mut [usize],
) -> bool {
    let index: BTreeMap<usize, usize> =
        piece.iter().enumerate().map(|(n, &cell)| (cell, n)).collect();
    let around = piece.iter().flat_map(|&cell| &near[cell]);
    let beside: BTreeSet<usize> =
        around.filter_map(|(other, ..)| fixed.get(other).copied()).collect();
    // A stretch whose one pole is beside a piece can have the other rail of it too.
    let mates = beside.iter().filter_map(|&label| meaning.mates.get(label).copied().flatten());
    let domain: BTreeSet<usize> = beside.iter().copied().chain(mates).collect();
    let domain: Vec<usize> = domain.into_iter().collect();
    if let [] | [_] = domain[..] {
        let only = domain.first().copied();
        let fits = |cell: usize| only.filter(|&label| !meaning.is_elsewhere(cell, label));
        piece.iter().for_each(|&cell| labels[cell] = fits(cell).unwrap_or(usize::MAX));
        return true;
    }
    let size = domain.len();
    let mut factors: Vec<Factor> = Vec::new();
    for (n, &cell) in piece.iter().enumerate() {
        let barred = |&label: &usize| if meaning.is_barred(cell, label) { BARRED } else { 0 };
        let mut own: Vec<u64> = domain.iter().map(barred).collect();
        for &(other, cost, is_pair) in &near[cell] {
            match (fixed.get(&other), index.get(&other)) {
                (Some(&label), _) => {
                    for (sum, &own) in own.iter_mut().zip(&domain) {
                        *sum += costs(meaning, own, label, cost, is_pair);
                    }
                }
                (None, Some(&m)) if n < m => {
                    let table = (0..size * size).map(|at| {
                        let (a, b) = (domain[at / size], domain[at % size]);
                        costs(meaning, a, b, cost, is_pair)
                    });
                    factors.push(Factor { vars: vec![n, m], costs: table.collect() });
                }
                _ => {}
            }
        }
        factors.push(Factor { vars: vec![n], costs: own });
    }
    match eliminated(piece.len(), size, factors) {
        Some(values) => {
            piece.iter().zip(values).for_each(|(&cell, value)| labels[cell] = domain[value]);
            true
        }
        None => {
            nearest(piece, near, fixed, labels);
            false
        }
    }
}

/// The values of the variables at the least sum of the factors; `None` if a table grows too large. Variables are taken out
/// in the order of the smallest table that it makes.
fn eliminated(vars: usize, size: usize, mut factors: Vec<Factor>) -> Option<Vec<usize>> {
    let mut left: BTreeSet<usize> = (0..vars).collect();
    // Each variable that is out: the others of its table, and its best value for each of their values.
    let mut out: Vec<(usize, Vec<usize>, Vec<usize>)> = Vec::new();
    while !left.is_empty() {
        let scope = |var: usize| -> BTreeSet<usize> {
            let with = factors.iter().filter(|f| f.vars.contains(&var));
            with.flat_map(|f| f.vars.iter().copied()).filter(|&v| v != var).collect()
        };
        let var = left.iter().copied().min_by_key(|&var| (scope(var).len(), var))?;
        let others: Vec<usize> = scope(var).into_iter().collect();
        let entries = size.checked_pow(others.len() as u32).filter(|n| n * size <= MOST_ENTRIES)?;
        let (with, without): (Vec<Factor>, Vec<Factor>) =
            factors.into_iter().partition(|f| f.vars.contains(&var));
        factors = without;
        let (mut costs, mut best) = (Vec::with_capacity(entries), Vec::with_capacity(entries));
        let mut values = vec![0; vars];
        for entry in 0..entries {
            let mut rest = entry;
            for &other in &others {
                values[other] = rest % size;
                rest /= size;
            }
            let sum = |value: usize, values: &mut Vec<usize>| -> u64 {
                values[var] = value;
                with.iter().map(|f| f.costs[place(f, values, size)]).sum()
            };
            let (cost, value) =
                (0..size).map(|value| (sum(value, &mut values), value)).min().unwrap_or_default();
            costs.push(cost);
            best.push(value);
        }
        factors.push(Factor { vars: others.clone(), costs });
        out.push((var, others, best));
        left.remove(&var);
    }
    let mut values = vec![0; vars];
    for (var, others, best) in out.into_iter().rev() {
        let entry = others.iter().rev().fold(0, |entry, &other| entry * size + values[other]);
        values[var] = best[entry];
    }
    Some(values)
}

/// Index in a factor's table; its first variable counts least.
fn place(factor: &Factor, values: &[usize], size: usize) -> usize {
    factor.vars.iter().rev().fold(0, |at, &var| at * size + values[var])
}

/// Each cell gets the label of a nearest terminal: sound, and perhaps with more cuts than need be.
fn nearest(piece: &[usize], near: &Near, fixed: &BTreeMap<usize, usize>, labels: &mut [usize]) {
    let mut queue: VecDeque<usize> = VecDeque::new();
    for &cell in piece {
        if let Some(label) =
            near[cell].iter().filter(|n| !n.2).find_map(|(other, ..)| fixed.get(other))
        {
            labels[cell] = *label;
            queue.push_back(cell);
        }
    }
    while let Some(cell) = queue.pop_front() {
        for &(other, ..) in &near[cell] {
            if labels[other] == usize::MAX {
                labels[other] = labels[cell];
                queue.push_back(other);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The least cost over all labellings.
    fn brute(
        cells: usize,
        (edges, pairs): (&[Edge], &[Pair]),
        fixed: &BTreeMap<usize, usize>,
        (labels, meaning): (usize, &Meaning),
    ) -> u64 {
        let free: Vec<usize> = (0..cells).filter(|cell| !fixed.contains_key(cell)).collect();
        let all = labels.pow(free.len() as u32);
        let costs = (0..all).map(|mut code| {
            let mut of: Vec<usize> =
                (0..cells).map(|cell| fixed.get(&cell).copied().unwrap_or(0)).collect();
            for &cell in &free {
                of[cell] = code % labels;
                code /= labels;
            }
            {
                let across =
                    edges.iter().filter(|e| of[e.cells[0]] != of[e.cells[1]]).map(|e| e.cost);
                let rails = pairs.iter().filter(|p| p.cells[0] != p.cells[1]);
                let rails =
                    rails.map(|p| costs(meaning, of[p.cells[0]], of[p.cells[1]], p.cost, true));
                across.sum::<u64>() + rails.sum::<u64>()
            }
        });
        costs.min().unwrap_or_default()
    }

    #[test]
    fn elimination_finds_the_least_of_all_labellings() {
        let mut state = 7u64;
        let mut dice = move |n: usize| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as usize % n
        };
        for _ in 0..400 {
            let (cells, labels) = (4 + dice(5), 2 + dice(3));
            let mut edges: Vec<Edge> = (1..cells)
                .map(|cell| Edge { cells: [dice(cell), cell], cost: 1 + dice(4) as u64 })
                .collect();
            for _ in 0..dice(4) {
                edges.push(Edge { cells: [dice(cells), dice(cells)], cost: 1 + dice(4) as u64 });
            }
            let fixed: BTreeMap<usize, usize> = (0..labels).map(|l| (dice(cells), l)).collect();
            let meaning = Meaning {
                owners: (0..labels).map(|l| Some(l / 2)).collect(),
                mates: (0..labels).map(|l| Some(l ^ 1).filter(|m| *m < labels)).collect(),
                ..Meaning::default()
            };
            let pairs: Vec<Pair> = (0..dice(3))
                .map(|_| Pair { cells: [dice(cells), dice(cells)], cost: 1 + dice(4) as u64 })
                .collect();
            let got = label(cells, (&edges, &pairs), &fixed, &meaning);
            assert!(got.exact);
            let least = brute(cells, (&edges, &pairs), &fixed, (labels, &meaning));
            assert_eq!(got.cost, least, "{edges:?} {pairs:?} {fixed:?}");
        }
    }
}
