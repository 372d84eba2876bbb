//! `two-stations`: boosters of two command stations meet at a gap.

use super::shared::crossing;
use super::table;
use super::units::amps;
use super::{Caution, Cure, Finding, Found, Kind, Near, Text, View, Words};

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::TwoStations)
}

/// True for findings of one class that the same changes remove.
pub(super) fn same_cause(a: &Finding, b: &Finding) -> bool {
    match (&a.evidence, &b.evidence) {
        (table::Evidence::TwoStations(one), table::Evidence::TwoStations(other)) => {
            crossing::same_changes((a, one), (b, other))
        }
        _ => false,
    }
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    Text {
        says: format!("{}: boosters of two command stations meet; {}", w.places(), w.outcome(e)),
        why: format!(
            "Two stations send different bits, so {} oppose each other again and again: {}. No setting carries a train \
             through.",
            w.names(&w.finding.drivers),
            amps(e.situation.peak_a()),
        ),
        more: w.more(e),
        advice: vec![
            "Run both boosters from one command station.".into(),
            "Or put a transfer section between them, longer than what any train can bridge, and switch it wholly to one \
             station or the other."
                .into(),
        ], cautions: vec![Caution::Rewire], }
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
        // Another station's bits: 28 / 1.78 A.
        let twin = boosters();
        let with = with_driver(&twin, D2, |d| {
            if let Drive::DccBooster { station, .. } = &mut d.drive {
                "harbour".clone_into(station);
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
            says: "Gap c1, West | East: boosters of two command stations meet; the long diesel shorts at 16 A",
        }]
    }
}
