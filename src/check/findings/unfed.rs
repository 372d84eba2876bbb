//! `unfed` and `half-fed`: blocks on which no train can run.

use super::super::{Class, Context, Evidence, Finding, Kind, Verdict};
use crate::layout::Drive;

pub fn find(context: &Context, found: &mut Vec<Finding>) {
    // A layout without any feed is a drawing in progress: its one finding is said once per block all the same, since
    // that is what has to be done next.
    for block in context
        .plan
        .blocks
        .iter()
        .filter(|b| b.drivers.is_empty() && b.follows.is_none() && b.length_mm > 0.0)
    {
        let pieces = || block.pieces.iter().map(|&at| &context.plan.pieces[at]);
        // A driver that does nothing, on purpose, leaves its rails floating, on purpose.
        let on_purpose = context.layout.feeds.values().any(|feed| {
            feed.driver
                .driver()
                .and_then(|id| context.layout.drivers.get(&id))
                .is_some_and(|d| d.drive == Drive::Nothing)
                && pieces()
                    .any(|p| p.run == feed.run && p.from_mm <= feed.at_mm && feed.at_mm <= p.to_mm)
        });
        if on_purpose {
            continue;
        }
        let kind = if block.half_drivers.is_empty() { Kind::Unfed } else { Kind::HalfFed };
        let Some(piece) = pieces().find(|p| p.length_mm() > 0.0) else { continue };
        found.push(Finding {
            kind,
            class: Class::Fault,
            verdict: Verdict::Stall,
            cuts: Vec::new(),
            blocks: vec![block.id],
            drivers: block.half_drivers.clone(),
            vehicle: None,
            evidence: Evidence::Place {
                run: piece.run,
                at_mm: (piece.from_mm + piece.to_mm) / 2.0,
                length_mm: block.length_mm,
            },
        });
    }
}
