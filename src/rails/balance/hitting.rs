//! The smallest sets of blocks that meet every unbalanced cycle.
//!
//! A branch and bound over the cycles seen so far, each of which must hold a chosen block; only when a set meets all of
//! them is the graph asked for one that it misses. Cycles with no block in common each need their own: that bounds
//! from below. Deepened step by step, so that the first sets found are the smallest, and all of them.

use std::collections::{BTreeSet, VecDeque};

use super::graph::{Edge, Joined, Parity, Signed};

/// What to search.
#[derive(Debug)]
pub(super) struct Problem<'a> {
    pub graph: &'a Signed,
    /// For each node, which candidate's choice takes it away, if any.
    pub candidate: &'a [Option<usize>],
    /// For each candidate, those that may not be chosen with it.
    pub apart: &'a [Vec<usize>],
}

/// The outcome of a search.
#[derive(Debug, Default)]
pub(super) struct Found {
    /// Sets of candidates, each in order, all of one size.
    pub sets: Vec<Vec<usize>>,
    /// No set is smaller.
    pub at_least: usize,
    /// Whether all sets of this size are there.
    pub all: bool,
    /// Whether the search came to its end. If not, `sets` holds what is known, which may be more than `at_least`.
    pub exhaustive: bool,
}

/// Searches with at most so many steps (visits of an edge of the graph or of a member of a cycle), for at most `most`
/// sets. Takes what it used from `steps`.
pub(super) fn smallest(problem: &Problem, most: usize, steps: &mut u64) -> Found {
    let mut search = Search::new(problem, *steps);
    let found = search.run(most);
    *steps = search.steps;
    found
}

#[derive(Debug, Clone, Copy)]
enum Done {
    Chosen(usize),
    Barred(usize),
}

/// A choice between candidates: one of them is in every set below.
struct Branch {
    options: Vec<usize>,
    next: usize,
    /// Length of the trail where it stands.
    mark: usize,
}

/// What there is at a place of the search.
enum Here {
    /// No set can be here, of whatever size.
    Nothing,
    /// No set of the size looked for can be here.
    TooLarge,
    /// What is chosen is a set.
    Set,
    /// One of these must be chosen, or, perhaps, a set here is larger than looked for.
    OneOf { options: Vec<usize>, or_larger: bool },
}

struct Search<'a> {
    problem: &'a Problem<'a>,
    steps: u64,
    /// Cycles seen, as their candidates in order.
    cycles: Vec<Vec<usize>>,
    known: BTreeSet<Vec<usize>>,
    /// How many candidates the cycles have in all.
    members: u64,
    /// For each candidate, the cycles that hold it.
    on: Vec<Vec<usize>>,
    /// For each cycle, how many of its candidates are chosen, and how many are barred.
    chosen_on: Vec<u32>,
    barred_on: Vec<u32>,
    chosen: Vec<bool>,
    barred: Vec<u32>,
    trail: Vec<Done>,
    /// How many are chosen.
    count: usize,
}

impl<'a> Search<'a> {
    fn new(problem: &'a Problem<'a>, steps: u64) -> Self {
        let candidates = problem.apart.len();
        Search {
            problem,
            steps,
            cycles: Vec::new(),
            known: BTreeSet::new(),
            members: 0,
            on: vec![Vec::new(); candidates],
            chosen_on: Vec::new(),
            barred_on: Vec::new(),
            chosen: vec![false; candidates],
            barred: vec![0; candidates],
            trail: Vec::new(),
            count: 0,
        }
    }

    fn run(&mut self, most: usize) -> Found {
        for node in 0..self.problem.graph.at.len() {
            if self.steps == 0 {
                break;
            }
            if let Some(cycle) = self.odd_ring(node, &[]) {
                self.learn(cycle);
            }
        }
        let mut size = 0;
        loop {
            let (mut sets, cut_short, complete) = self.level(size, most);
            sets.sort_unstable();
            self.undo(0);
            if self.steps == 0 {
                let sets =
                    if sets.is_empty() { self.some_set().into_iter().collect() } else { sets };
                return Found { sets, at_least: size, all: false, exhaustive: false };
            }
            if !sets.is_empty() || !cut_short {
                return Found { sets, at_least: size, all: complete, exhaustive: true };
            }
            size = (size + 1).max(self.packing(&self.free()).0);
        }
    }

