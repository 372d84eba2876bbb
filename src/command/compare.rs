//! The verb `compare`: two layout files in, what the new design mends, makes and takes to standard output.

use std::io::{Read, Write};
use std::path::PathBuf;

use gapwright::compare::Comparison;
use gapwright::layout::{Layout, io_words, read_path, shown};
use gapwright::report;

use super::{FAILED, FAULT, NO_FAULT, Streams, caught, say, written};

/// Two layout files to compare.
pub struct CompareCall {
    /// The old design.
    pub old: PathBuf,
    /// The new one.
    pub new: PathBuf,
    /// JSON instead of text.
    pub json: bool,
}

/// Compares two designs, writes the comparison, and returns the exit status: 0 if the new design has no fault, 1 if it
/// has, 2 if a file cannot be read or nothing can be written.
pub fn compare(call: &CompareCall, streams: Streams<impl Read, impl Write, impl Write>) -> u8 {
    let Streams { mut output, mut error, pretty, .. } = streams;
    let mut read = |path: &PathBuf| -> Option<Layout> {
        match read_path(path) {
            Ok(loaded) => Some(loaded.layout),
            Err(why) => {
                let name = path.display().to_string();
                for line in why.to_string().lines() {
                    say(&mut error, &format!("{}: {line}", shown(&name)));
                }
                None
            }
        }
    };
    let (Some(old), Some(new)) = (read(&call.old), read(&call.new)) else { return FAILED };
    let names = [&call.old, &call.new].map(|path| path.display().to_string());
    let work = || {
        let comparison = Comparison::of(&old, &new);
        let text = if call.json {
            let document = report::compare_document(&names[0], &names[1], &comparison);
            if pretty { format!("{document:#}\n") } else { format!("{document}\n") }
        } else {
            report::compare_text((&names[0], &old), (&names[1], &new), &comparison)
        };
        (text, comparison.new.verdict.is_fault())
    };
    let (text, is_fault) = match caught(work) {
        Ok(done) => done,
        Err(panic) => {
            let broke = format!(
                "The comparison broke down: {panic}. This is a fault of the program. Report it, with both layout files"
            );
            say(&mut error, &broke);
            return FAILED;
        }
    };
    match written(&mut output, &text) {
        Ok(()) if is_fault => FAULT,
        Ok(()) => NO_FAULT,
        Err(why) => {
            say(&mut error, &format!("Standard output cannot be written: {}.", io_words(&why)));
            FAILED
        }
    }
}
