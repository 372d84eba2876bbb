//! `half-fed`: a block of which one rail only is fed.

use super::shared::feeding;
use super::{Cure, Found, Kind, Text, View, Words};
use crate::layout::Layout;

pub use super::shared::feeding::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    feeding::of_kind(view, Kind::HalfFed)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    Text {
        says: format!("{} is fed on one rail only", w.block(0)),
        why: format!(
            "{} of track, {}: no driver has an output on both of its rails, so no circuit closes.",
            w.units.mm(e.length_mm),
            w.on_run(e.run, e.at_mm)
        ),
        more: String::new(),
        advice: vec!["Lead the driver's other output to the other rail.".into()],
    }
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
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
            with: with,
            twin: twin,
            class: Class::Fault,
            verdict: Verdict::Stall,
            peak_a: None,
            cuts: &[],
            blocks: 1,
            says: "East is fed on one rail only",
        }]
    }
}
