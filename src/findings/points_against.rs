//! `points-against`: a train trails through points that are set for another road, and that shorts.

use super::shared::crossing;
use super::shared::crossing_words::verb;
use super::units::amps;
use super::{Caution, Cure, Found, Kind, Near, Text, View, Words};
use crate::layout::Work;

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::PointsAgainst)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let situation = &e.situation;
    let (gap, vehicle) = (w.gap(), w.vehicle(situation.vehicle));
    let special = w.finding.special().and_then(|id| w.layout.specials.get(&id));
    let crosses =
        special.is_some_and(|s| matches!(s.work, Work::Diamond { .. } | Work::Slip { .. }));
    let set = if crosses {
        "set the frogs for the road that the train is on"
    } else {
        "set the points before trailing through them"
    };
    Text {
        says: format!(
            "{gap}: {set}, or {vehicle} {} at {}",
            verb(situation.verdict),
            amps(situation.peak_a())
        ),
        why: format!(
            "With {} a train that comes from the other road rolls from a rail of one polarity onto metal that the points \
             give the other. {}",
            w.positions(w.finding.selectors()),
            w.both_polarities(situation)
        ),
        advice: vec![
            "Set the points for the road that the train comes from.".into(),
            "Or cut off the frog all round and feed it by a contact, or insulate it: the points then carry the polarity of \
             their own side."
                .into(),
        ], more: String::new(), cautions: vec![Caution::Saw, Caution::Rewire], }
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
        // From the diverging road, whose left rail is one metal with a frog at P, onto the toe's left, M.
        vec![Pair {
            with: turnout("PowerRouting", "", "", ""),
            twin: turnout("Insulated", "", "", ""),
            class: Class::Rule,
            verdict: Verdict::Short,
            peak_a: None,
            cuts: &[],
            blocks: 2,
            says: "Turnout w1: set the points before trailing through them, or the long diesel shorts at 16 A",
        }]
    }
}
