//! The cut list: where to cut, and what the check says of each gap.

use super::flow::Flow;
use super::table::{Cell, Table};
use super::{Facts, PaperFile, Request, csv_file, foot, pdf_file, titled};
use crate::drawing::Document;
use crate::findings::{Caution, RailsWord};
use crate::layout::Made;

pub fn make(facts: &Facts, request: &Request) -> Result<Vec<PaperFile>, String> {
    let table = table(facts);
    let document = document(facts, request, &table);
    Ok(vec![pdf_file("cuts.pdf", &document)?, csv_file("cuts.csv", &table)])
}

/// A row per gap.
pub(super) fn table(facts: &Facts) -> Table {
    let heads = [
        "Cut",
        "Gap",
        "Rails",
        "Where",
        "Run",
        "Between blocks",
        "Width",
        "Stagger",
        "How",
        "Check",
        "Open",
    ];
    let mut table = Table::new(&heads);
    for cut in &facts.report.cuts {
        let Some(drawn) = facts.layout.cuts.get(&cut.id) else { continue };
        table.row([
            Cell::Box,
            Cell::Strong(facts.gap(cut.id)),
            rails(cut.rails).into(),
            facts.place(cut.run, cut.at_mm).into(),
            format!("{} at {:.0} mm", cut.run, cut.at_mm).into(),
            facts.sides(cut).into(),
            format!("{} mm", drawn.width_mm).into(),
            stagger(drawn.stagger_mm).into(),
            made(drawn.made).into(),
            facts.state(cut.id).into(),
            Cell::Box,
        ]);
    }
    table
}

pub(super) fn document(facts: &Facts, request: &Request, table: &Table) -> Document {
    let title = titled("Cut list", facts, request);
    let mut flow = Flow::new(request.paper.turned(), &title, &foot(facts, request));
    flow.paragraph(&facts.tally.words());
    if table.rows.is_empty() {
        flow.paragraph("This layout has no gaps, so nothing is to be cut.");
        return flow.done();
    }
    flow.paragraph(
        "Measure along the rail from the place in the column Where. Mark the place, compare it with the plan, and cut only \
         then. Tick Cut when the rail is cut, and Open when a meter finds the gap open (ring-out sheet).",
    );
    flow.cautions(&[Caution::Power, Caution::Saw, Caution::Solder, Caution::Fumes]);
    flow.table(table);
    sides(facts, &mut flow);
    flow.done()
}

/// Which rail is the left one, where a cut is in one rail or staggered.
fn sides(facts: &Facts, flow: &mut Flow) {
    let mut runs: Vec<_> = facts
        .layout
        .cuts
        .values()
        .filter(|cut| cut.stagger_mm != 0.0 || cut.rails != crate::layout::Rails::Both)
        .map(|cut| cut.run)
        .collect();
    runs.sort_unstable();
    runs.dedup();
    if runs.is_empty() {
        return;
    }
    flow.heading(2, "Left and right");
    let line = |run| format!("Run {run}: look {}.", facts.along(run));
    flow.list(&runs.into_iter().map(line).collect::<Vec<_>>(), false);
}

pub(super) fn rails(rails: RailsWord) -> &'static str {
    match rails {
        RailsWord::Both => "both",
        RailsWord::Left => "left only",
        RailsWord::Right => "right only",
    }
}

fn stagger(mm: f64) -> String {
    match mm {
        0.0 => "none".to_owned(),
        mm if mm > 0.0 => format!("right rail {mm} mm farther"),
        mm => format!("right rail {} mm nearer", -mm),
    }
}

fn made(made: Made) -> &'static str {
    match made {
        Made::Open => "sawn, open",
        Made::Filled => "sawn, filled",
        Made::InsulatedJoiner => "insulated joiner",
    }
}
