//! Words for what shorts with no train on the track in some positions of the selectors.

use super::standing::Evidence;
use crate::findings::units::{amps, percent};
use crate::findings::{Text, Words};

/// Sets of positions that are named one by one.
const MOST_SETS: usize = 3;

/// What one kind says of it.
pub struct Said<'a> {
    /// End of the headline, after the positions.
    pub because: &'a str,
    /// Why it happens, given "with turnout w1 set for the left road".
    pub why: &'a dyn Fn(&str) -> String,
    /// What to do.
    pub advice: Vec<String>,
}

pub fn words(e: &Evidence, w: &Words, said: Said) -> Text {
    let situation = &e.situation;
    let peak = amps(situation.peak_a());
    let whose = w.names(&w.finding.drivers);
    let is_now = if e.now { " (as it stands now)" } else { "" };
    let with = match w.finding.positions.split_first() {
        None => "in every position".to_owned(),
        Some((first, others)) => {
            let others = others.iter().take(MOST_SETS - 1);
            let others: String =
                others.map(|set| format!(", or with {}", w.positions(set))).collect();
            format!("with {}{is_now}{others}", w.positions(first))
        }
    };
    let does = if w.finding.drivers.len() == 1 { "is shorted" } else { "fight" };
    let mut why = format!(
        "{} Computed with {}: {peak}, {} of the time. {}",
        (said.why)(&with),
        w.settings(situation),
        percent(situation.share),
        w.trips(situation)
    );
    let more = e.more + w.finding.positions.len().saturating_sub(MOST_SETS);
    if more > 0 {
        why.push_str(&format!(" {more} further sets of positions do the like."));
    }
    Text {
        says: format!("{whose} {does} with no train, at {peak}, {with}{}", said.because),
        why: why.trim_end().to_owned(),
        more: String::new(),
        advice: said.advice,
    }
}
