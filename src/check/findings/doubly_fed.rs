//! `doubly-fed`: a block that two drivers drive at once.

use super::super::{Class, Context, Evidence, Finding, Kind, Verdict};
use super::fight::standing;

pub fn find(context: &Context, found: &mut Vec<Finding>) {
    for block in context.plan.blocks.iter().filter(|b| b.drivers.len() > 1) {
        // The worst two of them speak for all.
        let mut worst: Option<Finding> = None;
        for (i, &a) in block.drivers.iter().enumerate() {
            for &b in &block.drivers[i + 1..] {
                let Some(standing) = standing(context, a, b, true) else { continue };
                let now = standing.now.is_some();
                let Some(situation) = standing.worst.or(standing.now) else { continue };
                let verdict = situation.verdict.max(Verdict::Caution);
                if worst.as_ref().is_none_or(|old| verdict > old.verdict) {
                    worst = Some(Finding {
                        kind: Kind::DoublyFed,
                        class: Class::Fault,
                        verdict,
                        cuts: Vec::new(),
                        blocks: vec![block.id],
                        drivers: vec![a, b],
                        special: None,
                        selectors: Vec::new(),
                        vehicle: None,
                        evidence: Evidence::Fight { situation: Box::new(situation), now },
                    });
                }
            }
        }
        let piece = &context.plan.pieces[block.pieces[0]];
        found.push(worst.unwrap_or_else(|| Finding {
            kind: Kind::DoublyFed,
            class: Class::Fault,
            verdict: Verdict::Caution,
            cuts: Vec::new(),
            blocks: vec![block.id],
            drivers: block.drivers.clone(),
            special: None,
            selectors: Vec::new(),
            vehicle: None,
            evidence: Evidence::Place {
                run: piece.run,
                at_mm: piece.from_mm,
                length_mm: block.length_mm,
            },
        }));
    }
}
