//! What several rooms share: rules of which several kinds are results, computed once per view, and their words.

pub mod change;
pub mod crossing;
pub mod crossing_words;
pub mod feeding;
pub mod loops;
pub mod loops_words;
pub mod narrow;
pub mod narrow_words;
pub mod points;
pub mod standing;
pub mod standing_words;

use super::finding::at_cuts;
use super::{BlockId, Class, Evident, Found, Kind, Known, Verdict, View};
use crate::layout::{CutId, DriverId};

/// A finding at a cut, about the two blocks there and the drivers of its two sides.
pub(super) fn at_cut<E: Evident>(
    view: &View,
    cut: CutId,
    kind: Kind,
    class: Class,
    verdict: Verdict,
    evidence: E,
) -> Found<E> {
    let known = view.known.get(&cut);
    Found { places: at_cuts([cut]), ..at_place(view, known, kind, class, verdict, evidence) }
}

/// A finding about the two blocks of a solved place and the drivers of its two sides; the place itself is left to the
/// caller.
pub(super) fn at_place<E: Evident>(
    view: &View,
    known: Option<&Known>,
    kind: Kind,
    class: Class,
    verdict: Verdict,
    evidence: E,
) -> Found<E> {
    let mut blocks: Vec<BlockId> = Vec::new();
    let mut drivers: Vec<DriverId> = Vec::new();
    let mut positions = Vec::new();
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
        if !view.is_now && !known.selectors.is_empty() {
            positions.push(known.selectors.clone());
        }
    }
    let situation = evidence.situation();
    let (vehicle, train) = (situation.and_then(|s| s.vehicle), situation.and_then(|s| s.train));
    let found = Found::new(kind, class, verdict, evidence);
    Found { blocks, positions, drivers, vehicle, train, ..found }
}
