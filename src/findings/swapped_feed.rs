//! `swapped-feed`: agreeing settings oppose at a gap: the feed of one block goes to the other rails.

use super::shared::crossing;
use super::{Cure, Found, Kind, Text, View, Words};
use crate::layout::Layout;

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::SwappedFeed)
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
    use crate::layout::{Edit, FeedId};

    pub fn pairs() -> Vec<Pair> {
        // One feed swapped: the circuit of opposed bridges with agreeing labels.
        let plain = yard("");
        vec![Pair {
            with: edited(&plain, Edit::Swap { feed: FeedId(2) }),
            twin: plain,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(28.0 / 1.78),
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: with both throttles the same way the rails oppose; one feed is swapped; the long diesel shorts at 15.7 A",
        }]
    }
}
