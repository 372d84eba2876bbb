//! Decisions on findings: kept through new names and new gaps, looked at again where their ground has changed.

use gapwright::cure::{Surgery, applied};
use gapwright::findings::{Decisions, Memo, Report, Study, again, check, ground};
use gapwright::layout::{
    Decided, Decision, DecisionId, Edit, Feed, FeedId, Label, Layout, Quantity,
};

use super::samples::sample;
use super::support::yards::{edited, yard};

/// A decision on a finding of a report, as the window notes it.
fn on(report: &Report, n: usize, owner: &str) -> Decision {
    let finding = &report.findings[n];
    Decision {
        id: DecisionId(0),
        finding: finding.id().to_string(),
        said: String::new(),
        ground: ground(finding),
        state: Decided::Open,
        decision: String::new(),
        owner: owner.into(),
        date: String::new(),
        lineup: None,
        notes: String::new(),
    }
}

/// The owner of what was decided on a finding, and whether that is to be looked at again.
fn owner(layout: &Layout, report: &Report, n: usize) -> Option<(String, bool)> {
    let decision = Decisions::of(layout, report).on(layout, n)?.clone();
    let again = again(&decision, &report.findings[n]).is_some();
    Some((decision.owner, again))
}

#[test]
fn a_decision_keeps_its_finding_through_a_new_name_and_says_when_the_current_has_changed() {
    let swapped =
        yard(r#"(id: "f2", driver: "d2", run: "r1", at_mm: 1700, p: Left, m: Right, ohm: 0.35)"#);
    let report = check(&swapped);
    let decision = on(&report, 0, "Ada");
    assert!(decision.ground.starts_with("short, "), "{}", decision.ground);
    let noted = edited(&swapped, Edit::Add(decision.into()));
    assert_eq!(check(&noted), report, "the check takes no notice of it");
    let label = noted.labels.values().next().unwrap().clone();
    let renamed = Label { name: "Quay".into(), ..label };
    let renamed = edited(&noted, Edit::Replace(renamed.into()));
    assert_eq!(owner(&renamed, &check(&renamed), 0), Some(("Ada".into(), false)));
    // Thinner wires: less current, another ground.
    let feed = renamed.feeds.values().next_back().unwrap().clone();
    let thin = Feed { ohm: Some(Quantity::given(2.0)), ..feed };
    let thin = edited(&renamed, Edit::Replace(thin.into()));
    assert_eq!(owner(&thin, &check(&thin), 0), Some(("Ada".into(), true)));
    // Cured: the decision stays, as one on something past.
    let cured = edited(&thin, Edit::Swap { feed: FeedId(2) });
    let past = |layout: &Layout| Decisions::of(layout, &check(layout)).past(layout).len();
    assert_eq!((past(&cured), past(&thin)), (1, 0));
}

#[test]
fn what_is_noted_as_done_and_still_found_is_told() {
    let swapped =
        yard(r#"(id: "f2", driver: "d2", run: "r1", at_mm: 1700, p: Left, m: Right, ohm: 0.35)"#);
    let report = check(&swapped);
    let done = Decision { state: Decided::Done, ..on(&report, 0, "Ada") };
    assert!(again(&done, &report.findings[0]).unwrap().contains("still finds it"));
    let accepted = Decision { state: Decided::Accepted, ..done };
    assert_eq!(again(&accepted, &report.findings[0]), None);
}

#[test]
fn a_decision_follows_its_finding_when_that_gets_another_gap_and_another_has_it_no_longer() {
    // The surge of the club is one note at 10 gaps; after a cure it is one at 12.
    let club = sample("club");
    let report = check(&club);
    let surge = report.findings.iter().position(|f| f.id().to_string().starts_with("surge@"));
    let surge = surge.unwrap();
    let noted = edited(&club, Edit::Add(on(&report, surge, "Ben").into()));
    let surgery = Surgery::of(&Study::of(&noted, &Memo::default()));
    let cured = applied(&noted, &surgery.together(&surgery.faults()).jobs).unwrap();
    let after = check(&cured);
    let same = after.findings.iter().position(|f| f.id().to_string().starts_with("surge@"));
    let same = same.unwrap();
    assert_ne!(after.findings[same].id(), report.findings[surge].id(), "it has other gaps");
    assert_eq!(owner(&cured, &after, same), Some(("Ben".into(), true)));
    assert!(Decisions::of(&cured, &after).past(&cured).is_empty());
    // Two decisions on one finding: the first counts, the other is not hidden.
    let twice = edited(&noted, Edit::Add(on(&report, surge, "Cleo").into()));
    let decisions = Decisions::of(&twice, &report);
    assert_eq!(decisions.on(&twice, surge).unwrap().owner, "Ben");
    assert_eq!(decisions.past(&twice)[0].owner, "Cleo");
}

#[test]
fn a_decision_on_a_fault_does_not_go_to_a_fault_of_others_at_the_same_gap() {
    // Both ends of the line clamp because of its own board; then that coasts, and a neighbour's board brakes.
    let club = sample("club");
    let report = check(&club);
    let clamp = report.findings.iter().position(|f| f.id().to_string().starts_with("idle-clamp@"));
    let noted = edited(&club, Edit::Add(on(&report, clamp.unwrap(), "Ben").into()));
    let other = {
        let surgery = Surgery::of(&Study::of(&noted, &Memo::default()));
        let mut layout = applied(&noted, &surgery.together(&surgery.faults()).jobs).unwrap();
        let neighbour = layout.drivers.values_mut().find(|d| d.name == "Marrowgate board").unwrap();
        if let gapwright::layout::Drive::PwmBridge { idle, .. } = &mut neighbour.drive {
            *idle = gapwright::layout::Idle::BrakeLow;
        }
        layout
    };
    let after = check(&other);
    let clamp = after.findings.iter().position(|f| f.id().to_string().starts_with("idle-clamp@"));
    assert_eq!(owner(&other, &after, clamp.unwrap()), None);
    assert_eq!(Decisions::of(&other, &after).past(&other)[0].owner, "Ben");
}
