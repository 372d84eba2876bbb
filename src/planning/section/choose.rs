//! Sets of sections that leave no track which comes back on itself with its rails exchanged, the cheapest first.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap, VecDeque};

use super::candidate::{Candidate, Control};
use super::chain::Part;
use crate::layout::RunId;
use crate::planning::wish::Wishes;
use crate::rails::Plan;
use crate::rails::balance::{Link, LinkKind, Stretch, Track, is_balanced};

/// Sets that are looked at.
const MOST_SETS: usize = 60_000;

/// Track divided at all ends of all candidates.
struct Atoms {
    track: Track,
    /// Links at each atom.
    at: Vec<Vec<usize>>,
    parts: Vec<Part>,
}

impl Atoms {
    fn of(plan: &Plan, candidates: &[Candidate]) -> Atoms {
        let mut places: BTreeMap<RunId, Vec<f64>> = BTreeMap::new();
        for &(run, at_mm) in candidates.iter().flat_map(|c| &c.ends) {
            places.entry(run).or_default().push(at_mm);
        }
        let (mut stretches, mut links, mut parts) = (Vec::new(), Vec::new(), Vec::new());
        let mut ends: Vec<[usize; 2]> = Vec::new();
        for piece in &plan.pieces {
            let own = places.get(&piece.run).into_iter().flatten().copied();
            let mut bounds: Vec<f64> =
                own.filter(|mm| piece.from_mm < *mm && *mm < piece.to_mm).collect();
            bounds.extend([piece.from_mm, piece.to_mm]);
            bounds.sort_by(f64::total_cmp);
            bounds.dedup();
            if bounds.len() < 2 {
                bounds = vec![piece.from_mm, piece.to_mm];
            }
            let first = stretches.len();
            for two in bounds.windows(2) {
                if stretches.len() > first {
                    let before = stretches.len() - 1;
                    links.push(Link {
                        ends: [(before, false), (before + 1, true)],
                        kind: LinkKind::Metal,
                    });
                }
                stretches.push(Stretch { length_mm: two[1] - two[0], block: stretches.len() });
                parts.push(Part { run: piece.run, from_mm: two[0], to_mm: two[1] });
            }
            ends.push([first, stretches.len() - 1]);
        }
        for link in &plan.metal.track.links {
            let end = |(piece, start): (usize, bool)| (ends[piece][usize::from(!start)], start);
            links.push(Link { ends: link.ends.map(end), kind: link.kind });
        }
        let mut at = vec![Vec::new(); stretches.len()];
        for (index, link) in links.iter().enumerate() {
            link.ends.iter().for_each(|end| at[end.0].push(index));
        }
        Atoms { track: Track { stretches, links }, at, parts }
    }

    fn within(&self, candidate: &Candidate) -> BTreeSet<usize> {
        let inside = |(_, atom): &(usize, &Part)| {
            let middle = (atom.from_mm + atom.to_mm) / 2.0;
            candidate.parts.iter().any(|part| part.has(atom.run, middle))
        };
        self.parts.iter().enumerate().filter(inside).map(|(at, _)| at).collect()
    }

    /// By stretch that is occupied, the atoms of its places that hang together, and the atoms of other stretches.
    fn whole(&self, wishes: &Wishes) -> Vec<[Vec<usize>; 2]> {
        let atoms = |n: usize| {
            let places = wishes.apart[n].at.iter();
            let at = |at: &crate::planning::wish::At| {
                self.parts.iter().position(|p| p.has(at.run, at.at_mm))
            };
            places.filter_map(at).collect::<Vec<usize>>()
        };
        let all = 0..wishes.apart.len();
        let occupied = all.clone().filter(|&n| wishes.apart[n].occupied);
        let each = occupied.map(|n| {
            let others = all.clone().filter(|m| *m != n).flat_map(atoms).collect();
            let mut own = atoms(n);
            let reached = self.reached(own.first().copied(), &others, &BTreeSet::new());
            own.retain(|atom| reached.contains(atom));
            [own, others.into_iter().collect()]
        });
        each.collect()
    }

    /// Atoms that are reached from one without passing others.
    fn reached(
        &self,
        from: Option<usize>,
        others: &BTreeSet<usize>,
        without: &BTreeSet<usize>,
    ) -> BTreeSet<usize> {
        let mut reached: BTreeSet<usize> = from.into_iter().collect();
        let mut queue: Vec<usize> = from.into_iter().collect();
        while let Some(atom) = queue.pop() {
            let links = self.at[atom].iter().flat_map(|&link| self.track.links[link].ends);
            for (next, _) in links {
                if !others.contains(&next) && !without.contains(&next) && reached.insert(next) {
                    queue.push(next);
                }
            }
        }
        reached
    }

    /// True if no track among these has its rails exchanged within itself.
    fn is_sound(&self, within: &BTreeSet<usize>) -> bool {
        let inside = |link: &&Link| link.ends.iter().all(|end| within.contains(&end.0));
        let links = self.track.links.iter().filter(inside).copied().collect();
        is_balanced(&Track { stretches: self.track.stretches.clone(), links })
    }

