//! Looking into reports.

use gapwright::findings::{Class, CutReport, Finding, Kind, Report, Verdict};
use gapwright::layout::CutId;

pub fn of_kind(report: &Report, kind: Kind) -> Vec<&Finding> {
    report.findings.iter().filter(|f| f.kind == kind).collect()
}

pub fn cut(report: &Report, id: CutId) -> &CutReport {
    report.cuts.iter().find(|c| c.id == id).unwrap()
}

/// The one finding of a kind, checked for class and verdict.
#[track_caller]
pub fn the_one(report: &Report, kind: Kind, class: Class, verdict: Verdict) -> &Finding {
    let mut found = of_kind(report, kind);
    found.retain(|f| (f.class, f.verdict) == (class, verdict));
    assert_eq!(found.len(), 1, "{kind}: {:#?}", kinds(report));
    found[0]
}

pub fn kinds(report: &Report) -> Vec<(Kind, Class, Verdict)> {
    report.findings.iter().map(|f| (f.kind, f.class, f.verdict)).collect()
}
