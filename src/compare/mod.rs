//! Two designs of one layout: findings mended, made and kept, and the work from one to the other, step by step.
//!
//! Things are matched by identity, place, shape and name; findings by identity, rules and notes also by the places that they
//! have in common. The order of the steps is proved: each layout on the way is checked, and a step is taken only while no
//! fault stands after it that neither design has; where no step is like that, the one that makes fewest is taken and said
//! to be.

mod crossings;
mod matching;
mod work;

pub use crossings::{Cell, Crossings, Passer, Row};
pub use matching::{Corrections, Matched, matched};
pub use work::{Step, steps};

use std::collections::BTreeSet;

use crate::findings::{Class, Finding, Memo, Report, Study, Told, report_of, same_in_both};
use crate::layout::{EntityId, Layout};

/// A comparison of two designs.
pub struct Comparison {
    /// The new design under the identities of the old one.
    pub design: Layout,
    /// Things taken for the same under two identities, by place or name: old, new.
    pub matched: Vec<(EntityId, EntityId)>,
    /// The report of the old design.
    pub old: Report,
    /// The report of the new one.
    pub new: Report,
    /// The work, in order.
    pub steps: Vec<Step>,
    /// Indices of the findings that both designs have.
    pairs: Vec<(usize, usize)>,
}

impl Comparison {
    /// Compares two designs, their things matched without corrections.
    pub fn of(old: &Layout, new: &Layout) -> Comparison {
        let matched = matched(old, new, &Corrections::default());
        // Without corrections nothing can be wrong with them; what cannot be matched is compared as it is.
        let matched = matched.unwrap_or_else(|_| Matched { new: new.clone(), pairs: Vec::new() });
        Comparison::from(&Study::of(old, &Memo::default()), matched)
    }

    /// Compares a design that is studied with a new one that is matched with it.
    pub fn from(old: &Study, Matched { new: design, pairs: matched }: Matched) -> Comparison {
        let later = old.revised(design.clone());
        let (before, after) = (report_of(old), report_of(&later));
        let pairs = same_in_both(&told(&before), &told(&after));
        Comparison { design, matched, old: before, new: after, steps: steps(old, &later), pairs }
    }

    /// Every vehicle and train against every gap, in both designs.
    pub fn crossings(&self) -> Crossings {
        Crossings::of(&self.old, &self.new)
    }

    /// Findings of the old design that the new one does not have.
    pub fn mended(&self) -> Vec<&Finding> {
        let kept: BTreeSet<usize> = self.pairs.iter().map(|pair| pair.0).collect();
        without(&self.old, &kept)
    }

    /// Findings of the new design that the old one does not have.
    pub fn made(&self) -> Vec<&Finding> {
        let kept: BTreeSet<usize> = self.pairs.iter().map(|pair| pair.1).collect();
        without(&self.new, &kept)
    }

    /// Findings of the new design that the old one has too.
    pub fn kept(&self) -> Vec<&Finding> {
        self.pairs.iter().filter_map(|(_, n)| self.new.findings.get(*n)).collect()
    }

    /// Duration of the work, min.
    pub fn minutes(&self) -> u32 {
        self.steps.iter().map(|step| step.minutes).sum()
    }

    /// The order of the steps as a sentence: safe, or what to do where it is not.
    pub fn order_words(&self) -> &'static str {
        if self.is_safe() {
            "In this order no step makes a fault that neither design has; each was checked."
        } else {
            "There is no order in which no step makes a new fault. Where a step makes one, run no train and keep the \
             supplies off until the next steps are done."
        }
    }

    /// True if on the way no fault stands that neither design has.
    pub fn is_safe(&self) -> bool {
        self.steps.iter().all(|step| step.makes.is_empty())
    }
}

/// The findings of a report as far as they are matched.
pub fn told(report: &Report) -> Vec<Told> {
    // A fault of another verdict is another fault: a caution that becomes a short is made.
    let told = |f: &Finding| (f.id(), f.class, Some(f.verdict).filter(|_| f.class == Class::Fault));
    report.findings.iter().map(told).collect()
}

fn without<'a>(report: &'a Report, kept: &BTreeSet<usize>) -> Vec<&'a Finding> {
    let findings = report.findings.iter().enumerate();
    findings.filter(|(n, _)| !kept.contains(n)).map(|(_, finding)| finding).collect()
}
