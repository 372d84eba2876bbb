//! The verb `cure`: a layout file in, the cheapest proved set of cures to standard output.

use std::io::{Read, Write};
use std::path::PathBuf;

use gapwright::cure::{Cures, Surgery, Together, applied};
use gapwright::findings::{Class, Memo, Report, Study, report_of};
use gapwright::layout::{Layout, shown};
use gapwright::report;

use super::input::{about, read};
use super::{NO_OUTPUT, Streams, as_text, broke_down, caught, ended, failed, kept, status_of};

/// A call of the verb `cure`.
pub struct CureCall {
    /// The layout file; `-` is standard input.
    pub file: PathBuf,
    /// JSON instead of text.
    pub json: bool,
    /// Where to write the layout with the set applied.
    pub apply: Option<PathBuf>,
}

/// The outcome of a search.
struct Found {
    text: String,
    layout: Option<Layout>,
    left: bool,
    /// True if there is no fault to cure, so that there is nothing to write.
    is_sound: bool,
}

/// Finds the cheapest proved set of cures of a layout, writes it, and returns the exit status: 0 if no fault is left after
/// it, 1 if one is, 2 if a file cannot be read or written.
pub fn cure(call: &CureCall, streams: Streams<impl Read, impl Write, impl Write>) -> u8 {
    let Streams { input, mut output, mut error, pretty } = streams;
    let layout = match read(&call.file, input) {
        Ok(layout) => layout,
        Err(why) => return failed(&why, &mut error),
    };
    let file = call.file.display().to_string();
    let found = match caught(|| found(&file, &layout, call.json, pretty)) {
        Ok(found) => found,
        Err(panic) => {
            let broke = broke_down("the search for cures", &panic);
            return failed(&about(&call.file, &broke), &mut error);
        }
    };
    // The file first: standard output says that it is written.
    let mut text = found.text;
    if let Some(path) = &call.apply {
        let kept = match &found.layout {
            _ if path.as_os_str() == "-" => Err(NO_OUTPUT.to_owned()),
            _ if found.is_sound => Ok(()),
            Some(layout) => kept(layout, path),
            None => Err(about(
                path,
                "not written, because no cure could be proved; the layout is as it was",
            )),
        };
        if let Err(why) = kept {
            return failed(&why, &mut error);
        }
        if !call.json && !found.is_sound {
            let name = path.display().to_string();
            text.push_str(&format!("\nWritten with the changes made: {}\n", shown(&name)));
        }
    }
    ended(&text, status_of(found.left), &mut output, &mut error)
}

fn found(file: &str, layout: &Layout, json: bool, pretty: bool) -> Found {
    let study = Study::of(layout, &Memo::default());
    let surgery = Surgery::of(&study);
    let cures: Cures = surgery.faults();
    let set: Together = surgery.together(&cures);
    let cured = applied(layout, &set.jobs).ok().filter(|_| !set.jobs.is_empty());
    let after: Report = match &cured {
        Some(cured) => report_of(&study.revised(cured.clone())),
        None => surgery.report().clone(),
    };
    let text = if json {
        as_text(&report::cure_document(file, &surgery, &cures, &set, &after), pretty)
    } else {
        report::cures_text(file, &surgery, &cures, &set, &after)
    };
    let is_fault = |f: &gapwright::findings::Finding| f.class == Class::Fault;
    let is_sound = !surgery.report().findings.iter().any(is_fault);
    Found { text, layout: cured, left: after.verdict.is_fault(), is_sound }
}
