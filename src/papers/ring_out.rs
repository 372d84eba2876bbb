//! The ring-out sheet: what a meter must find at each gap, with the drivers off and under power.

use super::flow::Flow;
use super::readings::{Powered, Ring, Rings, Volts, powered, rings};
use super::table::{Cell, Table};
use super::{Facts, PaperFile, Request, csv_file, foot, pdf_file, titled};
use crate::drawing::Document;
use crate::findings::units::{ohms, volts};
use crate::findings::{Caution, CutReport, SelectorAt, SetWord, position_words, selector_name};
use crate::layout::and;

pub fn make(facts: &Facts, request: &Request) -> Result<Vec<PaperFile>, String> {
    let (off, on) = (off(facts), on(facts));
    let document = document(facts, request, &off, &on);
    Ok(vec![
        pdf_file("ring-out.pdf", &document)?,
        csv_file("ring-out-off.csv", &off),
        csv_file("ring-out-powered.csv", &on),
    ])
}

/// With the drivers off: a row per gap and set of positions.
pub(super) fn off(facts: &Facts) -> Table {
    let heads = [
        "Gap",
        "Before | beyond",
        "Positions",
        "Left rail, across",
        "Right rail, across",
        "Rail to rail before",
        "Rail to rail beyond",
        "Crosswise",
        "Read",
    ];
    let mut table = Table::new(&heads);
    for cut in &facts.report.cuts {
        let all = rings(facts, cut.id);
        for rings in &all {
            let across = |side: usize| rings.across[side].map_or("whole".to_owned(), ring_words);
            table.row([
                Cell::Strong(facts.gap(cut.id)),
                facts.sides(cut).into(),
                positions(facts, rings, all.len() == 1).into(),
                across(0).into(),
                across(1).into(),
                ring_words(rings.between[0]).into(),
                ring_words(rings.between[1]).into(),
                crosswise(rings).into(),
                Cell::Blank(14.0),
            ]);
        }
    }
    table
}

/// Under power: a row per gap and pair of settings that drive.
pub(super) fn on(facts: &Facts) -> Table {
    let heads = [
        "Gap",
        "Before",
        "Beyond",
        "Left rail, DC volts",
        "Left, RMS",
        "Right rail, DC volts",
        "Right, RMS",
        "Read",
    ];
    let mut table = Table::new(&heads);
    for cut in &facts.report.cuts {
        let rows: Vec<Powered> = powered(facts, cut).into_iter().filter(is_tried).collect();
        let floats = |row: &Powered| row.across.iter().all(|v| matches!(v, Some(Volts::Floats)));
        if rows.len() > 1 && rows.iter().all(floats) {
            let [before, beyond] = cut.blocks.map(|id| format!("{} any", facts.block(id)));
            let all = ["floats"; 4].map(Cell::from);
            table.row(
                [Cell::Strong(facts.gap(cut.id)), before.into(), beyond.into()]
                    .into_iter()
                    .chain(all)
                    .chain([Cell::Blank(14.0)]),
            );
            continue;
        }
        for row in &rows {
            let [left, right] = row.across.map(volts_words);
            table.row([
                Cell::Strong(facts.gap(cut.id)),
                setting(facts, cut, 0, row.a).into(),
                setting(facts, cut, 1, row.b).into(),
                left.0.into(),
                left.1.into(),
                right.0.into(),
                right.1.into(),
                Cell::Blank(14.0),
            ]);
        }
    }
    table
}

/// Pairs in which both sides are on: what a bench test tries.
fn is_tried(row: &Powered) -> bool {
    row.a.drives() && row.b.drives()
}

fn setting(facts: &Facts, cut: &CutReport, side: usize, word: SetWord) -> String {
    format!("{} {}", facts.block(cut.blocks[side]), word.word())
}

pub(super) fn document(facts: &Facts, request: &Request, off: &Table, on: &Table) -> Document {
    let title = titled("Ring-out sheet", facts, request);
    let mut flow = Flow::new(request.paper.turned(), &title, &foot(facts, request));
    flow.cautions(&[Caution::Power, Caution::Measure, Caution::Mains]);
    flow.heading(2, "Drivers off");
    if off.rows.is_empty() {
        flow.paragraph(
            "There is no gap with a block on each side, so there is nothing to ring out.",
        );
        return flow.done();
    }
    flow.paragraph(
        "Unplug the supplies, take the drivers' wires off their terminals but leave the wires of one terminal together, and \
         take every train away. Measure with an ohmmeter. Before and beyond a gap are the two blocks in the order in which the \
         table names them; left and right are as seen from the first to the second.",
    );
    flow.list(
        &[
            "open: the meter shows no continuity. A few megohms of damp ties are open too.",
            "metal: the rails are joined through other track; the meter shows next to nothing.",
            "with ohms, or by wires: wires of one terminal join them; the meter shows that much, and its own leads.",
            "at a selector: wires that meet at a device with nothing behind it join them.",
        ],
        false,
    );
    flow.table(off);
    flow.heading(2, "Under power, no train");
    if on.rows.is_empty() {
        flow.paragraph(
            "No gap has a driver on both sides, so there is nothing to measure under power.",
        );
        return flow.done();
    }
    flow.paragraph(
        "Put the wires back on, set the throttles to full as the line says, all selectors as they are drawn, and take every \
         train away. Red lead before the gap, black lead beyond it, on the same rail. A plain DC meter shows the mean; a \
         true-RMS meter on DC and AC together shows the RMS. Where it floats, a meter shows chance: skip it.",
    );
    flow.table(on);
    flow.done()
}

/// In which positions it reads so: "as drawn", "any", or each set of them.
fn positions(facts: &Facts, rings: &Rings, only: bool) -> String {
    if only {
        return if rings.positions.len() > 1 { "any" } else { "as drawn" }.to_owned();
    }
    let set = |set: &Vec<SelectorAt>| {
        if set.is_empty() {
            return "as drawn".to_owned();
        }
        let told = set.iter().map(|at| {
            let words = position_words(facts.layout, at.id, at.position);
            format!("{} {words}", selector_name(facts.layout, at.id))
        });
        and(&told.collect::<Vec<_>>())
    };
    rings.positions.iter().map(set).collect::<Vec<_>>().join("; or ")
}

fn crosswise(rings: &Rings) -> String {
    match rings.crosswise {
        [Ring::Open, Ring::Open] => "open".to_owned(),
        [one, other] if one == other => ring_words(one),
        [one, other] => format!("{}; {}", ring_words(one), ring_words(other)),
    }
}

fn ring_words(ring: Ring) -> String {
    match ring {
        Ring::Open => "open".to_owned(),
        Ring::Metal => "joined, metal".to_owned(),
        Ring::Wires(None) => "joined by wires".to_owned(),
        Ring::Wires(Some(ohm)) if ohm < 0.05 => "joined, under 0.1 Ω".to_owned(),
        Ring::Wires(Some(ohm)) => format!("joined, {}", ohms(ohm)),
        Ring::Loose => "joined, at a selector".to_owned(),
    }
}

/// Mean and RMS in words.
fn volts_words(across: Option<Volts>) -> (String, String) {
    match across {
        None => ("whole".to_owned(), "whole".to_owned()),
        Some(Volts::Floats) => ("floats".to_owned(), "floats".to_owned()),
        Some(Volts::Shows(mean, rms)) => {
            // No −0.
            let clean = |v: f64| if v.abs() < 5e-3 { 0.0 } else { v };
            (volts(clean(mean)), volts(clean(rms)))
        }
    }
}
