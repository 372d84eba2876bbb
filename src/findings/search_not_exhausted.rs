//! `search-not-exhausted`: not everything could be looked at for shorts with no train: joint positions of the selectors, or
//! pairs of drivers on one rail.

use super::shared::standing;
use super::{Caution, Class, Cure, Evident, Found, Kind, Near, Place, Text, Verdict, View, Words};
use crate::layout::DriverId;
use crate::study::fight;

/// The search that is not complete; the drivers of the finding are those that it is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Evidence {
    /// Of shorts in joint positions of the selectors.
    Positions,
    /// Of conflicts between two drivers on one rail: so many pairs are not tried.
    Pairs(usize),
}

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let found = |drivers, evidence| {
        let found = Found::new(Kind::SearchNotExhausted, Class::Note, Verdict::Caution, evidence);
        Found { drivers, ..found }
    };
    let drivers = standing::unfinished(view);
    let positions = (!drivers.is_empty()).then(|| found(drivers, Evidence::Positions));
    let pairs = fight::left_out(view).into_iter();
    let pairs = pairs.map(|(drivers, more)| {
        let of_them = |id: &DriverId| drivers.contains(id);
        let fed = view.plan.blocks.iter().filter(|block| block.drivers.iter().any(of_them));
        let blocks: Vec<_> = fed.map(|block| block.id).collect();
        let places = blocks.iter().map(|&id| Place::Block(id)).collect();
        Found { places, blocks, ..found(drivers, Evidence::Pairs(more)) }
    });
    positions.into_iter().chain(pairs).collect()
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let names = w.names(&w.finding.drivers);
    let (says, why, advice) = match e {
        Evidence::Positions => (
            format!(
                "{names}: not every position of the selectors was searched for shorts; cut the rails into more blocks"
            ),
            "Too many paths of metal lead through turnouts and selectors. What was found is right, but there may be more.",
            "Cut the rails into more blocks: then fewer paths are left.",
        ),
        Evidence::Pairs(more) => (
            format!("{names} feed one rail, and {more} pairs of them were not tried for conflicts"),
            "Too many drivers feed one rail for every two of them to be tried with no train. What was found is right, but \
             there may be more.",
            "Cut the rail between their feeds: then fewer drivers share one.",
        ),
    };
    Text {
        says,
        why: why.into(),
        more: String::new(),
        advice: vec![advice.into()],
        cautions: vec![Caution::Saw],
    }
}

pub fn cures(_: &Evidence, _: &Near) -> Vec<Cure> {
    Vec::new()
}

#[cfg(test)]
pub(super) mod tests {
    use super::super::pair::Pair;

    // It takes a layout too large for a fixture: the search has tests of its own, and `tests/it/budgets.rs` counts pairs.
    pub fn pairs() -> Vec<Pair> {
        Vec::new()
    }
}
