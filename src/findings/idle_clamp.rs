//! `idle-clamp`: a driver's idle state clamps or opposes what the neighbour drives.

use super::shared::crossing::{self, Change};
use super::table;
use super::units::{amps, percent};
use super::words::{and, capital};
use super::{Caution, Cure, Finding, Found, Kind, Near, Text, View, Words};

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::IdleClamp)
}

/// True for findings of one class that the same changes remove.
pub(super) fn same_cause(a: &Finding, b: &Finding) -> bool {
    match (&a.evidence, &b.evidence) {
        (table::Evidence::IdleClamp(one), table::Evidence::IdleClamp(other)) => {
            crossing::same_changes((a, one), (b, other))
        }
        _ => false,
    }
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let idles: Vec<String> = e.idles.iter().map(|&(id, state)| w.does(id, state)).collect();
    let who: Vec<_> = e.idles.iter().map(|idle| idle.0).collect();
    let others: Vec<_> = w.finding.drivers.iter().copied().filter(|id| !who.contains(id)).collect();
    let driving = if others.is_empty() { "the other side".to_owned() } else { w.names(&others) };
    let (drive, feed) = if others.len() > 1 { ("drive", "feed") } else { ("drives", "feeds") };
    let why = format!(
        "In the off part of the PWM period {} while {driving} {drive}. {}, and {driving} {feed} into that clamp: {} ({}), for \
         up to {} of the time.",
        and(&idles),
        capital(&w.wheels(e)),
        amps(e.situation.peak_a()),
        w.settings(&e.situation),
        percent(e.share),
    );
    let coasts: Vec<_> = e
        .changes
        .iter()
        .filter_map(|change| if let Change::Coasts(id) = change { Some(*id) } else { None })
        .collect();
    let says = format!(
        "{}: the idle state of {} clamps the neighbour; {}",
        w.places(),
        w.names(&coasts),
        w.outcome(e)
    );
    Text {
        says,
        why,
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
    use crate::layout::Idle;

    pub fn pairs() -> Vec<Pair> {
        // d1 at zero holds both low switches, d2 at full drives into them: 14 / 1.73 = 8.0925 A.
        let with = brake_low_pair();
        let twin = idle(&with, D1, Idle::HighImpedance);
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(14.0 / 1.73),
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: the idle state of driver d1 clamps the neighbour; the long diesel shorts at 8.1 A",
        }]
    }
}
