//! `value-not-known`: the verdict at a gap changes within the ranges of assumed values.

use super::shared::crossing;
use super::units::amps;
use super::words::{and, capital, field_of};
use super::{Cure, Found, Kind, Text, View, Words};
use crate::layout::Layout;

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::ValueNotKnown)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let what: Vec<String> = e.measure.iter().map(|at| field_of(w, at)).collect();
    Text {
        says: format!("{}: not known; measure {}", w.gap(), and(&what)),
        why: format!(
            "With {} the verdict changes within the ranges of the assumed values: computed with the nominal values \
             {} flow at the peak. {} decides.",
            w.settings(&e.situation),
            amps(e.situation.peak_a()),
            capital(&and(&what)),
        ),
        more: String::new(),
        advice: vec![format!("Measure {} and enter it as measured.", and(&what))],
    }
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}
