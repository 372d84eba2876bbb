//! Cures: offers of a finding, and the set that ends all faults.

use std::fmt;

use serde::ser::{Serialize, SerializeMap, Serializer};

use super::number::Number;
use super::{Each, SCHEMA, shown_as};
use crate::cure::{self, Cures, Offers, Surgery, Together};
use crate::findings::units::Units;
use crate::findings::{Kind, Report, Verdict, words};

/// One cure that is proved.
#[derive(serde::Serialize)]
pub(super) struct Cure<'a> {
    edits: &'a [String],
    cost_min: u32,
    needs: &'static str,
    ends: Vec<String>,
    makes: &'a [Kind],
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    also: &'a [&'static str],
    margin: [Option<Number>; 2],
}

impl<'a> Cure<'a> {
    pub(super) fn of(offer: &'a cure::Offer) -> Cure<'a> {
        Cure {
            edits: &offer.says,
            cost_min: offer.work.minutes,
            needs: offer.work.needs.word(),
            ends: offer.ends.iter().map(ToString::to_string).collect(),
            makes: &offer.makes,
            also: &offer.also,
            margin: offer.margin.map(|margin| margin.map(Number::of)),
        }
    }

    /// The offers of a finding, or none.
    pub(super) fn all(offers: Option<&'a Offers>) -> Vec<Cure<'a>> {
        offers.map_or_else(Vec::new, |of| of.offers.iter().map(Cure::of).collect())
    }
}

/// The cures of one layout as a document.
pub struct CureDocument<'a> {
    file: &'a str,
    surgery: &'a Surgery,
    cures: &'a Cures,
    set: &'a Together,
    after: &'a Report,
}

/// The cures of one layout as a document. `after` is the report of the layout with the set applied.
pub fn cure_document<'a>(
    file: &'a str,
    surgery: &'a Surgery,
    cures: &'a Cures,
    set: &'a Together,
    after: &'a Report,
) -> CureDocument<'a> {
    CureDocument { file, surgery, cures, set, after }
}

impl fmt::Display for CureDocument<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        shown_as(self, f)
    }
}

/// A fault that the set leaves.
#[derive(serde::Serialize)]
struct Left {
    finding: String,
    why: String,
}

/// The set.
#[derive(serde::Serialize)]
struct Set<'a> {
    edits: &'a [String],
    cost_min: u32,
    ends: Vec<String>,
    makes: &'a [Kind],
    leaves: Vec<Left>,
    exhaustive: bool,
    /// The verdict of the layout after it.
    verdict: Verdict,
}

/// A fault with its cures.
#[derive(serde::Serialize)]
struct Fault<'a> {
    id: String,
    kind: Kind,
    verdict: Verdict,
    says: String,
    cures: Vec<Cure<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    no_cure: Option<String>,
}

impl Serialize for CureDocument<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let CureDocument { file, surgery, cures, set, after } = *self;
        let (layout, report) = (surgery.layout(), surgery.report());
        let faults = report.findings.iter().filter_map(|finding| {
            let of = cures.of.get(&finding.id())?;
            Some(Fault {
                id: finding.id().to_string(),
                kind: finding.kind,
                verdict: finding.verdict,
                says: words(finding, report, layout, Units::Metric).says,
                cures: Cure::all(Some(of)),
                no_cure: of.no_cure.as_ref().map(cure::NoCure::says),
            })
        });
        let leaves =
            set.leaves.iter().map(|(id, why)| Left { finding: id.to_string(), why: why.clone() });
        let set = Set {
            edits: &set.says,
            cost_min: set.work.map_or(0, |work| work.minutes),
            ends: set.ends.iter().map(ToString::to_string).collect(),
            makes: &set.makes,
            leaves: leaves.collect(),
            exhaustive: set.exhaustive,
            verdict: after.verdict,
        };
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("schema", &SCHEMA)?;
        map.serialize_entry("file", file)?;
        map.serialize_entry("layout", &layout.name)?;
        map.serialize_entry("verdict", &report.verdict)?;
        map.serialize_entry("cure", &set)?;
        map.serialize_entry("findings", &Each(faults))?;
        map.end()
    }
}
