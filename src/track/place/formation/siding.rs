//! A passing siding: points, a track beside the one that is there, and points again.

use super::Throat;
use crate::layout::edit::{Edit, End, Refused, drafted};
use crate::layout::model::{EntityId, Layout, RunEnd, RunId, Shape, TrackEnd};
use crate::track::curve::length_mm;
use crate::track::parallel::parallel;
use crate::track::place::draft::{Draft, Placed};
use crate::track::place::turnouts::Site;

/// A passing siding that is wished for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SidingWish {
    /// Its turnouts, and how far it lies from the track that is there.
    pub throat: Throat,
    /// Length of the track between its leads, along the track that is there, mm.
    pub length_mm: f64,
}

/// Length of the track that a passing siding takes up, from points to points, mm.
pub fn siding_length_mm(wish: &SidingWish) -> f64 {
    wish.length_mm + 2.0 * wish.throat.lead_mm()
}

/// A passing siding beside the run of a site, from there onwards; at a free end the track beside it is laid straight on as
/// well.
///
/// # Errors
/// When the run is too short for it, its curve too tight, or the new track would cross other track.
pub fn siding(layout: &Layout, site: Site, wish: &SidingWish) -> Result<Placed, Refused> {
    wish.throat.sound(layout)?;
    if wish.length_mm.is_nan() || wish.length_mm < 1.0 {
        return Err(Refused("The siding has no length between its leads. Choose a length.".into()));
    }
    let mut draft = Draft::of(layout);
    let (lead_mm, far_mm) = (wish.throat.lead_mm(), siding_length_mm(wish));
    let what = "passing siding";
    let site = draft.room(site, far_mm, lead_mm, what)?;
    let gate = draft.gate(site, far_mm, false, what)?;
    let forward = gate.first.through.end == RunEnd::Start;
    let left_mm = wish.throat.side() * wish.throat.centres_mm * if forward { 1.0 } else { -1.0 };
    let (from, to, shape) = beside(&draft.layout, gate.between, lead_mm, left_mm)?;
    let run = draft.lay(from, to, shape)?;
    let ends = if forward { [RunEnd::Start, RunEnd::End] } else { [RunEnd::End, RunEnd::Start] };
    for (points, end) in [gate.first, gate.second].into_iter().zip(ends) {
        let lead = draft.lead(points.toe, TrackEnd { run, end }, lead_mm)?;
        draft.turnout(points.toe, vec![points.through, lead], wish.throat.frog, "")?;
    }
    let needs = "To hold a train in the siding while another passes, the siding wants to be a block of its own: cut both \
                 rails at both its ends, beyond the frogs, and feed it."
        .to_owned();
    draft.fitted(layout, needs)
}

/// A track parallel to a run, but for as much at both its ends: its ends and its shape.
fn beside(
    layout: &Layout,
    run: RunId,
    ends_mm: f64,
    left_mm: f64,
) -> Result<(End, End, Shape), Refused> {
    let mut scratch = layout.clone();
    let gone = || Refused(format!("Run {run} is not there any more."));
    let length = length_mm(&scratch, scratch.runs.get(&run).ok_or_else(gone)?);
    let made = drafted(&mut scratch, Edit::Split { run, at_mm: ends_mm })?;
    let middle = made.iter().find_map(|id| match id {
        EntityId::Run(run) => Some(*run),
        _ => None,
    });
    let middle = middle.ok_or_else(gone)?;
    drafted(&mut scratch, Edit::Split { run: middle, at_mm: length - 2.0 * ends_mm })?;
    match parallel(&scratch, &[middle], left_mm)? {
        Edit::Batch(edits) => match edits[..] {
            [Edit::Lay { from, to, shape, .. }] => Ok((from, to, shape)),
            _ => Err(gone()),
        },
        _ => Err(gone()),
    }
}
