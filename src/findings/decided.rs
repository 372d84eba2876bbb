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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::{check, yards::*};
    use crate::layout::{DecisionId, Edit};

    #[test]
    fn a_decision_keeps_its_finding_through_a_new_name_and_says_when_the_current_has_changed() {
        let swapped = yard(
            r#"(id: "f2", driver: "d2", run: "r1", at_mm: 1700, p: Left, m: Right, ohm: 0.35)"#,
        );
        let report = check(&swapped);
        let finding = &report.findings[0];
        let decision = Decision {
            id: DecisionId(0),
            finding: finding.id().to_string(),
            said: String::new(),
            ground: ground(finding),
            state: Default::default(),
            decision: String::new(),
            owner: "Ada".into(),
            date: String::new(),
            lineup: None,
            notes: String::new(),
        };
        assert!(decision.ground.starts_with("short, "), "{}", decision.ground);
        let noted = edited(&swapped, Edit::Add(decision.into()));
        assert_eq!(check(&noted).findings, report.findings, "the check takes no notice of it");
        let label = noted.labels.values().next().unwrap().clone();
        let renamed = edited(
            &noted,
            Edit::Replace(crate::layout::Label { name: "Quay".into(), ..label }.into()),
        );
        let now = check(&renamed);
        let same = now.findings.iter().find(|f| f.id() == finding.id()).unwrap();
        let found = decision_on(&renamed, &same.id()).unwrap();
        assert_eq!((found.owner.as_str(), ground_changed(found, same)), ("Ada", false));
        // Thinner wires: less current, another ground.
        let feed = renamed.feeds.values().next_back().unwrap().clone();
        let thin = crate::layout::Feed { ohm: Some(crate::layout::Quantity::given(2.0)), ..feed };
        let thin = edited(&renamed, Edit::Replace(thin.into()));
        let now = check(&thin);
        let same = now.findings.iter().find(|f| f.id() == finding.id()).unwrap();
        assert!(ground_changed(decision_on(&thin, &same.id()).unwrap(), same));
        // Cured: the decision stays, as one on something past.
        let cured = edited(&thin, Edit::Swap { feed: crate::layout::FeedId(2) });
        assert_eq!(decisions_past(&cured, &check(&cured)).len(), 1);
        assert_eq!(decisions_past(&thin, &now).len(), 0);
    }
}
