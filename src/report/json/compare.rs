//! A comparison of two designs as a document.

use std::fmt;

use serde::ser::{Serialize, SerializeMap, Serializer};

use super::{SCHEMA, shown_as};
use crate::compare::Comparison;
use crate::findings::{Finding, Kind};

/// A comparison as a document.
pub struct CompareDocument<'a> {
    old: &'a str,
    new: &'a str,
    comparison: &'a Comparison,
}

/// A comparison of the designs in two files as a document.
pub fn compare_document<'a>(
    old: &'a str,
    new: &'a str,
    comparison: &'a Comparison,
) -> CompareDocument<'a> {
    CompareDocument { old, new, comparison }
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

impl Serialize for CompareDocument<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let CompareDocument { old, new, comparison } = *self;
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
        map.serialize_entry("mended", &ids(comparison.mended()))?;
        map.serialize_entry("made", &ids(comparison.made()))?;
        map.serialize_entry("kept", &ids(comparison.kept()))?;
        map.serialize_entry("steps", &steps)?;
        map.serialize_entry("safe", &comparison.is_safe())?;
        map.end()
    }
}
