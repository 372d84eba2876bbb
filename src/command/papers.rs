//! The verb `papers`: a layout file in, sheets for the bench into a folder.

use std::io::{self, IsTerminal, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use gapwright::findings::{Checker, report_of};
use gapwright::layout::{Layout, shown};
use gapwright::papers::{NoPapers, Paper, PaperFile, Request, day, papers, write_into};

use super::input::{about, read};
use super::{Streams, WAITS, broke_down, caught, ended, failed, shown_while, status_of};

/// A call of the verb `papers`.
pub struct PapersCall {
    /// The layout file; `-` is standard input.
    pub file: PathBuf,
    /// The folder for the papers.
    pub out: PathBuf,
    /// Names of the sheets; empty for all.
    pub only: Vec<String>,
    /// Size of the paper.
    pub paper: Paper,
    /// The number behind "1:" of the tiles, if there are to be any.
    pub scale: Option<f64>,
    /// A page of HTML too.
    pub html: bool,
    /// The file of an old design, for the work order.
    pub from: Option<PathBuf>,
}

/// Makes the papers of a layout, writes them, names them on standard output, and returns the exit status: 0 if the layout
/// has no fault, 1 if it has one, 2 if a file cannot be read or written.
pub fn make_papers(call: &PapersCall, streams: Streams<impl Read, impl Write, impl Write>) -> u8 {
    let Streams { input, mut output, mut error, .. } = streams;
    match made(call, input) {
        Ok((text, is_fault)) => ended(&text, status_of(is_fault), &mut output, &mut error),
        Err(why) => failed(&why, &mut error),
    }
}

/// The names of the files that were written, and whether the layout has a fault; or why there are none.
fn made(call: &PapersCall, input: impl Read) -> Result<(String, bool), String> {
    let mut input = input;
    let layout = read(&call.file, &mut input)?;
    let old = match &call.from {
        Some(path) => Some((file_name(path), read(path, &mut input)?)),
        None => None,
    };
    let request = Request { old, ..request(call) };
    let (files, is_fault) = match caught(|| work(&layout, &request)) {
        Ok(done) => done.map_err(|why| about(&call.file, &format!("no papers: {why}.")))?,
        Err(panic) => {
            let broke = broke_down("the papers", &panic);
            return Err(about(&call.file, &broke));
        }
    };
    if call.out.as_os_str() == "-" {
        let words = "Papers cannot be written to standard output. Name a folder after --out.";
        return Err(words.into());
    }
    let mut text = String::new();
    for path in write_into(&call.out, &files)? {
        text.push_str(&format!("{}\n", shown(&path.display().to_string())));
    }
    Ok((text, is_fault))
}

/// Checks a layout and makes its papers. On a terminal a long check says how far it is.
fn work(layout: &Layout, request: &Request) -> Result<(Vec<PaperFile>, bool), NoPapers> {
    let progress = Arc::default();
    let work = || {
        let study = Checker::watched(&progress).study(layout);
        let is_fault = report_of(&study).verdict.is_fault();
        let files = papers(&study, request, &mut |_, _, _| true)?;
        Ok((files, is_fault))
    };
    if !io::stderr().is_terminal() {
        return work();
    }
    shown_while(&progress, &WAITS, io::stderr(), work)
}

fn request(call: &PapersCall) -> Request {
    let is_input = call.file.as_os_str() == "-";
    let name = file_name(&call.file);
    let written = std::fs::metadata(&call.file).and_then(|there| there.modified()).ok();
    let (file, date) = match is_input {
        true => (String::new(), String::new()),
        false => (name, written.map_or_else(String::new, day)),
    };
    let (only, paper, scale, html) = (call.only.clone(), call.paper, call.scale, call.html);
    Request { only, paper, scale, html, old: None, file, date }
}

fn file_name(path: &Path) -> String {
    path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default()
}
