//! The findings, one rule per file. A rule looks at what was derived and solved and says what is wrong or worth knowing;
//! it computes no current of its own.

mod blocks_merged;
mod crossing;
mod doubly_fed;
mod fight;
mod inrush;
mod loops;
mod one_rail_cut;
mod shared_negative_short;
mod stall;
mod surge;
mod throttle_backwards;
mod trip_never_acts;
mod unfed;

use super::{BlockId, Class, Context, Evidence, Finding, Kind, Verdict};
use crate::layout::{CutId, DriverId};

/// All findings, in no particular order.
pub fn all(context: &Context) -> Vec<Finding> {
    let mut found = Vec::new();
    for rule in [
        crossing::find,
        shared_negative_short::find,
        inrush::find,
        surge::find,
        stall::find,
        trip_never_acts::find,
        throttle_backwards::find,
        fight::find,
        doubly_fed::find,
        blocks_merged::find,
        unfed::find,
        one_rail_cut::find,
        loops::find,
    ] {
        rule(context, &mut found);
    }
    found
}

/// A finding at a cut, about the two blocks there and the drivers of its two sides.
fn at_cut(
    context: &Context,
    cut: CutId,
    kind: Kind,
    class: Class,
    verdict: Verdict,
    evidence: Evidence,
) -> Finding {
    let mut blocks: Vec<BlockId> = Vec::new();
    let mut drivers: Vec<DriverId> = Vec::new();
    if let Some(known) = context.known.get(&cut) {
        let at = known.around.at;
        for block in [at.block_before, at.block_after] {
            let id = context.plan.blocks[block].id;
            if !blocks.contains(&id) {
                blocks.push(id);
            }
        }
        for side in known.case.sides.into_iter().flatten() {
            let id = known.around.names.drivers[side];
            if !drivers.contains(&id) {
                drivers.push(id);
            }
        }
    }
    let vehicle = match &evidence {
        Evidence::Crossing { situation, .. }
        | Evidence::BackFeed { situation, .. }
        | Evidence::Open { situation, .. } => situation.vehicle,
        _ => None,
    };
    Finding { kind, class, verdict, cuts: vec![cut], blocks, drivers, vehicle, evidence }
}
