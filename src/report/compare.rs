//! A comparison of two designs as text.

use std::fmt::Write;

use super::text::{item, wrap};
use super::{Tally, Units};
use crate::compare::Comparison;
use crate::findings::{Class, Finding, Report, words};
use crate::layout::{Layout, shown};

/// A comparison for a person.
pub fn compare_text(
    (old_file, old): (&str, &Layout),
    (new_file, new): (&str, &Layout),
    comparison: &Comparison,
) -> String {
    let mut out = String::new();
    // Writing to a String cannot fail.
    let _ = writeln!(out, "Old: {}: {}", shown(old_file), Tally::of(&comparison.old).words());
    let _ = writeln!(out, "New: {}: {}", shown(new_file), Tally::of(&comparison.new).words());
    let told = |out: &mut String, title: &str, list: &[&Finding], of: (&Layout, &Report)| {
        let list: Vec<_> = list.iter().filter(|f| f.class != Class::Note).collect();
        let _ = writeln!(out, "\n{title} ({}):", list.len());
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
    let minutes: u32 = comparison.steps.iter().map(|step| step.minutes).sum();
    let _ = writeln!(out, "\nThe work, about {minutes} min:");
    for (at, step) in comparison.steps.iter().enumerate() {
        let line = format!("{}. {} ({} min)", at + 1, step.says, step.minutes);
        for line in wrap(&shown(&line), 96) {
            let _ = writeln!(out, "  {line}");
        }
        if !step.makes.is_empty() {
            let titles: Vec<String> =
                step.makes.iter().map(|kind| kind.title().to_lowercase()).collect();
            let warning = format!(
                "After this step stands what neither design has: {}. Run no train and keep the supplies off until the next \
                 steps are done.",
                titles.join(", ")
            );
            item(&mut out, &warning);
        }
    }
    if comparison.steps.is_empty() {
        let _ = writeln!(out, "  None: the two are the same.");
    } else if comparison.is_safe() {
        let _ = writeln!(
            out,
            "In this order no step makes a fault that neither design has; each was checked."
        );
    }
    let _ = writeln!(out, "Before you change wires, cut or solder, switch all supplies off.");
    out
}
