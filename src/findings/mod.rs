//! The findings, one rule per file. A rule looks at what was derived and solved and says what is wrong or worth knowing;
//! it computes no current of its own.

mod blocks_merged;
mod check;
mod coin_test;
mod crossing;
mod dead_spot;
mod doubly_fed;
mod evidence;
mod feeding;
mod fight;
mod finding;
mod gap_may_close;
mod inrush;
mod kind;
mod loops;
mod mid_throw;
mod one_rail_cut;
mod one_wheel;
mod out_of_order;
mod report;
mod rests_on_joiners;
mod reversers;
mod shared_negative_short;
mod special;
mod stall;
mod standing;
mod supply;
mod surge;
mod throttle_backwards;
mod trip_never_acts;
mod two_trains;
mod unfed;
mod volt_drop;
mod wire_too_thin;

pub use crate::study::types::*;
pub use check::{Checker, check};
pub use evidence::*;
pub use finding::*;
pub use kind::*;
pub use report::*;

use crate::layout::{CutId, DriverId};
pub use crate::study::STAND_IN_MM;
use crate::study::{Coin, Known, View};

/// All findings, in no particular order.
pub fn all(view: &View) -> Vec<Finding> {
    let mut found = Vec::new();
    for rule in [
        crossing::find,
        shared_negative_short::find,
        inrush::find,
        surge::find,
        stall::find,
        special::find,
        standing::find,
        mid_throw::find,
        one_wheel::find,
        dead_spot::find,
        two_trains::find,
        trip_never_acts::find,
        out_of_order::find,
        reversers::find,
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
        loops::find,
    ] {
        rule(view, &mut found);
    }
    found
}

/// Adds what is different with selectors in other positions, where it is graver than what was found already.
pub fn add_positions(view: &View, found: &mut Vec<Finding>) {
    // A gap at which drives of two kinds meet only while a selector stands so is an end of a transfer section.
    for finding in found.iter_mut().filter(|f| f.class == Class::Fault) {
        if matches!(finding.kind, Kind::MixedDrive | Kind::PhaseOpposed)
            && finding.cuts.iter().all(|cut| crossing::meets_its_own_kind(view, *cut))
        {
            finding.class = Class::Rule;
        }
    }
    let mut here = Vec::new();
    for rule in [crossing::find, shared_negative_short::find, stall::find, special::find] {
        rule(view, &mut here);
    }
    for finding in here {
        let same = |f: &Finding| {
            f.kind == finding.kind && same_cuts(f, &finding) && f.special == finding.special
        };
        match found.iter_mut().find(|f| same(f)) {
            Some(old) => keep_graver(old, finding),
            None => found.push(finding),
        }
    }
}

/// How a finding weighs beside another of the same kind at the same place.
fn weight(finding: &Finding) -> (Class, Verdict) {
    (finding.class, finding.verdict)
}

/// Of two findings of one kind at one place the graver one is told.
fn keep_graver(old: &mut Finding, new: Finding) {
    if weight(&new) > weight(old) {
        *old = new;
    }
}

/// Whether two findings are about the same cuts; which of them a long train was looked at from is all one.
fn same_cuts(one: &Finding, other: &Finding) -> bool {
    one.cuts.len() == other.cuts.len() && one.cuts.iter().all(|cut| other.cuts.contains(cut))
}

/// Leaves one finding for each section that is too short: what holds however everything is set goes before what a train
/// does at some settings, and that before a block that is merely shorter than a vehicle.
pub fn one_per_section(found: &mut Vec<Finding>) {
    let weighed = |f: &Finding| match &f.evidence {
        Evidence::TooShort { reversing: true, .. } => 2,
        Evidence::TooShort { .. } => 0,
        _ => 1,
    };
    let told: Vec<Finding> =
        found.iter().filter(|f| f.kind == Kind::SectionTooShort).cloned().collect();
    found.retain(|f| {
        let graver = |g: &&Finding| weighed(g) > weighed(f);
        f.kind != Kind::SectionTooShort
            || !told.iter().filter(graver).any(|g| match weighed(f) {
                // Two ends of the section are among what the train bridges.
                1 => g.cuts.iter().filter(|cut| f.cuts.contains(cut)).count() > 1,
                _ => g.blocks == f.blocks || same_cuts(f, g),
            })
    });
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
    Finding { blocks, drivers, ..Finding::bare(kind, class, verdict, evidence) }
}

/// A finding at a cut, about the two blocks there and the drivers of its two sides.
fn at_cut(
    view: &View,
    cut: CutId,
    kind: Kind,
    class: Class,
    verdict: Verdict,
    evidence: Evidence,
) -> Finding {
    let known = view.known.get(&cut);
    Finding { cuts: vec![cut], ..at_place(view, known, kind, class, verdict, evidence) }
}

/// A finding at a place, about the two blocks there and the drivers of its two sides.
fn at_place(
    view: &View,
    known: Option<&Known>,
    kind: Kind,
    class: Class,
    verdict: Verdict,
    evidence: Evidence,
) -> Finding {
    let mut blocks: Vec<BlockId> = Vec::new();
    let mut drivers: Vec<DriverId> = Vec::new();
    let mut selectors = Vec::new();
    if let Some(known) = known {
        let at = known.around.at;
        for block in [at.block_before, at.block_after] {
            let id = view.plan.blocks[block].id;
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
        if !view.is_now {
            selectors = known.selectors.clone();
        }
    }
    let vehicle = match &evidence {
        Evidence::Crossing { situation, .. }
        | Evidence::BackFeed { situation, .. }
        | Evidence::Open { situation, .. }
        | Evidence::Reversers { situation, .. } => situation.vehicle,
        _ => None,
    };
    let cuts = Vec::new();
    Finding {
        cuts,
        blocks,
        selectors,
        drivers,
        vehicle,
        ..Finding::bare(kind, class, verdict, evidence)
    }
}
