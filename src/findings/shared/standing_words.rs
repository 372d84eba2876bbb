//! Words for what shorts with no train on the track in some positions of the selectors.

use super::standing::Evidence;
use crate::findings::units::{amps, percent};
use crate::findings::words::spaced;
use crate::findings::{Caution, SelectorAt, SelectorId, Text, Words, position_words};

/// Sets of positions that are named one by one.
const MOST_SETS: usize = 3;

/// What one kind says of it.
pub struct Said {
    /// End of the headline: the cure, in the imperative.
    pub cure: &'static str,
    /// Why it happens: at most two sentences.
    pub why: String,
    /// What to do.
    pub advice: Vec<String>,
    /// What to mind.
    pub cautions: Vec<Caution>,
}

pub fn words(e: &Evidence, w: &Words, said: Said) -> Text {
    let situation = &e.situation;
    let does = if w.finding.drivers.len() == 1 { "is shorted" } else { "fight" };
    let place = match w.finding.special() {
        Some(id) => format!("{}: ", w.special_name(id)),
        None => String::new(),
    };
    let more = e.more + w.finding.positions.len().saturating_sub(MOST_SETS);
    let further = match more {
        0 => String::new(),
        1 => "One further set of positions does the same.".to_owned(),
        _ => format!("{more} further sets of positions do the same."),
    };
    Text {
        says: format!(
            "{place}{} {does} at {} with no train, {}; {}",
            w.names(&w.finding.drivers),
            amps(situation.peak_a()),
            positions(e, w),
            said.cure
        ),
        why: said.why,
        more: spaced(&[
            &format!(
                "Computed with {}: {} of the time.",
                w.settings(situation),
                percent(situation.share)
            ),
            &w.trips(situation),
            &further,
        ]),
        advice: said.advice,
        cautions: said.cautions,
    }
}

/// The sets of positions: "set for the left road now, or with …".
fn positions(e: &Evidence, w: &Words) -> String {
    let Some((first, others)) = w.finding.positions.split_first() else {
        return "in every position".to_owned();
    };
    let is_now = if e.now { " now" } else { "" };
    let others = others.iter().take(MOST_SETS - 1);
    let others: String = others.map(|set| format!(", or {}", of_set(set, w))).collect();
    format!("{}{is_now}{others}", of_set(first, w))
}

fn of_set(set: &[SelectorAt], w: &Words) -> String {
    match (set, w.finding.special()) {
        ([own], Some(id)) if own.id == SelectorId::Points(id) => {
            position_words(w.layout, own.id, own.position)
        }
        _ => format!("with {}", w.positions(set)),
    }
}
