//! Cures of a layout as text.

use std::collections::BTreeSet;
use std::fmt::Write;

use super::text::{item, wrap};
use super::{Tally, Units};
use crate::cure::{Cures, Offer, Surgery, Together};
use crate::findings::{Caution, Class, Finding, FindingId, Kind, Report, titles, words};
use crate::job::{self, Job, Needs};
use crate::layout::shown;

/// A set of cures, and the cures of each fault, for a person. `after` is the report of the layout with the set applied.
pub fn cures_text(
    file: &str,
    surgery: &Surgery,
    cures: &Cures,
    set: &Together,
    after: &Report,
) -> String {
    let mut out = String::new();
    let (layout, report) = (surgery.layout(), surgery.report());
    let name = if layout.name.is_empty() { file } else { &layout.name };
    // Writing to a String cannot fail.
    let _ = writeln!(out, "{} ({})", shown(name), shown(file));
    let faults: Vec<&Finding> =
        report.findings.iter().filter(|f| f.class == Class::Fault).collect();
    let headline = |finding: &Finding| words(finding, report, layout, Units::Metric).says;
    let by_id = |id: &FindingId| report.findings.iter().find(|f| f.id() == *id);
    if faults.is_empty() {
        let _ = writeln!(out, "\nNo fault, so nothing to cure. {}", Tally::of(report).words());
        return out;
    }
    let ended = set.faults_ended(report);
    let _ = match set.work {
        Some(work) => writeln!(
            out,
            "\n{} {} {} of {}, about {} min:",
            counted(set.jobs.len(), "job", "jobs"),
            if set.jobs.len() == 1 { "ends" } else { "end" },
            ended,
            counted(faults.len(), "fault", "faults"),
            work.minutes
        ),
        None => writeln!(
            out,
            "\nNo cure of the {} could be proved.",
            counted(faults.len(), "fault", "faults")
        ),
    };
    for (at, (job, says)) in set.jobs.iter().zip(&set.says).enumerate() {
        let line =
            format!("{}. {says} ({} min, {})", at + 1, job.work().minutes, job.work().needs.word());
        for line in wrap(&shown(&line), 96) {
            let _ = writeln!(out, "  {line}");
        }
    }
    also(&mut out, set, by_makes(&set.makes));
    if !set.jobs.is_empty() {
        let _ = writeln!(out, "\nAfter: {}", Tally::of(after).words());
    }
    if !set.exhaustive {
        let _ = writeln!(out, "Whether a cheaper set does the same was not searched to the end.");
    }
    if !set.leaves.is_empty() {
        let _ = writeln!(out, "\nLeft:");
        for (id, why) in &set.leaves {
            let says = by_id(id).map_or_else(|| id.to_string(), headline);
            item(&mut out, &format!("{says}. {why}"));
        }
    }
    let _ = writeln!(out, "\nCures of each fault, the best first:");
    let mut cautions: BTreeSet<Caution> = BTreeSet::new();
    for finding in faults {
        let text = words(finding, report, layout, Units::Metric);
        let _ = writeln!(out, "\n{}  {}", finding.verdict.word().to_uppercase(), shown(&text.says));
        let Some(of) = cures.of.get(&finding.id()) else { continue };
        for offer in &of.offers {
            item(&mut out, &offer_line(offer, finding));
            cautions.extend(offer.jobs.iter().filter_map(caution));
        }
        if let Some(why) = &of.no_cure {
            item(&mut out, &why.says());
        }
    }
    if !cautions.is_empty() {
        let _ = writeln!(out, "\nTake care:");
        for caution in cautions {
            item(&mut out, caution.line());
        }
    }
    out
}

/// What to mind while doing a job.
fn caution(job: &Job) -> Option<Caution> {
    match job.work().needs {
        Needs::Setting | Needs::Configuration => None,
        Needs::Wires | Needs::Part => Some(Caution::Rewire),
        Needs::Cut => Some(Caution::Saw),
    }
}

/// "1 job", "3 jobs".
fn counted(n: usize, one: &str, more: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { more })
}

/// What a set changes beside what it ends.
fn also(out: &mut String, set: &Together, makes: String) {
    let lines = job::also(&set.jobs);
    if !lines.is_empty() || !makes.is_empty() {
        let _ = writeln!(out, "\nIt also changes:");
    }
    for line in lines {
        item(out, line);
    }
    if !makes.is_empty() {
        item(out, &makes);
    }
}

/// "New, as rules or notes: a, b."
fn by_makes(makes: &[Kind]) -> String {
    match makes {
        [] => String::new(),
        makes => format!("New, as rules or notes: {}.", titles(makes).join(", ")),
    }
}

/// One offer on one line: minutes, what it takes, the jobs, what else it ends and makes.
pub fn offer_line(offer: &Offer, finding: &Finding) -> String {
    let mut line = format!(
        "{} min ({}): {}",
        offer.work.minutes,
        offer.work.needs.word(),
        offer.says.join(" Then: ")
    );
    let others = offer.ends.iter().filter(|id| **id != finding.id()).count();
    if others > 0 {
        let _ = write!(line, " It ends {} more.", counted(others, "finding", "findings"));
    }
    let makes = by_makes(&offer.makes);
    if !makes.is_empty() {
        let _ = write!(line, " {makes}");
    }
    line
}
