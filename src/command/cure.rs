//! The verb `cure`: a layout file in, the cheapest proved set of cures to standard output.

use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use gapwright::cure::{Cures, Surgery, Together, applied};
use gapwright::findings::{Class, Memo, Report, Study, report_of};
use gapwright::layout::{Layout, io_words, read_from, read_path, shown, write_path};
use gapwright::report;

use super::{FAILED, FAULT, NO_FAULT, Streams, caught, say, written};

/// A layout file to cure, and what to do with the cure.
pub struct CureCall {
    /// The layout file; `-` is standard input.
    pub file: PathBuf,
    /// JSON instead of text.
    pub json: bool,
    /// Where to write the layout with the set applied.
    pub apply: Option<PathBuf>,
}

/// What was found.
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
    let file = call.file.display().to_string();
    let read = match call.file.as_os_str() == "-" {
        true => read_from(input),
        false => read_path(&call.file),
    };
    let layout = match read {
        Ok(loaded) => loaded.layout,
        Err(why) => {
            for line in why.to_string().lines() {
                say(&mut error, &format!("{}: {line}", shown(&file)));
            }
            return FAILED;
        }
    };
    let found = match caught(|| found(&file, &layout, call.json, pretty)) {
        Ok(found) => found,
        Err(panic) => {
            let broke = format!(
                "{}: the search for cures broke down: {panic}. \
                 This is a fault of the program. Report it, with the layout file",
                shown(&file)
            );
            say(&mut error, &broke);
            return FAILED;
        }
    };
    // The file first: standard output says that it is written.
    if let Some(path) = &call.apply
        && let Err(why) = kept(&found, path)
    {
        say(&mut error, &why);
        return FAILED;
    }
    let mut text = found.text;
    if let (Some(path), false, false) = (&call.apply, call.json, found.is_sound) {
        let name = path.display().to_string();
        text.push_str(&format!("\nWritten with the changes made: {}\n", shown(&name)));
    }
    match written(&mut output, &text) {
        Ok(()) if found.left => FAULT,
        Ok(()) => NO_FAULT,
        Err(why) => {
            say(&mut error, &format!("Standard output cannot be written: {}.", io_words(&why)));
            FAILED
        }
    }
}

fn kept(found: &Found, path: &Path) -> Result<(), String> {
    let name = path.display().to_string();
    if name == "-" {
        return Err(
            "The layout cannot be written to standard output. Name a file after --apply.".into()
        );
    }
    if found.is_sound {
        return Ok(());
    }
    let Some(layout) = &found.layout else {
        return Err(format!(
            "{}: not written, because no cure could be proved; the layout is as it was",
            shown(&name)
        ));
    };
    write_path(layout, path)
        .map_err(|why| format!("{}: cannot be written: {}", shown(&name), io_words(&why)))
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
        let document = report::cure_document(file, &surgery, &cures, &set, &after);
        let text = if pretty { format!("{document:#}") } else { document.to_string() };
        format!("{text}\n")
    } else {
        report::cures_text(file, &surgery, &cures, &set, &after)
    };
    let is_fault = |f: &gapwright::findings::Finding| f.class == Class::Fault;
    let is_sound = !surgery.report().findings.iter().any(is_fault);
    Found { text, layout: cured, left: after.verdict.is_fault(), is_sound }
}
