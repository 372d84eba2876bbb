//! `phase-skewed`: the edges of two boosters of one station differ in time.

use super::shared::crossing;
use super::table;
use super::units::{amps, percent};
use super::{Caution, Cure, Finding, Found, Kind, Near, Text, View, Words};

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::PhaseSkewed)
}

/// True for findings of one class that the same changes remove.
pub(super) fn same_cause(a: &Finding, b: &Finding) -> bool {
    match (&a.evidence, &b.evidence) {
        (table::Evidence::PhaseSkewed(one), table::Evidence::PhaseSkewed(other)) => {
            crossing::same_changes((a, one), (b, other))
        }
        _ => false,
    }
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    Text {
        says: format!("{}: the edges of the boosters differ in time; {}", w.places(), w.outcome(e)),
        why: format!(
            "One booster switches later than the other, so they oppose each other at every edge: {} for {} of the time. \
             Exchanging wires would make it worse.",
            amps(e.situation.peak_a()),
            percent(e.share),
        ),
        more: w.more(e),
        advice: w.advised(&e.changes),
        cautions: vec![Caution::Rewire],
    }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    crossing::cures(e, near)
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::{Drive, TripKind};

    pub fn pairs() -> Vec<Pair> {
        // The same bits 5 µs later, and trips that see an edge: 28 / 1.78 A.
        let twin = boosters();
        let with = with_driver(&twin, D2, |d| {
            if let Drive::DccBooster { skew_s, .. } = &mut d.drive {
                *skew_s = 5e-6;
            }
        });
        let with = [D1, D2].into_iter().fold(with, |layout, id| {
            with_driver(&layout, id, |d| {
                if let Some(trip) = &mut d.trip {
                    trip.kind = TripKind::Instant { blanking_s: 1e-6 };
                }
            })
        });
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(28.0 / 1.78),
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: the edges of the boosters differ in time; the long diesel shorts at 16 A",
        }]
    }
}
