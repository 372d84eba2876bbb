//! The verb `plan`: a layout file in, where to cut and what to feed to standard output.

use std::io::{Read, Write};
use std::path::PathBuf;

use gapwright::layout::{io_words, read_from, read_path, shown, write_path};
use gapwright::planning::{Wishes, finished, wishes_of, wishes_text};
use gapwright::report;

use super::{FAILED, FAULT, NO_FAULT, Streams, caught, say, written};

/// A layout file to plan, the wishes, and what to do with the plan.
pub struct PlanCall {
    /// The layout file; `-` is standard input.
    pub file: PathBuf,
    /// A file with wishes. Without it the names on the layout are the wishes.
    pub wishes: Option<PathBuf>,
    /// JSON instead of text.
    pub json: bool,
    /// Where to write the layout with the plan applied.
    pub apply: Option<PathBuf>,
}

/// Plans a layout, writes the plan, and returns the exit status: 0 if no fault is left after it, 1 if one is, 2 if there is
/// no plan, or a file cannot be read or written.
pub fn plan_cuts(call: &PlanCall, streams: Streams<impl Read, impl Write, impl Write>) -> u8 {
    let Streams { input, mut output, mut error, pretty } = streams;
    match planned(call, input, pretty) {
        Ok((text, is_fault)) => match written(&mut output, &text) {
            Ok(()) if is_fault => FAULT,
            Ok(()) => NO_FAULT,
            Err(why) => {
                say(&mut error, &format!("Standard output cannot be written: {}.", io_words(&why)));
                FAILED
            }
        },
        Err(reasons) => {
            reasons.lines().for_each(|line| say(&mut error, line));
            FAILED
        }
    }
}

/// The text of the plan, and whether a fault is left after it; or why there is none.
fn planned(call: &PlanCall, input: impl Read, pretty: bool) -> Result<(String, bool), String> {
    let file = call.file.display().to_string();
    let named = |why: &str| {
        let lines = why.lines().map(|line| format!("{}: {line}", shown(&file)));
        lines.collect::<Vec<_>>().join("\n")
    };
    let read = match call.file.as_os_str() == "-" {
        true => read_from(input),
        false => read_path(&call.file),
    };
    let layout = read.map_err(|why| named(&why.to_string()))?.layout;
    let wishes = match &call.wishes {
        None => wishes_of(&layout),
        Some(path) => wishes_in(path)?,
    };
    let finished = match caught(|| finished(&layout, &wishes)) {
        Ok(Ok(finished)) => finished,
        Ok(Err(why)) => return Err(named(&why.to_string())),
        Err(panic) => {
            return Err(named(&format!(
                "the planning broke down: {panic}. This is a fault of the program. Report it, with the layout file"
            )));
        }
    };
    if let Some(path) = &call.apply {
        let out = path.display().to_string();
        if out == "-" {
            return Err(
                "The layout cannot be written to standard output. Name a file after --apply."
                    .into(),
            );
        }
        write_path(&finished.layout, path)
            .map_err(|why| format!("{}: cannot be written: {}", shown(&out), io_words(&why)))?;
    }
    let text = if call.json {
        let document = report::plan_document(&file, &layout, &finished, &wishes);
        if pretty { format!("{document:#}\n") } else { format!("{document}\n") }
    } else {
        report::plan_text(&file, &layout, &finished, &wishes)
    };
    Ok((text, finished.report.verdict.is_fault()))
}

fn wishes_in(path: &PathBuf) -> Result<Wishes, String> {
    let name = path.display().to_string();
    /// Longest file of wishes, bytes.
    const LONGEST: u64 = 4 * 1024 * 1024;
    let about = std::fs::metadata(path)
        .map_err(|why| format!("{}: cannot be read: {}", shown(&name), io_words(&why)))?;
    if !about.is_file() || about.len() > LONGEST {
        return Err(format!("{}: is no file of wishes", shown(&name)));
    }
    let text = std::fs::read_to_string(path)
        .map_err(|why| format!("{}: cannot be read: {}", shown(&name), io_words(&why)))?;
    wishes_text(&text).map_err(|why| format!("{}: {why}", shown(&name)))
}
