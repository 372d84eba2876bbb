//! The smallest set of counterfactuals that removes a conflict, and which of them each instant belongs to.

use std::collections::HashMap;

use super::counterfactual::{Cause, Counterfactual};
use super::instant::Instant;
use super::lab::Lab;
use crate::straddle::ix::DriverIx;

/// Largest set of counterfactuals that is tried.
const MOST_CHANGES: usize = 5;
/// At most this many candidates are combined.
const MOST_CANDIDATES: usize = 14;

/// The causes of a set of instants.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Explained {
    /// The smallest set that leaves every instant without conflict, in the order of the table.
    pub set: Vec<Counterfactual>,
    /// For each member of the set: others that do the same in its place.
    pub instead: Vec<Vec<Counterfactual>>,
    /// Members of the set (as bits) that each instant belongs to; 0 if none clears it.
    pub of: HashMap<Instant, u32>,
}

impl Explained {
    /// The causes that an instant belongs to.
    pub fn causes(&self, instant: &Instant) -> Vec<Cause> {
        match self.of.get(instant) {
            None => Vec::new(),
            Some(0) => vec![Cause::NotExplained],
            Some(&bits) => {
                let mut causes: Vec<Cause> =
                    self.members(bits).map(|change| change.cause()).collect();
                causes.dedup();
                causes
            }
        }
    }

    fn members(&self, bits: u32) -> impl Iterator<Item = Counterfactual> + '_ {
        self.set.iter().enumerate().filter(move |(at, _)| bits >> at & 1 == 1).map(|(_, &c)| c)
    }

    /// Members of the set that prove a cause, and what does the same in their place.
    pub fn changes(&self, cause: Cause) -> (Vec<Counterfactual>, Vec<Counterfactual>) {
        let own = || self.set.iter().zip(&self.instead).filter(|(c, _)| c.cause() == cause);
        (own().map(|(c, _)| *c).collect(), own().flat_map(|(_, i)| i.iter().copied()).collect())
    }
}

/// Explains instants that are in conflict. `calm` are instants of the same situations that are not, and `far` of other
/// situations: the set must leave them so; those of other situations only if some set does. `candidates` are the changes that
/// are tried, in the order of the table.
pub fn explain(
    lab: &mut Lab,
    instants: &[Instant],
    [calm, far]: [&[Instant]; 2],
    candidates: &[Counterfactual],
) -> Explained {
    if instants.is_empty() {
        return Explained::default();
    }
    let candidates = &candidates[..candidates.len().min(MOST_CANDIDATES)];
    let near: Vec<&Instant> = instants.iter().chain(calm).collect();
    let mut whole: Vec<&Instant> = near.iter().copied().chain(far).collect();
    let mut set = smallest(lab, &whole, candidates);
    if set.is_none() && !far.is_empty() {
        set = smallest(lab, &near, candidates);
        whole = near;
    }
    if let Some(set) = set {
        let instead = set
            .iter()
            .enumerate()
            .map(|(at, &member)| {
                let others = candidates.iter().copied();
                let same = others.filter(|c| c.cause() == member.cause() && !set.contains(c));
                same.filter(|&other| {
                    let mut changed = set.clone();
                    changed[at] = other;
                    whole.iter().all(|instant| lab.clears(instant, &changed))
                })
                .collect()
            })
            .collect();
        let of = instants.iter().map(|i| (i.clone(), belongs(lab, i, &set))).collect();
        return Explained { set, instead, of };
    }
    // No set clears everything: each instant by itself.
    let mut set: Vec<Counterfactual> = Vec::new();
    let mut own: Vec<(Instant, Vec<Counterfactual>)> = Vec::new();
    for instant in instants {
        let found = smallest(lab, &[instant], candidates);
        if found.is_none() && lab.is_spent() {
            lab.break_off(instant);
        }
        let found = found.unwrap_or_default();
        set.extend(found.iter().copied().filter(|c| !set.contains(c)).collect::<Vec<_>>());
        own.push((instant.clone(), found));
    }
    set.sort();
    let bit = |c: &Counterfactual| set.iter().position(|s| s == c).map_or(0, |at| 1 << at);
    let of = own.into_iter().map(|(i, found)| (i, found.iter().map(bit).sum())).collect();
    Explained { instead: vec![Vec::new(); set.len()], of, set }
}

