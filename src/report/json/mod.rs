//! The report as JSON, schema 2, as `docs/json.md` describes it. No computation.
//!
//! The views of this folder give the report its shape for others; they are written one after the other, straight to where
//! the document goes. Numbers pass through [`number`], which keeps −0 and noise out.

mod cut;
mod escape;
mod finding;
mod number;
mod situation;

use std::fmt;
use std::io::{self, Write};

use serde::ser::{Serialize, SerializeMap, SerializeSeq, Serializer};
use serde_json::ser::{CompactFormatter, PrettyFormatter};

use crate::findings::{BlockReport, Report, SupplyReport};
use crate::layout::{DriverId, Layout, SupplyId};
use crate::rails::BlockId;
use crate::study::cut::stand_in;
use cut::Cut;
use escape::Escaped;
use finding::Finding;
use number::Mm;
use situation::Current;

/// Number of the schema. Fields may be added within it; none changes its meaning.
pub const SCHEMA: u32 = 2;

/// One document for one checked file. Its text, by `Display`, is on one line.
#[derive(Clone, Copy)]
pub struct Document<'a> {
    file: &'a str,
    lineup: Option<&'a str>,
    layout: &'a Layout,
    report: &'a Report,
}

/// One document for one checked file.
pub fn document<'a>(file: &'a str, layout: &'a Layout, report: &'a Report) -> Document<'a> {
    Document { file, lineup: None, layout, report }
}

impl<'a> Document<'a> {
    /// The same of a layout in one of its lineups.
    pub fn in_lineup(self, lineup: Option<&'a str>) -> Document<'a> {
        Document { lineup, ..self }
    }
}

impl fmt::Display for Document<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut text = Vec::new();
        let mut serializer = serde_json::Serializer::with_formatter(&mut text, compact());
        self.serialize(&mut serializer).map_err(|_| fmt::Error)?;
        f.write_str(&String::from_utf8(text).map_err(|_| fmt::Error)?)
    }
}

fn compact() -> Escaped<CompactFormatter> {
    Escaped(CompactFormatter)
}

/// Writes one document, or several as an array, one after the other as they come, and a line break. `pretty` is for people:
/// a line for each value.
///
/// # Errors
/// It cannot be written there.
pub fn write_documents<D: Serialize>(
    out: impl Write,
    documents: impl ExactSizeIterator<Item = D>,
    pretty: bool,
) -> io::Result<()> {
    let mut out = io::BufWriter::new(out);
    if pretty {
        let pretty = Escaped(PrettyFormatter::new());
        write_all(documents, &mut serde_json::Serializer::with_formatter(&mut out, pretty))?;
    } else {
        write_all(documents, &mut serde_json::Serializer::with_formatter(&mut out, compact()))?;
    }
    out.write_all(b"\n")?;
    out.flush()
}

fn write_all<D: Serialize, S: Serializer>(
    mut documents: impl ExactSizeIterator<Item = D>,
    serializer: S,
) -> Result<(), S::Error> {
    if documents.len() == 1
        && let Some(one) = documents.next()
    {
        one.serialize(serializer)?;
        return Ok(());
    }
    let mut all = serializer.serialize_seq(Some(documents.len()))?;
    documents.try_for_each(|document| all.serialize_element(&document))?;
    all.end()?;
    Ok(())
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
        let Document { file, lineup, layout, report } = *self;
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
        let findings = report.findings.iter().map(|f| Finding::of(f, report, layout));
        map.serialize_entry("findings", &Each(findings))?;
        map.end()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_document_stands_alone_and_others_in_an_array() {
        let written = |documents: &[&str], pretty| {
            let mut out = Vec::new();
            write_documents(&mut out, documents.iter(), pretty).map(|()| String::from_utf8(out))
        };
        for (documents, text) in [
            (&["a"][..], "\"a\"\n"),
            (&["a", "\u{1b}\u{202e}"], "[\"a\",\"\\u001b\\u202e\"]\n"),
            (&[], "[]\n"),
        ] {
            assert_eq!(written(documents, false).ok(), Some(Ok(text.to_owned())));
        }
        assert_eq!(
            written(&["a", "b"], true).ok(),
            Some(Ok("[\n  \"a\",\n  \"b\"\n]\n".to_owned()))
        );
    }
}
