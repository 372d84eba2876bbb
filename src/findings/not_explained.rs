//! `not-explained`: a conflict that no known change removes.

use super::shared::crossing;
use super::table;
use super::units::amps;
use super::{Cure, Finding, Found, Kind, Near, Text, View, Words};
use crate::job::Job;

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

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    let mut cures = crossing::cures(e, near);
    let drivers = &near.finding.drivers;
    let feeds = drivers.iter().flat_map(|&id| near.feeds_of(id));
    cures.extend(feeds.map(|feed| Job::ExchangeWires(feed).into()));
    let coasts: Vec<Job> = drivers.iter().filter_map(|&id| near.coast(id)).collect();
    cures.push(coasts.into());
    cures
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;

    /// None: a conflict that no change explains is a gap in the table of changes, and would be mended there.
    pub fn pairs() -> Vec<Pair> {
        Vec::new()
    }
}
