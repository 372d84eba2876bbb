//! The findings in full, with what the verdicts assume.

use super::flow::Flow;
use super::table::{Cell, Table};
use super::{Facts, PaperFile, Request, foot, pdf_file, titled};
use crate::drawing::Document;
use crate::findings::{
    Caution, Class, Finding, Text, decision_on, decisions_past, ground, ground_changed,
    selector_name, state_words,
};
use crate::layout::{Decision, EntityId, Layout, and, shown};
use crate::report::left_out;
use crate::units::{Quantity, Source};

pub fn make(facts: &Facts, request: &Request) -> Result<Vec<PaperFile>, String> {
    Ok(vec![pdf_file("findings.pdf", &document(facts, request))?])
}

pub(super) fn document(facts: &Facts, request: &Request) -> Document {
    let title = titled("Findings", facts, request);
    let mut flow = Flow::new(request.paper, &title, &foot(facts, request));
    flow.paragraph(&facts.tally.words());
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
            for line in decided_on(facts, finding) {
                flow.paragraph(&line);
            }
        }
    }
    let past = decisions_past(facts.layout, &facts.report);
    if !past.is_empty() {
        flow.heading(2, "Decided, and no longer found");
        for decision in past {
            flow.heading(3, &shown(&decision.said));
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

/// What was decided on a finding, a paragraph each.
pub(super) fn decided_on(facts: &Facts, finding: &Finding) -> Vec<String> {
    let Some(decision) = decision_on(facts.layout, &finding.id()) else { return Vec::new() };
    let changed = ground_changed(decision, finding).then(|| {
        let (then, now) = (shown(&decision.ground), ground(finding));
        format!("The ground has changed since: it was \"{then}\" and is \"{now}\". Decide again.")
    });
    std::iter::once(decided(decision)).chain(changed).collect()
}

/// What was decided, with its notes.
pub(super) fn decided(decision: &Decision) -> String {
    let state = format!("Decision: {}.", state_words(decision));
    let texts = [&decision.decision, &decision.notes].map(|text| shown(text.trim()).into_owned());
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
    let mut rows: Vec<([String; 3], Vec<String>)> = Vec::new();
    for (of, what, quantity, unit) in quantities(facts.layout) {
        let Source::Assumed { from, to } = quantity.source else { continue };
        let of = of.map_or_else(|| "the rails".to_owned(), |id| facts.thing(id));
        let value = [
            what.to_owned(),
            format!("{} {unit}", quantity.value),
            format!("{from} and {to} {unit}"),
        ];
        // Things with the same value share a row.
        match rows.iter_mut().find(|(other, _)| *other == value) {
            Some((_, things)) => things.push(of),
            None => rows.push((value, vec![of])),
        }
    }
    let mut table = Table::new(&["Value", "Counts as", "Between", "Of"]);
    for ([what, value, between], things) in rows {
        table.row([Cell::Strong(what), value.into(), between.into(), and(&things).into()]);
    }
    table
}

type Stated = (Option<EntityId>, &'static str, Quantity, &'static str);

/// The electrical values of a layout with their names.
fn quantities(layout: &Layout) -> Vec<Stated> {
    let mut all: Vec<Stated> =
        vec![(None, "resistance of one rail", layout.rail_ohm_per_m, "Ω per m")];
    for supply in layout.supplies.values() {
        let id = Some(EntityId::from(supply.id));
        all.push((id, "open-circuit voltage", supply.open_v, "V"));
        all.push((id, "source resistance", supply.source_ohm, "Ω"));
        let more = [
            ("sustained limit", supply.limit.map(|limit| limit.amps), "A"),
            ("bulk capacitance", supply.bulk_f, "F"),
            ("series resistance of the bulk capacitance", supply.bulk_ohm, "Ω"),
            ("resistance of the negative's tie", supply.negative.as_ref().map(|t| t.ohm), "Ω"),
            ("bearable voltage", supply.bearable_v, "V"),
        ];
        all.extend(more.into_iter().filter_map(|(what, q, unit)| Some((id, what, q?, unit))));
    }
    for driver in layout.drivers.values() {
        let id = Some(EntityId::from(driver.id));
        all.push((id, "on-resistance of a high switch", driver.high_ohm, "Ω"));
        all.push((id, "on-resistance of a low switch", driver.low_ohm, "Ω"));
        all.push((id, "forward voltage of a body diode", driver.diode_v, "V"));
        all.push((id, "resistance of a body diode", driver.diode_ohm, "Ω"));
        let more = [
            ("trip threshold", driver.trip.as_ref().map(|trip| trip.amps), "A"),
            ("continuous rating", driver.rating_a, "A"),
            ("wake-up voltage", driver.wake_v, "V"),
        ];
        all.extend(more.into_iter().filter_map(|(what, q, unit)| Some((id, what, q?, unit))));
    }
    for device in layout.devices.values() {
        all.push((Some(device.id.into()), "resistance per pole", device.ohm, "Ω"));
    }
    for feed in layout.feeds.values() {
        if let Some(ohm) = feed.ohm {
            all.push((Some(feed.id.into()), "resistance of one leg", ohm, "Ω"));
        }
    }
    all
}
