//! `standing-short`: drivers are shorted with no train in some positions of the selectors.

use super::shared::standing;
use super::shared::standing_words::{self, Said};
use super::{Cure, Found, Kind, Text, View, Words};
use crate::layout::Layout;

pub use super::shared::standing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    standing::of_kind(view, Kind::StandingShort)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let one = w.finding.drivers.len() == 1;
    let why = |with: &str| {
        if one {
            format!("A path of metal leads from one of its outputs to the other {with}.")
        } else {
            format!(
                "Their outputs are joined by metal in two places, or in one and behind the rails, {with}."
            )
        }
    };
    let advice = if one {
        vec![
            "Cut both rails where that path leaves the block, or take one of its feeds away."
                .into(),
        ]
    } else {
        vec![
            "Cut both rails between what the two feed.".into(),
            "Or make it a rule that these positions are never set together.".into(),
        ]
    };
    standing_words::words(e, w, Said { because: "", why: &why, advice })
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};

    pub fn pairs() -> Vec<Pair> {
        // Turned over, each pole of f1 meets the other pole of f2: two loops beside each other.
        vec![Pair {
            with: reversed_feed("ReversingSwitch(from: \"d1\")"),
            twin: reversed_feed(
                "Breaker(from: \"d1\", amps: 3, trip: Instant(blanking_s: 0.0001))",
            ),
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(14.0 / (0.05 + 0.12 + (0.7 + 0.02) / 2.0)),
            cuts: &[],
            blocks: 1,
            says: "Driver d1 is shorted with no train, at 26.4 A, with reversing switch x1 reversed",
        }]
    }
}
