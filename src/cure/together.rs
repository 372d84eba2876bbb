//! The cheapest set of cures that ends all faults.

use std::collections::{BTreeSet, BinaryHeap};

use super::prove::{sound, without_needless};
use super::{Cures, Offers, Surgery};
use crate::findings::{Class, FindingId, Kind};
use crate::job::{Job, Work, work};

/// Sets of jobs that are looked at.
const MOST_LOOKED_AT: usize = 200_000;
/// Sets that are checked.
const MOST_SETS_CHECKED: usize = 40;
/// Rounds: faults that no cure ends as the layout is are tried again on the layout after the set so far.
const MOST_ROUNDS: usize = 4;

/// The cheapest set of jobs that ends the faults which can be ended.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Together {
    /// The jobs, in order.
    pub jobs: Vec<Job>,
    /// The same as sentences.
    pub says: Vec<String>,
    /// The cost.
    pub work: Option<Work>,
    /// Findings that the set ends.
    pub ends: Vec<FindingId>,
    /// Faults that are left, each with the reason in words.
    pub leaves: Vec<(FindingId, String)>,
    /// Kinds of rules and notes that are new after it.
    pub makes: Vec<Kind>,
    /// True if no cheaper set of offered cures ends as many faults.
    pub exhaustive: bool,
    /// Layouts that were checked.
    pub checked: usize,
}

/// A set of jobs on the way: what it costs, how many faults are dealt with, and the jobs.
struct Set {
    work: Work,
    jobs: Vec<Job>,
    ended: BTreeSet<usize>,
}

impl PartialEq for Set {
    fn eq(&self, other: &Set) -> bool {
        self.order() == other.order()
    }
}
impl Eq for Set {}
impl PartialOrd for Set {
    fn partial_cmp(&self, other: &Set) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Set {
    /// The cheapest is the greatest, for a heap; of equal cost the one that ends more.
    fn cmp(&self, other: &Set) -> std::cmp::Ordering {
        other.order().cmp(&self.order())
    }
}

impl Set {
    fn order(&self) -> (Work, std::cmp::Reverse<usize>) {
        (self.work, std::cmp::Reverse(self.ended.len()))
    }
}

impl Surgery {
    /// The cheapest set of the offered cures that ends all faults that an offer ends. The set is checked as a whole; where
    /// it fails the next one is taken. Then the faults that are left are tried on the layout after it.
    pub fn together(&self, cures: &Cures) -> Together {
        let mut out = self.one_round(cures);
        for _ in 1..MOST_ROUNDS {
            let spent = out.checked + cures.checked >= self.most_checked();
            if out.leaves.is_empty() || spent || !self.go_on(&mut out) {
                break;
            }
        }
        out
    }

    /// A further round on the layout after the set so far. False if it ends nothing more.
    fn go_on(&self, out: &mut Together) -> bool {
        let Ok(study) = self.after(&out.jobs) else { return false };
        let next = Surgery::of(&study);
        let cures = next.faults();
        let more = next.one_round(&cures);
        out.checked += cures.checked + more.checked;
        if more.jobs.is_empty() {
            return false;
        }
        let mut jobs = out.jobs.clone();
        jobs.extend(more.jobs);
        out.checked += 1;
        // What the round makes worse than it was at the start is not worth it.
        let Some(tried) = sound(self, &jobs) else { return false };
        out.exhaustive = false;
        out.says = super::sentences(self.layout(), &jobs);
        out.work = Some(work(&jobs));
        (out.jobs, out.ends, out.makes, out.leaves) = (jobs, tried.ends, tried.makes, more.leaves);
        true
    }

