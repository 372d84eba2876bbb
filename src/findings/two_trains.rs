//! `two-trains`: a vehicle that joins one rail of two blocks at one gap, and another that joins the other rail at another
//! gap (or at the other end of one staggered gap), close together a circuit that neither closes alone.
//!
//! Where one vehicle can join both rails that is reported by itself, so only pairs of rails that no vehicle joins at once
//! are looked at. A fault where a change of the wiring or of a driver cures it although the settings agree; else a rule.

use std::collections::{BTreeMap, BTreeSet};

use super::shared::change::{Change, changes_of};
use super::units::amps;
use super::words::and;
use super::{BlockId, Class, Cure, Found, Kind, Near, Place, Relation, Text, Verdict, View, Words};
use crate::layout::{CutId, DriverId, Layout};
use crate::study::causes::Cause;
use crate::study::cut::{Evaluated, Worst, is_worse};
use crate::study::situation::Known;
use crate::study::together::{self, Joined, Singles, Stood};

/// At most so many pairs are judged: what is left out is more of the same.
const MOST_PAIRS: usize = 64;
/// At most this many ways for two vehicles to join one pair of pairs are judged.
const MOST_WAYS: usize = 16;

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let singles = Singles::of(view);
    let mut by_drivers: BTreeMap<BTreeSet<DriverId>, Vec<Joined>> = BTreeMap::new();
    for &pair in singles.stands.keys() {
        let drivers = drivers_on(view, pair);
        if drivers.len() > 1 {
            by_drivers.entry(drivers).or_default().push(pair);
        }
    }
    let pairs = by_drivers.values().flat_map(|pairs| {
        pairs.iter().enumerate().flat_map(|(i, &a)| pairs[i + 1..].iter().map(move |&b| (a, b)))
    });
    let apart = pairs.filter(|(a, b)| {
        let at_once = singles.at_once.contains(&[*a.min(b), *a.max(b)]);
        !at_once && a.iter().all(|net| !b.contains(net))
    });
    apart.take(MOST_PAIRS).filter_map(|(a, b)| of_pairs(view, &singles, a, b)).collect()
}

fn drivers_on(view: &View, pair: Joined) -> BTreeSet<DriverId> {
    pair.iter().flat_map(|&net| &view.plan.net(net).legs).map(|leg| leg.driver).collect()
}

/// The worst that two vehicles do which join one pair of nets each, at all the gaps at which they can.
fn of_pairs(view: &View, singles: &Singles, a: Joined, b: Joined) -> Option<Found<Evidence>> {
    let ways =
        singles.stands[&a].iter().flat_map(|&x| singles.stands[&b].iter().map(move |&y| (x, y)));
    let mut ways: Vec<(Stood, Stood)> =
        ways.filter(|&(x, y)| together::has_room(view, x, y)).collect();
    // Two gaps are the plainer case.
    if ways.iter().any(|(x, y)| x.0 != y.0) {
        ways.retain(|(x, y)| x.0 != y.0);
    }
    let mut worst: Option<Way> = None;
    let mut cuts: BTreeSet<CutId> = BTreeSet::new();
    // Which of the two places has its drivers as sides must not matter.
    let both_orders = ways.into_iter().take(MOST_WAYS).flat_map(|(x, y)| [(x, y), (y, x)]);
    for (x, y) in both_orders {
        let Some(new) = judged(view, x, y) else { continue };
        cuts.extend([x.0, y.0]);
        let graver = |old: &Way| {
            let agrees = |way: &Way| way.relation == Relation::Agree;
            match (agrees(&new), agrees(old)) {
                (true, false) => true,
                (false, true) => false,
                _ => is_worse(&new.evaluated, &old.evaluated),
            }
        };
        if worst.as_ref().is_none_or(graver) {
            worst = Some(new);
        }
    }
    let way = worst?;
    let blocks: BTreeSet<BlockId> = cuts.iter().flat_map(|&cut| blocks_at(view, cut)).collect();
    let verdict = way.evaluated.judged.verdict;
    let class = if way.is_curable(view.layout) { Class::Fault } else { Class::Rule };
    let situation = view.situation(&way.known, &way.evaluated);
    let evidence = Evidence {
        by_join: way.by_join,
        changes: way.changes,
        ..Evidence::bare(situation, Some(way.relation), false)
    };
    Some(Found {
        places: cuts.into_iter().map(Place::Cut).collect(),
        blocks: blocks.into_iter().collect(),
        drivers: drivers_on(view, a).union(&drivers_on(view, b)).copied().collect(),
        ..Found::new(Kind::TwoTrains, class, verdict, evidence)
    })
}

