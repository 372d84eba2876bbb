//! The findings, one rule per file. A rule looks at what was derived and solved and says what is wrong or worth knowing;
//! it computes no current of its own.

mod blocks_merged;
mod coin_test;
mod crossing;
mod doubly_fed;
mod fight;
mod gap_may_close;
mod inrush;
mod one_rail_cut;
mod rests_on_joiners;
mod shared_negative_short;
mod stall;
mod supply;
mod surge;
mod throttle_backwards;
mod trip_never_acts;
mod unfed;
mod volt_drop;
mod wire_too_thin;

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
        coin_test::find,
        wire_too_thin::find,
        volt_drop::find,
        supply::find,
        gap_may_close::find,
        rests_on_joiners::find,
    ] {
        rule(context, &mut found);
    }
    found
}

/// A finding about drivers and blocks, at no cut.
fn of_drivers(
    kind: Kind,
    class: Class,
    verdict: Verdict,
    blocks: Vec<BlockId>,
    drivers: Vec<DriverId>,
    evidence: Evidence,
) -> Finding {
    Finding { kind, class, verdict, cuts: Vec::new(), blocks, drivers, vehicle: None, evidence }
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
