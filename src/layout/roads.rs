//! How the roads of special work lie to each other on the plan: read off the drawing, never stated.

use super::geometry::{Pose, RunEnd, curve};
use super::ids::JointId;
use super::model::{Layout, Run};
use super::special::TrackEnd;

/// The joint at a run's end, if the run is there.
pub fn joint_of(layout: &Layout, end: TrackEnd) -> Option<JointId> {
    layout.runs.get(&end.run).map(|run| joint_at(run, end.end))
}

/// The joint at an end of a run.
pub fn joint_at(run: &Run, end: RunEnd) -> JointId {
    match end {
        RunEnd::Start => run.from,
        RunEnd::End => run.to,
    }
}

/// The place at a distance (mm) from a run's end into the run; its tangent points away from that end.
pub fn away_from(layout: &Layout, end: TrackEnd, distance_mm: f64) -> Option<Pose> {
    let curve = curve(layout, layout.runs.get(&end.run)?);
    Some(match end.end {
        RunEnd::Start => curve.at(distance_mm),
        RunEnd::End => {
            let pose = curve.at(curve.length_mm() - distance_mm);
            Pose { dx: -pose.dx, dy: -pose.dy, ..pose }
        }
    })
}

/// How far to the left of the line on which one comes out of `toe` the roads lie after `distance_mm`, mm each.
pub fn offsets_mm(
    layout: &Layout,
    toe: TrackEnd,
    exits: &[TrackEnd],
    distance_mm: f64,
) -> Option<Vec<f64>> {
    let toe = away_from(layout, toe, 0.0)?;
    exits
        .iter()
        .map(|&exit| {
            let there = away_from(layout, exit, distance_mm)?;
            let (x, y) = (there.x_mm - toe.x_mm, there.y_mm - toe.y_mm);
            // One comes out of the toe against its tangent.
            Some(toe.dy * x - toe.dx * y)
        })
        .collect()
}

/// The exits of a turnout from left to right, seen from its toe: indices in `exits`.
pub fn left_to_right(
    layout: &Layout,
    toe: TrackEnd,
    exits: &[TrackEnd],
    distance_mm: f64,
) -> Vec<usize> {
    let offsets = offsets_mm(layout, toe, exits, distance_mm).unwrap_or_default();
    let offset = |at: usize| offsets.get(at).copied().unwrap_or(0.0);
    let mut order: Vec<usize> = (0..exits.len()).collect();
    order.sort_by(|&a, &b| offset(b).total_cmp(&offset(a)));
    order
}

/// For two roads that cross: the sine of the angle by which the second turns left of the first, both seen from their
/// first ends, and the cosine.
pub fn crossing_angle(layout: &Layout, roads: &[[TrackEnd; 2]; 2]) -> Option<(f64, f64)> {
    // The direction at the joint is the mean of the two ends'.
    let heading = |road: &[TrackEnd; 2]| {
        let (back, on) = (away_from(layout, road[0], 0.0)?, away_from(layout, road[1], 0.0)?);
        let (x, y) = (on.dx - back.dx, on.dy - back.dy);
        let size = x.hypot(y);
        (size > 1e-9).then(|| (x / size, y / size))
    };
    let (a, b) = (heading(&roads[0])?, heading(&roads[1])?);
    Some((a.0 * b.1 - a.1 * b.0, a.0 * b.0 + a.1 * b.1))
}
