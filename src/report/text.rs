//! The report as plain text: findings worst first, a line per cut, a summary line.

use std::collections::BTreeSet;
use std::fmt::Write;

use super::{Tally, Units, amps, percent};
use crate::findings::{Caution, Class, CutReport, Report, Situation, words};
use crate::layout::{Layout, shown};
use crate::units::{NO_BREAK, bound};

/// The whole text for one file.
pub fn text(file: &str, layout: &Layout, report: &Report, units: Units) -> String {
    let mut out = String::new();
    let name = if layout.name.is_empty() { file } else { &layout.name };
    // Writing to a String cannot fail.
    let _ = writeln!(out, "{} ({})", shown(name), shown(file));
    let mut cautions: BTreeSet<Caution> = BTreeSet::new();
    for finding in &report.findings {
        let words = words(finding, report, layout, units);
        let class = match finding.class {
            Class::Fault => finding.verdict.word().to_uppercase(),
            Class::Rule => "RULE".to_owned(),
            Class::Note => "NOTE".to_owned(),
        };
        let _ = writeln!(out, "\n{class}  {}  [{}]", shown(&words.says), finding.kind);
        let paragraphs = [&words.why, &words.more].into_iter().filter(|text| !text.is_empty());
        for line in paragraphs.flat_map(|text| wrap(&shown(text), 96)) {
            let _ = writeln!(out, "    {line}");
        }
        for advice in &words.advice {
            item(&mut out, advice);
        }
        cautions.extend(&words.cautions);
    }
    if !cautions.is_empty() {
        let _ = writeln!(out, "\nTake care:");
        for caution in cautions {
            item(&mut out, caution.line());
        }
    }
    if !report.cuts.is_empty() {
        let _ = writeln!(out);
    }
    for cut in &report.cuts {
        let _ = writeln!(out, "{}", shown(&cut_line(cut, report)));
        if cut.ways_left_out > 0 {
            let _ = writeln!(out, "    {}", left_out(cut.ways_left_out));
        }
    }
    let _ = writeln!(out, "{}", Tally::of(report).words());
    out
}

/// Writes one item of a list.
pub(super) fn item(out: &mut String, text: &str) {
    for (at, line) in wrap(&shown(text), 92).into_iter().enumerate() {
        let _ = writeln!(out, "    {} {line}", if at == 0 { "-" } else { " " });
    }
}

/// What was not looked at.
pub(crate) fn left_out(ways: usize) -> String {
    format!(
        "not exhaustive: {ways} more ways in which trains can stand there were looked at in part or not at all"
    )
}

fn cut_line(cut: &CutReport, report: &Report) -> String {
    let block =
        |id| report.blocks.iter().find(|b| b.id == id).map_or_else(String::new, |b| b.name.clone());
    let told = |situation: &Option<Situation>| match situation {
        Some(s) => figure(s),
        None => "-".to_owned(),
    };
    format!(
        "{}: {} | {}  agree: {}; disagree: {}; one dead: {}; now: {}{}",
        cut.name,
        block(cut.blocks[0]),
        block(cut.blocks[1]),
        told(&cut.agree),
        told(&cut.disagree),
        told(&cut.one_dead),
        figure(&cut.now),
        not_judged(cut),
    )
}

fn not_judged(cut: &CutReport) -> String {
    match cut.shorted_positions.len() {
        0 => String::new(),
        1 => "; one set of positions not judged: it shorts a driver with no train".into(),
        n => format!("; {n} sets of positions not judged: they short a driver with no train"),
    }
}

fn figure(situation: &Situation) -> String {
    if situation.resolved {
        format!(
            "{} ({} until the auto-reverser turns)",
            situation.verdict,
            amps(situation.peak_a())
        )
    } else if situation.share > 0.0 {
        format!(
            "{} ({}, {})",
            situation.verdict,
            amps(situation.peak_a()),
            percent(situation.share)
        )
    } else {
        situation.verdict.to_string()
    }
}

/// Breaks a text into lines of at most `width` columns, but not between a number and its unit.
pub(super) fn wrap(text: &str, width: usize) -> Vec<String> {
    let text = bound(text);
    textwrap::wrap(&text, width).iter().map(|line| line.replace(NO_BREAK, " ")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_keeps_its_unit() {
        assert_eq!(wrap("it is 56 % of the time", 8), ["it is", "56 % of", "the time"]);
        assert_eq!(wrap("carry 8.09 A.", 10), ["carry", "8.09 A."]);
        assert_eq!(wrap("", 10), [""]);
    }
}
