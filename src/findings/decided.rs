//! Decisions on findings: found by the finding's identity, and whether their ground still holds.

use super::units::amps;
use super::{Class, Finding, FindingId, Report};
use crate::layout::{Decision, Layout, capital, shown};

/// The decision on a finding. Of several in a file the first counts.
pub fn decision_on<'l>(layout: &'l Layout, id: &FindingId) -> Option<&'l Decision> {
    layout.decisions.values().find(|decision| decision.finding == id.as_str())
}

/// How a finding counts, such as `short, 9.7 A`: a decision that was made on other grounds is to be looked at again.
pub fn ground(finding: &Finding) -> String {
    let word = match finding.class {
        Class::Fault => finding.verdict.plain(),
        Class::Rule => "operating rule",
        Class::Note => "note",
    };
    match finding.situation().map(|situation| situation.peak_a()) {
        Some(peak) if peak > 0.0 => format!("{word}, {}", amps(peak)),
        _ => word.to_owned(),
    }
}

/// Whether a finding counts otherwise now than when it was decided on.
pub fn ground_changed(decision: &Decision, finding: &Finding) -> bool {
    !decision.ground.is_empty() && decision.ground != ground(finding)
}

/// Decisions on findings that the report does not have: they are cured, or what they were about is gone.
pub fn decisions_past<'l>(layout: &'l Layout, report: &Report) -> Vec<&'l Decision> {
    let there: Vec<FindingId> = report.findings.iter().map(Finding::id).collect();
    let past = |decision: &&Decision| !there.iter().any(|id| decision.finding == id.as_str());
    layout.decisions.values().filter(past).collect()
}

/// The state of a decision, with its owner and its date, as they are shown.
pub fn state_words(decision: &Decision) -> String {
    let state = capital(decision.state.word());
    let owner = shown(decision.owner.trim()).into_owned();
    let date = shown(decision.date.trim()).into_owned();
    let parts = [state, owner, date].into_iter().filter(|part| !part.is_empty());
    parts.collect::<Vec<_>>().join(", ")
}
