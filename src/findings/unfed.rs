//! `unfed` and `half-fed`: blocks on which no train can run.

use super::feeding::{drivers_at, other_positions};
use super::{Class, Evidence, Finding, Kind, Verdict, View};
use crate::drive;

pub fn find(view: &View, found: &mut Vec<Finding>) {
    // A layout without any feed is a drawing in progress: its one finding is said once per block all the same, since
    // that is what has to be done next.
    let blocks = view.plan.blocks.iter().enumerate();
    for (at, block) in
        blocks.filter(|(_, b)| b.drivers.is_empty() && b.follows.is_none() && b.length_mm > 0.0)
    {
        let pieces = || block.pieces.iter().map(|&at| &view.plan.pieces[at]);
        // A driver that does nothing, on purpose, leaves its rails floating, on purpose.
        let on_purpose = view.layout.feeds.values().any(|feed| {
            feed.driver
                .driver()
                .and_then(|id| view.layout.drivers.get(&id))
                .is_some_and(|d| !drive::of(&d.drive).feeds())
                && pieces()
                    .any(|p| p.run == feed.run && p.from_mm <= feed.at_mm && feed.at_mm <= p.to_mm)
        });
        // What some position of its selectors feeds is dead now, not unfed. Where there are too many to look at them all,
        // one of the others may.
        let (others, all) = other_positions(view, at);
        let fed = others.iter().any(|other| !drivers_at(view, at, other).is_empty());
        if on_purpose || fed || !all {
            continue;
        }
        let kind = if block.half_drivers.is_empty() { Kind::Unfed } else { Kind::HalfFed };
        let Some(piece) = pieces().find(|p| p.length_mm() > 0.0) else { continue };
        found.push(Finding {
            blocks: vec![block.id],
            drivers: block.half_drivers.clone(),
            ..Finding::bare(
                kind,
                Class::Fault,
                Verdict::Stall,
                Evidence::Place {
                    run: piece.run,
                    at_mm: (piece.from_mm + piece.to_mm) / 2.0,
                    length_mm: block.length_mm,
                },
            )
        });
    }
}
