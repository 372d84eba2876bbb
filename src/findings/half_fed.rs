//! `half-fed`: a block of which one rail only is fed.

use super::shared::feeding;
use super::{Caution, Cure, Found, Kind, Near, Text, View, Words};
use crate::job::Job;

pub use super::shared::feeding::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    feeding::of_kind(view, Kind::HalfFed)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let driver = match w.finding.drivers.first() {
        Some(&id) => w.driver(id),
        None => "the driver".into(),
    };
    Text {
        says: format!(
            "{} is fed on one rail only, so trains stall there; connect {driver} to the other rail too",
            w.block(0)
        ),
        why: format!(
            "No driver has an output on both rails of its {} of track. No circuit closes through a train.",
            w.units.length(e.length_mm)
        ),
        more: format!("It is {}.", w.on_run(e.run, e.at_mm)),
        advice: vec![format!("Connect the other output of {driver} to the other rail.")],
        cautions: vec![Caution::Rewire],
    }
}

pub fn cures(_: &Evidence, near: &Near) -> Vec<Cure> {
    let feeds = near.finding.blocks.iter().flat_map(|&block| near.feeds_in(block));
    feeds.map(|feed| Job::CompleteFeed(feed.id).into()).collect()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::{Edit, Feed, FeedId, Rail};

    pub fn pairs() -> Vec<Pair> {
        let with = yard(r#"(id: "f2", driver: "d2", run: "r1", at_mm: 1700, p: Right)"#);
        let both = Feed { m: Some(Rail::Left), ..with.feeds[&FeedId(2)].clone() };
        let twin = edited(&with, Edit::Replace(both.into()));
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::Stall,
            peak_a: None,
            cuts: &[],
            blocks: 1,
            says: "East is fed on one rail only, so trains stall there; connect driver d2 to the other rail too",
        }]
    }
}
