//! Papers: what builder and operators take to the layout, made from a layout that is studied.
//!
//! One file per sheet; [`SHEETS`] is the table of them. A sheet is a function of [`Facts`] and a [`Request`] that returns
//! files. Every fact comes from the layout or from its check; the sheets compute nothing but where things stand on paper.

mod cut_list;
mod driver_settings;
mod facts;
mod feeder_list;
mod findings;
mod flow;
mod folder;
mod gap_cards;
mod html;
mod label_strips;
mod operators;
mod paper;
mod pieces;
mod plan;
mod readings;
mod ring_out;
mod shopping;
mod table;
mod work_order;

pub use facts::Facts;
pub use folder::{day, write_into};
pub use paper::Paper;
pub use plan::MOST_TILES;

use crate::drawing::{self, Document};
use crate::layout::Layout;
use crate::study::Study;

/// A wish for papers.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    /// Names of the sheets; empty for all.
    pub only: Vec<String>,
    /// Size of the paper, upright.
    pub paper: Paper,
    /// The number behind "1:" for a plan to scale, in tiles; `None` makes none.
    pub scale: Option<f64>,
    /// True for a page of HTML too.
    pub html: bool,
    /// An old design with the name of its file, for the work order.
    pub old: Option<(String, Layout)>,
    /// Name of the layout file, as it stands on the sheets.
    pub file: String,
    /// Date of the layout file, as it stands on the sheets; empty for none.
    pub date: String,
}

impl Default for Request {
    /// All sheets on A4, without tiles and HTML.
    fn default() -> Self {
        Self {
            only: Vec::new(),
            paper: Paper::A4,
            scale: None,
            html: false,
            old: None,
            file: String::new(),
            date: String::new(),
        }
    }
}

/// A file that was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PaperFile {
    /// Its name, without a folder.
    pub name: String,
    /// Its content.
    pub bytes: Vec<u8>,
}

/// A sheet.
pub struct Sheet {
    /// Its name, for choosing it and for its files.
    pub name: &'static str,
    /// Its title.
    pub title: &'static str,
    make: fn(&Facts, &Request) -> Result<Vec<PaperFile>, String>,
}

/// The sheets, in the order of their use.
pub const SHEETS: &[Sheet] = &[
    Sheet { name: "plan", title: "Plan", make: plan::make },
    Sheet { name: "cuts", title: "Cut list", make: cut_list::make },
    Sheet { name: "feeders", title: "Feeder list", make: feeder_list::make },
    Sheet { name: "ring-out", title: "Ring-out sheet", make: ring_out::make },
    Sheet { name: "cards", title: "Gap cards", make: gap_cards::make },
    Sheet { name: "labels", title: "Label strips", make: label_strips::make },
    Sheet { name: "operators", title: "Operators' sheets", make: operators::make },
    Sheet { name: "settings", title: "Driver settings", make: driver_settings::make },
    Sheet { name: "shopping", title: "Shopping list", make: shopping::make },
    Sheet { name: "findings", title: "Findings and decisions", make: findings::make },
    Sheet { name: work_order::NAME, title: "Work order", make: work_order::make },
];

/// Why no papers were made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoPapers {
    /// The work was to stop.
    #[error("stopped")]
    Stopped,
    /// A sheet cannot be made as it was asked for.
    #[error("{0}")]
    Refused(String),
}

/// Makes the papers of a layout that is studied.
///
/// Before each sheet it asks `goes_on` with the number of sheets done, of how many, and the title of the next; `false`
/// stops it.
///
/// # Errors
/// A name that is no sheet, a scale that gives too many tiles, or the wish to stop.
pub fn papers(
    study: &Study,
    request: &Request,
    goes_on: &mut dyn FnMut(usize, usize, &str) -> bool,
) -> Result<Vec<PaperFile>, NoPapers> {
    let mut chosen = chosen(&request.only)?;
    if request.only.is_empty() && request.old.is_none() {
        chosen.retain(|sheet| sheet.name != work_order::NAME);
    }
    let all = chosen.len() + usize::from(request.html);
    if !goes_on(0, all, "Facts") {
        return Err(NoPapers::Stopped);
    }
    let facts = Facts::of(study);
    let mut files = Vec::new();
    for (at, sheet) in chosen.iter().enumerate() {
        if !goes_on(at, all, sheet.title) {
            return Err(NoPapers::Stopped);
        }
        files.extend((sheet.make)(&facts, request).map_err(NoPapers::Refused)?);
    }
    if request.html {
        if !goes_on(all - 1, all, "HTML page") {
            return Err(NoPapers::Stopped);
        }
        files.push(html::make(&facts, request));
    }
    Ok(files)
}

/// The sheets of these names, in the order of their use; all of them for no name.
///
/// # Errors
/// A name is no sheet's.
fn chosen(only: &[String]) -> Result<Vec<&'static Sheet>, NoPapers> {
    for name in only {
        if !SHEETS.iter().any(|sheet| sheet.name == name) {
            let names: Vec<&str> = SHEETS.iter().map(|sheet| sheet.name).collect();
            return Err(NoPapers::Refused(format!(
                "there is no sheet \"{}\". The sheets are {}",
                crate::layout::shown(name),
                names.join(", ")
            )));
        }
    }
    let wanted = |sheet: &&Sheet| only.is_empty() || only.iter().any(|name| name == sheet.name);
    Ok(SHEETS.iter().filter(wanted).collect())
}

/// The title of a sheet with the name of the layout.
fn titled(sheet: &str, facts: &Facts, request: &Request) -> String {
    format!("{sheet}: {}", facts.title(request))
}

/// The line at the foot of a sheet: file and date.
fn foot(facts: &Facts, request: &Request) -> String {
    let mut parts = vec![facts.title(request)];
    if !request.file.is_empty() && request.file != parts[0] {
        parts.push(crate::layout::shown(&request.file).into_owned());
    }
    if !request.date.is_empty() {
        parts.push(format!("file of {}", request.date));
    }
    parts.join("  ·  ")
}

fn pdf_file(name: &str, document: &Document) -> Result<PaperFile, String> {
    let bytes = drawing::pdf(document).map_err(|why| format!("{name} cannot be made: {why}"))?;
    Ok(PaperFile { name: name.to_owned(), bytes })
}

fn csv_file(name: &str, table: &table::Table) -> PaperFile {
    PaperFile { name: name.to_owned(), bytes: table.csv() }
}

#[cfg(test)]
mod tests;
