//! `mixed-drive`: DCC meets DC at a gap.

use super::shared::crossing;
use super::shared::crossing_words::lasting;
use super::table;
use super::units::amps;
use super::{Caution, Class, Cure, Finding, Found, Kind, Near, Text, View, Words};

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::MixedDrive)
}

/// True for findings of one class that the same changes remove.
pub(super) fn same_cause(a: &Finding, b: &Finding) -> bool {
    match (&a.evidence, &b.evidence) {
        (table::Evidence::MixedDrive(one), table::Evidence::MixedDrive(other)) => {
            crossing::same_changes((a, one), (b, other))
        }
        _ => false,
    }
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let transfer = w.finding.class == Class::Rule;
    let stands = if transfer && w.finding.selectors().is_empty() {
        " as the selectors stand now"
    } else {
        ""
    };
    let longest = lasting(e.situation.longest_s);
    let mut more = w.more(e);
    if transfer {
        more.push_str(" In another position of the selectors both sides are of one kind.");
    }
    Text {
        says: format!(
            "{}: DCC on one side and DC on the other{stands}; {}",
            w.places(),
            w.outcome(e)
        ),
        why: format!(
            "DCC changes polarity all the time, so it opposes any DC for half of it: {}, without a break for {longest}.{}",
            amps(e.situation.peak_a()),
            if transfer { "" } else { " No setting carries a train through." }
        ),
        more: more.trim_start().to_owned(),
        advice: vec![if transfer {
            "Give the section between them wholly to the side that the train comes from, and once the train is wholly \
             inside, to the side that it goes to."
                .into()
        } else {
            "Put a transfer section between them, longer than what any train can bridge, and switch it wholly to one side \
             or the other."
                .into()
        }],
        cautions: vec![Caution::Saw, Caution::Rewire],
    }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    let mut cures = crossing::cures(e, near);
    cures.extend(near.transfer_sections());
    cures
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};

    pub fn pairs() -> Vec<Pair> {
        // The booster is against forward for half the time: the circuit of opposed bridges.
        let with =
            yard(r#"(id: "d2", supply: "s2", $DCC, $STAGE, $TRIP, setting: (direction: On))"#);
        vec![Pair {
            with,
            twin: yard(""),
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(28.0 / 1.78),
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: DCC on one side and DC on the other; the long diesel shorts at 16 A",
        }]
    }
}
