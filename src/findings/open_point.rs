//! `open-point`: an open live point stands so near to its stock rail that the backs of wheels touch it.

use super::shared::{narrow, narrow_words};
use super::{Cure, Found, Kind, Near, Text, View, Words};
use crate::job::Job;
use crate::layout::Work;

pub use super::shared::narrow::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    narrow::of_kind(view, Kind::OpenPoint)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    narrow_words::words(e, w)
}

pub fn cures(_: &Evidence, near: &Near) -> Vec<Cure> {
    let Some(special) = near.finding.special() else { return Vec::new() };
    let open = match near.layout().specials.get(&special).map(|s| &s.work) {
        Some(Work::Turnout { open_mm, .. }) => *open_mm,
        _ => return Vec::new(),
    };
    let wider = [0.5, 1.0, 1.5, 2.0].map(|more| Job::OpenWider { special, open_mm: open + more });
    wider.map(Cure::from).into()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};

    pub fn pairs() -> Vec<Pair> {
        vec![Pair {
            with: narrow_turnout("PowerRouting", "frog_mm: 150, open_mm: 1"),
            twin: turnout("PowerRouting", "", "", ""),
            class: Class::Note,
            verdict: Verdict::Short,
            peak_a: None,
            cuts: &[],
            blocks: 3,
            says: "Turnout w1: the back of a wheel of the long diesel touches the open point and shorts at 15 A; let the point open wider",
        }]
    }
}
