//! Track laid parallel to track that is there.

use std::collections::BTreeMap;

use super::curve::curve;
use super::plane::thousandths;
use super::roads::joint_at;
use crate::layout::edit::{Edit, End, Refused, drafted};
use crate::layout::model::{EntityId, JointId, Layout, RunEnd, RunId, Shape};
use crate::units::Point;

/// Distance between the centre lines of parallel tracks, mm at full size: 4 m (common practice on straight track, no
/// source).
const SPACING_FULL_SIZE_MM: f64 = 4000.0;

/// Distance between the centre lines of parallel tracks at a scale (87 for 1:87), whole mm.
pub fn spacing_mm(scale: f64) -> f64 {
    let mm = (SPACING_FULL_SIZE_MM / scale).round();
    if mm.is_finite() { mm.max(1.0) } else { 1.0 }
}

/// Lays track beside runs, at a distance of their centre lines (mm; to the left of the first run if positive, to the
/// right if negative). Where chosen runs meet, the new ones meet too.
///
/// # Errors
/// When a run is gone, or a curve is too tight to have track inside it at that distance.
pub fn parallel(layout: &Layout, runs: &[RunId], left_mm: f64) -> Result<Edit, Refused> {
    let mut edits: Vec<Edit> = Vec::new();
    let mut draft = layout.clone();
    let mut new_joints: BTreeMap<JointId, JointId> = BTreeMap::new();
    for (id, left_mm) in sides(layout, runs, left_mm) {
        let run = layout.runs.get(&id).ok_or_else(|| {
            Refused(format!("There is no run {id} on this layout (any more). Choose another run."))
        })?;
        let line = curve(layout, run);
        if line.least_radius_mm().is_some_and(|(radius, left)| {
            let inwards = if left { left_mm } else { -left_mm };
            inwards >= radius
        }) {
            return Err(Refused(format!(
                "Run {id} curves too tightly for a track {:.0} mm inside it. Choose the other side, or a smaller \
                 distance.",
                left_mm.abs()
            )));
        }
        let ends = [line.at(0.0), line.at(line.length_mm())];
        let places = ends.map(|pose| pose.left_by(left_mm));
        let old = [run.from, run.to];
        let at = |n: usize| match new_joints.get(&old[n]) {
            Some(joint) => End::At(*joint),
            None => End::New(thousandths(places[n].0), thousandths(places[n].1)),
        };
        let (from, to) = (at(0), at(1));
        let shape = match run.shape {
            Shape::Cubic { c1, c2 } => {
                // The handles grow and shrink with the ends: close to parallel where the curve is gentle.
                let chord = |a: Point, b: Point| (b.0 - a.0).hypot(b.1 - a.1);
                let (a, b) = ((ends[0].x_mm, ends[0].y_mm), (ends[1].x_mm, ends[1].y_mm));
                let grown = chord(places[0], places[1]) / chord(a, b).max(1e-9);
                let shifted = |c: Point, from: Point, to: Point| {
                    (to.0 + (c.0 - from.0) * grown, to.1 + (c.1 - from.1) * grown)
                };
                Shape::Cubic { c1: shifted(c1, a, places[0]), c2: shifted(c2, b, places[1]) }
            }
            shape => shape,
        };
        let edit = Edit::Lay { from, to, shape, length_mm: None };
        let made = drafted(&mut draft, edit.clone())?;
        edits.push(edit);
        if let Some(laid) = made.iter().find_map(|id| match id {
            EntityId::Run(run) => draft.runs.get(run),
            _ => None,
        }) {
            new_joints.entry(old[0]).or_insert(laid.from);
            new_joints.entry(old[1]).or_insert(laid.to);
        }
    }
    Ok(Edit::Batch(edits))
}

/// On which side of each run its parallel lies, so that it stays on one side of the whole track.
fn sides(layout: &Layout, runs: &[RunId], left_mm: f64) -> Vec<(RunId, f64)> {
    let mut sides: Vec<(RunId, f64)> = Vec::new();
    let mut waiting: Vec<RunId> = runs.to_vec();
    while !waiting.is_empty() {
        let joined = |id: &RunId| {
            let run = layout.runs.get(id)?;
            sides.iter().find_map(|(other, side)| {
                let there = layout.runs.get(other)?;
                let both = [RunEnd::Start, RunEnd::End];
                let meet = both
                    .into_iter()
                    .flat_map(|a| both.map(|b| (a, b)))
                    .find(|(a, b)| joint_at(run, *a) == joint_at(there, *b))?;
                // Start to end goes on in the same direction.
                Some(if meet.0 == meet.1 { -side } else { *side })
            })
        };
        let next = waiting.iter().enumerate().find_map(|(n, id)| Some((n, joined(id)?)));
        let (n, side) = next.unwrap_or((0, left_mm));
        sides.push((waiting.remove(n), side));
    }
    sides
}
