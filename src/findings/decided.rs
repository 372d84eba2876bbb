//! Decisions on findings: found by the finding's identity, and whether their ground still holds.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use super::matching::{Parts, nearest};
use super::units::amps;
use super::{Class, Finding, Report};
use crate::layout::{Decided, Decision, DecisionId, Layout, capital, shown};

/// The decisions of a layout, each with its finding in a report.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Decisions {
    /// The decision on a finding, by the finding's index in the report.
    of: BTreeMap<usize, DecisionId>,
    /// Decisions on findings that the report does not have, and all but the first on one finding.
    past: Vec<DecisionId>,
}

impl Decisions {
    /// Finds the finding of each decision: the one of the same identity, else the one of the same kind with which it has
    /// most places in common; a fault only if the same take part in it. Findings of one cause are told as one, so that one more gap makes another identity of it.
    pub fn of(layout: &Layout, report: &Report) -> Decisions {
        let mut found = Decisions::default();
        if layout.decisions.is_empty() {
            return found;
        }
        let ids: Vec<String> = report.findings.iter().map(|f| f.id().to_string()).collect();
        let by_id: BTreeMap<&str, usize> =
            ids.iter().enumerate().map(|(n, id)| (id.as_str(), n)).collect();
        let mut left: Vec<&Decision> = Vec::new();
        for decision in layout.decisions.values() {
            match by_id.get(decision.finding.as_str()) {
                Some(&n) if !found.of.contains_key(&n) => drop(found.of.insert(n, decision.id)),
                Some(_) => found.past.push(decision.id),
                None => left.push(decision),
            }
        }
        let parts: Vec<Parts> = ids.iter().map(|id| Parts::of(id)).collect();
        let mut of_kind: BTreeMap<(&str, bool), Vec<usize>> = BTreeMap::new();
        for (n, part) in parts.iter().enumerate() {
            of_kind.entry((part.kind, part.now)).or_default().push(n);
        }
        let mut near = Vec::new();
        for (at, decision) in left.iter().enumerate() {
            let part = Parts::of(&decision.finding);
            let alike = of_kind.get(&(part.kind, part.now)).map_or(&[][..], Vec::as_slice);
            for &n in alike.iter().filter(|n| !found.of.contains_key(n)) {
                // A fault of others is another fault.
                let fault = report.findings[n].class == Class::Fault;
                let common = parts[n].common(&part);
                if common > 0 && (!fault || parts[n].same_parties(&part)) {
                    near.push((Reverse(common), at, n));
                }
            }
        }
        let mut placed = BTreeSet::new();
        for (at, n) in nearest(near) {
            placed.insert(at);
            found.of.insert(n, left[at].id);
        }
        let unplaced = (0..left.len()).filter(|at| !placed.contains(at));
        found.past.extend(unplaced.map(|at| left[at].id));
        found.past.sort_unstable();
        found
    }

    /// The decision on a finding of the report.
    pub fn on<'l>(&self, layout: &'l Layout, finding: usize) -> Option<&'l Decision> {
        layout.decisions.get(self.of.get(&finding)?)
    }

    /// Decisions without a finding: it is cured, or what it was about is gone, or it has another decision.
    pub fn past<'l>(&self, layout: &'l Layout) -> Vec<&'l Decision> {
        self.past.iter().filter_map(|id| layout.decisions.get(id)).collect()
    }
}

/// The verdict of a fault, or the word for another class.
pub fn weight(finding: &Finding) -> &'static str {
    match finding.class {
        Class::Fault => finding.verdict.plain(),
        Class::Rule => "operating rule",
        Class::Note => "note",
    }
}

/// Ground of a decision, such as `short, 9.7 A at 4 places`: a decision that was made on other grounds is to be looked at
/// again.
pub fn ground(finding: &Finding) -> String {
    let mut words = weight(finding).to_owned();
    // The current of a note harms nothing.
    let situation = finding.situation().filter(|_| finding.class != Class::Note);
    if let Some(peak) = situation.map(|s| s.peak_a()).filter(|peak| *peak > 0.0) {
        words = format!("{words}, {}", amps(peak));
    }
    if finding.places.len() > 1 {
        words = format!("{words} at {} places", finding.places.len());
    }
    words
}

/// Reason to look at a decision again, a sentence; `None` if it holds.
pub fn again(decision: &Decision, finding: &Finding) -> Option<String> {
    let now = ground(finding);
    if !decision.ground.is_empty() && decision.ground != now {
        let then = shown(&decision.ground);
        return Some(format!(
            "The ground has changed since: it was \"{then}\" and is \"{now}\". Decide again."
        ));
    }
    (decision.state == Decided::Done)
        .then(|| "It is noted as done, and the check still finds it.".to_owned())
}

/// The state of a decision, with its owner and its date, as they are shown.
pub fn state_words(decision: &Decision) -> String {
    let state = capital(decision.state.word());
    let owner = shown(decision.owner.trim()).into_owned();
    let date = shown(decision.date.trim()).into_owned();
    let parts = [state, owner, date].into_iter().filter(|part| !part.is_empty());
    parts.collect::<Vec<_>>().join(", ")
}

/// Subject of a decision, as it is shown: the headline of its finding, else the identity.
pub fn about_words(decision: &Decision) -> String {
    match decision.said.trim() {
        "" => shown(&decision.finding).into_owned(),
        said => shown(said).into_owned(),
    }
}
