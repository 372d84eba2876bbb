//! Cause law: the changes that prove a cause, made to the layout, take the finding away. Advice law: following the advice
//! makes nothing worse at that place.

use gapwright::findings::{Class, Finding, Kind, Place, Report, Verdict, check_apart};
use gapwright::layout::{Layout, apply};

use crate::support::dice::Dice;

/// The layout after all changes that prove a finding's cause; `None` if there is none, or one of them is no edit.
fn cured(layout: &Layout, finding: &Finding) -> Option<Layout> {
    // What ends a conflict of settings that disagree is another setting.
    if finding.kind == Kind::OpposedPolarity || finding.evidence.changes().is_empty() {
        return None;
    }
    let mut edited = layout.clone();
    for change in finding.evidence.changes() {
        for edit in change.edits(&edited)? {
            apply(&mut edited, edit).unwrap();
        }
    }
    Some(edited)
}

fn same_finding(a: &Finding, b: &Finding) -> bool {
    let places = |f: &Finding| {
        let mut places: Vec<String> = f.places.iter().map(Place::to_string).collect();
        places.sort();
        places
    };
    let drivers = |f: &Finding| {
        let mut drivers = f.drivers.clone();
        drivers.sort();
        drivers
    };
    a.kind == b.kind && a.now == b.now && places(a) == places(b) && drivers(a) == drivers(b)
}

/// The changes that prove a cause take the finding away.
pub fn cause(layout: &Layout, _: &mut Dice) -> Result<(), String> {
    let mut wrong = Vec::new();
    for finding in &check_apart(layout).findings {
        let Some(edited) = cured(layout, finding) else { continue };
        let after = check_apart(&edited);
        if let Some(still) = after.findings.iter().find(|other| same_finding(finding, other)) {
            wrong.push(format!(
                "- finding {} stays as {:?} {} after {:?}",
                finding.id(),
                still.class,
                still.verdict,
                finding.evidence.causes()
            ));
        }
    }
    if wrong.is_empty() { Ok(()) } else { Err(wrong.join("\n")) }
}

/// The worst fault at a place, whatever is set.
fn worst_at(report: &Report, place: &Place) -> Verdict {
    let here = report.findings.iter().filter(|f| f.class == Class::Fault && !f.now);
    let here = here.filter(|f| f.places.contains(place));
    here.map(|f| f.verdict).max().unwrap_or_default()
}

/// Following an advice makes nothing worse at its place.
pub fn advice(layout: &Layout, _: &mut Dice) -> Result<(), String> {
    let mut wrong = Vec::new();
    let before = check_apart(layout);
    for finding in before.findings.iter().filter(|f| f.class == Class::Fault) {
        let Some(edited) = cured(layout, finding) else { continue };
        let after = check_apart(&edited);
        for place in &finding.places {
            let (was, is) = (worst_at(&before, place), worst_at(&after, place));
            if is > was {
                wrong.push(format!(
                    "- finding {} at {place}: {is} where it was {was}, after {:?}",
                    finding.id(),
                    finding.evidence.causes()
                ));
            }
        }
    }
    if wrong.is_empty() { Ok(()) } else { Err(wrong.join("\n")) }
}
