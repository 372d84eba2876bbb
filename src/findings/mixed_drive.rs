//! `mixed-drive`: DCC beside DC.

use super::shared::crossing;
use super::{Cure, Found, Kind, Text, View, Words};
use crate::layout::Layout;

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::MixedDrive)
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

    pub fn pairs() -> Vec<Pair> {
        // The booster is against forward for half the time: the circuit of opposed bridges.
        let with =
            yard(r#"(id: "d2", supply: "s2", $DCC, $STAGE, $TRIP, setting: (direction: On))"#);
        vec![Pair {
            with: with,
            twin: yard(""),
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(28.0 / 1.78),
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: DCC on one side and DC on the other; the long diesel shorts at 15.7 A",
        }]
    }
}