    /// All sets of one size (up to `most`), none being smaller; whether any place was left because of the size, and
    /// whether all was gone through.
    fn level(&mut self, size: usize, most: usize) -> (Vec<Vec<usize>>, bool, bool) {
        let (mut sets, mut too_large) = (Vec::new(), false);
        let mut branches: Vec<Branch> = Vec::new();
        loop {
            if self.steps == 0 {
                return (sets, true, false);
            }
            match self.here(size) {
                Here::Nothing => {}
                Here::TooLarge => too_large = true,
                Here::Set if sets.len() == most => return (sets, too_large, false),
                Here::Set => {
                    let chosen = self.chosen.iter().enumerate().filter(|(_, c)| **c);
                    sets.push(chosen.map(|(k, _)| k).collect());
                }
                Here::OneOf { options, or_larger } => {
                    too_large |= or_larger;
                    branches.push(Branch { options, next: 0, mark: self.trail.len() });
                }
            }
            // On to the next option: those before it are barred, so that no set is met twice.
            loop {
                let Some(branch) = branches.last_mut() else {
                    return (sets, too_large, true);
                };
                let (mark, next) = (branch.mark, branch.next);
                if next > 0 {
                    let tried = branch.options[next - 1];
                    self.undo(mark + next - 1);
                    self.bar(tried);
                }
                if let Some(branch) = branches.last_mut()
                    && let Some(&option) = branch.options.get(next)
                {
                    branch.next += 1;
                    self.choose(option);
                    break;
                }
                self.undo(mark);
                branches.pop();
            }
        }
    }

    /// Judges what is chosen now.
    fn here(&mut self, size: usize) -> Here {
        loop {
            self.spend(1 + self.members);
            let open: Vec<usize> =
                (0..self.cycles.len()).filter(|&c| self.chosen_on[c] == 0).collect();
            if open.iter().any(|&c| self.barred_on[c] as usize == self.cycles[c].len()) {
                return Here::Nothing;
            }
            if open.is_empty() {
                let missed = self.missed();
                if self.steps == 0 {
                    return Here::TooLarge;
                }
                if missed.is_empty() {
                    return Here::Set;
                }
                if missed.iter().any(Vec::is_empty) {
                    return Here::Nothing;
                }
                missed.into_iter().for_each(|cycle| self.learn(cycle));
                continue;
            }
            let Some(left) = size.checked_sub(self.count).filter(|&left| left > 0) else {
                return Here::TooLarge;
            };
            // If as many cycles apart are open as may be chosen, each set has one on each of those, and none elsewhere.
            let mut free = self.free();
            let mut or_larger = false;
            loop {
                let (needed, packed) = self.packing(&free);
                if needed > left {
                    return Here::TooLarge;
                }
                if needed < left || packed == free {
                    break;
                }
                free = packed;
                or_larger = true;
            }
            // First what has least to choose from; but cycles that share nothing with other open ones last, for what is
            // chosen on them changes nothing elsewhere, and a failure elsewhere would be met again for each of it.
            let mut open_on = vec![0usize; free.len()];
            open.iter().flat_map(|&c| &self.cycles[c]).for_each(|&k| open_on[k] += 1);
            let rank = |&c: &usize| {
                let options = || self.cycles[c].iter().filter(|&&k| free[k]);
                let (count, shared) =
                    (options().count(), options().map(|&k| open_on[k]).sum::<usize>());
                (count > 1 && count == shared, count, std::cmp::Reverse(shared), c)
            };
            let Some(least) = open.iter().copied().min_by_key(rank) else { return Here::Nothing };
            let mut options: Vec<usize> =
                self.cycles[least].iter().copied().filter(|&k| free[k]).collect();
            if options.is_empty() {
                return Here::TooLarge;
            }
            options.sort_by_key(|&k| (std::cmp::Reverse(open_on[k]), k));
            return Here::OneOf { options, or_larger };
        }
    }

    /// Which candidates may still be chosen.
    fn free(&self) -> Vec<bool> {
        self.chosen.iter().zip(&self.barred).map(|(&c, &b)| !c && b == 0).collect()
    }

