//! The report as JSON, schema 1. SI units, except lengths in mm.

use serde_json::{Value, json};

use crate::findings::{Report, STAND_IN_MM, words};
use crate::layout::Layout;

use super::Units;

/// Number of the schema. Fields may be added within it; none changes its meaning.
pub const SCHEMA: u32 = 1;

/// One document for one checked file.
pub fn document(file: &str, layout: &Layout, report: &Report) -> Value {
    let findings: Vec<Value> = report
        .findings
        .iter()
        .map(|finding| {
            let words = words(finding, report, layout, Units::Metric);
            json!({
                "id": finding.id(),
                "kind": finding.kind,
                "class": finding.class,
                "verdict": finding.verdict,
                "cuts": finding.cuts().iter().map(ToString::to_string).collect::<Vec<_>>(),
                "blocks": finding.blocks,
                "selectors": finding.selectors(),
                "drivers": finding.drivers,
                "vehicle": finding.vehicle,
                "says": words.says,
                "why": words.why,
                "more": words.more,
                "advice": words.advice,
                "cautions": words.cautions.iter().map(|caution| caution.line()).collect::<Vec<_>>(),
                "cures": [],
            })
        })
        .collect();
    let mut document = json!({
        "schema": SCHEMA,
        "file": file,
        "layout": layout.name,
        "verdict": report.verdict,
        "blocks": report.blocks,
        "cuts": report.cuts,
        "findings": findings,
    });
    if layout.vehicles.is_empty() {
        // Without a vehicle of its own the layout was checked with the tool's stand-in: say so.
        document["stand_in_vehicle"] = json!({ "length_mm": STAND_IN_MM, "axles": 6 });
    }
    document
}
