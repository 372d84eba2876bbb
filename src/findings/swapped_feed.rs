//! `swapped-feed`: agreeing settings oppose each other at a gap, because a feeder's wires are crossed.
//!
//! One crossed feeder opposes at every gap of its block. Of the exchanges that cure a gap, the one is named that cures most
//! gaps and breaks none.

use std::collections::{BTreeMap, BTreeSet};

use super::shared::crossing::{self, Change};
use super::units::amps;
use super::{Caution, Cure, Found, Kind, Near, Text, View, Words};
use crate::layout::FeedId;

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let mut left = crossing::of_kind(view, Kind::SwappedFeed);
    let mut found = Vec::new();
    while let Some(feeds) = best_exchange(view, &left) {
        let (cured, others): (Vec<_>, Vec<_>) =
            left.into_iter().partition(|f| exchanges(&f.evidence).any(|own| *own == feeds));
        left = others;
        found.extend(as_one(cured, feeds));
    }
    found.extend(left);
    found
}

/// The feeders whose exchange cures a finding by itself.
fn exchanges(e: &Evidence) -> impl Iterator<Item = &Vec<FeedId>> {
    let single = e.changes.len() == 1;
    e.changes.iter().chain(&e.instead).filter(move |_| single).filter_map(|change| match change {
        Change::WiresExchanged(feeds) => Some(feeds),
        Change::TakenOff(_)
        | Change::SuppliesDivided
        | Change::StaysAsleep(_)
        | Change::Coasts(_)
        | Change::OneVoltage
        | Change::PhaseExchanged(_)
        | Change::OneSignal
        | Change::NoDelay(_)
        | Change::Silenced(_)
        | Change::TiesOpened => None,
    })
}

/// The exchange that breaks fewest gaps, of those the one that cures most, of those the first; `None` if no finding is
/// left.
fn best_exchange(view: &View, left: &[Found<Evidence>]) -> Option<Vec<FeedId>> {
    let mut cures: BTreeMap<&Vec<FeedId>, usize> = BTreeMap::new();
    for feeds in left.iter().flat_map(|f| exchanges(&f.evidence).collect::<BTreeSet<_>>()) {
        *cures.entry(feeds).or_default() += 1;
    }
    let breaks = |feeds: &Vec<FeedId>| {
        let crossed = |at| {
            left.iter()
                .any(|f| f.cuts().contains(at) && exchanges(&f.evidence).any(|own| own == feeds))
        };
        let touching = view.known.iter().filter(|(at, known)| {
            known.case.sides.iter().all(Option::is_some)
                && feeds.iter().any(|feed| borders(view, known, *feed))
                && !crossed(*at)
        });
        touching.count()
    };
    let best = cures.iter().min_by_key(|(feeds, cured)| {
        (breaks(feeds), std::cmp::Reverse(**cured), (**feeds).clone())
    });
    best.map(|(feeds, _)| (*feeds).clone())
}

/// True if a feeder feeds one of the two sides of a solved place.
fn borders(view: &View, known: &crate::study::Known, feed: FeedId) -> bool {
    let at = known.around.at;
    [at.block_before, at.block_after].into_iter().any(|block| {
        let nets = view.plan.blocks[block].nets;
        nets.into_iter().any(|net| view.plan.nets[net].legs.iter().any(|leg| leg.feed == feed))
    })
}

/// One finding for all places that one exchange cures: the worst of them.
fn as_one(cured: Vec<Found<Evidence>>, feeds: Vec<FeedId>) -> Option<Found<Evidence>> {
    let weight = |f: &Found<Evidence>| (f.class, f.verdict, f.evidence.situation.peak_a());
    let heavier = |a: &&Found<Evidence>, b: &&Found<Evidence>| {
        weight(a).partial_cmp(&weight(b)).unwrap_or(std::cmp::Ordering::Equal)
    };
    let mut worst = cured.iter().rev().max_by(heavier)?.clone();
    for other in &cured {
        super::merge::add(&mut worst.places, other.places.clone());
        super::merge::add(&mut worst.blocks, other.blocks.clone());
        super::merge::add(&mut worst.drivers, other.drivers.clone());
    }
    let common = |own: &&Vec<FeedId>| {
        **own != feeds && cured.iter().all(|f| exchanges(&f.evidence).any(|x| x == *own))
    };
    let instead: BTreeSet<Vec<FeedId>> = cured
        .iter()
        .flat_map(|f| exchanges(&f.evidence).filter(common).cloned().collect::<Vec<_>>())
        .collect();
    worst.evidence.changes = vec![Change::WiresExchanged(feeds)];
    worst.evidence.instead = instead.into_iter().map(Change::WiresExchanged).collect();
    Some(worst)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let feeders = exchanges(e).next().map_or_else(|| "a feeder".to_owned(), |f| w.feeders(f));
    let or: Vec<String> = e
        .instead
        .iter()
        .filter_map(|change| match change {
            Change::WiresExchanged(feeds) => Some(w.feeders(feeds)),
            _ => None,
        })
        .collect();
    let own = e.changes.iter().find_map(|change| match change {
        Change::WiresExchanged(feeds) => Some(w.exchanged(change, feeds)),
        _ => None,
    });
    let mut line = own.unwrap_or_else(|| "Exchange the two wires of a feeder.".to_owned());
    if !or.is_empty() {
        line = format!("{}, or those of {}.", line.trim_end_matches('.'), super::words::and(&or));
    }
    let mut advice = vec![line];
    let others: Vec<Change> = e
        .changes
        .iter()
        .filter(|change| !matches!(change, Change::WiresExchanged(_)))
        .cloned()
        .collect();
    advice.extend(w.advised(&others));
    Text {
        says: format!(
            "{}: the wires of {feeders} are crossed; with agreeing throttles {}",
            w.places(),
            w.outcome(e)
        ),
        why: format!(
            "With {} a train should run on, but what is positive on one side is negative on the other. {}: {}.",
            w.settings(&e.situation),
            super::words::capital(&w.wheels(e)),
            amps(e.situation.peak_a()),
        ),
        more: w.more(e),
        advice,
        cautions: vec![Caution::Rewire],
    }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    // Exchanging any one feeder of a block whose feeders agree is half the job: all of one exchange go together.
    crossing::cures(e, near)
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::{Edit, FeedId};

    pub fn pairs() -> Vec<Pair> {
        // One feed swapped: the circuit of opposed bridges with agreeing labels.
        let plain = yard("");
        vec![Pair {
            with: edited(&plain, Edit::Swap { feed: FeedId(2) }),
            twin: plain,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(28.0 / 1.78),
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: the wires of feeder f1 are crossed; with agreeing throttles the long diesel shorts at 16 A",
        }]
    }
}
