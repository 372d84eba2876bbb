//! Tests of every kind alike: a small layout that gives a finding, its twin one edit away that gives none, and what must be
//! said.

use std::collections::BTreeSet;

use super::yards::{kinds, of_kind};
use super::{Class, Found, Kind, Verdict, check, table, units::Units, words};
use crate::layout::Layout;

/// A layout that gives one finding of a kind and class, and its twin that gives none of that kind.
pub struct Pair {
    /// The layout.
    pub with: Layout,
    /// The layout after one edit.
    pub twin: Layout,
    /// How the finding counts.
    pub class: Class,
    /// Its weight.
    pub verdict: Verdict,
    /// Largest current in a leg, A, where the finding has a situation. Derived by hand beside the fixture.
    pub peak_a: Option<f64>,
    /// Its cuts.
    pub cuts: &'static [u32],
    /// Number of blocks concerned.
    pub blocks: usize,
    /// Its headline.
    pub says: &'static str,
}

#[test]
fn every_kind_has_a_layout_that_gives_it_and_a_twin_that_does_not() {
    let mut wrong: Vec<String> = Vec::new();
    for &kind in Kind::ALL {
        let pairs = table::pairs(kind);
        // That a search was broken off needs a layout too large for a fixture: the search has tests of its own. What no
        // change explains is not known to occur.
        let unusual = matches!(kind, Kind::SearchNotExhausted | Kind::NotExplained);
        if pairs.is_empty() && !unusual {
            wrong.push(format!("{kind}: no pair"));
        }
        wrong.extend(pairs.iter().flat_map(|pair| faults(kind, pair)));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_identity_is_unique_in_its_report_and_survives_a_check() {
    for pair in Kind::ALL.iter().flat_map(|&kind| table::pairs(kind)) {
        for layout in [&pair.with, &pair.twin] {
            let report = check(layout);
            let ids: Vec<_> = report.findings.iter().map(Found::id).collect();
            let distinct: BTreeSet<_> = ids.iter().collect();
            assert_eq!(distinct.len(), ids.len(), "{ids:#?}");
            assert!(report.findings.iter().all(|f| f.evidence.kind() == f.kind));
            let again: Vec<_> = check(layout).findings.iter().map(Found::id).collect();
            assert_eq!(again, ids);
        }
    }
}

/// What is not as it must be.
fn faults(kind: Kind, pair: &Pair) -> Vec<String> {
    let report = check(&pair.with);
    let found: Vec<_> =
        of_kind(&report, kind).into_iter().filter(|f| f.class == pair.class).collect();
    let [one] = found[..] else {
        return vec![format!("{kind}: {:?}", kinds(&report))];
    };
    let mut wrong = Vec::new();
    let cuts: Vec<u32> = one.cuts().iter().map(|cut| cut.0).collect();
    if (one.verdict, &cuts[..], one.blocks.len()) != (pair.verdict, pair.cuts, pair.blocks) {
        wrong.push(format!("{kind}: {:?} at {cuts:?}, {} blocks", one.verdict, one.blocks.len()));
    }
    if let Some(expected) = pair.peak_a {
        let peak = one.situation().map(|s| s.peak_a());
        if peak.is_none_or(|peak| (peak - expected).abs() > 0.01) {
            wrong.push(format!("{kind}: {peak:?} A instead of {expected} A"));
        }
    }
    let text = words(one, &report, &pair.with, Units::Metric);
    if text.says != pair.says {
        wrong.push(format!("{kind}: says {:?}", text.says));
    }
    let twin = check(&pair.twin);
    let left: Vec<_> = of_kind(&twin, kind).iter().map(|f| (f.class, f.verdict)).collect();
    if !left.is_empty() {
        wrong.push(format!("{kind}: the twin has {left:?}"));
    }
    wrong
}
