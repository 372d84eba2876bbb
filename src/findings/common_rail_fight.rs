//! `common-rail-fight`: drivers on a common rail that conflict with no train, as soon as their outputs there differ.

use std::collections::BTreeSet;

use super::shared::fight;
use super::units::{amps, percent};
use super::words::spaced;
use super::{Caution, Class, Cure, Evident, Found, Kind, Situation, Text, View, Words};
use crate::layout::{DriverId, Layout};

/// Drivers that conflict with no train on the track.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// What flows.
    pub situation: Situation,
    /// True if they do so at the settings now.
    pub now: bool,
}

impl Evident for Evidence {
    fn situation(&self) -> Option<&Situation> {
        Some(&self.situation)
    }
}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let mut found = Vec::new();
    let mut pairs = sharing(view);
    // Two drivers of one block are doubly fed, which is a kind of its own.
    let together = |a: &DriverId, b: &DriverId| {
        let mut blocks = view.plan.blocks.iter();
        blocks.any(|block| block.drivers.contains(a) && block.drivers.contains(b))
    };
    pairs.retain(|(a, b)| !together(a, b));
    let mut told: BTreeSet<DriverId> = BTreeSet::new();
    // What fights now comes first, so that a rule about a pair does not hide a fault of the same drivers.
    for (now, &(a, b)) in
        [true, false].into_iter().flat_map(|now| pairs.iter().map(move |p| (now, p)))
    {
        if told.contains(&a) && told.contains(&b) {
            continue;
        }
        let Some(both) = fight::standing(view, a, b, !now) else { continue };
        let (class, situation) = match (now, both.now, both.worst) {
            (true, Some(now), _) => (Class::Fault, now),
            (false, _, Some(worst)) => (Class::Rule, worst),
            _ => continue,
        };
        told.extend([a, b]);
        let verdict = situation.verdict;
        let evidence = Evidence { situation, now };
        found.push(Found {
            blocks: view
                .plan
                .blocks
                .iter()
                .filter(|block| block.drivers.contains(&a) || block.drivers.contains(&b))
                .map(|block| block.id)
                .collect(),
            drivers: vec![a, b],
            ..Found::new(Kind::CommonRailFight, class, verdict, evidence)
        });
    }
    found
}

/// At most so many pairs are tried on one net: beyond, the rest would only repeat them.
const MOST_PAIRS: usize = 200;

/// Pairs of drivers that end on one net.
fn sharing(view: &View) -> Vec<(DriverId, DriverId)> {
    let mut pairs: BTreeSet<(DriverId, DriverId)> = BTreeSet::new();
    for net in &view.plan.nets {
        let on: BTreeSet<DriverId> = net.legs.iter().map(|leg| leg.driver).collect();
        let on: Vec<DriverId> = on.into_iter().collect();
        let all =
            on.iter().enumerate().flat_map(|(i, &a)| on[i + 1..].iter().map(move |&b| (a, b)));
        pairs.extend(all.take(MOST_PAIRS));
    }
    pairs.into_iter().collect()
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let situation = &e.situation;
    let peak = amps(situation.peak_a());
    let when = if e.now { "as they are set now" } else { "as soon as their settings differ" };
    let supplies = w.supplies(&w.finding.drivers);
    let mut advice = Vec::new();
    if let [one] = &supplies[..] {
        advice.push(format!(
            "Give each driver a supply of its own, isolated from the other's; now {} feeds both.",
            w.supply(*one)
        ));
    } else {
        advice.push("Separate the supplies: look for a tie between their negatives.".into());
    }
    advice.push("Or cut the common rail too, so that each block has two rails of its own.".into());
    advice.push("Or use half-bridges on a split supply, which are made for a common rail.".into());
    let cure = match supplies.len() {
        1 => "a supply for each ends it",
        _ => "isolated supplies end it",
    };
    Text {
        says: format!(
            "{} fight over a common rail at {peak} with no train, {when}; {cure}",
            w.names(&w.finding.drivers)
        ),
        why: format!(
            "They share a rail and meet again behind the rails. With {} their outputs on that rail differ, and {peak} flows \
             through both.",
            w.settings(situation),
        ),
        more: spaced(&[
            &format!("That lasts {} of the time.", percent(situation.share)),
            &w.trips(situation),
        ]),
        advice,
        cautions: vec![Caution::Rewire, Caution::Saw, Caution::Mains],
    }
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::{Cut, Edit, Rails};

    pub fn pairs() -> Vec<Pair> {
        // One supply, the left rail whole, directions opposed: d1 high on the right, low on the left; d2 high on the left.
        // 14 / (0.05 + 0.06 + 0.35 + 0.35 + 0.06) = 14 / 0.87 = 16.0920 A.
        let with = yard(
            r#"
            (id: "c1", run: "r1", at_mm: 1000, rails: Right)
            (id: "d2", supply: "s1", $PWM(125, HighImpedance), $STAGE, $TRIP, $R(1))"#,
        );
        let both = Cut { rails: Rails::Both, ..with.cuts[&C1].clone() };
        let twin = edited(&with, Edit::Replace(both.into()));
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(14.0 / 0.87),
            cuts: &[],
            blocks: 2,
            says: "Driver d1 and driver d2 fight over a common rail at 16 A with no train, as they are set now; a supply for each ends it",
        }]
    }
}
