//! `common-rail-fight`: drivers on a common rail that conflict with no train, as soon as their outputs there differ.

use super::units::{amps, percent};
use super::words::spaced;
use super::{Caution, Class, Cure, Evident, Found, Kind, Near, Situation, Text, View, Words};
use crate::layout::DriverId;
use crate::study::fight;

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
    // Two drivers of one block are doubly fed, which is a kind of its own.
    let together = |[a, b]: &[DriverId; 2]| {
        let mut blocks = view.plan.blocks.iter();
        blocks.any(|block| block.drivers.contains(a) && block.drivers.contains(b))
    };
    let pairs: Vec<[DriverId; 2]> =
        fight::on_one_rail(view).into_iter().filter(|pair| !together(pair)).collect();
    let fights = |asked: fn(&View, &[DriverId]) -> Option<Situation>| -> Vec<Fight> {
        let fighting = pairs.iter().filter_map(|pair| Some((pair.to_vec(), asked(view, pair)?)));
        rings(fighting.collect())
    };
    let as_set_now = fights(fight::now).into_iter().map(|fight| finding(view, fight, true));
    let however_set = fights(fight::worst).into_iter().map(|fight| finding(view, fight, false));
    as_set_now.chain(however_set).collect()
}

/// Drivers and what flows in the worst two of them.
type Fight = (Vec<DriverId>, Situation);

/// Unites fights that have a driver in common: one rail, or one supply, is behind them.
fn rings(fights: Vec<Fight>) -> Vec<Fight> {
    let mut rings: Vec<Fight> = Vec::new();
    for (mut drivers, mut worst) in fights {
        let (joined, apart): (Vec<Fight>, Vec<Fight>) =
            rings.into_iter().partition(|ring| ring.0.iter().any(|id| drivers.contains(id)));
        for (more, situation) in joined {
            drivers.extend(more);
            let weight = |s: &Situation| (s.verdict, s.peak_a());
            if weight(&situation) >= weight(&worst) {
                worst = situation;
            }
        }
        drivers.sort();
        drivers.dedup();
        rings = apart;
        rings.push((drivers, worst));
    }
    rings
}

fn finding(view: &View, (drivers, situation): Fight, now: bool) -> Found<Evidence> {
    let of_them = |id: &DriverId| drivers.contains(id);
    let blocks = view.plan.blocks.iter().filter(|block| block.drivers.iter().any(of_them));
    let blocks = blocks.map(|block| block.id).collect();
    // What fights only at some settings is for operators to avoid.
    let class = if now { Class::Fault } else { Class::Rule };
    let verdict = situation.verdict;
    let evidence = Evidence { situation, now };
    let found = Found::new(Kind::CommonRailFight, class, verdict, evidence);
    Found { blocks, drivers, now, ..found }
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

pub fn cures(_: &Evidence, near: &Near) -> Vec<Cure> {
    near.apart().into_iter().map(Cure::from).collect()
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
