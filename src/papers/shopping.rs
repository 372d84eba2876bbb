//! The shopping list: wire, joiners, and the parts of the proved cures.

use std::collections::BTreeMap;

use super::feeder_list::size;
use super::flow::Flow;
use super::table::{Cell, Table};
use super::{Facts, PaperFile, Request, csv_file, foot, pdf_file, titled};
use crate::drawing::Document;
use crate::findings::Caution;
use crate::layout::{Made, Rails, wire};

pub fn make(facts: &Facts, request: &Request) -> Result<Vec<PaperFile>, String> {
    let table = table(facts);
    let document = document(facts, request, &table);
    Ok(vec![pdf_file("shopping.pdf", &document)?, csv_file("shopping.csv", &table)])
}

/// A row per thing to buy.
fn table(facts: &Facts) -> Table {
    let mut table = Table::new(&["Have", "What", "How much", "For"]);
    let mut row = |what: String, much: String, for_what: String| {
        table.row([Cell::Box, Cell::Strong(what), much.into(), for_what.into()]);
    };
    for (_, wires) in by_size(facts) {
        let metres: f64 = wires.metres;
        row(
            format!("Wire, {}", wires.size),
            format!("{} m", (metres * 10.0).round() / 10.0),
            format!("the legs of {}", wires.feeds.join(", ")),
        );
    }
    let not_stated: Vec<String> = facts
        .layout
        .feeds
        .values()
        .filter(|feed| feed.wire.is_none())
        .map(|feed| feed.id.to_string())
        .collect();
    if !not_stated.is_empty() {
        row("Wire, size not stated".into(), "length not stated".into(), not_stated.join(", "));
    }
    let joiners = facts.layout.cuts.values().filter(|cut| cut.made == Made::InsulatedJoiner);
    let mut count = 0;
    let mut gaps: Vec<String> = Vec::new();
    for cut in joiners {
        count += if cut.rails == Rails::Both { 2 } else { 1 };
        gaps.push(cut.id.to_string());
    }
    if count > 0 {
        row("Insulated joiners".into(), count.to_string(), format!("gaps {}", gaps.join(", ")));
    }
    let filled: Vec<String> = facts
        .layout
        .cuts
        .values()
        .filter(|cut| cut.made == Made::Filled)
        .map(|cut| cut.id.to_string())
        .collect();
    if !filled.is_empty() {
        row(
            "Filler that does not conduct".into(),
            format!("{} gaps", filled.len()),
            format!("gaps {}", filled.join(", ")),
        );
    }
    let cured = facts.cured();
    for (job, says) in cured.jobs.iter().zip(&cured.says) {
        if job.takes_material() {
            row("For a cure".into(), "1".into(), says.clone());
        }
    }
    table
}

struct Wires {
    size: String,
    metres: f64,
    feeds: Vec<String>,
}

/// Wires by cross-section: metres of both legs, and the feeds.
fn by_size(facts: &Facts) -> BTreeMap<(u64, String), Wires> {
    let mut all: BTreeMap<(u64, String), Wires> = BTreeMap::new();
    for feed in facts.layout.feeds.values() {
        let Some(own) = &feed.wire else { continue };
        let legs = f64::from(u8::from(feed.p.is_some()) + u8::from(feed.m.is_some()));
        let word = size(own.size);
        // By area, thin first; equal areas by their words.
        let area = (wire::area_mm2(own.size) * 1e6).round() as u64;
        let wires = all.entry((area, word.clone())).or_insert_with(|| Wires {
            size: word,
            metres: 0.0,
            feeds: Vec::new(),
        });
        wires.metres += legs * own.length_m;
        wires.feeds.push(feed.id.to_string());
    }
    all
}

fn document(facts: &Facts, request: &Request, table: &Table) -> Document {
    let title = titled("Shopping list", facts, request);
    let mut flow = Flow::new(request.paper, &title, &foot(facts, request));
    flow.cautions(&[Caution::Listed, Caution::Fuse]);
    if table.rows.is_empty() {
        flow.paragraph(
            "The layout states no wire, no joiner and no filler, and no cure asks for a part.",
        );
    } else {
        flow.paragraph(
            "Wire is the sum of both legs as the layout states them, without waste: buy a tenth more. Lines for a cure are \
             what the cheapest set of changes takes that the check has proved.",
        );
        flow.table(table);
    }
    let cured = facts.cured();
    if !cured.jobs.is_empty() {
        flow.heading(2, "All changes of that set, in order");
        let lines: Vec<String> = cured
            .jobs
            .iter()
            .zip(&cured.says)
            .map(|(job, says)| {
                let work = job.work();
                format!("{says} ({} min, {})", work.minutes, work.needs.word())
            })
            .collect();
        flow.list(&lines, true);
    }
    if !cured.leaves.is_empty() {
        flow.heading(2, "Faults that it leaves");
        let lines: Vec<String> = cured
            .leaves
            .iter()
            .map(|(id, why)| {
                let found = facts.report.findings.iter().position(|f| f.id() == *id);
                let says = found.map_or_else(|| id.to_string(), |at| facts.texts[at].says.clone());
                format!("{says}. {why}")
            })
            .collect();
        flow.list(&lines, false);
    }
    flow.done()
}
