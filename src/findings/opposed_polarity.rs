//! `opposed-polarity`: rails of opposite polarity meet where the settings disagree.

use super::shared::crossing;
use super::table;
use super::units::amps;
use super::{Class, Cure, Finding, Found, Kind, Near, Text, View, Words};
use crate::job::Job;
use crate::layout::Direction;

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::OpposedPolarity)
}

/// True for rules that ask the same of operators: equal directions, or opposite ones.
pub(super) fn same_cause(a: &Finding, b: &Finding) -> bool {
    let (table::Evidence::OpposedPolarity(one), table::Evidence::OpposedPolarity(other)) =
        (&a.evidence, &b.evidence)
    else {
        return false;
    };
    let rule = |f: &Finding| f.class == Class::Rule && f.drivers.len() > 1;
    rule(a) && rule(b) && one.sign == other.sign && !one.now && !other.now
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let alone = w.finding.drivers.len() < 2;
    let directions = if e.sign < 0 { "opposite directions" } else { "the same direction" };
    let outcome = w.outcome(e);
    let place = w.places();
    let says = if alone && e.now {
        format!("{place}: the two sides, fed by one driver, oppose each other now; {outcome}")
    } else if alone {
        format!("{place}: the two sides, fed by one driver, can oppose each other; {outcome} then")
    } else if e.now {
        format!("{place}: the two sides are set against each other now; {outcome}")
    } else {
        format!("{place}: set {directions} on both throttles before crossing, or {outcome}")
    };
    let why = format!(
        "With {} the positive rail of one side meets the negative rail of the other. {} and {}: {}.",
        w.settings(&e.situation),
        super::words::capital(&w.wheels(e)),
        if alone { "join the two poles of one driver" } else { w.how_joined() },
        amps(e.situation.peak_a()),
    );
    let advice = if alone && w.finding.blocks.len() < 2 {
        "Cut both rails a second time: both sides are one block, so nothing that is set or switched cures this gap by \
         itself."
            .into()
    } else if alone {
        "Reverse one side against the other before a train crosses: by a reversing switch, an auto-reverser or a driver \
         of its own."
            .into()
    } else if e.now {
        format!("Set {directions} on both throttles before a train crosses.")
    } else {
        format!("Put it on the gap's card: {directions} on both throttles before crossing.")
    };
    Text { says, why, more: w.more(e), advice: vec![advice], cautions: Vec::new() }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    // As set now the throttles oppose: turning either cures it. The rule stays.
    if !e.now {
        return Vec::new();
    }
    let drivers = near.finding.drivers.iter();
    let turned = drivers.filter_map(|&driver| {
        let direction = match near.layout().drivers.get(&driver)?.setting.direction {
            Direction::Forward => Direction::Reverse,
            Direction::Reverse => Direction::Forward,
            Direction::Stopped | Direction::On | Direction::Off => return None,
        };
        Some(Job::Turn { driver, direction }.into())
    });
    turned.collect()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::{Direction, Edit, Feed, FeedId};

    pub fn pairs() -> Vec<Pair> {
        // Now against each other: 14 + 14 V around two sources, two high and two low switches, the wires and the wheels:
        // 28 / (2·0.05 + 4·0.06 + 4·0.35 + 2·0.02) = 28 / 1.78 = 15.7303 A.
        let with = set(&yard(""), D2, Direction::Reverse, 0.8);
        // Twin: the other block fed from the same driver cannot differ.
        let feed = Feed { driver: D1.into(), ..with.feeds[&FeedId(2)].clone() };
        let twin = edited(&with, Edit::Replace(feed.into()));
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(28.0 / 1.78),
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: the two sides are set against each other now; the long diesel shorts at 16 A",
        }]
    }
}