/// The smallest set of candidates that clears all instants. Of equals the first by what its members are, in the order of the
/// candidates; whose they are counts last, because drivers and parties are numbered as they are drawn. `None` also where the
/// lab is spent before one is found.
fn smallest(
    lab: &mut Lab,
    instants: &[&Instant],
    candidates: &[Counterfactual],
) -> Option<Vec<Counterfactual>> {
    let sort = |at: usize| candidates.iter().position(|c| c.cause() == candidates[at].cause());
    let sorts: Vec<Option<usize>> = (0..candidates.len()).map(sort).collect();
    // The instant that refuted the last set is tried first on the next.
    let mut hardest = 0;
    for size in 1..=MOST_CHANGES.min(candidates.len()) {
        if lab.is_spent() {
            return None;
        }
        let mut all: Vec<Vec<usize>> = vec![(0..size).collect()];
        let mut next = all[0].clone();
        while advance(&mut next, candidates.len()) {
            all.push(next.clone());
        }
        // Stable: sets of one sort stay in their order.
        all.sort_by_cached_key(|set| set.iter().map(|&at| sorts[at]).collect::<Vec<_>>());
        for chosen in all {
            if lab.is_spent() {
                return None;
            }
            let set: Vec<Counterfactual> = chosen.iter().map(|&at| candidates[at]).collect();
            let order =
                std::iter::once(hardest).chain((0..instants.len()).filter(|&at| at != hardest));
            match order.into_iter().find(|&at| !lab.clears(instants[at], &set)) {
                None => return Some(set),
                Some(refuted) => hardest = refuted,
            }
        }
    }
    None
}

/// The next combination of indices below `count`, in lexicographic order; false after the last.
fn advance(chosen: &mut [usize], count: usize) -> bool {
    let size = chosen.len();
    for at in (0..size).rev() {
        if chosen[at] < count - (size - at) {
            chosen[at] += 1;
            for next in at + 1..size {
                chosen[next] = chosen[next - 1] + 1;
            }
            return true;
        }
    }
    false
}

/// The smallest part of a set that clears an instant, as bits. An instant belongs to a polarity only if every driver
/// that carries its conflict drives there as set.
fn belongs(lab: &mut Lab, instant: &Instant, set: &[Counterfactual]) -> u32 {
    let carrying = lab.outcome(instant, &[]).map(|o| o.carrying).unwrap_or_default();
    let idle = |at: &DriverIx| !instant.drives[*at];
    let is_polarity = |c: &Counterfactual| c.cause() == Cause::Polarity;
    let allowed: Vec<usize> = (0..set.len())
        .filter(|&at| !(is_polarity(&set[at]) && carrying.iter().any(idle)))
        .collect();
    let part = |bits: u32| -> Vec<Counterfactual> {
        (0..set.len()).filter(|at| bits >> at & 1 == 1).map(|at| set[at]).collect()
    };
    let all = 1_u32 << set.len();
    let mut parts: Vec<u32> = (1..all).collect();
    parts.sort_by_key(|bits| (bits.count_ones(), bits.reverse_bits() ^ u32::MAX));
    let within = |bits: u32| (0..set.len()).all(|at| bits >> at & 1 == 0 || allowed.contains(&at));
    let found = parts.iter().copied().filter(|&bits| within(bits));
    let found = found.into_iter().find(|&bits| lab.clears(instant, &part(bits)));
    found
        .or_else(|| parts.iter().copied().find(|&bits| lab.clears(instant, &part(bits))))
        .unwrap_or(all - 1)
}
