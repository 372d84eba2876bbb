//! What a vehicle over a cut shorts: `opposed-polarity`, `swapped-feed`, `idle-clamp`, `back-feed`, `mixed-drive`,
//! `phase-opposed`, and `value-not-known` where assumed values decide.
//!
//! Settings that agree must be clear, so anything there is a fault. Settings that disagree are expected to short: an
//! operating rule, and a fault only where they are set now. One side dead is a fault only where it is so now, or where
//! operators switch that side by itself.

use super::super::cause::{Cause, cause};
use super::super::cut::{Evaluated, Worst};
use super::super::situation::Known;
use std::collections::BTreeSet;

use super::super::{Class, Context, Evidence, Finding, Kind, NetId, Relation, Situation, Verdict};
use super::at_cut;
use crate::layout::CutId;

pub fn find(context: &Context, found: &mut Vec<Finding>) {
    for (&cut, known) in &context.known {
        let result = &known.result;
        let now = result.now_relation;
        let mut here: Vec<Finding> = Vec::new();
        let before = found.len();

        let here = &mut here;
        let mut say = |relation, is_now, class, worst: &Worst| {
            offer(context, cut, known, (relation, is_now), class, worst, here);
        };
        if now != Some(Relation::Agree) {
            say(now, true, Class::Fault, &result.now);
        }
        say(Some(Relation::Agree), false, Class::Fault, &result.worst(Relation::Agree));
        // Two boosters that disagree do so whenever both are on: no operating can avoid it.
        let worst = result.worst(Relation::Disagree);
        let built_in = worst.worst.as_ref().is_some_and(|evaluated| {
            matches!(cause(&known.case, evaluated), Some(Cause::Mixed | Cause::Phase))
        });
        let class = if built_in { Class::Fault } else { Class::Rule };
        say(Some(Relation::Disagree), false, class, &worst);
        let mut switched = Worst::default();
        let mut other = Worst::default();
        for cell in result.cells.iter().filter(|c| c.relation == Relation::OneDead) {
            let into = if cell.separately_switched { &mut switched } else { &mut other };
            into.merge(&cell.worst);
        }
        say(Some(Relation::OneDead), false, Class::Fault, &switched);
        say(Some(Relation::OneDead), false, Class::Note, &other);
        // One finding of a kind is enough at a cut (or at the cuts that one long vehicle bridges): the gravest.
        for finding in std::mem::take(here) {
            let weight = |f: &Finding| (f.class, f.verdict);
            let same = |f: &Finding| {
                f.kind == finding.kind
                    && f.cuts.len() == finding.cuts.len()
                    && finding.cuts.iter().all(|cut| f.cuts.contains(cut))
            };
            match found[before..].iter_mut().find(|f| same(f)) {
                Some(old) if weight(&finding) > weight(old) => *old = finding,
                Some(_) => {}
                None if finding.cuts.len() > 1 => match found.iter_mut().find(|f| same(f)) {
                    Some(old) if weight(&finding) > weight(old) => *old = finding,
                    Some(_) => {}
                    None => found.push(finding),
                },
                None => found.push(finding),
            }
        }
    }
}

/// The cuts that a vehicle bridges in a situation at one of them, that one first: more than it where one long vehicle
/// joins blocks that do not touch.
fn bridged(context: &Context, cut: CutId, situation: &Situation) -> Vec<CutId> {
    let mut cuts = vec![cut];
    if situation.joins.iter().all(|join| join.nets.len() < 3) {
        return cuts;
    }
    let joined: BTreeSet<NetId> =
        situation.joins.iter().flat_map(|join| join.nets.iter().copied()).collect();
    cuts.extend(context.known.iter().filter(|(id, _)| **id != cut).filter_map(|(&id, known)| {
        let at = known.around.at;
        let nets = |piece: usize| context.plan.pieces[piece].nets;
        let in_it = |net: usize| joined.contains(&context.plan.nets[net].id);
        let pairs = nets(at.before).into_iter().zip(nets(at.after));
        pairs.into_iter().any(|(a, b)| a != b && in_it(a) && in_it(b)).then_some(id)
    }));
    cuts
}

fn offer(
    context: &Context,
    cut: CutId,
    known: &Known,
    (relation, now): (Option<Relation>, bool),
    class: Class,
    worst: &Worst,
    here: &mut Vec<Finding>,
) {
    let Some(evaluated) = &worst.worst else { return };
    let Some(cause) = cause(&known.case, evaluated) else { return };
    let Some(situation) = context.situation(cut, evaluated) else { return };
    let verdict = evaluated.judged.verdict;
    if verdict == Verdict::Stall {
        return;
    }
    let cuts = bridged(context, cut, &situation);
    let mut push = |kind, class, verdict, evidence| {
        here.push(Finding { cuts: cuts.clone(), ..at_cut(context, cut, kind, class, verdict, evidence) });
    };
    let names = &known.around.names;
    if verdict == Verdict::NotKnown {
        let measure = evaluated.judged.open.iter().map(|&at| names.values[at]).collect();
        let evidence = Evidence::Open { situation: Box::new(situation), measure };
        push(Kind::ValueNotKnown, class, verdict, evidence);
        return;
    }
    let kind = match cause {
        Cause::Mixed => Kind::MixedDrive,
        Cause::Phase => Kind::PhaseOpposed,
        Cause::Clamp => Kind::IdleClamp,
        Cause::BackFeed => Kind::BackFeed,
        Cause::Opposed if relation == Some(Relation::Agree) => Kind::SwappedFeed,
        Cause::Opposed => Kind::OpposedPolarity,
    };
    if kind == Kind::BackFeed {
        let judged = &evaluated.judged;
        let lifted: Vec<_> =
            judged.lifted.iter().map(|l| (names.supplies[l.supply], l.from_v, l.to_v)).collect();
        let sunk: Vec<_> = judged.sunk.iter().map(|s| (names.supplies[s.0], s.1)).collect();
        // A lift that nothing speaks against is worth a note, no more.
        let class = if verdict <= Verdict::Caution && sunk.is_empty() { Class::Note } else { class };
        let evidence =
            Evidence::BackFeed { situation: Box::new(situation), relation, lifted, sunk };
        push(kind, class, verdict, evidence);
        return;
    }
    // A conflict that stays well below everything that guards: clear, and nothing to say.
    if verdict == Verdict::Clear {
        return;
    }
    let evidence = crossing(evaluated, known, situation, relation, now, worst);
    push(kind, class, verdict, evidence);
}

fn crossing(
    evaluated: &Evaluated,
    known: &Known,
    situation: Situation,
    relation: Option<Relation>,
    now: bool,
    worst: &Worst,
) -> Evidence {
    let idles = evaluated
        .judged
        .worst_joint
        .and_then(|(at, _)| evaluated.judged.joints.get(at))
        .map(|(_, parts)| {
            known
                .case
                .sides
                .into_iter()
                .flatten()
                .filter(|&side| !parts[side].drives)
                .map(|side| (known.around.names.drivers[side], parts[side].state))
                .collect()
        })
        .unwrap_or_default();
    Evidence::Crossing {
        situation: Box::new(situation),
        relation,
        now,
        by_join: worst.by_join,
        idles,
    }
}
