//! A plan as text.

use std::fmt::Write;

use super::text::{item, wrap};
use super::{Tally, Units};
use crate::cure::sentences;
use crate::findings::{Caution, Class, words};
use crate::job::{Job, work};
use crate::layout::{Layout, shown};
use crate::planning::{Audited, Finished, Planned, Reversing, Turned, Wishes};

/// A plan for a person; `layout` is the one before it.
pub fn plan_text(file: &str, layout: &Layout, finished: &Finished, wishes: &Wishes) -> String {
    let Finished { planned, layout: edited, report: after } = finished;
    let mut out = String::new();
    let name = if layout.name.is_empty() { file } else { &layout.name };
    // Writing to a String cannot fail.
    let _ = writeln!(out, "{} ({})", shown(name), shown(file));
    let stretches: Vec<String> =
        wishes.apart.iter().map(|stretch| shown(&stretch.name).into_owned()).collect();
    for line in wrap(&format!("Apart from each other: {}.", stretches.join(", ")), 96) {
        let _ = writeln!(out, "{line}");
    }
    if planned.jobs.is_empty() {
        let _ = writeln!(out, "\nNothing is to be done. {}", Tally::of(after).words());
        return out;
    }
    let jobs: Vec<Job> = planned.jobs.iter().map(|(job, _)| job.clone()).collect();
    let _ = writeln!(out, "\n{}, about {} min:", counts(planned), work(&jobs).minutes);
    let says = sentences(layout, &jobs);
    for (at, (says, (_, reason))) in says.iter().zip(&planned.jobs).enumerate() {
        let line = format!("{}. {} It {reason}.", at + 1, says);
        for line in wrap(&shown(&line), 96) {
            let _ = writeln!(out, "  {line}");
        }
    }
    let sequences = sequences(planned);
    if !sequences.is_empty() {
        let _ = writeln!(out, "\nReversing sections:");
    }
    for line in sequences {
        item(&mut out, &line);
    }
    for line in together(planned) {
        for line in wrap(&line, 96) {
            let _ = writeln!(out, "\n{line}");
        }
    }
    let _ = writeln!(out, "\n{}", bound(planned));
    let _ = writeln!(out, "After: {}", Tally::of(after).words());
    let left = after.findings.iter().filter(|f| f.class == Class::Fault);
    for finding in left {
        item(&mut out, &words(finding, after, edited, Units::Metric).says);
    }
    let _ = writeln!(out, "\nTake care:");
    for caution in [Caution::Saw, Caution::Rewire] {
        item(&mut out, caution.line());
    }
    out
}

/// "11 rail cuts, 9 wires, 2 drivers".
pub fn counts(planned: &Planned) -> String {
    let one = |n: usize, word: &str| format!("{n} {word}{}", if n == 1 { "" } else { "s" });
    let mut parts = vec![one(planned.rail_cuts, "rail cut"), one(planned.wires, "wire")];
    if planned.drivers > 0 {
        parts.push(one(planned.drivers, "new driver"));
    }
    if planned.reversers > 0 {
        parts.push(one(planned.reversers, "reverser"));
    }
    parts.join(", ")
}

/// What operators do at each new reversing section.
pub fn sequences(planned: &Planned) -> Vec<String> {
    let sequence = |section: &Reversing| {
        let name = shown(&section.name);
        let long = section
            .apart_mm
            .map_or(String::new(), |mm| format!(", {mm:.0} mm between its nearest ends"));
        match section.turned {
            Turned::AsNow => None,
            Turned::ByItself => Some(format!(
                "To run through {name}{long}: just drive. Its auto-reverser turns it when the first wheels bridge an end. One train \
                 at a time may be at its ends."
            )),
            Turned::BySwitch => Some(format!(
                "To run through {name}{long}: before a train enters, set its reversing switch so that it matches the line the \
                 train comes from. When the whole train is inside, stop. Turn the throttle of the line ahead round, and the \
                 switch if the train is now to go on with it. Then go."
            )),
        }
    };
    planned.sections.iter().filter_map(sequence).collect()
}

/// How far "fewest" is known.
pub fn bound(planned: &Planned) -> &'static str {
    match (planned.fewest_by_labels, planned.sections_proved) {
        (true, true) => {
            "No other labelling of the track takes fewer rail cuts. A plan in which some road may go dead may take fewer; that \
             is not searched."
        }
        (true, false) => {
            "Not all sets of reversing sections were looked at to the end: others may cost less."
        }
        (false, _) => "The track is too entwined to be searched to the end; fewer cuts may do.",
    }
}

/// Stretches that one source feeds, each pair as a sentence.
pub fn together(planned: &Planned) -> Vec<String> {
    let sentence = |[a, b]: &[String; 2]| {
        format!(
            "{} and {} are cut apart, and one driver feeds both: they run together. To run them apart, give one of them a \
             driver of its own (driver in the wishes).",
            shown(a),
            shown(b)
        )
    };
    planned.shared.iter().map(sentence).collect()
}

/// What each cut of a layout is there for.
pub fn audit_text(file: &str, layout: &Layout, audited: &[Audited]) -> String {
    let mut out = String::new();
    let name = if layout.name.is_empty() { file } else { &layout.name };
    let _ = writeln!(out, "{} ({})", shown(name), shown(file));
    if audited.is_empty() {
        let _ = writeln!(out, "\nIt has no cuts.");
    }
    for cut in audited {
        let name = shown(&cut.name);
        let line = match &cut.breaks[..] {
            [] => format!(
                "Nothing needs {name}: without it no wish breaks and the check finds no new fault."
            ),
            breaks => format!("Without {name}: {}.", breaks.join("; ")),
        };
        let _ = writeln!(out);
        for line in wrap(&shown(&line), 96) {
            let _ = writeln!(out, "{line}");
        }
    }
    let needless = audited.iter().filter(|cut| cut.breaks.is_empty()).count();
    if needless > 1 {
        let _ = writeln!(
            out,
            "\nEach of these cuts is not needed while the others stay. Bridge one at a time, and ask again."
        );
    }
    out
}
