//! `search-not-exhausted`: not every joint position of the selectors could be looked at for shorts with no train.

use super::shared::standing;
use super::{Caution, Class, Cure, Evident, Found, Kind, Text, Verdict, View, Words};
use crate::layout::Layout;

/// Nothing beside the drivers of the finding: those whose search was broken off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Evidence;

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let drivers = standing::unfinished(view);
    if drivers.is_empty() {
        return Vec::new();
    }
    let found = Found::new(Kind::SearchNotExhausted, Class::Note, Verdict::Caution, Evidence);
    vec![Found { drivers, ..found }]
}

pub fn words(_: &Evidence, w: &Words) -> Text {
    Text {
        says: format!(
            "{}: not every position of the selectors was searched for shorts; cut the rails into more blocks",
            w.names(&w.finding.drivers)
        ),
        why: "Too many paths of metal lead through turnouts and selectors. What was found is right, but there may be more."
            .into(),
        more: String::new(),
        advice: vec!["Cut the rails into more blocks: then fewer paths are left.".into()],
        cautions: vec![Caution::Saw],
    }
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}

#[cfg(test)]
pub(super) mod tests {
    use super::super::pair::Pair;

    // It takes a layout too large for a fixture: the search has tests of its own.
    pub fn pairs() -> Vec<Pair> {
        Vec::new()
    }
}