    fn one_round(&self, cures: &Cures) -> Together {
        let faults: Vec<FindingId> = super::compare::faults(&self.report.findings);
        let offers: Vec<Option<&Offers>> = faults.iter().map(|id| cures.of.get(id)).collect();
        let curable: Vec<usize> = (0..faults.len())
            .filter(|&at| offers[at].is_some_and(|of| !of.offers.is_empty()))
            .collect();
        let reason = |at: usize| {
            let why = offers[at].and_then(|of| of.no_cure.as_ref());
            (faults[at].clone(), why.map_or_else(String::new, |why| why.says()))
        };
        let mut out = Together {
            leaves: (0..faults.len()).filter(|at| !curable.contains(at)).map(reason).collect(),
            exhaustive: cures.exhaustive,
            ..Together::default()
        };
        if curable.is_empty() {
            return out;
        }
        let mut heap = BinaryHeap::new();
        heap.push(Set { work: work(&[]), jobs: Vec::new(), ended: BTreeSet::new() });
        let mut looked_at = 0;
        while let Some(set) = heap.pop() {
            looked_at += 1;
            if looked_at > MOST_LOOKED_AT
                || out.checked >= MOST_SETS_CHECKED.min(self.most_checked())
            {
                out.exhaustive = false;
                break;
            }
            let Some(&next) = curable.iter().find(|at| !set.ended.contains(at)) else {
                out.checked += 1;
                if self.is_sound(&set, &faults, &curable, &mut out) {
                    return out;
                }
                continue;
            };
            // A cure of another fault may end this one too.
            let all = curable.iter().filter_map(|&at| offers[at]).flat_map(|of| &of.offers);
            for offer in all.filter(|offer| offer.ends.contains(&faults[next])) {
                let mut jobs = set.jobs.clone();
                jobs.extend(offer.jobs.iter().filter(|job| !set.jobs.contains(job)).cloned());
                let mut ended = set.ended.clone();
                ended.insert(next);
                let ends = curable.iter().filter(|&&at| offer.ends.contains(&faults[at]));
                ended.extend(ends);
                heap.push(Set { work: work(&jobs), jobs, ended });
            }
        }
        self.as_far_as_it_goes(cures, &faults, &curable, &mut out);
        out
    }

    /// Checks a set as a whole and takes it over if it ends what it is to end.
    fn is_sound(
        &self,
        set: &Set,
        faults: &[FindingId],
        curable: &[usize],
        out: &mut Together,
    ) -> bool {
        let ends = |tried: &super::prove::Tried| {
            curable.iter().all(|&at| tried.ends.contains(&faults[at]))
        };
        if !sound(self, &set.jobs).is_some_and(|tried| ends(&tried)) {
            return false;
        }
        // Two cures may do more together than each is there for.
        let jobs = without_needless(self, set.jobs.clone(), &mut out.checked, ends);
        let Some(tried) = sound(self, &jobs) else { return false };
        out.says = super::sentences(self.layout(), &jobs);
        out.work = Some(work(&jobs));
        out.leaves.retain(|(id, _)| !tried.ends.contains(id));
        (out.jobs, out.ends, out.makes) = (jobs, tried.ends, tried.makes);
        true
    }

    /// No set ends all that can be ended: takes cures one by one, as long as they go together.
    fn as_far_as_it_goes(
        &self,
        cures: &Cures,
        faults: &[FindingId],
        curable: &[usize],
        out: &mut Together,
    ) {
        out.exhaustive = false;
        let mut jobs: Vec<Job> = Vec::new();
        let mut ends: Vec<FindingId> = Vec::new();
        for &at in curable {
            if ends.contains(&faults[at]) {
                continue;
            }
            for offer in cures.of.get(&faults[at]).map_or(&[][..], |of| &of.offers[..]) {
                let mut more = jobs.clone();
                more.extend(offer.jobs.iter().filter(|job| !jobs.contains(job)).cloned());
                out.checked += 1;
                let Some(tried) = sound(self, &more) else { continue };
                let keeps = ends.iter().all(|id| tried.ends.contains(id));
                if keeps && tried.ends.contains(&faults[at]) {
                    (jobs, ends, out.makes) = (more, tried.ends, tried.makes);
                    break;
                }
            }
        }
        let left = curable.iter().filter(|&&at| !ends.contains(&faults[at]));
        out.leaves.extend(left.map(|&at| {
            (faults[at].clone(), "Its cures do not go together with those of other faults.".into())
        }));
        out.says = super::sentences(self.layout(), &jobs);
        out.work = (!jobs.is_empty()).then(|| work(&jobs));
        (out.jobs, out.ends) = (jobs, ends);
    }
}

impl Together {
    /// Faults of a report that the set ends.
    pub fn faults_ended(&self, report: &crate::findings::Report) -> usize {
        let faults = report.findings.iter().filter(|f| f.class == Class::Fault);
        faults.filter(|f| self.ends.contains(&f.id())).count()
    }
}
