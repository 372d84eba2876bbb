//! `not-explained`: a conflict that no known change removes.

use super::shared::crossing;
use super::table;
use super::units::amps;
use super::{Cure, Finding, Found, Kind, Text, View, Words};
use crate::layout::Layout;

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::NotExplained)
}

/// True for findings of one class that the same changes remove.
pub(super) fn same_cause(a: &Finding, b: &Finding) -> bool {
    match (&a.evidence, &b.evidence) {
        (table::Evidence::NotExplained(one), table::Evidence::NotExplained(other)) => {
            crossing::same_changes((a, one), (b, other))
        }
        _ => false,
    }
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    Text {
        says: format!("{}: {}, and no single change explains it", w.places(), w.outcome(e)),
        why: format!(
            "With {} {}: {}. No set of up to five changes that were tried removes it.",
            w.settings(&e.situation),
            w.wheels(e),
            amps(e.situation.peak_a()),
        ),
        more: w.more(e),
        advice: Vec::new(),
        cautions: Vec::new(),
    }
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;

    /// None: a conflict that no change explains is a gap in the table of changes, and would be mended there.
    pub fn pairs() -> Vec<Pair> {
        Vec::new()
    }
}
