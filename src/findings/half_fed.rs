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
    let length = w.units.length(e.length_mm);
    let block = w.block(0);
    let (says, why, advice) = if e.same_output {
        (
            format!(
                "{block} has the same output of {driver} on both rails, so trains stall there; connect the other output to \
                 one of them"
            ),
            format!(
                "No driver has one output on each rail of its {length} of track. No voltage stands across a train."
            ),
            format!("Connect one of its rails to the other output of {driver}."),
        )
    } else {
        (
            format!(
                "{block} is fed on one rail only, so trains stall there; connect {driver} to the other rail too"
            ),
            format!(
                "No driver has an output on both rails of its {length} of track. No circuit closes through a train."
            ),
            format!("Connect the other output of {driver} to the other rail."),
        )
    };
    let more = format!("It is {}.", w.on_run(e.run, e.at_mm));
    Text { says, why, more, advice: vec![advice], cautions: vec![Caution::Rewire] }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    let feeds = near.finding.blocks.iter().flat_map(|&block| near.feeds_in(block));
    let job = |feed| if e.same_output { Job::ExchangeWires(feed) } else { Job::CompleteFeed(feed) };
    feeds.map(|feed| job(feed.id).into()).collect()
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
        // The right rail alone is cut: the common left rail has M of the first driver already.
        let one = yard(
            r#"(id: "c1", run: "r1", at_mm: 1000, rails: Right)
(id: "f2", driver: "d1", run: "r1", at_mm: 1700, m: Right)"#,
        );
        let exchanged = edited(&one, Edit::Swap { feed: FeedId(2) });
        vec![
            Pair {
                with,
                twin,
                class: Class::Fault,
                verdict: Verdict::Stall,
                peak_a: None,
                cuts: &[],
                blocks: 1,
                says: "East is fed on one rail only, so trains stall there; connect driver d2 to the other rail too",
            },
            Pair {
                with: one,
                twin: exchanged,
                class: Class::Fault,
                verdict: Verdict::Stall,
                peak_a: None,
                cuts: &[],
                blocks: 1,
                says: "East has the same output of driver d1 on both rails, so trains stall there; connect the other output to \
                       one of them",
            },
        ]
    }
}
