//! The verb `diagnose`: a layout, a gap and what was seen there in; suspects and the next test to standard output.

use std::io::{Read, Write};
use std::path::PathBuf;

use gapwright::diagnose::{Hunt, Saw, Standing, gap_named, observations, saw_text};
use gapwright::report;

use super::input::{about, read, small};
use super::{FAULT, NO_FAULT, Streams, as_text, broke_down, caught, ended, failed};

/// A call of the verb `diagnose`.
pub struct DiagnoseCall {
    /// The layout file; `-` is standard input.
    pub file: PathBuf,
    /// The gap, by its name or its identity.
    pub at: String,
    /// A file of observations. Without it nothing was seen yet.
    pub saw: Option<PathBuf>,
    /// JSON instead of text.
    pub json: bool,
}

/// Says which fault explains what was seen at a gap, and returns the exit status: 0 if one class of faults is all but sure,
/// 1 if not, 2 if a file or the gap cannot be used.
pub fn diagnose(call: &DiagnoseCall, streams: Streams<impl Read, impl Write, impl Write>) -> u8 {
    let Streams { input, mut output, mut error, pretty } = streams;
    match diagnosed(call, input, pretty) {
        Ok((text, is_sure)) => {
            let status = if is_sure { NO_FAULT } else { FAULT };
            ended(&text, status, &mut output, &mut error)
        }
        Err(reasons) => failed(&reasons, &mut error),
    }
}

/// The text of the diagnosis, and whether one class is all but sure; or why there is none.
fn diagnosed(
    call: &DiagnoseCall,
    input: impl Read,
    pretty: bool,
) -> Result<(String, bool), String> {
    let layout = read(&call.file, input)?;
    let of_layout = |why: String| about(&call.file, &why);
    let cut = gap_named(&layout, &call.at).map_err(|why| of_layout(why.to_string()))?;
    let saw = match &call.saw {
        None => Saw::default(),
        Some(path) => {
            let text = small(path, "is no file of observations")?;
            saw_text(&text).map_err(|why| about(path, &why.to_string()))?
        }
    };
    let broke = |panic: String| of_layout(broke_down("the diagnosis", &panic));
    let hunt = match caught(|| Hunt::of(&layout, cut)) {
        Ok(hunt) => hunt.map_err(|why| of_layout(why.to_string()))?,
        Err(panic) => return Err(broke(panic)),
    };
    let seen = observations(&layout, &hunt, &saw)
        .map_err(|why| about(call.saw.as_ref().unwrap_or(&call.file), &why.to_string()))?;
    let found = caught(|| hunt.after(saw.past, &seen)).map_err(broke)?;
    let file = call.file.display().to_string();
    let of = (file.as_str(), &layout);
    let text = if call.json {
        as_text(&report::diagnosis_document(of, &hunt, &seen, &found), pretty)
    } else {
        report::diagnosis_text(of, &hunt, &seen, &found)
    };
    Ok((text, found.standing == Standing::Sure))
}
