//! Decisions on findings: kept through new names, looked at again where their ground has changed.

use gapwright::findings::{check, decision_on, decisions_past, ground, ground_changed};
use gapwright::layout::{Decision, DecisionId, Edit};

use super::support::yards::{edited, yard};

#[test]
fn a_decision_keeps_its_finding_through_a_new_name_and_says_when_the_current_has_changed() {
    let swapped =
        yard(r#"(id: "f2", driver: "d2", run: "r1", at_mm: 1700, p: Left, m: Right, ohm: 0.35)"#);
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
        Edit::Replace(gapwright::layout::Label { name: "Quay".into(), ..label }.into()),
    );
    let now = check(&renamed);
    let same = now.findings.iter().find(|f| f.id() == finding.id()).unwrap();
    let found = decision_on(&renamed, &same.id()).unwrap();
    assert_eq!((found.owner.as_str(), ground_changed(found, same)), ("Ada", false));
    // Thinner wires: less current, another ground.
    let feed = renamed.feeds.values().next_back().unwrap().clone();
    let thin =
        gapwright::layout::Feed { ohm: Some(gapwright::layout::Quantity::given(2.0)), ..feed };
    let thin = edited(&renamed, Edit::Replace(thin.into()));
    let now = check(&thin);
    let same = now.findings.iter().find(|f| f.id() == finding.id()).unwrap();
    assert!(ground_changed(decision_on(&thin, &same.id()).unwrap(), same));
    // Cured: the decision stays, as one on something past.
    let cured = edited(&thin, Edit::Swap { feed: gapwright::layout::FeedId(2) });
    assert_eq!(decisions_past(&cured, &check(&cured)).len(), 1);
    assert_eq!(decisions_past(&thin, &now).len(), 0);
}
