//! `two-trains`: a vehicle that joins one rail of two blocks at one gap, and another that joins the other rail at another
//! gap (or at the other end of one staggered gap), close together a circuit that neither closes alone.
//!
//! Wherever one vehicle can join both rails that is told of it, so only pairs of rails that no vehicle joins at once are
//! looked at.

use std::collections::{BTreeMap, BTreeSet};

use super::shared::at_cut;
use super::units::amps;
use super::words::and;
use super::{Class, Cure, Found, Kind, Place, Relation, Text, Verdict, View, Words};
use crate::layout::{CutId, DriverId, Layout};
use crate::rails::PlanNet;
use crate::straddle::ix::StandIx;
use crate::study::cut::{Case, Evaluated, StandAt, Surroundings, numeric};
use crate::study::situation::{Known, situation};

/// Two nets that one rail's pickups join.
type Pair = [PlanNet; 2];

/// At most so many pairs are judged: what is left out is more of the same.
const MOST_PAIRS: usize = 64;

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let mut found = Vec::new();
    // Where each pair of nets can be joined by itself: at most two gaps each; and what is joined together.
    let mut singles: BTreeMap<Pair, Vec<(CutId, StandIx)>> = BTreeMap::new();
    let mut together: BTreeSet<[Pair; 2]> = BTreeSet::new();
    for (&cut, known) in &view.known {
        for (at, stand) in known.around.stands.pairs().filter(|(_, s)| !s.single_wheel) {
            match joined(stand).as_slice() {
                [one] => {
                    let places = singles.entry(*one).or_default();
                    if places.iter().filter(|p| p.0 == cut).count() < 2 {
                        places.push((cut, at));
                    }
                }
                [a, b] => drop(together.insert([*a.min(b), *a.max(b)])),
                _ => {}
            }
        }
    }
    let mut by_drivers: BTreeMap<Vec<DriverId>, Vec<Pair>> = BTreeMap::new();
    for &pair in singles.keys() {
        let mut drivers: Vec<DriverId> =
            pair.iter().flat_map(|&net| &view.plan.net(net).legs).map(|leg| leg.driver).collect();
        drivers.sort();
        drivers.dedup();
        if drivers.len() > 1 {
            by_drivers.entry(drivers).or_default().push(pair);
        }
    }
    let pairs = by_drivers.values().flat_map(|pairs| {
        pairs.iter().enumerate().flat_map(|(i, &a)| pairs[i + 1..].iter().map(move |&b| (a, b)))
    });
    let apart = pairs.filter(|(a, b)| {
        !together.contains(&[*a.min(b), *a.max(b)]) && a.iter().all(|net| !b.contains(net))
    });
    for (a, b) in apart.take(MOST_PAIRS) {
        let places = singles[&a].iter().flat_map(|&x| singles[&b].iter().map(move |&y| (x, y)));
        let mut possible: Vec<_> = places.filter(|&(x, y)| at_once(view, x, y)).collect();
        // Two gaps are the plainer case.
        possible.sort_by_key(|(x, y)| x.0 == y.0);
        if let Some(&(x, y)) = possible.first() {
            found.extend(judged(view, x, y));
        }
    }
    found
}

/// The pairs of nets that a stand joins, of each rail that joins two.
fn joined(stand: &StandAt) -> Vec<Pair> {
    let sides = stand.groups.iter().flat_map(|group| &group.touched).filter(|side| side.len() > 1);
    sides
        .map(|side| match side.as_slice() {
            [a, b] => Some([a.0, b.0]),
            _ => None,
        })
        .collect::<Option<_>>()
        .unwrap_or_default()
}

/// Whether two vehicles can stand so at the same time: at two gaps, or at one with room for both.
fn at_once(view: &View, x: (CutId, StandIx), y: (CutId, StandIx)) -> bool {
    if x.0 != y.0 {
        return true;
    }
    let Some(known) = view.known.get(&x.0) else { return false };
    // From the tail at the farthest to the lead at the nearest, mm on the ruler.
    let least_lead = |s: &StandAt| s.lead_mm;
    let most_tail = |s: &StandAt| s.lead_mm + s.rolls_mm - s.by.length_mm;
    let [one, two] = [x.1, y.1].map(|at| &known.around.stands[at]);
    least_lead(one) <= most_tail(two) || least_lead(two) <= most_tail(one)
}

