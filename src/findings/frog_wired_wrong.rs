//! `frog-wired-wrong`: a frog has not the polarity of the road that is set: under a train, or with none where its contact
//! joins the poles of a driver.

use super::shared::crossing_words::verb;
use super::shared::standing_words::{self, Said};
use super::shared::{crossing, standing};
use super::table;
use super::units::amps;
use super::{Caution, Cure, Evident, Finding, Found, Kind, Near, Situation, Text, View, Words};
use crate::job::Job;

/// How it shows.
#[derive(Debug, Clone, PartialEq)]
pub enum Evidence {
    /// Under a train.
    Train(crossing::Evidence),
    /// With no train.
    Standing(standing::Evidence),
}

impl Evident for Evidence {
    fn situation(&self) -> Option<&Situation> {
        match self {
            Evidence::Train(e) => e.situation(),
            Evidence::Standing(e) => e.situation(),
        }
    }
}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let trains = crossing::of_kind(view, Kind::FrogWiredWrong).into_iter();
    let mut found: Vec<_> = trains.map(|f| f.map(Evidence::Train)).collect();
    // The search goes over all positions by itself.
    if view.is_now {
        let standing = standing::of_kind(view, Kind::FrogWiredWrong).into_iter();
        found.extend(standing.map(|f| f.map(Evidence::Standing)));
    }
    found
}

/// True if a frog shorts with no train, so that what a train does there is needless to say.
pub(super) fn covers(finding: &Finding, other: &Finding) -> bool {
    let standing = |f: &Finding| match &f.evidence {
        table::Evidence::FrogWiredWrong(e) => matches!(**e, Evidence::Standing(_)),
        _ => false,
    };
    standing(finding)
        && !standing(other)
        && finding.special() == other.special()
        && finding.drivers == other.drivers
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    match e {
        Evidence::Train(e) => under_a_train(e, w),
        Evidence::Standing(e) => {
            let said = Said {
                cure: "exchange the wires of the frog's contact",
                why: "The points give the frog one polarity and its contact gives it the other. The two poles of the driver \
                      meet in the frog."
                    .into(),
                advice: vec![
                    "Exchange the two wires of the frog's contact.".into(),
                    "Or throw the contact together with the points.".into(),
                ],
                cautions: vec![Caution::Rewire],
            };
            standing_words::words(e, w, said)
        }
    }
}

fn under_a_train(e: &crossing::Evidence, w: &Words) -> Text {
    let situation = &e.situation;
    let (gap, vehicle) = (w.gap(), w.vehicle(situation.vehicle));
    Text {
        says: format!(
            "{gap}: the frog has the wrong polarity {}{}; {vehicle} {} at {}",
            if e.now { "now, with " } else { "with " },
            w.positions(w.finding.selectors()),
            verb(situation.verdict),
            amps(situation.peak_a())
        ),
        why: format!(
            "Beyond the frog each inner rail must have the polarity of the toe rail on its own hand, and the frog that of \
             the road that is set. Here it has the other. {}",
            w.both_polarities(situation)
        ),
        advice: vec![
            "Exchange the two wires of the frog's contact, or throw the contact with the points."
                .into(),
        ],
        more: String::new(),
        cautions: vec![Caution::Rewire],
    }
}

pub fn cures(_: &Evidence, near: &Near) -> Vec<Cure> {
    let Some(special) = near.finding.special() else { return Vec::new() };
    let jobs = [Job::WireContact(special), Job::CoupleContact(special)];
    let both = jobs.to_vec();
    jobs.into_iter().map(Cure::from).chain([both.into()]).collect()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};

    pub fn pairs() -> Vec<Pair> {
        vec![Pair {
            with: turnout("Switched", SWITCHED_WRONG, "", ""),
            twin: turnout("Switched", "", "", ""),
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: None,
            cuts: &[],
            blocks: 1,
            says: "Turnout w1: the frog has the wrong polarity now, with turnout w1 set for the left road; the long diesel shorts at 15 A",
        }]
    }
}
