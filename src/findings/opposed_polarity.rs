//! `opposed-polarity`: rails of opposite polarity meet at a gap where the settings disagree.

use super::shared::crossing;
use super::{Cure, Found, Kind, Text, View, Words};
use crate::layout::Layout;

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::OpposedPolarity)
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
    use crate::layout::{Direction, Edit, Feed, FeedId};

    pub fn pairs() -> Vec<Pair> {
        // Now against each other: 14 + 14 V around two sources, two high and two low switches, the wires and the wheels:
        // 28 / (2·0.05 + 4·0.06 + 4·0.35 + 2·0.02) = 28 / 1.78 = 15.7303 A.
        let with = set(&yard(""), D2, Direction::Reverse, 0.8);
        // Twin: the other block fed from the same driver cannot differ.
        let feed = Feed { driver: D1.into(), ..with.feeds[&FeedId(2)].clone() };
        let twin = edited(&with, Edit::Replace(feed.into()));
        vec![Pair {
            with: with,
            twin: twin,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(28.0 / 1.78),
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: the two sides are set against each other now; the long diesel shorts at 15.7 A",
        }]
    }
}
