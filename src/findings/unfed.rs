//! `unfed`: a block that no driver feeds.

use super::shared::feeding;
use super::{Cure, Found, Kind, Text, View, Words};
use crate::layout::Layout;

pub use super::shared::feeding::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    feeding::of_kind(view, Kind::Unfed)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    Text {
        says: format!("{} has no driver", w.block(0)),
        why: format!(
            "{} of track, {}: trains stall there.",
            w.units.mm(e.length_mm),
            w.on_run(e.run, e.at_mm)
        ),
        more: String::new(),
        advice: vec!["Feed it from a driver.".into()],
    }
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}
