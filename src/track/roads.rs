//! How the roads of special work lie to each other on the plan: read off the drawing, never stated.

use super::curve::{Pose, curve};
use crate::layout::model::{JointId, Layout, Run, RunEnd, Special, TrackEnd, Work};

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

/// The run ends at a joint.
pub fn ends_at(layout: &Layout, joint: JointId) -> Vec<TrackEnd> {
    let both = |run: &Run| {
        [(run.from, RunEnd::Start), (run.to, RunEnd::End)].map(|(at, end)| (at, run.id, end))
    };
    let ends = layout.runs.values().flat_map(both);
    ends.filter(|(at, ..)| *at == joint).map(|(_, run, end)| TrackEnd { run, end }).collect()
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

/// How a bridge stands in a position of its turntable or traverser, against where it is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stand {
    /// Middle of the bridge as drawn, mm.
    pub centre: (f64, f64),
    /// It is turned by this about its middle, radians, counter-clockwise.
    pub turn: f64,
    /// And then shifted by this, mm.
    pub shift: (f64, f64),
}

impl Stand {
    /// Where a point of the drawn bridge is.
    pub fn place(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let (x, y) = (x - self.centre.0, y - self.centre.1);
        let (sine, cosine) = self.turn.sin_cos();
        (
            self.centre.0 + x * cosine - y * sine + self.shift.0,
            self.centre.1 + x * sine + y * cosine + self.shift.1,
        )
    }
}

/// How the bridge of special work stands in a position; `None` for special work without a bridge.
pub fn stand(layout: &Layout, special: &Special, position: u32) -> Option<Stand> {
    let run = layout.runs.get(&special.work.bridge()?)?;
    let place = |id: JointId| layout.joints.get(&id).map(|j| (j.x_mm, j.y_mm));
    let (from, to) = (place(run.from)?, place(run.to)?);
    let centre = (f64::midpoint(from.0, to.0), f64::midpoint(from.1, to.1));
    let drawn = (to.1 - from.1).atan2(to.0 - from.0);
    let at = |end: TrackEnd| place(joint_of(layout, end)?);
    match &special.work {
        Work::Turntable { roads, .. } => {
            let road = at(*roads.get(position as usize / 2)?)?;
            let bearing = (road.1 - centre.1).atan2(road.0 - centre.0);
            // With its start at the road the bridge heads away from it.
            let half_turn = if position.is_multiple_of(2) { std::f64::consts::PI } else { 0.0 };
            Some(Stand { centre, turn: bearing + half_turn - drawn, shift: (0.0, 0.0) })
        }
        Work::Traverser { roads, .. } => {
            let road = at(*roads.get(position as usize)?)?;
            let (sine, cosine) = drawn.sin_cos();
            let aside = cosine * (road.1 - centre.1) - sine * (road.0 - centre.0);
            Some(Stand { centre, turn: 0.0, shift: (-sine * aside, cosine * aside) })
        }
        _ => None,
    }
}

/// Where an exit of a turnout lies among the others, seen from the toe: "left", "middle", "right".
pub fn hand_word(
    layout: &Layout,
    toe: TrackEnd,
    exits: &[TrackEnd],
    reach_mm: f64,
    exit: usize,
) -> Option<&'static str> {
    let order = left_to_right(layout, toe, exits, reach_mm);
    Some(match (order.iter().position(|&at| at == exit)?, exits.len()) {
        (0, _) => "left",
        (1, 3) => "middle",
        _ => "right",
    })
}

/// The ends that a position of a diamond or slip joins.
pub fn road_of(roads: &[[TrackEnd; 2]; 2], position: u32) -> [TrackEnd; 2] {
    match position {
        0 => roads[0],
        1 => roads[1],
        2 => [roads[0][0], roads[1][1]],
        _ => [roads[1][0], roads[0][1]],
    }
}

/// What a position of special work is called: "left road", "road 3".
pub fn position_name(layout: &Layout, special: &Special, position: u32) -> String {
    let at = position as usize;
    match &special.work {
        Work::Turnout { toe, exits, .. } => {
            match hand_word(layout, *toe, exits, special.work.reach_mm(), at) {
                Some(word) => format!("{word} road"),
                None => format!("position {position}"),
            }
        }
        Work::Diamond { roads, .. } | Work::Slip { roads, .. } => {
            let [from, to] = road_of(roads, position);
            format!("road from {} to {}", from.run, to.run)
        }
        Work::Turntable { .. } if position.is_multiple_of(2) => format!("road {}", at / 2 + 1),
        Work::Turntable { .. } => format!("road {}, turned round", at / 2 + 1),
        Work::Traverser { .. } => format!("road {}", at + 1),
        Work::Buffer { .. } => "closed".into(),
    }
}
