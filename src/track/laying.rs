//! Where new track goes: on from an end, through three points, smoothly from one end to another.

use std::collections::{BTreeMap, BTreeSet};

use super::curve::Pose;
use super::roads::{away_from, ends_at, joint_at};
use crate::layout::model::{JointId, Layout, RunEnd, RunId, Shape, TrackEnd};
use crate::units::Point;

pub use super::fitted::{fitted, pulled};

/// A bend below this is straight, degrees.
const STRAIGHT_DEG: f64 = 1e-3;

/// The one run end at a joint, if there is only one: track can go on from there.
pub fn open_end(layout: &Layout, joint: JointId) -> Option<TrackEnd> {
    match ends_at(layout, joint)[..] {
        [end] => Some(end),
        _ => None,
    }
}

/// Free ends of track: ends that meet nothing and belong to no special work.
pub fn free_ends(layout: &Layout) -> Vec<TrackEnd> {
    let held: BTreeSet<TrackEnd> = layout.specials.values().flat_map(|s| s.work.ends()).collect();
    let bridges: BTreeSet<RunId> =
        layout.specials.values().filter_map(|s| s.work.bridge()).collect();
    let mut count: BTreeMap<JointId, usize> = BTreeMap::new();
    for run in layout.runs.values() {
        *count.entry(run.from).or_default() += 1;
        *count.entry(run.to).or_default() += 1;
    }
    layout
        .runs
        .values()
        .filter(|run| !bridges.contains(&run.id))
        .flat_map(|run| [RunEnd::Start, RunEnd::End].map(|end| (joint_at(run, end), run.id, end)))
        .filter(|(joint, ..)| count.get(joint) == Some(&1))
        .map(|(_, run, end)| TrackEnd { run, end })
        .filter(|end| !held.contains(end))
        .collect()
}

/// The place of an open end, with the direction in which track goes on from it.
pub fn onwards(layout: &Layout, joint: JointId) -> Option<Pose> {
    let back = away_from(layout, open_end(layout, joint)?, 0.0)?;
    Some(Pose { dx: -back.dx, dy: -back.dy, ..back })
}

/// A bend as a shape.
pub fn bent(bend_deg: f64) -> Shape {
    if bend_deg.abs() < STRAIGHT_DEG { Shape::Straight } else { Shape::Arc { bend_deg } }
}

/// The one arc (or straight) that leaves `from` in its direction and reaches `to`: its bend, degrees, positive to the left.
/// `None` where there is none: straight behind, or at the place itself.
pub fn bend_onwards(from: Pose, to: Point) -> Option<f64> {
    let (x, y) = (to.0 - from.x_mm, to.1 - from.y_mm);
    let (along, left) = (x * from.dx + y * from.dy, y * from.dx - x * from.dy);
    // The chord turns by half of what the arc does.
    let half_deg = left.atan2(along).to_degrees();
    ((along, left) != (0.0, 0.0) && half_deg.abs() < 179.0).then_some(2.0 * half_deg)
}

/// The bend of the arc from `a` over `through` to `b`, degrees, positive to the left; `None` if the three are not three
/// places.
pub fn bend_through(a: Point, through: Point, b: Point) -> Option<f64> {
    let to = |p: Point, q: Point| (q.0 - p.0, q.1 - p.1);
    let (first, second) = (to(a, through), to(through, b));
    if first == (0.0, 0.0) || second == (0.0, 0.0) || a == b {
        return None;
    }
    // The two chords turn against each other by half of what the arc does.
    let cross = first.0 * second.1 - first.1 * second.0;
    let dot = first.0 * second.0 + first.1 * second.1;
    Some(2.0 * cross.atan2(dot).to_degrees()).filter(|bend: &f64| bend.abs() < 359.0)
}

/// Where an arc ends that leaves `from` with a radius (mm) and turns by an angle (degrees, positive to the left).
pub fn end_of_arc(from: Pose, radius_mm: f64, turn_deg: f64) -> Point {
    let turn = turn_deg.to_radians();
    let side = turn.signum();
    let (along, left) = (radius_mm * turn.abs().sin(), side * radius_mm * (1.0 - turn.cos()));
    (from.x_mm + along * from.dx - left * from.dy, from.y_mm + along * from.dy + left * from.dx)
}

/// A smooth curve that leaves `from` in its direction and comes into `to` in that one's.
///
/// Between directions that an arc would join it is close to that arc: the handles are those of the cubic that is nearest
/// to an arc (4/3 tan(θ/4) times the radius).
pub fn smooth(from: Pose, to: Pose) -> Shape {
    let chord = (to.x_mm - from.x_mm).hypot(to.y_mm - from.y_mm);
    let cosine = (from.dx * to.dx + from.dy * to.dy).clamp(-1.0, 1.0);
    let turn = cosine.acos();
    let share =
        if turn < 1e-6 { 1.0 / 3.0 } else { 2.0 / 3.0 * (turn / 4.0).tan() / (turn / 2.0).sin() };
    let handle = chord * share;
    Shape::Cubic {
        c1: (from.x_mm + from.dx * handle, from.y_mm + from.dy * handle),
        c2: (to.x_mm - to.dx * handle, to.y_mm - to.dy * handle),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use approx::assert_abs_diff_eq;

    const EAST: Pose = Pose { x_mm: 0.0, y_mm: 0.0, dx: 1.0, dy: 0.0 };

    #[test]
    fn an_arc_goes_on_in_the_direction_of_the_track() {
        // A quarter circle of 500 mm to the left, and one to the right; straight ahead; nothing leads straight back.
        assert_abs_diff_eq!(bend_onwards(EAST, (500.0, 500.0)).unwrap(), 90.0, epsilon = 1e-9);
        assert_abs_diff_eq!(bend_onwards(EAST, (500.0, -500.0)).unwrap(), -90.0, epsilon = 1e-9);
        assert_eq!(bend_onwards(EAST, (700.0, 0.0)), Some(0.0));
        assert_eq!(bend_onwards(EAST, (-700.0, 0.0)), None);
        assert_eq!(bend_onwards(EAST, (0.0, 0.0)), None);
        // Beside the start: half a circle.
        assert_abs_diff_eq!(bend_onwards(EAST, (0.0, 800.0)).unwrap(), 180.0, epsilon = 1e-9);
    }

    #[test]
    fn an_arc_of_a_radius_ends_where_it_should_and_is_found_again() {
        for turn_deg in [-170.0, -90.0, -22.5, 15.0, 45.0, 120.0] {
            let end = end_of_arc(EAST, 437.5, turn_deg);
            assert_abs_diff_eq!(bend_onwards(EAST, end).unwrap(), turn_deg, epsilon = 1e-9);
        }
    }

    #[test]
    fn three_points_make_an_arc() {
        let on = |deg: f64| (500.0 * deg.to_radians().cos(), 500.0 * deg.to_radians().sin());
        for (from, through, to) in [(0.0, 30.0, 100.0), (10.0, 200.0, 300.0), (90.0, 40.0, -20.0)] {
            let bend = bend_through(on(from), on(through), on(to)).unwrap();
            assert_abs_diff_eq!(bend, to - from, epsilon = 1e-9);
        }
        assert_eq!(bend_through(on(0.0), on(0.0), on(20.0)), None);
        assert_eq!(bend_through((0.0, 0.0), (5.0, 0.0), (9.0, 0.0)), Some(0.0));
    }
}
