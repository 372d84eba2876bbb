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