    /// Atoms of a loop that exchanges the rails, without these; `None` if there is none.
    fn odd_loop(&self, without: &BTreeSet<usize>) -> Option<Vec<usize>> {
        // How each atom was reached: from where, and whether it is turned against the first.
        let mut reached: Vec<Option<(usize, bool)>> = vec![None; self.parts.len()];
        for start in (0..self.parts.len()).filter(|start| !without.contains(start)) {
            if reached[start].is_some() {
                continue;
            }
            reached[start] = Some((start, false));
            let mut queue = VecDeque::from([start]);
            while let Some(atom) = queue.pop_front() {
                let turned = reached[atom].is_some_and(|(_, turned)| turned);
                for &link in &self.at[atom] {
                    let link = &self.track.links[link];
                    let [a, b] = link.ends.map(|end| end.0);
                    let other = if a == atom { b } else { a };
                    if without.contains(&other) {
                        continue;
                    }
                    let there = turned != link.turns();
                    match reached[other] {
                        None => {
                            reached[other] = Some((atom, there));
                            queue.push_back(other);
                        }
                        Some((_, known)) if known != there => {
                            let up = |mut at: usize| {
                                let mut way = vec![at];
                                while let Some((from, _)) =
                                    reached[at].filter(|(from, _)| *from != at)
                                {
                                    way.push(from);
                                    at = from;
                                }
                                way
                            };
                            let (mut one, mut two) = (up(atom), up(other));
                            while one.len() > 1
                                && two.len() > 1
                                && one[one.len() - 2] == two[two.len() - 2]
                            {
                                one.pop();
                                two.pop();
                            }
                            one.extend(two);
                            return Some(one);
                        }
                        Some(_) => {}
                    }
                }
            }
        }
        None
    }
}

/// A set that waits to be looked at: its price, its size (larger ones first), its candidates.
type Waiting = (u64, Reverse<usize>, Vec<usize>);

/// The choice among candidates.
pub(in crate::planning) struct Choice {
    atoms: Atoms,
    within: Vec<BTreeSet<usize>>,
    prices: Vec<u64>,
    /// Pairs of candidates that cannot both be sections.
    bars: Vec<BTreeSet<usize>>,
    heap: BinaryHeap<Reverse<Waiting>>,
    seen: BTreeSet<Vec<usize>>,
    /// Atoms of the places of each occupied stretch, and of all others.
    whole: Vec<[Vec<usize>; 2]>,
    looked_at: usize,
}

impl Choice {
    /// Prepares a choice. `kept` are candidates that are sections already; they stay. With `automatic` two sections may not
    /// be neighbours.
    pub(in crate::planning) fn of(
        plan: &Plan,
        candidates: &[Candidate],
        wishes: &Wishes,
        automatic: bool,
    ) -> Choice {
        let atoms = Atoms::of(plan, candidates);
        let within: Vec<BTreeSet<usize>> = candidates.iter().map(|c| atoms.within(c)).collect();
        let sound: Vec<bool> = within.iter().map(|within| atoms.is_sound(within)).collect();
        let mut beside: Vec<BTreeSet<usize>> = within.clone();
        if automatic {
            for (near, within) in beside.iter_mut().zip(&within) {
                let links = within.iter().flat_map(|&atom| &atoms.at[atom]);
                near.extend(links.flat_map(|&link| atoms.track.links[link].ends.map(|end| end.0)));
            }
        }
        let touch = |a: usize, b: usize| !beside[a].is_disjoint(&within[b]);
        let bars = (0..candidates.len())
            .map(|a| (0..candidates.len()).filter(|&b| a != b && touch(a, b)).collect())
            .collect();
        let start: Vec<usize> = candidates
            .iter()
            .enumerate()
            .filter(|(_, c)| c.control == Control::There)
            .map(|(at, _)| at)
            .collect();
        let prices = candidates
            .iter()
            .zip(&sound)
            .map(|(c, sound)| if *sound { c.price() } else { u64::MAX });
        let heap = BinaryHeap::from([Reverse((0, Reverse(start.len()), start))]);
        let whole = atoms.whole(wishes);
        Choice {
            whole,
            within,
            prices: prices.collect(),
            bars,
            heap,
            atoms,
            seen: BTreeSet::new(),
            looked_at: 0,
        }
    }

    /// True if sections divide an occupied stretch.
    fn divides(&self, without: &BTreeSet<usize>) -> bool {
        self.whole.iter().any(|[own, others]| {
            let others = others.iter().copied().collect();
            let reached = self.atoms.reached(own.first().copied(), &others, without);
            own.iter().any(|atom| !reached.contains(atom))
        })
    }

    /// True if the search ended before all sets were looked at.
    pub(in crate::planning) fn is_cut_short(&self) -> bool {
        self.looked_at > MOST_SETS
    }
}

impl Iterator for Choice {
    type Item = (u64, Vec<usize>);

    fn next(&mut self) -> Option<(u64, Vec<usize>)> {
        while let Some(Reverse((price, _, set))) = self.heap.pop() {
            self.looked_at += 1;
            if self.is_cut_short() {
                return None;
            }
            let without: BTreeSet<usize> =
                set.iter().flat_map(|&at| self.within[at].iter().copied()).collect();
            if self.divides(&without) {
                continue;
            }
            let Some(odd) = self.atoms.odd_loop(&without) else { return Some((price, set)) };
            for (at, own) in self.prices.iter().enumerate().filter(|(_, price)| **price != u64::MAX)
            {
                let fits = !set.iter().any(|other| self.bars[at].contains(other) || *other == at);
                if fits && odd.iter().any(|atom| self.within[at].contains(atom)) {
                    let mut more = set.clone();
                    more.push(at);
                    more.sort_unstable();
                    if self.seen.insert(more.clone()) {
                        self.heap.push(Reverse((price + own, Reverse(more.len()), more)));
                    }
                }
            }
        }
        None
    }
}