    /// How many open cycles can be found that share no free candidate, taking the smallest first, and the free
    /// candidates on them. More than there are candidates, if a cycle has none that is free.
    fn packing(&self, free: &[bool]) -> (usize, Vec<bool>) {
        let mut open: Vec<(usize, usize)> = (0..self.cycles.len())
            .filter(|&c| self.chosen_on[c] == 0)
            .map(|c| (self.cycles[c].iter().filter(|&&k| free[k]).count(), c))
            .collect();
        open.sort_unstable();
        let mut packed = vec![false; free.len()];
        let mut needed = 0;
        for (members, c) in open {
            if members == 0 {
                return (free.len() + 1, packed);
            }
            if self.cycles[c].iter().all(|&k| !(free[k] && packed[k])) {
                needed += 1;
                self.cycles[c].iter().filter(|&&k| free[k]).for_each(|&k| packed[k] = true);
            }
        }
        (needed, packed)
    }

    fn spend(&mut self, steps: u64) {
        self.steps = self.steps.saturating_sub(steps);
    }

    fn choose(&mut self, candidate: usize) {
        self.chosen[candidate] = true;
        self.count += 1;
        self.on[candidate].iter().for_each(|&c| self.chosen_on[c] += 1);
        self.bar_all(candidate, 1);
        self.trail.push(Done::Chosen(candidate));
    }

    /// Bars, or frees again, what may not be chosen with a candidate.
    fn bar_all(&mut self, candidate: usize, by: i32) {
        for k in 0..self.problem.apart[candidate].len() {
            self.bar_by(self.problem.apart[candidate][k], by);
        }
    }

    fn bar_by(&mut self, candidate: usize, by: i32) {
        let before = self.barred[candidate];
        self.barred[candidate] = before.saturating_add_signed(by);
        if (before == 0) != (self.barred[candidate] == 0) {
            for &c in &self.on[candidate] {
                self.barred_on[c] = self.barred_on[c].saturating_add_signed(by);
            }
        }
    }

    fn bar(&mut self, candidate: usize) {
        self.bar_by(candidate, 1);
        self.trail.push(Done::Barred(candidate));
    }

    fn undo(&mut self, mark: usize) {
        while self.trail.len() > mark {
            match self.trail.pop() {
                Some(Done::Chosen(candidate)) => {
                    self.bar_all(candidate, -1);
                    self.on[candidate].iter().for_each(|&c| self.chosen_on[c] -= 1);
                    self.count -= 1;
                    self.chosen[candidate] = false;
                }
                Some(Done::Barred(candidate)) => self.bar_by(candidate, -1),
                None => {}
            }
        }
    }

    /// Takes note of a cycle that meets nothing chosen.
    fn learn(&mut self, mut cycle: Vec<usize>) {
        cycle.sort_unstable();
        cycle.dedup();
        if !self.known.insert(cycle.clone()) {
            return;
        }
        self.members += cycle.len() as u64;
        let index = self.cycles.len();
        cycle.iter().for_each(|&k| self.on[k].push(index));
        self.chosen_on.push(0);
        self.barred_on.push(cycle.iter().filter(|&&k| self.barred[k] > 0).count() as u32);
        self.cycles.push(cycle);
    }

    /// Some unbalanced cycles that meet nothing chosen, without a free candidate in common; none if there are none.
    fn missed(&mut self) -> Vec<Vec<usize>> {
        let mut taken = vec![false; self.on.len()];
        let mut found: Vec<Vec<usize>> = Vec::new();
        for node in self.closing() {
            if self.problem.candidate[node].is_some_and(|k| taken[k]) {
                continue;
            }
            // The first is sure to be there, whatever is taken.
            let Some(cycle) = self.odd_ring(node, &taken) else { continue };
            cycle.iter().for_each(|&k| taken[k] = true);
            let none = cycle.is_empty();
            found.push(cycle);
            if none {
                break;
            }
        }
        found
    }

    /// Nodes at which an unbalanced cycle that meets nothing chosen closes over a spanning forest.
    fn closing(&mut self) -> Vec<usize> {
        let graph = self.problem.graph;
        self.spend(graph.edges.len() as u64);
        let mut joined = Parity::new(graph.at.len());
        let mut closing = Vec::new();
        for &Edge { ends: [a, b], turns } in &graph.edges {
            if !self.is_away(a) && !self.is_away(b) && joined.join(a, b, turns) == Joined::Against {
                closing.push(a);
            }
        }
        closing
    }

