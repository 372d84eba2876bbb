//! The verb `plan`: a layout file in, where to cut and what to feed to standard output.

use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use gapwright::planning::{Wishes, finished, wishes_of, wishes_text};
use gapwright::report;

use super::input::{about, read, small};
use super::{Streams, as_text, broke_down, caught, ended, failed, kept, status_of};

/// A call of the verb `plan`.
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
        Ok((text, is_fault)) => ended(&text, status_of(is_fault), &mut output, &mut error),
        Err(reasons) => failed(&reasons, &mut error),
    }
}

/// The text of the plan, and whether a fault is left after it; or why there is none.
fn planned(call: &PlanCall, input: impl Read, pretty: bool) -> Result<(String, bool), String> {
    let layout = read(&call.file, input)?;
    let wishes = match &call.wishes {
        None => wishes_of(&layout),
        Some(path) => wishes_in(path)?,
    };
    let finished = match caught(|| finished(&layout, &wishes)) {
        Ok(done) => done.map_err(|why| about(&call.file, &why.to_string()))?,
        Err(panic) => return Err(about(&call.file, &broke_down("the planning", &panic))),
    };
    if let Some(path) = &call.apply {
        kept(&finished.layout, path)?;
    }
    let file = call.file.display().to_string();
    let text = if call.json {
        as_text(&report::plan_document(&file, &layout, &finished, &wishes), pretty)
    } else {
        report::plan_text(&file, &layout, &finished, &wishes)
    };
    Ok((text, finished.report.verdict.is_fault()))
}

/// The wishes in a file; or why it has none.
fn wishes_in(path: &Path) -> Result<Wishes, String> {
    let text = small(path, "is no file of wishes")?;
    wishes_text(&text).map_err(|why| about(path, &why.to_string()))
}
