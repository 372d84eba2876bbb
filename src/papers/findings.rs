//! The findings in full, with what the verdicts assume.

use super::flow::Flow;
use super::table::{Cell, Table};
use super::{Facts, PaperFile, Request, foot, pdf_file, titled};
use crate::drawing::Document;
use crate::findings::{
    Caution, Class, Decisions, Finding, Text, about_words, again, selector_name, state_words,
};
use crate::layout::stated::{Alike, Stated, alike, stated};
use crate::layout::{Decision, and, shown};
use crate::report::left_out;

pub fn make(facts: &Facts, request: &Request) -> Result<Vec<PaperFile>, String> {
    Ok(vec![pdf_file("findings.pdf", &document(facts, request))?])
}

pub(super) fn document(facts: &Facts, request: &Request) -> Document {
    let title = titled("Findings and decisions", facts, request);
    let mut flow = Flow::new(request.paper, &title, &foot(facts, request));
    flow.paragraph(&facts.tally.words());
    let decisions = Decisions::of(facts.layout, &facts.report);
    for (class, heading) in GROUPS {
        let own = || of_class(facts, class);
        if own().next().is_none() {
            continue;
        }
        flow.heading(2, heading);
        for (finding, text) in own() {
            flow.heading(3, &format!("{}: {}", weight(finding), text.says));
            for paragraph in [&text.why, &text.more].into_iter().filter(|words| !words.is_empty()) {
                flow.paragraph(paragraph);
            }
            flow.list(&text.advice, true);
            for line in decided_on(facts, &decisions, finding) {
                flow.paragraph(&line);
            }
        }
    }
    let past = decisions.past(facts.layout);
    if !past.is_empty() {
        flow.heading(2, "Decided, and no longer found");
        for decision in past {
            flow.heading(3, &about_words(decision));
            flow.paragraph(&decided(decision));
        }
    }
    let mut cautions: Vec<Caution> =
        facts.texts.iter().flat_map(|text| text.cautions.iter().copied()).collect();
    cautions.extend([Caution::Power, Caution::Listed]);
    cautions.sort_unstable();
    cautions.dedup();
    flow.cautions(&cautions);
    flow.heading(2, "What the verdicts assume");
    flow.list(ASSUMED, false);
    flow.list(&bounds(facts), false);
    let table = assumed_table(facts);
    if table.rows.is_empty() {
        flow.paragraph("No value of this layout is assumed.");
    } else {
        flow.paragraph(
            "These values are assumed, not measured. A verdict that changes within such a range is called not known.",
        );
        flow.table(&table);
    }
    flow.done()
}

/// The decision on a finding, a paragraph each.
pub(super) fn decided_on(facts: &Facts, decisions: &Decisions, finding: &Finding) -> Vec<String> {
    let at = facts.report.findings.iter().position(|other| std::ptr::eq(other, finding));
    let Some(decision) = at.and_then(|at| decisions.on(facts.layout, at)) else {
        return Vec::new();
    };
    std::iter::once(decided(decision)).chain(again(decision, finding)).collect()
}

/// A decision with its notes.
pub(super) fn decided(decision: &Decision) -> String {
    let state = format!("Decision: {}.", state_words(decision));
    // On paper a note is one paragraph.
    let line = |text: &String| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let texts = [&decision.decision, &decision.notes].map(|text| shown(&line(text)).into_owned());
    let parts = std::iter::once(state).chain(texts).filter(|part| !part.is_empty());
    parts.collect::<Vec<_>>().join(" ")
}

/// The classes of findings, with their headings.
pub(super) const GROUPS: [(Class, &str); 3] =
    [(Class::Fault, "Faults"), (Class::Rule, "Operating rules"), (Class::Note, "Notes")];

/// The findings of a class, worst first.
pub(super) fn of_class<'f>(
    facts: &'f Facts,
    class: Class,
) -> impl Iterator<Item = (&'f Finding, &'f Text)> {
    let all = facts.report.findings.iter().zip(&facts.texts);
    all.filter(move |(finding, _)| finding.class == class)
}

/// The verdict of a fault, or the word for its class.
pub(super) fn weight(finding: &Finding) -> String {
    match finding.class {
        Class::Fault => crate::layout::capital(finding.verdict.plain()),
        Class::Rule => "Rule".to_owned(),
        Class::Note => "Note".to_owned(),
    }
}

/// What holds for every verdict.
pub(super) const ASSUMED: &[&str] = &[
    "Every pair of drivers that wheels can join is tried at every setting that its controls reach, at the corners of the throttles.",
    "Every vehicle of the file stands and rolls over every gap, both ways round, alone and in its trains; without vehicles a \
     long engine with pickups on all wheels stands in.",
    "Currents are those of switches, diodes, supplies, wires and rails, with the vehicle's own load left out of a conflict and \
     its contacts at their lowest resistance.",
    "Wiring is as the file states it. A wire that is connected otherwise makes another layout: ring it out.",
];

/// Where the check did not look at everything: a line per gap.
pub(super) fn bounds(facts: &Facts) -> Vec<String> {
    let mut lines = Vec::new();
    for cut in &facts.report.cuts {
        let gap = facts.gap(cut.id);
        if cut.ways_left_out > 0 {
            lines.push(format!("Gap {gap}: {}.", left_out(cut.ways_left_out)));
        }
        if !cut.held_selectors.is_empty() {
            let names = cut.held_selectors.iter().map(|id| selector_name(facts.layout, *id));
            let names = and(&names.collect::<Vec<_>>());
            lines.push(format!("Gap {gap}: judged with {names} as they stand now only."));
        }
        if !cut.shorted_positions.is_empty() {
            let n = cut.shorted_positions.len();
            lines.push(format!(
                "Gap {gap}: {n} sets of positions are not judged, because they short a driver with no train."
            ));
        }
    }
    lines
}

/// The values that are assumed, with their ranges.
pub(super) fn assumed_table(facts: &Facts) -> Table {
    let assumed: Vec<Stated> =
        stated(facts.layout).into_iter().filter(|value| value.quantity.is_assumed()).collect();
    let rows = alike(&assumed, |id| facts.thing(id));
    let mut table = Table::new(&["Value", "Counts as", "Source", "Of"]);
    for Alike { what, value, source, of } in rows {
        table.row([Cell::Strong(what.to_owned()), value.into(), source.into(), and(&of).into()]);
    }
    table
}
