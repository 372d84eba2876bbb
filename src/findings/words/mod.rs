//! The words of findings: the context in which they are made, and the names and phrases that the rooms share.

mod cautions;
mod names;
mod positions;
mod trips;

pub(crate) use names::field_of;

pub use cautions::Caution;
pub use positions::{plain_position, position_words, selector_name};

use super::finding::Finding;
use super::report::Report;
use super::table;
use super::units::Units;
use crate::layout::Layout;
pub(crate) use crate::layout::{and, capital};

/// A finding in words.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Text {
    /// Headline, one line: place, what happens, cure.
    pub says: String,
    /// At most two sentences.
    pub why: String,
    /// The rest.
    pub more: String,
    /// What a builder usually does about it, one line each.
    pub advice: Vec<String>,
    /// What to mind while doing so.
    pub cautions: Vec<Caution>,
}

/// The context of a finding's words.
#[derive(Clone, Copy)]
pub struct Words<'a> {
    /// The finding.
    pub finding: &'a Finding,
    /// The report that it is in: names of blocks and cuts, and what else is known of its cuts.
    pub report: &'a Report,
    /// The layout.
    pub layout: &'a Layout,
    /// Units of lengths and temperatures.
    pub units: Units,
}

/// Puts a finding into words. The headline starts with a capital letter.
pub fn words(finding: &Finding, report: &Report, layout: &Layout, units: Units) -> Text {
    let text = table::words(&Words { finding, report, layout, units });
    // A line may begin with a name that the user wrote small.
    Text { says: capital(&text.says), ..text }
}

/// "Gap c1"; the name alone where it says that it is one.
pub(crate) fn gap_name(name: &str) -> String {
    if name.to_lowercase().contains("gap") { capital(name) } else { format!("Gap {name}") }
}

/// Sentences with spaces between them, without the empty ones.
pub(crate) fn spaced(sentences: &[&str]) -> String {
    let full: Vec<&str> = sentences.iter().copied().filter(|text| !text.is_empty()).collect();
    full.join(" ")
}
