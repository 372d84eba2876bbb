//! `wheel-bridges-frog`: a wheel reaches from one rail to the other at an end of a frog.

use super::shared::{narrow, narrow_words};
use super::{Cure, Found, Kind, Near, Text, View, Words};

pub use super::shared::narrow::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    narrow::of_kind(view, Kind::WheelBridgesFrog)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    narrow_words::words(e, w)
}

pub fn cures(_: &Evidence, _: &Near) -> Vec<Cure> {
    Vec::new()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};

    pub fn pairs() -> Vec<Pair> {
        vec![Pair {
            with: narrow_turnout("Insulated", SHORT_FROG),
            twin: narrow_turnout("Insulated", LONG_FROG),
            class: Class::Note,
            verdict: Verdict::Short,
            peak_a: None,
            cuts: &[],
            blocks: 1,
            says: "Turnout w1: a wheel of the long diesel bridges the rails beyond the frog and shorts at 15 A; move the gap to where they are wider apart",
        }]
    }
}
