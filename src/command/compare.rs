//! The verb `compare`: two layout files in, what the new design mends, makes and takes to standard output.

use std::io::{Read, Write};
use std::path::PathBuf;

use gapwright::compare::{Comparison, Corrections, matched};
use gapwright::findings::{Memo, Study};
use gapwright::report;

use super::input::read;
use super::{FAILED, Streams, as_text, caught, ended, failed, status_of};

/// Two layout files to compare.
pub struct CompareCall {
    /// The old design.
    pub old: PathBuf,
    /// The new one.
    pub new: PathBuf,
    /// Corrections of what is taken for the same thing in both.
    pub corrections: Corrections,
    /// JSON instead of text.
    pub json: bool,
}

/// Compares two designs, writes the comparison, and returns the exit status: 0 if the new design has no fault, 1 if it
/// has, 2 if a file cannot be read or nothing can be written.
pub fn compare(call: &CompareCall, streams: Streams<impl Read, impl Write, impl Write>) -> u8 {
    let Streams { mut output, mut error, pretty, input } = streams;
    let mut input = input;
    if [&call.old, &call.new].iter().all(|path| path.as_os_str() == "-") {
        return failed(
            "standard input can be one of the two designs only; name a file",
            &mut error,
        );
    }
    let mut layouts = Vec::new();
    for path in [&call.old, &call.new] {
        match read(path, &mut input) {
            Ok(layout) => layouts.push(layout),
            Err(why) => drop(failed(&why, &mut error)),
        }
    }
    let [old, new] = &layouts[..] else { return FAILED };
    let names = [&call.old, &call.new].map(|path| path.display().to_string());
    let matched = match matched(old, new, &call.corrections) {
        Ok(matched) => matched,
        Err(why) => return failed(&format!("--same or --apart: {why}"), &mut error),
    };
    let work = || {
        let comparison = Comparison::from(&Study::of(old, &Memo::default()), matched);
        let text = if call.json {
            as_text(&report::compare_document(&names[0], &names[1], &comparison), pretty)
        } else {
            report::compare_text((&names[0], old), &names[1], &comparison)
        };
        (text, comparison.new.verdict.is_fault())
    };
    match caught(work) {
        Ok((text, is_fault)) => ended(&text, status_of(is_fault), &mut output, &mut error),
        Err(panic) => failed(
            &format!(
                "The comparison broke down: {panic}. This is a fault of the program. Report it, with both layout files"
            ),
            &mut error,
        ),
    }
}
