//! Findings into words (given units) and JSON. No computation.
use crate::check::{Finding, Report};
use crate::layout::Layout;

/// The words of a finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Words {
    /// One line.
    pub says: String,
    /// A paragraph.
    pub why: String,
    /// What a builder usually does about it, one line each.
    pub advice: Vec<String>,
}

/// Puts a finding into words.
pub fn words(finding: &Finding, report: &Report, layout: &Layout) -> Words {
    let _ = (report, layout);
    Words { says: finding.kind.to_string(), why: String::new(), advice: Vec::new() }
}
