//! A comparison of two designs as a document.

use std::fmt;

use serde::ser::{Serialize, SerializeMap, Serializer};

use super::{SCHEMA, shown_as};
use crate::compare::{Cell, Comparison, Passer};
use crate::findings::{Finding, Kind, Verdict};
use crate::layout::stated::{Alike, alike, stated};
use crate::layout::{CutId, TrainId, VehicleId};

/// A comparison as a document.
pub struct CompareDocument<'a> {
    old: &'a str,
    new: &'a str,
    comparison: &'a Comparison,
    /// Values of the new design with their sources, those that are alike together.
    values: Vec<Value>,
}

/// Values that are alike.
#[derive(serde::Serialize)]
struct Value {
    what: &'static str,
    value: String,
    source: String,
    of: Vec<String>,
}

/// A comparison of the designs in two files as a document.
pub fn compare_document<'a>(
    old: &'a str,
    new: &'a str,
    comparison: &'a Comparison,
) -> CompareDocument<'a> {
    let alike = alike(&stated(&comparison.design), |id| id.to_string()).into_iter();
    let values = alike
        .map(|Alike { what, value, source, of }| {
            let of = of.into_iter().filter(|of| of != "the rails").collect();
            Value { what, value, source, of }
        })
        .collect();
    CompareDocument { old, new, comparison, values }
}

impl fmt::Display for CompareDocument<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        shown_as(self, f)
    }
}

#[derive(serde::Serialize)]
struct Step<'a> {
    says: &'a str,
    cost_min: u32,
    makes: &'a [Kind],
}

/// A thing of both designs under two identities.
#[derive(serde::Serialize)]
struct Same {
    old: String,
    new: String,
}

/// How something passes a gap in both designs.
#[derive(serde::Serialize)]
struct Crossing {
    cut: CutId,
    #[serde(skip_serializing_if = "Option::is_none")]
    vehicle: Option<VehicleId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    train: Option<TrainId>,
    old: Option<Verdict>,
    new: Option<Verdict>,
}

impl Crossing {
    fn of(cut: CutId, passer: Passer, [old, new]: [Option<Verdict>; 2]) -> Crossing {
        let (vehicle, train) = match passer {
            Passer::StandIn => (None, None),
            Passer::Vehicle(id) => (Some(id), None),
            Passer::Train(id) => (None, Some(id)),
        };
        Crossing { cut, vehicle, train, old, new }
    }
}

impl Serialize for CompareDocument<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let CompareDocument { old, new, comparison, .. } = *self;
        let ids = |list: Vec<&Finding>| -> Vec<String> {
            list.into_iter().map(|f| f.id().to_string()).collect()
        };
        let steps: Vec<Step> = comparison
            .steps
            .iter()
            .map(|step| Step { says: &step.says, cost_min: step.minutes, makes: &step.makes })
            .collect();
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("schema", &SCHEMA)?;
        map.serialize_entry("old", old)?;
        map.serialize_entry("new", new)?;
        map.serialize_entry("old_verdict", &comparison.old.verdict)?;
        map.serialize_entry("verdict", &comparison.new.verdict)?;
        let matched = comparison
            .matched
            .iter()
            .map(|(old, new)| Same { old: old.to_string(), new: new.to_string() });
        map.serialize_entry("matched", &matched.collect::<Vec<_>>())?;
        map.serialize_entry("mended", &ids(comparison.mended()))?;
        map.serialize_entry("made", &ids(comparison.made()))?;
        map.serialize_entry("kept", &ids(comparison.kept()))?;
        let crossings = comparison.crossings();
        let crossings: Vec<Crossing> = crossings
            .rows
            .iter()
            .flat_map(|row| {
                let cells = crossings.passers.iter().zip(&row.cells);
                cells.map(|(passer, cell)| Crossing::of(row.cut, *passer, cell.map(Cell::verdict)))
            })
            .collect();
        map.serialize_entry("crossings", &crossings)?;
        map.serialize_entry("values", &self.values)?;
        map.serialize_entry("steps", &steps)?;
        map.serialize_entry("safe", &comparison.is_safe())?;
        map.end()
    }
}
