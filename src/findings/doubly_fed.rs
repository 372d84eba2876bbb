//! `doubly-fed`: a block that two drivers drive at once.

use std::sync::Arc;

use super::feeding::{drivers_at, other_positions, thrown};
use super::fight::standing;
use super::{Class, Evidence, Finding, Kind, SelectorAt, SelectorId, Verdict, View};

pub fn find(view: &View, found: &mut Vec<Finding>) {
    now(view, found);
    for (at, block) in view.plan.blocks.iter().enumerate() {
        if block.drivers.len() < 2 {
            found.extend(in_other_positions(view, at));
        }
    }
}

/// A block that two drivers drive at once in some position of its own selectors, though not now: the one with the fewest
/// thrown.
fn in_other_positions(view: &View, at: usize) -> Option<Finding> {
    let (others, _) = other_positions(view, at);
    let positions = others.into_iter().find(|p| drivers_at(view, at, p).len() > 1)?;
    let drivers = drivers_at(view, at, &positions);
    let told = thrown(view.layout, &view.plan.positions, &positions);
    let plan = view.plan.at(view.layout, positions);
    let there = View::bare(view.layout, Arc::new(plan), false);
    let fights = standing(&there, drivers[0], drivers[1], true);
    let situation = fights.and_then(|standing| standing.worst.or(standing.now));
    Some(Finding {
        blocks: vec![view.plan.blocks[at].id],
        selectors: told
            .iter()
            .map(|&(id, position)| SelectorAt { id: SelectorId::Device(id), position })
            .collect(),
        drivers,
        ..Finding::bare(
            Kind::DoublyFed,
            Class::Rule,
            situation.as_ref().map_or(Verdict::Caution, |s| s.verdict.max(Verdict::Caution)),
            Evidence::FightAt { situation: situation.map(Box::new), positions: told },
        )
    })
}

fn now(view: &View, found: &mut Vec<Finding>) {
    for block in view.plan.blocks.iter().filter(|b| b.drivers.len() > 1) {
        // The worst two of them speak for all.
        let mut worst: Option<Finding> = None;
        for (i, &a) in block.drivers.iter().enumerate() {
            for &b in &block.drivers[i + 1..] {
                // Nothing is worse than a short.
                if worst.as_ref().is_some_and(|w| w.verdict == Verdict::Short) {
                    break;
                }
                let Some(standing) = standing(view, a, b, true) else { continue };
                let now = standing.now.is_some();
                let Some(situation) = standing.worst.or(standing.now) else { continue };
                let verdict = situation.verdict.max(Verdict::Caution);
                if worst.as_ref().is_none_or(|old| verdict > old.verdict) {
                    worst = Some(Finding {
                        blocks: vec![block.id],
                        drivers: vec![a, b],
                        ..Finding::bare(
                            Kind::DoublyFed,
                            Class::Fault,
                            verdict,
                            Evidence::Fight { situation: Box::new(situation), now },
                        )
                    });
                }
            }
        }
        let piece = &view.plan.pieces[block.pieces[0]];
        found.push(worst.unwrap_or_else(|| Finding {
            blocks: vec![block.id],
            drivers: block.drivers.clone(),
            ..Finding::bare(
                Kind::DoublyFed,
                Class::Fault,
                Verdict::Caution,
                Evidence::Place {
                    run: piece.run,
                    at_mm: piece.from_mm,
                    length_mm: block.length_mm,
                },
            )
        }));
    }
}
