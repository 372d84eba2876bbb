//! The verb `plan`: a layout file in, where to cut and what to feed to standard output.

use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use gapwright::layout::Layout;
use gapwright::planning::{Audited, Finished, NoPlan, Wishes, wishes_of, wishes_text};
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
    /// What each cut is there for, instead of a plan.
    pub audit: bool,
    /// Where to write the layout with the plan applied.
    pub apply: Option<PathBuf>,
}

/// What does the work of the verb, so that whoever calls it can watch the progress.
pub struct Works<'a> {
    /// Plans a layout.
    pub plan: &'a dyn Fn(&Layout, &Wishes) -> Result<Finished, NoPlan>,
    /// Audits the cuts of a layout.
    pub audit: &'a dyn Fn(&Layout, &Wishes) -> Vec<Audited>,
}

/// Plans a layout, or audits its cuts, writes that, and returns the exit status: 0 if no fault is left after the plan, or
/// each cut is needed; 1 if not; 2 if there is no plan, or a file cannot be read or written.
pub fn plan_cuts(
    call: &PlanCall,
    works: &Works,
    streams: Streams<impl Read, impl Write, impl Write>,
) -> u8 {
    let Streams { input, mut output, mut error, pretty } = streams;
    match planned(call, works, input, pretty) {
        Ok((text, is_fault)) => ended(&text, status_of(is_fault), &mut output, &mut error),
        Err(reasons) => failed(&reasons, &mut error),
    }
}

/// The text of the plan, and whether a fault is left after it; or why there is none.
fn planned(
    call: &PlanCall,
    works: &Works,
    input: impl Read,
    pretty: bool,
) -> Result<(String, bool), String> {
    let layout = read(&call.file, input)?;
    let wishes = match &call.wishes {
        None => wishes_of(&layout),
        Some(path) => wishes_in(path)?,
    };
    let file = call.file.display().to_string();
    if call.audit {
        let audited = match caught(|| (works.audit)(&layout, &wishes)) {
            Ok(audited) => audited,
            Err(panic) => return Err(about(&call.file, &broke_down("the audit", &panic))),
        };
        let is_needless = audited.iter().any(|cut| cut.breaks.is_empty());
        let text = if call.json {
            as_text(&report::audit_document(&file, &layout, &audited), pretty)
        } else {
            report::audit_text(&file, &layout, &audited)
        };
        return Ok((text, is_needless));
    }
    let finished = match caught(|| (works.plan)(&layout, &wishes)) {
        Ok(done) => done.map_err(|why| about(&call.file, &why.to_string()))?,
        Err(panic) => return Err(about(&call.file, &broke_down("the planning", &panic))),
    };
    if let Some(path) = &call.apply {
        kept(&finished.layout, path)?;
    }
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
