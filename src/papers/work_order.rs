//! The work order: what leads from an old design to the layout, step by step, with boxes to tick.

use super::flow::Flow;
use super::table::{Cell, Table};
use super::{Facts, PaperFile, Request, csv_file, foot, pdf_file, titled};
use crate::compare::{Comparison, Step};
use crate::findings::{Caution, Text, titles, words};
use crate::layout::{Layout, and, shown};
use crate::report::Units;

/// The name of the sheet. Without an old design it is not among all sheets.
pub const NAME: &str = "work";

pub fn make(facts: &Facts, request: &Request) -> Result<Vec<PaperFile>, String> {
    let (file, old) = request
        .old
        .as_ref()
        .ok_or("the work order needs the old design: name its file after --from")?;
    let comparison = Comparison::of(old, facts.layout);
    let title = titled("Work order", facts, request);
    let mut flow = Flow::new(request.paper, &title, &foot(facts, request));
    let minutes = comparison.minutes();
    let from = shown(file);
    flow.paragraph(&match comparison.steps.len() {
        0 => format!("Nothing is to be done: {from} is as this layout."),
        1 => format!("From {from} to this layout it is 1 step, about {minutes} min."),
        n => format!("From {from} to this layout it is {n} steps, about {minutes} min."),
    });
    if !comparison.steps.is_empty() {
        flow.paragraph(comparison.order_words());
        flow.cautions(&[
            Caution::Power,
            Caution::Saw,
            Caution::Solder,
            Caution::Fumes,
            Caution::Rewire,
            Caution::Guard,
            Caution::Mains,
        ]);
    }
    let table = steps(&comparison.steps);
    if !table.rows.is_empty() {
        flow.table(&table);
    }
    findings(&mut flow, old, &comparison);
    let document = flow.done();
    Ok(vec![pdf_file("work.pdf", &document)?, csv_file("work.csv", &table)])
}

/// A row per step.
fn steps(steps: &[Step]) -> Table {
    let mut table =
        Table::new(&["Done", "Step", "What to do", "Minutes", "What stands after it for a while"]);
    for (n, step) in steps.iter().enumerate() {
        let titles = titles(&step.makes);
        let stands = if titles.is_empty() { "nothing new".to_owned() } else { and(&titles) };
        table.row([
            Cell::Box,
            (n + 1).to_string().into(),
            Cell::Strong(shown(&step.says).into_owned()),
            step.minutes.to_string().into(),
            stands.into(),
        ]);
    }
    table
}

/// Findings that are mended and made.
fn findings(flow: &mut Flow, old: &Layout, comparison: &Comparison) {
    let says = |finding, report, layout| -> String {
        let Text { says, .. } = words(finding, report, layout, Units::Metric);
        shown(&says).into_owned()
    };
    let mended: Vec<String> =
        comparison.mended().into_iter().map(|f| says(f, &comparison.old, old)).collect();
    let made: Vec<String> = comparison
        .made()
        .into_iter()
        .map(|f| says(f, &comparison.new, &comparison.design))
        .collect();
    for (title, list) in [("It mends", mended), ("It makes", made)] {
        if !list.is_empty() {
            flow.heading(2, title);
            flow.list(&list, false);
        }
    }
}
