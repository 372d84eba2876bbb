//! The feeder list: which terminal goes to which rail, through which wire.

use super::flow::Flow;
use super::table::{Cell, Table};
use super::{Facts, PaperFile, Request, csv_file, foot, pdf_file, titled};
use crate::drawing::Document;
use crate::findings::Caution;
use crate::findings::units::{amps, ohms, volts};
use crate::layout::wire::{feed_leg_ohm, rating_a};
use crate::layout::{EntityId, Feed, Origin, Rail, Wire, WireSize};
use crate::study::coin::working_load;

pub fn make(facts: &Facts, request: &Request) -> Result<Vec<PaperFile>, String> {
    let table = table(facts);
    let document = document(facts, request, &table);
    Ok(vec![pdf_file("feeders.pdf", &document)?, csv_file("feeders.csv", &table)])
}

/// A row per wire: two for a feed that goes to both rails.
pub(super) fn table(facts: &Facts) -> Table {
    let heads = [
        "Done",
        "Feeder",
        "From",
        "Terminal",
        "Rail",
        "Block",
        "Where",
        "Colour",
        "Wire",
        "Length",
        "Resistance",
        "May carry",
    ];
    let mut table = Table::new(&heads);
    for feed in facts.layout.feeds.values() {
        for (rail, terminal) in [(feed.p, "P"), (feed.m, "M")] {
            let Some(rail) = rail else { continue };
            let wire = feed.wire.as_ref();
            table.row([
                Cell::Box,
                Cell::Strong(feed.id.to_string()),
                source(facts, feed.driver).into(),
                terminal.into(),
                rail_word(rail).into(),
                block_of(facts, feed).into(),
                facts.place(feed.run, feed.at_mm).into(),
                Cell::Blank(16.0),
                wire.map_or_else(|| "not stated".to_owned(), |wire| size(wire.size)).into(),
                wire.map_or_else(String::new, |wire| format!("{} m", wire.length_m)).into(),
                resistance(feed).into(),
                wire.map_or_else(String::new, may_carry).into(),
            ]);
        }
    }
    table
}

fn may_carry(wire: &Wire) -> String {
    let word = if wire.rating_a.is_some() { "stated" } else { "by size" };
    format!("{} ({word})", amps(rating_a(wire)))
}

pub(super) fn document(facts: &Facts, request: &Request, table: &Table) -> Document {
    let title = titled("Feeder list", facts, request);
    let mut flow = Flow::new(request.paper.turned(), &title, &foot(facts, request));
    if table.rows.is_empty() {
        flow.paragraph("This layout has no feeders.");
        return flow.done();
    }
    flow.paragraph(
        "One line per wire. Left and right are as seen along the run; where a run begins and ends stands below. Write the \
         colour of the wire in, one colour for all P and another for all M, and tick Done when the wire is on the rail.",
    );
    flow.cautions(&[
        Caution::Power,
        Caution::Rewire,
        Caution::Solder,
        Caution::Fumes,
        Caution::Fuse,
        Caution::Listed,
    ]);
    flow.table(table);
    drops(facts, &mut flow);
    let mut runs: Vec<_> = facts.layout.feeds.values().map(|feed| feed.run).collect();
    runs.sort_unstable();
    runs.dedup();
    flow.heading(2, "Left and right");
    let line = |run| format!("Run {run}: look {}.", facts.along(run));
    flow.list(&runs.into_iter().map(line).collect::<Vec<_>>(), false);
    flow.done()
}

/// Volt drop of wires and rails at the far end of each block, from the check.
fn drops(facts: &Facts, flow: &mut Flow) {
    if facts.view.coins.is_empty() {
        return;
    }
    let heads = ["Block", "From", "Far end", "Wires and rails", "Working load", "Drop"];
    let mut table = Table::new(&heads);
    for coin in &facts.view.coins {
        let wiring = &coin.case.case.wiring;
        let supply = wiring.drivers[coin.case.driver].supply;
        let open_v = wiring.values[wiring.supplies[supply].open_v].nominal;
        let (load_a, vehicle) = working_load(facts.layout, open_v);
        let who = vehicle.map_or_else(|| "assumed".to_owned(), |id| facts.thing(id));
        let drop = load_a * coin.result.wires_ohm;
        table.row([
            facts.block(facts.view.plan.blocks[coin.at.block].id).into(),
            facts.thing(coin.at.driver).into(),
            facts.place(coin.at.run, coin.at.at_mm).into(),
            format!("{} there and back", ohms(coin.result.wires_ohm)).into(),
            format!("{} ({who})", amps(load_a)).into(),
            format!("{} of {}", volts(drop), volts(open_v)).into(),
        ]);
    }
    flow.heading(2, "Drop at the far end of each block, at the working load");
    flow.table(&table);
}

pub(super) fn source(facts: &Facts, from: Origin) -> String {
    facts.thing(EntityId::from(from))
}

pub(super) fn block_of(facts: &Facts, feed: &Feed) -> String {
    match facts.view.plan.block_at(feed.run, feed.at_mm) {
        Some(at) => facts.block(facts.view.plan.blocks[at].id),
        None => "inside special work".to_owned(),
    }
}

fn resistance(feed: &Feed) -> String {
    if feed.ohm.is_none() && feed.wire.is_none() {
        return "not stated".to_owned();
    }
    let ohm = feed_leg_ohm(feed);
    let assumed = if ohm.is_assumed() { " (assumed)" } else { "" };
    format!("{}{assumed}", ohms(ohm.value))
}

pub(super) fn rail_word(rail: Rail) -> &'static str {
    match rail {
        Rail::Left => "left",
        Rail::Right => "right",
    }
}

pub(super) fn size(size: WireSize) -> String {
    match size {
        WireSize::Awg(number) => format!("AWG {number}"),
        WireSize::Mm2(area) => format!("{area} mm²"),
    }
}
