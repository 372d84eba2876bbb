//! `surge`: two blocks that idle without clamping drive one locomotive together while it stands in both.

use super::shared::at_cut;
use super::units::percent;
use super::{Class, Cure, Evident, Found, Kind, Text, Verdict, View, Words};
use crate::layout::Layout;

/// Shares of time for which a locomotive over the gap is driven.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// By the first side.
    pub first: f64,
    /// By the second side.
    pub second: f64,
    /// By either.
    pub both: f64,
}

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let known = view.known.iter();
    let found = known.filter_map(|(&cut, known)| {
        let [first, second, both] = known.result.surge?;
        let evidence = Evidence { first, second, both };
        Some(at_cut(view, cut, Kind::Surge, Class::Note, Verdict::Clear, evidence))
    });
    found.collect()
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    Text {
        more: String::new(),
        says: format!(
            "{}: a locomotive surges to {} of drive while it stands in both blocks",
            w.gap(),
            percent(e.both)
        ),
        why: format!(
            "{} drives for {} of the time and {} for {}. Neither clamps when idle and their clocks are independent, \
             so a locomotive that stands in both is driven for {} of the time (a + b − a·b). It speeds up over \
             the gap; nothing is harmed.",
            w.block(0),
            percent(e.first),
            w.block(1),
            percent(e.second),
            percent(e.both)
        ),
        advice: vec![
            "Run both drivers from one PWM clock in phase if the surge is unwelcome.".into(),
        ],
    }
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}
