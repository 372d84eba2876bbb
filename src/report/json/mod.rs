//! The report as JSON, schema 2, as `docs/json.md` describes it. No computation.
//!
//! The views of this folder give the report its shape for others; they are written one after the other. Numbers
//! pass through [`number`], which keeps −0 and noise out.

mod compare;
mod cure;
mod cut;
mod diagnosis;
mod escape;
mod finding;
mod number;
mod plan;
mod situation;

use std::fmt;

use serde::ser::{Serialize, SerializeMap, Serializer};
use serde_json::ser::{CompactFormatter, PrettyFormatter};

use crate::cure::Cures;
use crate::findings::{BlockReport, Report, SupplyReport};
use crate::layout::{DriverId, Layout, SupplyId};
use crate::rails::BlockId;
use crate::study::cut::stand_in;
pub use compare::{CompareDocument, compare_document};
pub use cure::{CureDocument, cure_document};
use cut::Cut;
pub use diagnosis::{DiagnosisDocument, diagnosis_document};
use escape::Escaped;
use finding::Finding;
use number::Mm;
pub use plan::{PlanDocument, audit_document, plan_document};
use situation::Current;

/// Number of the schema. Fields may be added within it; none changes its meaning.
pub const SCHEMA: u32 = 2;

/// One document for one checked file. Its text, by `Display`, is on one line; by `{:#}` it has a line for each value.
#[derive(Clone, Copy)]
pub struct Document<'a> {
    file: &'a str,
    lineup: Option<&'a str>,
    layout: &'a Layout,
    report: &'a Report,
    cures: Option<&'a Cures>,
}

/// One document for one checked file.
pub fn document<'a>(file: &'a str, layout: &'a Layout, report: &'a Report) -> Document<'a> {
    Document { file, lineup: None, layout, report, cures: None }
}

impl<'a> Document<'a> {
    /// The same of a layout in one of its lineups.
    pub fn in_lineup(self, lineup: Option<&'a str>) -> Document<'a> {
        Document { lineup, ..self }
    }

    /// The same with the cures of its findings.
    pub fn with_cures(self, cures: &'a Cures) -> Document<'a> {
        Document { cures: Some(cures), ..self }
    }
}

impl fmt::Display for Document<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        shown_as(self, f)
    }
}

/// Writes a document on one line, or with `{:#}` a line for each value.
fn shown_as(document: &impl Serialize, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    let mut text = Vec::new();
    if f.alternate() {
        let pretty = Escaped(PrettyFormatter::new());
        let mut serializer = serde_json::Serializer::with_formatter(&mut text, pretty);
        document.serialize(&mut serializer).map_err(|_| fmt::Error)?;
    } else {
        let compact = Escaped(CompactFormatter);
        let mut serializer = serde_json::Serializer::with_formatter(&mut text, compact);
        document.serialize(&mut serializer).map_err(|_| fmt::Error)?;
    }
    f.write_str(&String::from_utf8(text).map_err(|_| fmt::Error)?)
}

/// The texts of documents as one text: one document by itself, several as an array, and a line break. `pretty` is for people:
/// a line for each value, as the documents have it themselves then.
pub fn joined(documents: &[String], pretty: bool) -> String {
    match documents {
        [] => "[]\n".to_owned(),
        [one] => format!("{one}\n"),
        // No string in a document has a line break, so each of them is between values.
        several if pretty => {
            let indented: Vec<String> = several.iter().map(|d| d.replace('\n', "\n  ")).collect();
            format!("[\n  {}\n]\n", indented.join(",\n  "))
        }
        several => format!("[{}]\n", several.join(",")),
    }
}

/// What an iterator yields, as a list.
struct Each<I>(I);

impl<I: Iterator<Item: Serialize> + Clone> Serialize for Each<I> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.0.clone())
    }
}

#[derive(serde::Serialize)]
struct Block<'a> {
    id: BlockId,
    name: &'a str,
    drivers: &'a [DriverId],
    length_mm: Mm,
}

impl<'a> Block<'a> {
    fn of(block: &'a BlockReport) -> Block<'a> {
        let BlockReport { id, name, drivers, length_mm } = block;
        Block { id: *id, name, drivers, length_mm: Mm::of(*length_mm) }
    }
}

#[derive(serde::Serialize)]
struct Supply {
    id: SupplyId,
    load: Option<Current>,
}

impl Supply {
    fn of(supply: &SupplyReport) -> Supply {
        Supply { id: supply.id, load: supply.load.as_ref().map(Current::of) }
    }
}

/// What stands in for a vehicle where a layout has none.
#[derive(serde::Serialize)]
struct StandIn {
    length_mm: Mm,
    axles: usize,
}

impl Serialize for Document<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Document { file, lineup, layout, report, cures } = *self;
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("schema", &SCHEMA)?;
        map.serialize_entry("file", file)?;
        map.serialize_entry("layout", &layout.name)?;
        if let Some(lineup) = lineup {
            map.serialize_entry("lineup", lineup)?;
        }
        map.serialize_entry("verdict", &report.verdict)?;
        if layout.vehicles.is_empty() {
            let stand_in = stand_in();
            let stand_in =
                StandIn { length_mm: Mm::of(stand_in.length_mm), axles: stand_in.axles.len() };
            map.serialize_entry("stand_in_vehicle", &stand_in)?;
        }
        map.serialize_entry("blocks", &Each(report.blocks.iter().map(Block::of)))?;
        map.serialize_entry("supplies", &Each(report.supplies.iter().map(Supply::of)))?;
        map.serialize_entry("cuts", &Each(report.cuts.iter().map(Cut::of)))?;
        let findings = report.findings.iter().map(|f| Finding::of(f, report, layout, cures));
        map.serialize_entry("findings", &Each(findings))?;
        map.end()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_document_stands_alone_and_others_in_an_array() {
        let texts =
            |documents: &[&str]| documents.iter().map(|&d| d.to_owned()).collect::<Vec<_>>();
        for (documents, plain, pretty) in [
            (&["{}"][..], "{}\n", "{}\n"),
            (&["1", "[\n  2\n]"], "[1,[\n  2\n]]\n", "[\n  1,\n  [\n    2\n  ]\n]\n"),
            (&[], "[]\n", "[]\n"),
        ] {
            assert_eq!(joined(&texts(documents), false), plain);
            assert_eq!(joined(&texts(documents), true), pretty);
        }
    }

    #[test]
    fn a_document_for_people_says_the_same_in_more_lines() {
        let layout = Layout { name: "\u{1b}[31m\u{202e}\n".to_owned(), ..Layout::default() };
        let found = crate::findings::check(&layout);
        let document = document("-", &layout, &found);
        let (one, many) = (document.to_string(), format!("{document:#}"));
        assert_eq!(one.lines().count(), 1);
        assert!(many.lines().count() > 5, "{many}");
        let value = |text: &str| serde_json::from_str::<serde_json::Value>(text).ok();
        assert!(value(&one).is_some_and(|v| v["layout"] == layout.name.as_str()), "{one}");
        assert_eq!(value(&one), value(&many));
        assert!(one.contains("\\u001b[31m\\u202e\\n") && !many.contains('\u{1b}'), "{one}");
    }
}
