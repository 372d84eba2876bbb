//! `standing-short`: drivers are shorted with no train in some positions of the selectors.

use super::shared::standing;
use super::shared::standing_words::{self, Said};
use super::{Caution, Cure, Found, Kind, Near, Text, View, Words};

pub use super::shared::standing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    standing::of_kind(view, Kind::StandingShort)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let said = if w.finding.drivers.len() == 1 {
        Said {
            cure: "cut the path between its outputs",
            why: "Metal then leads from one output of the driver to the other.".into(),
            advice: vec![
                "Cut both rails where that path leaves the block.".into(),
                "Or take one of the driver's feeds there away.".into(),
            ],
            cautions: vec![Caution::Saw, Caution::Rewire],
        }
    } else {
        Said {
            cure: "cut both rails between what they feed",
            why: "Metal then joins their outputs in two places, or in one and behind the rails."
                .into(),
            advice: vec![
                "Cut both rails between what the two feed.".into(),
                "Or make it a rule that these positions are never set together.".into(),
            ],
            cautions: vec![Caution::Saw],
        }
    };
    standing_words::words(e, w, said)
}

pub fn cures(_: &Evidence, near: &Near) -> Vec<Cure> {
    standing::cures(near)
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
            says: "Driver d1 is shorted at 26 A with no train, with reversing switch x1 reversed; cut the path between its outputs",
        }]
    }
}