fn blocks_at(view: &View, cut: CutId) -> Vec<BlockId> {
    let known = view.known.get(&cut);
    let at = known.map(|known| [known.around.at.block_before, known.around.at.block_after]);
    at.into_iter().flatten().map(|block| view.plan.blocks[block].id).collect()
}

/// Two vehicles at once that do what neither does alone.
struct Way {
    known: Known,
    relation: Relation,
    evaluated: Evaluated,
    by_join: [Option<Verdict>; 3],
    changes: Vec<Change>,
}

impl Way {
    /// True if the settings agree and an edit of the wiring or of drivers is all that it takes.
    fn is_curable(&self, layout: &Layout) -> bool {
        let changes = &self.changes;
        self.relation == Relation::Agree
            && !changes.is_empty()
            && changes.iter().all(|change| change.edits(layout).is_some())
    }
}

/// Judges two vehicles at once; `None` if they do nothing that one of them does not do alone.
fn judged(view: &View, x: Stood, y: Stood) -> Option<Way> {
    let known = together::solved(view, x, y)?;
    let alone = |relation: Relation| -> Option<Verdict> {
        let known = [view.known.get(&x.0), view.known.get(&y.0)].into_iter().flatten();
        known.filter_map(|k| verdict(&k.result.worst(relation))).max()
    };
    let is_grave = |v: Verdict| v.is_fault() && v != Verdict::Stall;
    for relation in [Relation::Agree, Relation::Disagree] {
        let worst = known.result.worst(relation);
        if !verdict(&worst).is_some_and(is_grave) || alone(relation).is_some_and(is_grave) {
            continue;
        }
        let causes = || known.result.causes.iter().filter(|cause| cause.relation == relation);
        let explained = causes().all(|cause| cause.cause != Cause::NotExplained);
        let changes: BTreeSet<Change> = causes()
            .filter(|_| explained)
            .flat_map(|cause| changes_of(view, &known, &cause.changes))
            .collect();
        let (by_join, evaluated) = (worst.by_join, worst.worst?);
        let changes = changes.into_iter().collect();
        return Some(Way { known, relation, evaluated, by_join, changes });
    }
    None
}

fn verdict(worst: &Worst) -> Option<Verdict> {
    worst.worst.as_ref().map(|evaluated| evaluated.judged.verdict)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let Evidence { situation, relation, .. } = e;
    let mut movers: Vec<String> = Vec::new();
    for join in &situation.joins {
        let whose = w.vehicle(join.vehicles.first().copied());
        if !movers.contains(&whose) {
            movers.push(whose);
        }
    }
    if let [one] = movers.as_slice() {
        movers = vec![format!("{one} and another like it")];
    }
    let (gaps, movers) = (w.all_gaps(), and(&movers));
    let peak = amps(situation.peak_a());
    let when = match *relation {
        Some(Relation::Agree) => "even with directions that agree",
        _ => "where directions do not match",
    };
    let place = match w.finding.cuts().len() {
        0 | 1 => format!("both ends of {gaps} at the same time"),
        2 => format!("{gaps} at the same time"),
        _ => format!("two of {gaps} at the same time"),
    };
    let mut advice = match w.finding.class {
        Class::Fault => w.advised(&e.changes),
        Class::Rule | Class::Note => Vec::new(),
    };
    let or = if advice.is_empty() { "Let" } else { "Until then let" };
    advice.push(format!(
        "{or} one train clear its gap before another comes to the other one{}.",
        match relation {
            Some(Relation::Agree) => "",
            _ => ", unless the settings of both blocks agree",
        }
    ));
    Text {
        says: format!("{movers} must not stand over {place}: together they short at {peak}"),
        why: format!(
            "Each of them joins only one rail of the two blocks, which by itself closes no circuit between separate \
             supplies. One on the left rail and one on the right rail close it: {peak}, {when} ({}).",
            w.settings(situation),
        ),
        more: w.trips(situation),
        advice,
        cautions: Vec::new(),
    }
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
        // Each engine joins one rail; with pickups on every wheel one engine does it alone.
        vec![Pair {
            with: two_gaps(),
            twin: two_gaps_all_pickups(),
            class: Class::Rule,
            verdict: Verdict::Short,
            peak_a: None,
            cuts: &[1, 2],
            blocks: 2,
            says: "The split engine and another like it must not stand over gaps c1 and c2 at the same time: together they short at 15 A",
        }]
    }
}
