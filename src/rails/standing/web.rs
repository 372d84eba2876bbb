//! Nets and the ways between them, thinned by taking nets out one by one.
//!
//! A net that is not asked about can go if every two of its neighbours are given the ways that led through it: ways
//! that no position allows vanish at once, and so does every way that asks more than another between the same nets.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use super::needs::{Needs, Sets, Spent, Steps};

/// Ways through a net beyond which it is not tried for thinning.
const TRIED_WAYS: usize = 50_000;
/// Ways that taking out a net may add between any two, if fewer nets are joined then.
const ADDED_WAYS: usize = 16;

/// Nets joined two by two by alternatives of needs.
#[derive(Debug, Clone, Default)]
pub struct Web {
    near: Vec<BTreeSet<usize>>,
    /// Between a lower and a higher net. Never empty.
    ways: BTreeMap<[usize; 2], Sets>,
}

fn sorted(a: usize, b: usize) -> [usize; 2] {
    [a.min(b), a.max(b)]
}

impl Web {
    pub fn of(nets: usize) -> Web {
        Web { near: vec![BTreeSet::new(); nets], ways: BTreeMap::new() }
    }

    pub fn nets(&self) -> usize {
        self.near.len()
    }

    /// Neighbours of a net, in order.
    pub fn near(&self, net: usize) -> impl Iterator<Item = usize> + '_ {
        self.near.get(net).into_iter().flatten().copied()
    }

    pub fn between(&self, a: usize, b: usize) -> Option<&Sets> {
        self.ways.get(&sorted(a, b))
    }

    /// One way more between two nets of the web.
    pub fn add(
        &mut self,
        a: usize,
        b: usize,
        needs: Needs,
        steps: &mut Steps,
    ) -> Result<(), Spent> {
        if a != b {
            self.ways.entry(sorted(a, b)).or_default().add(needs, steps)?;
            self.link(a, b);
        }
        Ok(())
    }

    /// All ways between two nets, in place of those that there are.
    pub fn set(&mut self, a: usize, b: usize, sets: Sets) {
        if a != b && !sets.is_empty() {
            self.ways.insert(sorted(a, b), sets);
            self.link(a, b);
        }
    }

    fn link(&mut self, a: usize, b: usize) {
        for (from, to) in [(a, b), (b, a)] {
            if let Some(near) = self.near.get_mut(from) {
                near.insert(to);
            }
        }
    }

    /// Number of ways through a net, before any vanishes.
    fn ways_through(&self, net: usize) -> usize {
        let (mut all, mut pairs) = (0_usize, 0_usize);
        for ways in self.near(net).filter_map(|other| self.between(net, other)) {
            pairs = pairs.saturating_add(all.saturating_mul(ways.len()));
            all = all.saturating_add(ways.len());
        }
        pairs
    }

    /// Ways between the neighbours of a net, those that lead through it among them.
    fn without(&self, net: usize, steps: &mut Steps) -> Result<Vec<([usize; 2], Sets)>, Spent> {
        let spokes: Vec<(usize, &Sets)> =
            self.near(net).filter_map(|other| Some((other, self.between(net, other)?))).collect();
        let mut ways = Vec::new();
        for (k, &(a, from)) in spokes.iter().enumerate() {
            for &(b, to) in spokes.iter().skip(k + 1) {
                let through = from.and(to, steps)?;
                if through.is_empty() {
                    continue;
                }
                let mut all = self.between(a, b).cloned().unwrap_or_default();
                for needs in through.into_vec() {
                    all.add(needs, steps)?;
                }
                ways.push(([a, b], all));
            }
        }
        Ok(ways)
    }

    fn replace(&mut self, net: usize, ways: Vec<([usize; 2], Sets)>) {
        let near = self.near.get_mut(net).map(std::mem::take).unwrap_or_default();
        for other in near {
            self.ways.remove(&sorted(net, other));
            if let Some(near) = self.near.get_mut(other) {
                near.remove(&net);
            }
        }
        for ([a, b], sets) in ways {
            self.set(a, b, sets);
        }
    }

    /// Takes out every net but those kept that leaves the web no larger, as far as the steps go.
    pub fn thin(&mut self, kept: &[bool], steps: &mut Steps) {
        let free = |net: usize| kept.get(net) == Some(&false);
        let mut next: VecDeque<usize> = (0..self.nets()).filter(|&net| free(net)).collect();
        let mut waiting: BTreeSet<usize> = next.iter().copied().collect();
        while let Some(net) = next.pop_front() {
            waiting.remove(&net);
            if self.ways_through(net) > TRIED_WAYS {
                continue;
            }
            let Ok(ways) = self.without(net, steps) else { return };
            if self.grows(net, &ways) {
                continue;
            }
            let near: Vec<usize> = self.near(net).collect();
            self.replace(net, ways);
            next.extend(near.into_iter().filter(|&other| free(other) && waiting.insert(other)));
        }
    }

    /// Whether the web is larger with these ways than with the net.
    fn grows(&self, net: usize, ways: &[([usize; 2], Sets)]) -> bool {
        let held = |a, b| self.between(a, b).map_or(0, Sets::len);
        let gone: usize = self.near(net).map(|other| held(net, other)).sum();
        let added =
            || ways.iter().map(|(ends, sets)| sets.len().saturating_sub(held(ends[0], ends[1])));
        let pairs = ways.iter().filter(|(ends, _)| held(ends[0], ends[1]) == 0).count();
        let fewer = pairs <= self.near(net).count() && added().all(|ways| ways <= ADDED_WAYS);
        !fewer && added().sum::<usize>() > gone
    }

    /// All ways between two nets, through whatever there is: every other net is taken out, the least work first.
    pub fn all_between(mut self, a: usize, b: usize, steps: &mut Steps) -> Result<Sets, Spent> {
        let mut work: Vec<usize> = (0..self.nets()).map(|net| self.ways_through(net)).collect();
        let mut others: BTreeSet<(usize, usize)> =
            work.iter().copied().zip(0..).filter(|&(_, net)| net != a && net != b).collect();
        while let Some((_, net)) = others.pop_first() {
            let ways = self.without(net, steps)?;
            let near: Vec<usize> = self.near(net).collect();
            self.replace(net, ways);
            for other in near {
                let now = self.ways_through(other);
                if let Some(before) = work.get_mut(other)
                    && others.remove(&(*before, other))
                {
                    *before = now;
                    others.insert((now, other));
                }
            }
        }
        Ok(self.ways.remove(&sorted(a, b)).unwrap_or_default())
    }
}
