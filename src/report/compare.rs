//! A comparison of two designs as text.

use std::fmt::Write;

use super::text::{item, wrap};
use super::{Tally, Units};
use crate::compare::{Cell, Comparison, Crossings};
use crate::findings::{Class, Finding, Report, titles, words};
use crate::job::Names;
use crate::layout::stated::{Alike, Stated, alike, stated};
use crate::layout::{Layout, and, shown};
use crate::rails::Plan;

/// Every train at the gaps that are not clear for all of them.
fn crossings(out: &mut String, crossings: &Crossings, layouts: [&Layout; 2]) {
    let _ = writeln!(out, "\nTrains at the gaps with agreeing throttles, old then new:");
    let mut told = 0;
    for row in crossings.worth_telling() {
        told += 1;
        let cells = crossings.passers.iter().zip(&row.cells);
        let cells: Vec<String> = cells
            .map(|(passer, cell)| {
                let [old, new] = cell.map(Cell::word);
                format!("{} {old} -> {new}", passer.name(layouts))
            })
            .collect();
        item(out, &format!("{}: {}", row.name, cells.join("; ")));
    }
    let more = if told > 0 { " more" } else { "" };
    match crossings.rows.len() - told {
        0 => {}
        1 => drop(writeln!(out, "  1{more} gap is clear for every train in both.")),
        n => drop(writeln!(out, "  {n}{more} gaps are clear for every train in both.")),
    }
}

/// A comparison for a person.
pub fn compare_text(
    (old_file, old): (&str, &Layout),
    new_file: &str,
    comparison: &Comparison,
) -> String {
    let new = &comparison.design;
    let mut out = String::new();
    // Writing to a String cannot fail.
    let _ = writeln!(out, "Old: {}: {}", shown(old_file), Tally::of(&comparison.old).words());
    let _ = writeln!(out, "New: {}: {}", shown(new_file), Tally::of(&comparison.new).words());
    if !comparison.matched.is_empty() {
        let pairs = comparison.matched.iter().map(|(old, new)| format!("{new} is {old}"));
        let pairs: Vec<String> = pairs.collect();
        let says = format!(
            "Things of the new design that are the same as in the old one by place or name, and are called as there: {}. \
             If one is not, say --apart and its name; if two others are, say --same OLD=NEW.",
            pairs.join(", ")
        );
        for line in wrap(&says, 98) {
            let _ = writeln!(out, "{line}");
        }
    }
    let told = |out: &mut String, title: &str, list: &[&Finding], of: (&Layout, &Report)| {
        let list: Vec<_> = list.iter().filter(|f| f.class != Class::Note).collect();
        let _ = writeln!(out, "\n{title}, faults and rules ({}):", list.len());
        for finding in list {
            let class = match finding.class {
                Class::Fault => finding.verdict.word().to_uppercase(),
                Class::Rule => "RULE".to_owned(),
                Class::Note => "NOTE".to_owned(),
            };
            let says = words(finding, of.1, of.0, Units::Metric).says;
            item(out, &format!("{class}  {says}"));
        }
    };
    told(&mut out, "Mended", &comparison.mended(), (old, &comparison.old));
    told(&mut out, "Made", &comparison.made(), (new, &comparison.new));
    told(&mut out, "Kept", &comparison.kept(), (new, &comparison.new));
    crossings(&mut out, &comparison.crossings(), [old, new]);
    let minutes = comparison.minutes();
    let _ = writeln!(out, "\nThe work, about {minutes} min:");
    for (at, step) in comparison.steps.iter().enumerate() {
        let line = format!("{}. {} ({} min)", at + 1, step.says, step.minutes);
        for line in wrap(&shown(&line), 96) {
            let _ = writeln!(out, "  {line}");
        }
        if !step.makes.is_empty() {
            let warning = format!(
                "After this step stands what neither design has: {}. Run no train and keep the supplies off until the next \
                 steps are done.",
                titles(&step.makes).join(", ")
            );
            item(&mut out, &warning);
        }
    }
    if comparison.steps.is_empty() {
        let _ = writeln!(out, "  None.");
    } else if comparison.is_safe() {
        let _ = writeln!(out, "{}", comparison.order_words());
    }
    assumed(&mut out, new);
    let _ = writeln!(out, "\nBefore you change wires, cut or solder, switch all supplies off.");
    out
}

/// The values that the verdicts on a design assume.
fn assumed(out: &mut String, layout: &Layout) {
    let assumed: Vec<Stated> =
        stated(layout).into_iter().filter(|value| value.quantity.is_assumed()).collect();
    let plan = Plan::derive(layout);
    let names = Names { layout, plan: &plan };
    let _ = writeln!(out, "\nWhat the verdicts on the new design assume:");
    if assumed.is_empty() {
        let _ = writeln!(out, "  No value; each is given, measured or from a data sheet.");
    }
    for Alike { what, value, source, of } in alike(&assumed, |id| names.thing(id)) {
        item(out, &shown(&format!("{what}, {value} ({source}): {}", and(&of))));
    }
}
