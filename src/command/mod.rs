//! The verbs: layout files in, reports to standard output, reasons to standard error, an exit status.

mod caught;
mod compare;
mod cure;
mod diagnose;
mod input;
mod papers;
mod plan;
mod progress;

use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use gapwright::cure::Cures;
use gapwright::findings::{Report, Verdict};
use gapwright::layout::{Layout, io_words, shown, write_path};
use gapwright::report;

use caught::caught;
pub use caught::keep_quiet;
pub use compare::{CompareCall, compare};
pub use cure::{CureCall, cure};
pub use diagnose::{DiagnoseCall, diagnose};
use input::{Checked, about};
pub use papers::{PapersCall, make_papers};
pub use plan::{PlanCall, Works, plan_cuts};
pub use progress::{CLEAR, WAITS, shown_while};

/// Exit status: no layout has a fault.
pub const NO_FAULT: u8 = 0;
/// Exit status: a layout has a fault.
pub const FAULT: u8 = 1;
/// Exit status: the call is wrong, a file cannot be read or checked, or nothing can be written.
pub const FAILED: u8 = 2;
/// Exit status: Ctrl+C has ended the program.
#[cfg(unix)]
pub const STOPPED: u8 = 130;

/// Files to check, and the form of the report.
pub struct Call {
    /// Layout files; `-` is standard input.
    pub files: Vec<PathBuf>,
    /// JSON instead of text.
    pub json: bool,
    /// Every lineup of each file as well.
    pub lineups: bool,
}

/// The standard streams of the program, or what stands in for them in a test.
pub struct Streams<I, O, E> {
    /// Standard input.
    pub input: I,
    /// Standard output.
    pub output: O,
    /// Standard error.
    pub error: E,
    /// True if JSON takes a line for each value, for a person who reads it.
    pub pretty: bool,
}

/// The report of a check, and the cures of its findings for JSON.
pub struct Outcome {
    /// The report.
    pub report: Report,
    /// The cures; for JSON only.
    pub cures: Option<Cures>,
}

/// Checks the files of a call with `check`, writes what it finds, and returns the exit status.
///
/// Nothing is checked if a file cannot be read. A check that panics fails alone: the other layouts are checked and, as
/// text, reported. As JSON nothing is written then, since a list with a layout left out looks complete.
pub fn run(
    call: &Call,
    check: impl Fn(&Layout) -> Outcome,
    streams: Streams<impl Read, impl Write, impl Write>,
) -> u8 {
    let Streams { input, mut output, mut error, pretty } = streams;
    let layouts = match input::read_all(call, input) {
        Ok(layouts) => layouts,
        Err(reasons) => {
            reasons.iter().for_each(|why| say(&mut error, why));
            return FAILED;
        }
    };
    let mut told = Vec::with_capacity(layouts.len());
    let mut worst = Verdict::default();
    for layout in &layouts {
        let work = || {
            let set = layout.set();
            let found = check(&set);
            (found.report.verdict, told_of(layout, &set, &found, call.json, pretty))
        };
        match caught(work) {
            Ok((verdict, text)) => {
                worst = worst.max(verdict);
                told.push(text);
            }
            Err(panic) => {
                let broke = broke_down("the check", &panic);
                say(&mut error, &format!("{}: {broke}", shown(&layout.title())));
            }
        }
    }
    let all = told.len() == layouts.len();
    let text = match call.json {
        true if !all => String::new(),
        true => report::joined(&told, pretty),
        false => told.join("\n"),
    };
    let status = match all {
        true => status_of(worst.is_fault()),
        false => FAILED,
    };
    ended(&text, status, &mut output, &mut error)
}

/// The exit status of a layout that has a fault, or has none.
fn status_of(is_fault: bool) -> u8 {
    if is_fault { FAULT } else { NO_FAULT }
}

/// Writes the output of a verb and returns its exit status: `status`, or [`FAILED`] if nothing could be written.
fn ended(text: &str, status: u8, output: &mut impl Write, error: &mut impl Write) -> u8 {
    match written(output, text) {
        Ok(()) => status,
        Err(why) => {
            say(error, &format!("Standard output cannot be written: {}.", io_words(&why)));
            FAILED
        }
    }
}

/// Says why a verb has failed, a line for each, and returns the exit status.
fn failed(why: &str, error: &mut impl Write) -> u8 {
    why.lines().for_each(|line| say(error, line));
    FAILED
}

/// Writes a layout to the file that `--apply` names; or why it cannot be written.
fn kept(layout: &Layout, path: &Path) -> Result<(), String> {
    if path.as_os_str() == "-" {
        return Err(NO_OUTPUT.into());
    }
    let why = |why: io::Error| about(path, &format!("cannot be written: {}", io_words(&why)));
    write_path(layout, path).map_err(why)
}

/// The message where `--apply` names standard output.
const NO_OUTPUT: &str =
    "The layout cannot be written to standard output. Name a file after --apply.";

/// A document as it goes to standard output: a line for each value, or one line.
fn as_text(document: &impl std::fmt::Display, pretty: bool) -> String {
    if pretty { format!("{document:#}\n") } else { format!("{document}\n") }
}

/// The report of one layout, for a person or as a JSON document.
fn told_of(
    checked: &Checked,
    layout: &Layout,
    found: &Outcome,
    json: bool,
    pretty: bool,
) -> String {
    let Outcome { report: found, cures } = found;
    if json {
        let lineup = checked.lineup();
        let document = report::document(&checked.file, layout, found);
        let document = document.in_lineup(lineup.as_deref());
        let document = match cures {
            Some(cures) => document.with_cures(cures),
            None => document,
        };
        return if pretty { format!("{document:#}") } else { document.to_string() };
    }
    report::text(&checked.title(), layout, found, report::Units::Metric)
}

/// The line for work that panicked: "the check broke down".
fn broke_down(work: &str, panic: &str) -> String {
    format!(
        "{work} broke down: {panic}. This is a fault of the program. Report it, with the layout file"
    )
}

/// Writes to standard output. A reader that closes the pipe early has what it wanted.
pub fn written(output: &mut impl Write, text: &str) -> io::Result<()> {
    match output.write_all(text.as_bytes()).and_then(|()| output.flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        done => done,
    }
}

/// Writes a line to standard error. If that fails, no place is left to say so; the exit status says it.
pub fn say(error: &mut impl Write, line: &str) {
    let _ = writeln!(error, "{line}");
}

#[cfg(test)]
mod tests;
