//! Findings of two reports that are the same one.
//!
//! Findings with one cause are told as one, so that one more gap gives a rule or a note another identity. It is the same
//! rule all the same. A fault at another set of places is another fault: where it is, is what has to be mended.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use super::identity::FindingId;
use crate::study::{Class, Verdict};

/// The parts of an identity.
pub(super) struct Parts<'a> {
    pub kind: &'a str,
    pub now: bool,
    places: BTreeSet<&'a str>,
    parties: BTreeSet<&'a str>,
}

impl<'a> Parts<'a> {
    pub fn of(id: &'a str) -> Parts<'a> {
        let (id, now) = id.strip_suffix("!now").map_or((id, false), |id| (id, true));
        let id = id.split_once('/').map_or(id, |(id, _)| id);
        let (id, parties) = id.split_once(':').unwrap_or((id, ""));
        let (kind, places) = id.split_once('@').unwrap_or((id, ""));
        let set = |list: &'a str| list.split('+').filter(|part| !part.is_empty()).collect();
        Parts { kind, now, places: set(places), parties: set(parties) }
    }

    /// True if the same take part in both.
    pub fn same_parties(&self, other: &Parts) -> bool {
        self.parties == other.parties
    }

    /// Number of common places, or what takes part where neither has a place.
    pub fn common(&self, other: &Parts) -> usize {
        if self.places.is_empty() && other.places.is_empty() {
            return self.parties.intersection(&other.parties).count();
        }
        self.places.intersection(&other.places).count()
    }
}

/// A finding as far as it matters here: its identity, its class, and its verdict where another verdict makes another
/// finding of it.
pub type Told = (FindingId, Class, Option<Verdict>);

/// Pairs of an old and a new finding (indices) that are the same one: of the same identity, class and verdict; else rules
/// and notes of the same kind, those first that have most places in common. Each finding is in one pair at most.
pub fn same_in_both(old: &[Told], new: &[Told]) -> Vec<(usize, usize)> {
    let by_id: BTreeMap<&FindingId, usize> =
        new.iter().enumerate().map(|(n, told)| (&told.0, n)).collect();
    let same = |(n, told): (usize, &Told)| {
        let other = *by_id.get(&told.0)?;
        ((told.1, told.2) == (new[other].1, new[other].2)).then_some((n, other))
    };
    let mut pairs: Vec<(usize, usize)> = old.iter().enumerate().filter_map(same).collect();
    let (taken_old, taken_new): (BTreeSet<usize>, BTreeSet<usize>) = pairs.iter().copied().unzip();
    let left = |list: &[Told], taken: &BTreeSet<usize>| -> Vec<usize> {
        let free = |n: &usize| !taken.contains(n) && list[*n].1 != Class::Fault;
        (0..list.len()).filter(free).collect()
    };
    let mut near = Vec::new();
    for a in left(old, &taken_old) {
        let one = Parts::of(old[a].0.as_str());
        for b in left(new, &taken_new) {
            let other = Parts::of(new[b].0.as_str());
            let alike = (one.kind, one.now, old[a].1) == (other.kind, other.now, new[b].1);
            let common = if alike { one.common(&other) } else { 0 };
            if common > 0 {
                // Equals are parted by what they are called, the same way from both sides.
                let mut called = [&old[a].0, &new[b].0];
                called.sort();
                near.push(((Reverse(common), called), a, b));
            }
        }
    }
    pairs.extend(nearest(near));
    pairs.sort_unstable();
    pairs
}

/// Pairs of two lists from candidates with a rank: the first by rank, then by place; each thing is in one pair at most.
pub fn nearest<R: Ord, T: Ord + Copy>(mut candidates: Vec<(R, T, T)>) -> Vec<(T, T)> {
    candidates.sort();
    let (mut taken, mut taken_too) = (BTreeSet::new(), BTreeSet::new());
    let mut pairs = Vec::new();
    for (_, one, other) in candidates {
        if !taken.contains(&one) && !taken_too.contains(&other) {
            taken.insert(one);
            taken_too.insert(other);
            pairs.push((one, other));
        }
    }
    pairs
}
