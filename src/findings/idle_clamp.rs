//! `idle-clamp`: a driver's idle state fights what the neighbour drives.

use super::shared::crossing;
use super::{Cure, Found, Kind, Text, View, Words};
use crate::layout::Layout;

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::IdleClamp)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    w.crossing(&e.situation, e.relation, e.now, &e.by_join, &e.idles)
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
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
            with: with,
            twin: twin,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(14.0 / 1.73),
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: an idle state clamps what the neighbour drives; the long diesel shorts at 8.09 A",
        }]
    }
}
