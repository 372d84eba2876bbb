//! `unfed`: a block that no driver feeds.

use super::shared::feeding;
use super::{Caution, Cure, Found, Kind, Near, Text, View, Words};

pub use super::shared::feeding::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    feeding::of_kind(view, Kind::Unfed)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    Text {
        says: format!("{} has no feed, so trains stall there; feed both of its rails", w.block(0)),
        why: format!(
            "No driver reaches its {} of track, whichever way the selectors stand.",
            w.units.length(e.length_mm)
        ),
        more: format!("It is {}.", w.on_run(e.run, e.at_mm)),
        advice: vec!["Feed both of its rails from a driver.".into()],
        cautions: vec![Caution::Rewire],
    }
}

pub fn cures(_: &Evidence, near: &Near) -> Vec<Cure> {
    let Some(&block) = near.finding.blocks.first() else { return Vec::new() };
    let Some(middle) = near.middle_of(block) else { return Vec::new() };
    let origins = near.sources_for(block).into_iter();
    origins.flat_map(|from| near.new_feeds(from, middle)).map(Cure::from).collect()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::{Edit, Rail, RunId};

    pub fn pairs() -> Vec<Pair> {
        let with = yard("-f2");
        let feed = Edit::Feed {
            driver: D2.into(),
            run: RunId(1),
            at_mm: 1700.0,
            p: Some(Rail::Right),
            m: Some(Rail::Left),
            wire: None,
            ohm: None,
        };
        let twin = edited(&with, feed);
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::Stall,
            peak_a: None,
            cuts: &[],
            blocks: 1,
            says: "East has no feed, so trains stall there; feed both of its rails",
        }]
    }
}
