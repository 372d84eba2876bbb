//! `fed-beyond-frog`: live points join the poles of a driver, because a rail beyond the frog is fed.

use super::shared::standing;
use super::shared::standing_words::{self, Said};
use super::{Caution, Cure, Found, Kind, Near, Text, View, Words};

pub use super::shared::standing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    standing::of_kind(view, Kind::FedBeyondFrog)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let said = Said {
        cure: "cut both rails beyond the frog",
        why: "Points, closure rails and frog are one metal, with the polarity of the stock rail that the points touch. A rail \
              beyond the frog is joined to it and fed with the other polarity."
            .into(),
        advice: vec![
            "Cut both inner rails beyond the frog, between it and the feed; insulated joiners do.".into(),
            "Between two turnouts frog to frog, cut both rails between them.".into(),
            "Or take away the feed beyond the frog: the road is then live only when it is set.".into(),
        ],
        cautions: vec![Caution::Saw],
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
        // Thrown to the straight road the frog takes the toe's right-hand rail, P; the diverging road's left rail is one metal
        // with it and fed with M by f2. P comes to it by both feeds, since the outer rail runs through.
        let cut = r#", cuts: [(id: "c1", run: "r3", at_mm: 300, rails: Both)]"#;
        vec![Pair {
            with: turnout("PowerRouting", "", BEYOND, ""),
            twin: turnout("PowerRouting", "", BEYOND, cut),
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(14.0 / (0.05 + 0.12 + 0.35 + 0.35 / 2.0)),
            cuts: &[],
            blocks: 2,
            says: "Turnout w1: driver d1 is shorted at 20 A with no train, set for the left road now; cut both rails beyond the frog",
        }]
    }
}
