//! `phase-opposed`: two boosters of one station send opposite polarities.

use super::shared::crossing;
use super::table;
use super::units::percent;
use super::{Caution, Cure, Finding, Found, Kind, Near, Text, View, Words};

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::PhaseOpposed)
}

/// True for findings of one class that the same changes remove.
pub(super) fn same_cause(a: &Finding, b: &Finding) -> bool {
    match (&a.evidence, &b.evidence) {
        (table::Evidence::PhaseOpposed(one), table::Evidence::PhaseOpposed(other)) => {
            crossing::same_changes((a, one), (b, other))
        }
        _ => false,
    }
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    Text {
        says: format!("{}: the boosters are out of phase; {}", w.places(), w.outcome(e)),
        why: format!(
            "{} send opposite polarities for {} of the time. {}, which puts them against each other.",
            super::words::capital(&w.names(&w.finding.drivers)),
            percent(e.share),
            super::words::capital(&w.wheels(e)),
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
    use crate::layout::Drive;

    pub fn pairs() -> Vec<Pair> {
        let with = yard(
            r#"
            (id: "d1", supply: "s1", $DCC, $STAGE, $TRIP, setting: (direction: On))
            (id: "d2", supply: "s2", drive: DccBooster(station: "yard", swapped: true), $STAGE, $TRIP, setting: (direction: On))"#,
        );
        let twin = with_driver(&with, D2, |d| {
            if let Drive::DccBooster { swapped, .. } = &mut d.drive {
                *swapped = false;
            }
        });
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(28.0 / 1.78),
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: the boosters are out of phase; the long diesel shorts at 16 A",
        }]
    }
}
