//! `boosters-unequal`: boosters of unequal voltage feed each other.

use super::shared::crossing;
use super::table;
use super::units::amps;
use super::{Caution, Cure, Finding, Found, Kind, Near, Text, View, Words};

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::BoostersUnequal)
}

/// True for findings of one class that the same changes remove.
pub(super) fn same_cause(a: &Finding, b: &Finding) -> bool {
    match (&a.evidence, &b.evidence) {
        (table::Evidence::BoostersUnequal(one), table::Evidence::BoostersUnequal(other)) => {
            crossing::same_changes((a, one), (b, other))
        }
        _ => false,
    }
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    Text {
        says: format!(
            "{}: boosters of unequal voltage feed each other; {}",
            w.places(),
            w.outcome(e)
        ),
        why: format!(
            "{} are in phase, but the supply of one stands higher: {} flow from it through the other's switches.",
            super::words::capital(&w.names(&w.finding.drivers)),
            amps(e.situation.peak_a()),
        ),
        more: w.more(e),
        advice: vec!["Bring the supplies of both boosters to the same voltage.".into()],
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
    use crate::layout::Quantity;

    pub fn pairs() -> Vec<Pair> {
        // 20 V into 14 V that can sink, through two sources, four switches, four legs, two rails: 6 / 1.78 A.
        let twin = with_supply(&boosters(), 2, |s| s.can_sink = true);
        let with = with_supply(&twin, 1, |s| s.open_v = Quantity::given(20.0));
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(6.0 / 1.78),
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: boosters of unequal voltage feed each other; the long diesel shorts at 3.4 A",
        }]
    }
}