/// Judges two vehicles at once; `None` if they do nothing that one of them does not do alone.
fn judged(view: &View, x: (CutId, StandIx), y: (CutId, StandIx)) -> Option<Found<Evidence>> {
    let here: &Known = view.known.get(&x.0)?;
    let there: &Known = view.known.get(&y.0)?;
    let [one, two] = [(here, x.1), (there, y.1)].map(|(known, at)| &known.around.stands[at]);
    let mut stand = here.case.stands[x.1].clone();
    let mut other = there.case.stands[y.1].groups.clone();
    // Along the ruler here, left may be right there: a join has no side as far as currents go.
    for (group, at) in other.iter_mut().zip(&two.groups) {
        group.touched = numeric(&at.touched, &here.around.names);
        if group.touched.iter().all(|side| side.len() < 2) {
            return None;
        }
    }
    stand.groups.extend(other);
    stand.length_mm = stand.length_mm.min(two.rolls_mm);
    let mut at = one.clone();
    at.groups.extend(two.groups.iter().cloned());
    at.rolls_mm = stand.length_mm;
    let case = Case {
        stands: vec![stand].into(),
        footings: Default::default(),
        ..Case::clone(&here.case)
    };
    let around = Surroundings {
        stands: vec![at].into(),
        footings: Default::default(),
        ..Surroundings::clone(&here.around)
    };
    let result = view.solved(&case);
    let alone = |relation: Relation| {
        [here, there].into_iter().filter_map(|k| verdict(&k.result.worst(relation).worst)).max()
    };
    let alone_now = [here, there].into_iter().filter_map(|k| verdict(&k.result.now.worst)).max();
    let bad = |worst: &Option<Evaluated>, alone: Option<Verdict>| {
        let grave = |v: Verdict| v.is_fault() && v != Verdict::Stall;
        verdict(worst).is_some_and(grave) && !alone.is_some_and(grave)
    };
    let candidates = [
        (result.now_relation, true, result.now.clone(), alone_now),
        (Some(Relation::Agree), false, result.worst(Relation::Agree), alone(Relation::Agree)),
        (
            Some(Relation::Disagree),
            false,
            result.worst(Relation::Disagree),
            alone(Relation::Disagree),
        ),
    ];
    let (relation, now, worst, _) =
        candidates.into_iter().find(|(_, _, worst, alone)| bad(&worst.worst, *alone))?;
    let evaluated = worst.worst.as_ref()?;
    let situation = situation(&view.plan, &case, &around, evaluated);
    let by_join = worst.by_join;
    let evidence = Evidence { by_join, ..Evidence::bare(situation, relation, now) };
    let verdict = evaluated.judged.verdict;
    let mut finding = at_cut(view, x.0, Kind::TwoTrains, Class::Rule, verdict, evidence);
    if y.0 != x.0 {
        finding.places.push(Place::Cut(y.0));
    }
    Some(finding)
}

fn verdict(worst: &Option<Evaluated>) -> Option<Verdict> {
    worst.as_ref().map(|evaluated| evaluated.judged.verdict)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let Evidence { situation, relation, now, .. } = e;
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
        _ if *now => "as the throttles are set now",
        Some(Relation::Agree) => "even with directions that agree",
        _ => "where directions do not match",
    };
    let place = if w.finding.cuts().len() > 1 {
        format!("{gaps} at the same time")
    } else {
        format!("both ends of {gaps} at the same time")
    };
    Text {
        says: format!("{movers} must not stand over {place}: together they short at {peak}"),
        why: format!(
            "Each of them joins only one rail of the two blocks, which by itself closes no circuit between separate \
             supplies. One on the left rail and one on the right rail close it: {peak}, {when} ({}).{}",
            w.settings(situation),
            match w.trips(situation) {
                trips if trips.is_empty() => String::new(),
                trips => format!(" {trips}"),
            }
        ),
        advice: vec![
            "Let one train clear its gap before another comes to the other one, unless the settings of both blocks \
             agree."
                .into(),
        ], more: String::new(), cautions: Vec::new(), }
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
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
