//! `doubly-fed`: a block that two drivers drive at once, as the selectors stand now or in some other position of its own.

use super::shared::feeding::{drivers_at, other_positions, thrown};
use super::units::amps;
use super::{
    Caution, Class, Cure, Evident, Found, Kind, Near, Place, SelectorAt, SelectorId, Situation,
    Text, Verdict, View, Words,
};
use crate::job::Job;
use crate::layout::{DriverId, Feed};
use crate::study::fight;

/// What the drivers of one block do to each other with no train.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// What flows, if they conflict at any settings.
    pub situation: Option<Situation>,
    /// True if they conflict at the settings now.
    pub now: bool,
}

impl Evident for Evidence {
    fn situation(&self) -> Option<&Situation> {
        self.situation.as_ref()
    }
}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let blocks = view.plan.blocks.iter().enumerate();
    let found = blocks.filter_map(|(at, block)| {
        if block.drivers.len() > 1 { Some(now(view, at)) } else { in_other_positions(view, at) }
    });
    found.collect()
}

/// A block that two drivers drive at once in some position of its own selectors, though not now: the one with the fewest
/// thrown.
fn in_other_positions(view: &View, at: usize) -> Option<Found<Evidence>> {
    let (others, _) = other_positions(view, at);
    let positions = others.into_iter().find(|p| drivers_at(view, at, p).len() > 1)?;
    let drivers = drivers_at(view, at, &positions);
    let told = thrown(view.layout, &view.plan.positions, &positions);
    let there = view.at(positions);
    let situation = worst_two(&there, &drivers);
    let verdict = situation.as_ref().map_or(Verdict::Caution, |s| s.verdict.max(Verdict::Caution));
    let selectors = told
        .into_iter()
        .map(|(id, position)| SelectorAt { id: SelectorId::Device(id), position })
        .collect();
    let block = &view.plan.blocks[at];
    let evidence = Evidence { situation, now: false };
    Some(Found {
        places: vec![Place::Block(block.id)],
        blocks: vec![block.id],
        positions: vec![selectors],
        drivers,
        ..Found::new(Kind::DoublyFed, Class::Rule, verdict, evidence)
    })
}

/// A block that two drivers or more drive at once now. The situation is that of the worst two of them.
fn now(view: &View, at: usize) -> Found<Evidence> {
    let block = &view.plan.blocks[at];
    let worst = worst_two(view, &block.drivers);
    let now = pairs(&block.drivers).any(|pair| fight::now(view, &pair).is_some());
    let verdict = worst.as_ref().map_or(Verdict::Caution, |s| s.verdict.max(Verdict::Caution));
    let evidence = Evidence { situation: worst, now };
    Found {
        places: vec![Place::Block(block.id)],
        blocks: vec![block.id],
        drivers: block.drivers.clone(),
        ..Found::new(Kind::DoublyFed, Class::Fault, verdict, evidence)
    }
}

/// Pairs of some drivers, no more of them than are tried.
fn pairs(drivers: &[DriverId]) -> impl Iterator<Item = [DriverId; 2]> + '_ {
    fight::pairs_of(drivers).take(fight::MOST_PAIRS)
}

/// Worst conflict between two of some drivers, with no train.
fn worst_two(view: &View, drivers: &[DriverId]) -> Option<Situation> {
    let all = pairs(drivers).filter_map(|pair| fight::worst(view, &pair));
    let weight = |s: &Situation| (s.verdict, s.peak_a());
    all.reduce(|worst, new| if weight(&new) > weight(&worst) { new } else { worst })
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let (block, drivers) = (w.block(0), w.names(&w.finding.drivers));
    let selectors = w.finding.selectors();
    let (says, advice) = if selectors.is_empty() {
        (
            format!("{block} is fed by {drivers} at once; cut both rails between their feeds"),
            vec![
                "Cut both rails between the two feeds.".to_owned(),
                "Or take one feed away.".to_owned(),
                "Or put a cab selector before the block, so that one driver at a time feeds it."
                    .to_owned(),
            ],
        )
    } else {
        (
            format!(
                "{block} is fed by {drivers} at once with {}; use one cab selector",
                w.positions(selectors)
            ),
            vec![
                "Put one cab selector before the block in place of the separate switches."
                    .to_owned(),
                "Or gang the switches, so that only one is ever on.".to_owned(),
            ],
        )
    };
    let (fight, more) = match &e.situation {
        Some(situation) => (
            format!(
                "With {} they fight with no train on the track, at up to {}.",
                w.settings(situation),
                amps(situation.peak_a())
            ),
            w.trips(situation),
        ),
        None => ("They drive it, whatever they are set to.".to_owned(), String::new()),
    };
    let feed = match w.finding.drivers.len() {
        0..=2 => "Both drivers feed",
        _ => "Each of these drivers feeds",
    };
    Text {
        says,
        why: format!("{feed} both rails of one block. {fight}"),
        more,
        advice,
        cautions: vec![Caution::Saw, Caution::Rewire],
    }
}

pub fn cures(_: &Evidence, near: &Near) -> Vec<Cure> {
    let Some(&block) = near.finding.blocks.first() else { return Vec::new() };
    let feeds: Vec<&Feed> = near.feeds_in(block);
    let by = |driver: DriverId| {
        let own = feeds.iter().filter(move |f| near.driver_of(f.driver) == Some(driver));
        own.map(|f| Job::TakeFeedAway(f.id)).collect::<Vec<Job>>()
    };
    // All feeds of all drivers but one, for each that stays.
    let drivers = &near.finding.drivers;
    let mut cures: Vec<Cure> = drivers
        .iter()
        .map(|kept| drivers.iter().filter(|id| *id != kept).flat_map(|&id| by(id)).collect())
        .map(|jobs: Vec<Job>| jobs.into())
        .collect();
    cures.extend(near.cuts_between(block));
    cures.push(Job::SelectCab(feeds.iter().map(|f| f.id).collect()).into());
    cures
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::{Edit, EntityId, FeedId};

    pub fn pairs() -> Vec<Pair> {
        // Two bridges on one block, at worst opposed: no wheels between them, but their wires: 28 / (0.1 + 0.24 + 1.4).
        let with = yard("-c1\n-n2");
        let twin = edited(&with, Edit::Delete(vec![EntityId::Feed(FeedId(2))]));
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(28.0 / 1.74),
            cuts: &[],
            blocks: 1,
            says: "West is fed by driver d1 and driver d2 at once; cut both rails between their feeds",
        }]
    }
}
