//! How things are judged: the verdict of a situation, how a finding counts, what trips do, how settings stand to each other.
//!
//! Verdicts and classes are in ascending weight, so that the larger of two is the worse.

use std::fmt;

use serde::Serialize;

/// The judgement of a situation, in ascending weight.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Default)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Nothing wrong.
    #[default]
    Clear,
    /// Clear, but within 20 % of a threshold, or worth knowing.
    Caution,
    /// Would change within the ranges of the assumed values.
    NotKnown,
    /// No driver closes a loop through the vehicle's left and right pickups.
    Stall,
    /// A pole is lifted or charged beyond what it may be.
    BackFeed,
    /// Under the trip, but a continuous rating is exceeded.
    Overload,
    /// A trip acts in the worst window, or a peak exceeds what a part may carry.
    Short,
}

impl Verdict {
    /// The word for it, as in reports and files.
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Clear => "clear",
            Verdict::Caution => "caution",
            Verdict::NotKnown => "not-known",
            Verdict::Stall => "stall",
            Verdict::BackFeed => "back-feed",
            Verdict::Overload => "overload",
            Verdict::Short => "short",
        }
    }

    /// The word for it in a sentence.
    pub fn plain(self) -> &'static str {
        match self {
            Verdict::NotKnown => "not known",
            Verdict::Clear
            | Verdict::Caution
            | Verdict::Stall
            | Verdict::BackFeed
            | Verdict::Overload
            | Verdict::Short => self.word(),
        }
    }

    /// Whether such a finding of class fault makes the check fail.
    pub fn is_fault(self) -> bool {
        self >= Verdict::Stall
    }
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// How a finding counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Class {
    /// Worth knowing.
    Note,
    /// An operating rule: what operators must do at a gap that no wiring can do for them.
    Rule,
    /// Something wrong with wiring, configuration or the settings now.
    Fault,
}

/// Whether a trip acts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Default)]
#[serde(rename_all = "kebab-case")]
pub enum Trips {
    /// Never.
    #[default]
    No,
    /// In some passes.
    Sometimes,
    /// In every pass.
    Yes,
}
