//! What a vehicle over a cut shorts: `opposed-polarity`, `swapped-feed`, `idle-clamp`, `back-feed`, `mixed-drive`,
//! `phase-opposed`, and `value-not-known` where assumed values decide.
//!
//! Settings that agree must be clear, so anything there is a fault. Settings that disagree are expected to short: an
//! operating rule, and a fault only where they are set now. One side dead is a fault only where it is so now, or where
//! operators switch that side by itself.

use super::super::cause::{Cause, cause};
use super::super::cut::{Evaluated, Worst};
use super::super::situation::Known;
use super::super::{Class, Context, Evidence, Finding, Kind, Relation, Verdict};
use super::at_cut;
use crate::layout::CutId;

pub fn find(context: &Context, found: &mut Vec<Finding>) {
    for (&cut, known) in &context.known {
        let result = &known.result;
        let now = result.now_relation;
        let mut here: Vec<Finding> = Vec::new();

        offer(context, cut, known, Some(Relation::Agree), false, Class::Fault, &result.worst(Relation::Agree), &mut here);
        if now != Some(Relation::Agree) {
            offer(context, cut, known, now, true, Class::Fault, &result.now, &mut here);
        }
        if now != Some(Relation::Disagree) {
            // Two boosters that disagree do so whenever both are on: no operating can avoid it.
            let worst = result.worst(Relation::Disagree);
            let built_in = worst.worst.as_ref().is_some_and(|evaluated| {
                matches!(cause(&known.case, evaluated), Some(Cause::Mixed | Cause::Phase))
            });
            let class = if built_in { Class::Fault } else { Class::Rule };
            offer(context, cut, known, Some(Relation::Disagree), false, class, &worst, &mut here);
        }
        if now != Some(Relation::OneDead) {
            let mut switched = Worst::default();
            let mut other = Worst::default();
            for cell in result.cells.iter().filter(|c| c.relation == Relation::OneDead) {
                let into = if cell.separately_switched { &mut switched } else { &mut other };
                into.merge(&cell.worst);
            }
            offer(context, cut, known, Some(Relation::OneDead), false, Class::Fault, &switched, &mut here);
            offer(context, cut, known, Some(Relation::OneDead), false, Class::Note, &other, &mut here);
        }
        // One finding of a kind is enough at a cut: the gravest.
        for finding in here {
            let weight = |f: &Finding| (f.class, f.verdict);
            match found.iter_mut().find(|f| f.kind == finding.kind && f.cuts == finding.cuts) {
                Some(old) if weight(&finding) > weight(old) => *old = finding,
                Some(_) => {}
                None => found.push(finding),
            }
        }
    }
}

#[allow(clippy::too_many_arguments)]
fn offer(
    context: &Context,
    cut: CutId,
    known: &Known,
    relation: Option<Relation>,
    now: bool,
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
    let names = &known.around.names;
    if verdict == Verdict::NotKnown {
        let measure = evaluated.judged.open.iter().map(|&at| names.values[at]).collect();
        let evidence = Evidence::Open { situation: Box::new(situation), measure };
        here.push(at_cut(context, cut, Kind::ValueNotKnown, class, verdict, evidence));
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
        here.push(at_cut(context, cut, kind, class, verdict, evidence));
        return;
    }
    if verdict == Verdict::Clear && evaluated.judged.share <= 0.0 {
        return;
    }
    // A conflict that stays well below everything that guards: clear, and nothing to say.
    if verdict == Verdict::Clear {
        return;
    }
    let evidence = crossing(evaluated, known, situation, relation, now, worst);
    here.push(at_cut(context, cut, kind, class, verdict, evidence));
}

fn crossing(
    evaluated: &Evaluated,
    known: &Known,
    situation: super::super::Situation,
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
