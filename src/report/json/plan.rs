//! A plan as a document.

use std::fmt;

use serde::ser::{Serialize, SerializeMap, Serializer};

use super::{SCHEMA, shown_as};
use crate::cure::sentences;
use crate::findings::{Class, Report};
use crate::job::{Job, work};
use crate::layout::Layout;
use crate::planning::{Audited, Finished, Planned, Reversing, Turned, Wishes};

/// A plan of one layout as a document.
pub struct PlanDocument<'a> {
    file: &'a str,
    layout: &'a Layout,
    planned: &'a Planned,
    wishes: &'a Wishes,
    after: &'a Report,
}

/// A plan of one layout as a document; `layout` is the one before it.
pub fn plan_document<'a>(
    file: &'a str,
    layout: &'a Layout,
    finished: &'a Finished,
    wishes: &'a Wishes,
) -> PlanDocument<'a> {
    PlanDocument { file, layout, planned: &finished.planned, wishes, after: &finished.report }
}

impl fmt::Display for PlanDocument<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        shown_as(self, f)
    }
}

/// One job of a plan.
#[derive(serde::Serialize)]
struct Step {
    edit: String,
    reason: String,
    cost_min: u32,
}

/// A reversing section of a plan.
#[derive(serde::Serialize)]
struct Section<'a> {
    name: &'a str,
    ends_apart_mm: Option<f64>,
    turned: &'static str,
}

impl<'a> Section<'a> {
    fn of(section: &'a Reversing) -> Section<'a> {
        let turned = match section.turned {
            Turned::ByItself => "by-itself",
            Turned::BySwitch => "by-switch",
            Turned::AsNow => "as-now",
        };
        Section { name: &section.name, ends_apart_mm: section.apart_mm, turned }
    }
}

impl Serialize for PlanDocument<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let PlanDocument { file, layout, planned, wishes, after } = *self;
        let jobs: Vec<Job> = planned.jobs.iter().map(|(job, _)| job.clone()).collect();
        let steps: Vec<Step> = sentences(layout, &jobs)
            .into_iter()
            .zip(&planned.jobs)
            .map(|(edit, (job, reason))| Step {
                edit,
                reason: reason.clone(),
                cost_min: job.work().minutes,
            })
            .collect();
        let faults = after.findings.iter().filter(|f| f.class == Class::Fault);
        let faults: Vec<String> = faults.map(|f| f.id().to_string()).collect();
        let apart: Vec<&str> = wishes.apart.iter().map(|s| s.name.as_str()).collect();
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("schema", &SCHEMA)?;
        map.serialize_entry("file", file)?;
        map.serialize_entry("layout", &layout.name)?;
        map.serialize_entry("apart", &apart)?;
        map.serialize_entry("steps", &steps)?;
        map.serialize_entry("cost_min", &work(&jobs).minutes)?;
        map.serialize_entry("rail_cuts", &planned.rail_cuts)?;
        map.serialize_entry("wires", &planned.wires)?;
        map.serialize_entry("new_drivers", &planned.drivers)?;
        map.serialize_entry("new_reversers", &planned.reversers)?;
        let sections: Vec<Section> = planned.sections.iter().map(Section::of).collect();
        map.serialize_entry("reversing_sections", &sections)?;
        map.serialize_entry("run_together", &planned.shared)?;
        map.serialize_entry("sections_proved", &planned.sections_proved)?;
        map.serialize_entry("fewest_by_labels", &planned.fewest_by_labels)?;
        map.serialize_entry("verdict", &after.verdict)?;
        map.serialize_entry("faults", &faults)?;
        map.end()
    }
}

/// What each cut of a layout is there for, as a document.
pub struct AuditDocument<'a> {
    file: &'a str,
    layout: &'a Layout,
    audited: &'a [Audited],
}

/// What each cut of a layout is there for, as a document.
pub fn audit_document<'a>(
    file: &'a str,
    layout: &'a Layout,
    audited: &'a [Audited],
) -> AuditDocument<'a> {
    AuditDocument { file, layout, audited }
}

impl fmt::Display for AuditDocument<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        shown_as(self, f)
    }
}

/// One cut of an audit.
#[derive(serde::Serialize)]
struct AuditedCut<'a> {
    cut: String,
    name: &'a str,
    needed: bool,
    breaks: &'a [String],
}

impl<'a> AuditedCut<'a> {
    fn of(audited: &'a Audited) -> AuditedCut<'a> {
        AuditedCut {
            cut: audited.cut.to_string(),
            name: &audited.name,
            needed: !audited.breaks.is_empty(),
            breaks: &audited.breaks,
        }
    }
}

impl Serialize for AuditDocument<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let cuts: Vec<AuditedCut> = self.audited.iter().map(AuditedCut::of).collect();
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("schema", &SCHEMA)?;
        map.serialize_entry("file", self.file)?;
        map.serialize_entry("layout", &self.layout.name)?;
        map.serialize_entry("cuts", &cuts)?;
        map.end()
    }
}