    fn is_away(&self, node: usize) -> bool {
        self.problem.candidate[node].is_some_and(|k| self.chosen[k])
    }

    /// An unbalanced cycle near a node that meets nothing chosen or taken: part of the closed walk from the node with the
    /// fewest free candidates that comes back turned round. Its candidates.
    fn odd_ring(&mut self, from: usize, taken: &[bool]) -> Option<Vec<usize>> {
        let Problem { graph, candidate, .. } = *self.problem;
        let away = |node: usize| {
            candidate[node].is_some_and(|k| self.chosen[k] || taken.get(k) == Some(&true))
        };
        if away(from) {
            return None;
        }
        let weight =
            |node: usize| usize::from(candidate[node].is_some_and(|k| self.barred[k] == 0));
        let (start, goal) = (2 * from, 2 * from + 1);
        let mut cost = vec![usize::MAX; 2 * graph.at.len()];
        let mut via: Vec<Option<usize>> = vec![None; cost.len()];
        let mut queue = VecDeque::from([(0, start)]);
        cost[start] = 0;
        let mut spent = 0;
        while let Some((so_far, state)) = queue.pop_front() {
            if so_far > cost[state] {
                continue;
            }
            if state == goal {
                break;
            }
            let node = state / 2;
            for &e in &graph.at[node] {
                spent += 1;
                let edge = graph.edges[e];
                let next = edge.other(node);
                let to = 2 * next + ((state % 2) ^ usize::from(edge.turns));
                let sum = so_far + weight(next);
                if away(next) || sum >= cost[to] {
                    continue;
                }
                cost[to] = sum;
                via[to] = Some(e);
                if sum == so_far {
                    queue.push_front((sum, to));
                } else {
                    queue.push_back((sum, to));
                }
            }
        }
        // Back from the goal; a ring within the walk is taken off as soon as it closes.
        let mut walk: Vec<(usize, bool)> = Vec::new();
        let mut state = goal;
        let mut ring = None;
        if cost[goal] != usize::MAX {
            loop {
                let (node, turned) = (state / 2, state % 2 == 1);
                if let Some(before) = walk.iter().position(|w| w.0 == node) {
                    if walk[before].1 != turned {
                        ring = Some(walk.split_off(before));
                        break;
                    }
                    walk.truncate(before);
                }
                walk.push((node, turned));
                let Some(edge) = via[state].map(|e| graph.edges[e]) else { break };
                state = 2 * edge.other(node) + usize::from(turned ^ edge.turns);
            }
        }
        self.spend(spent);
        ring.map(|ring| ring.iter().filter_map(|&(node, _)| candidate[node]).collect())
    }

    /// Some set, if one is easily found: always the candidate on most of the open cycles, then those left out again that
    /// are not needed. Spends no steps: it is what there is when they have run out.
    fn some_set(&mut self) -> Option<Vec<usize>> {
        self.undo(0);
        loop {
            let open_on = |k: usize| self.on[k].iter().filter(|&&c| self.chosen_on[c] == 0).count();
            let best = (0..self.on.len())
                .filter(|&k| !self.chosen[k] && self.barred[k] == 0)
                .map(|k| (open_on(k), std::cmp::Reverse(k)))
                .max();
            match best {
                Some((open, std::cmp::Reverse(k))) if open > 0 => self.choose(k),
                _ if (0..self.cycles.len()).any(|c| self.chosen_on[c] == 0) => return None,
                _ => {
                    let missed = self.missed();
                    if missed.is_empty() {
                        break;
                    }
                    missed.into_iter().for_each(|cycle| self.learn(cycle));
                }
            }
        }
        let mut set: Vec<usize> = (0..self.chosen.len()).filter(|&k| self.chosen[k]).collect();
        self.undo(0);
        for k in set.clone() {
            self.chosen.iter_mut().for_each(|c| *c = false);
            set.iter().filter(|&&other| other != k).for_each(|&other| self.chosen[other] = true);
            if self.closing().is_empty() {
                set.retain(|&other| other != k);
            }
        }
        self.chosen.iter_mut().for_each(|c| *c = false);
        Some(set)
    }
}
