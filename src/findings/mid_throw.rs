//! `points-mid-throw`: live points and the contact that feeds the same metal do not move at once. For the moment between
//! them one takes the polarity of one stock rail and the other that of the other.

use std::sync::Arc;

use std::collections::BTreeSet;

use super::fight;
use super::{Class, Evidence, Finding, Kind, SelectorAt, Situation, Verdict, View};
use crate::layout::{DriverId, Frog, Special};
use crate::rails::{Plan, Positions, SelectorId};

pub fn find(view: &View, found: &mut Vec<Finding>) {
    for special in view.layout.specials.values() {
        if special.work.frog() == Some(Frog::PowerRoutingWithContact)
            && !special.contact.open_between
        {
            found.extend(of_special(view, special));
        }
    }
}

/// The worst moment of any throw from one position to another.
fn of_special(view: &View, special: &Special) -> Option<Finding> {
    let layout = view.layout;
    let (points, contact) = (SelectorId::Points(special.id), SelectorId::Contact(special.id));
    let all = 0..special.work.positions();
    let together = |position: u32| {
        let mut positions = Positions::default();
        positions.throw(layout, points, position);
        positions
    };
    // Who meets once both have moved is told of those positions.
    let settled: BTreeSet<[DriverId; 2]> =
        all.clone().flat_map(|at| meeting(&view.plan.at(layout, together(at)))).collect();
    let mut worst: Option<([DriverId; 2], [SelectorAt; 2], Situation)> = None;
    for (from, to) in all.clone().flat_map(|from| all.clone().map(move |to| (from, to))) {
        if from == to {
            continue;
        }
        let (blade, fed) = if special.contact.before_points { (from, to) } else { (to, from) };
        let mut positions = together(blade);
        positions.throw(layout, contact, fed);
        let plan = Arc::new(view.plan.at(layout, positions));
        let between = View::bare(layout, Arc::clone(&plan), false);
        for [a, b] in meeting(&plan).into_iter().filter(|pair| !settled.contains(pair)) {
            let standing = fight::standing(&between, a, b, true);
            let Some(new) = standing.and_then(|s| s.worst.or(s.now)) else { continue };
            let weight = |s: &Situation| (s.verdict, s.peak_a());
            if worst.as_ref().is_none_or(|(.., old)| weight(&new) > weight(old)) {
                let at = |id, position| SelectorAt { id, position };
                worst = Some(([a, b], [at(points, blade), at(contact, fed)], new));
            }
        }
    }
    let (drivers, selectors, situation) = worst?;
    let blocks = view.plan.blocks.iter();
    let blocks = blocks.filter(|block| drivers.iter().any(|d| block.drivers.contains(d)));
    let blocks = blocks.map(|block| block.id).collect();
    let mut drivers = drivers.to_vec();
    drivers.dedup();
    Some(Finding {
        special: Some(special.id),
        blocks,
        selectors: selectors.to_vec(),
        drivers,
        ..Finding::bare(
            Kind::PointsMidThrow,
            Class::Note,
            situation.verdict.max(Verdict::Caution),
            Evidence::Standing { situation: Box::new(situation), now: false, more: 0 },
        )
    })
}

/// Pairs of drivers of which legs end on one net; a driver by itself where both its poles do.
fn meeting(plan: &Plan) -> BTreeSet<[DriverId; 2]> {
    let mut pairs = BTreeSet::new();
    for net in &plan.nets {
        let ends: Vec<(DriverId, bool)> = net
            .legs
            .iter()
            .map(|leg| (leg.driver, leg.is_p))
            .collect::<BTreeSet<_>>()
            .into_iter()
            .collect();
        for (at, &(a, _)) in ends.iter().enumerate() {
            pairs.extend(ends[at + 1..].iter().map(|&(b, _)| [a, b]));
        }
    }
    pairs
}
