//! Work on many things at once: aligning, moving, joining.

use std::collections::{BTreeMap, BTreeSet};

use super::laying::free_ends;
use super::plane::thousandths;
use super::roads;
use crate::layout::edit::{Edit, drafted};
use crate::layout::model::{Entity, EntityId, Joint, JointId, Layout, Run};
use crate::units::Point;

pub use super::copy::{paste, piece};
pub use super::parallel::{parallel, spacing_mm};

/// The joints that are moved when these things are moved: their own, those of their runs, those of special work with
/// its bridge.
pub fn joints_of(layout: &Layout, ids: &[EntityId]) -> Vec<JointId> {
    let mut joints: BTreeSet<JointId> = BTreeSet::new();
    for id in ids {
        match id {
            EntityId::Joint(id) => drop(joints.insert(*id)),
            EntityId::Run(id) => {
                joints.extend(layout.runs.get(id).into_iter().flat_map(|run| [run.from, run.to]));
            }
            EntityId::Special(id) => {
                let Some(work) = layout.specials.get(id).map(|s| &s.work) else { continue };
                joints.extend(work.ends().iter().filter_map(|&e| roads::joint_of(layout, e)));
                let bridge = work.bridge().and_then(|run| layout.runs.get(&run));
                joints.extend(bridge.into_iter().flat_map(|run| [run.from, run.to]));
            }
            _ => {}
        }
    }
    joints.into_iter().collect()
}

/// The middle of the box around joints, mm.
pub fn middle(layout: &Layout, joints: &[JointId]) -> Option<Point> {
    let places = joints.iter().filter_map(|id| layout.joints.get(id)).map(|j| (j.x_mm, j.y_mm));
    let (mut low, mut high) =
        ((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY));
    for (x, y) in places {
        low = (low.0.min(x), low.1.min(y));
        high = (high.0.max(x), high.1.max(y));
    }
    low.0.is_finite().then(|| (f64::midpoint(low.0, high.0), f64::midpoint(low.1, high.1)))
}

/// Along which line joints are aligned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Line {
    /// All at the height of the first.
    Level,
    /// All straight above or below the first.
    Upright,
    /// On the straight line from the first to the last; each goes to the nearest place on it.
    FirstToLast,
}

/// Puts joints in a line.
pub fn align(layout: &Layout, joints: &[JointId], line: Line) -> Edit {
    let there: Vec<&Joint> = joints.iter().filter_map(|id| layout.joints.get(id)).collect();
    let (Some(first), Some(last)) = (there.first(), there.last()) else {
        return Edit::Batch(Vec::new());
    };
    let (dx, dy) = (last.x_mm - first.x_mm, last.y_mm - first.y_mm);
    let size = dx * dx + dy * dy;
    let placed = |joint: &Joint| match line {
        Line::Level => (joint.x_mm, first.y_mm),
        Line::Upright => (first.x_mm, joint.y_mm),
        Line::FirstToLast if size == 0.0 => (first.x_mm, first.y_mm),
        Line::FirstToLast => {
            let along = ((joint.x_mm - first.x_mm) * dx + (joint.y_mm - first.y_mm) * dy) / size;
            (first.x_mm + along * dx, first.y_mm + along * dy)
        }
    };
    let moved = there.iter().filter_map(|joint| {
        let (x_mm, y_mm) = placed(joint);
        let (x_mm, y_mm) = (thousandths(x_mm), thousandths(y_mm));
        let differs = (x_mm, y_mm) != (joint.x_mm, joint.y_mm);
        differs.then(|| Edit::Replace(Entity::Joint(Joint { x_mm, y_mm, ..(*joint).clone() })))
    });
    Edit::Batch(moved.collect())
}

/// Ends of track that are nearer to each other than this are at one place, mm.
const AT_ONE_PLACE_MM: f64 = 0.05;

/// Ends of track that moved joints would come to when they are moved by so much (mm), each with the free end that is there.
pub fn meetings(layout: &Layout, moved: &[JointId], by: Point, reach_mm: f64) -> Vec<Meeting> {
    let moved: BTreeSet<JointId> = moved.iter().copied().collect();
    let free: BTreeSet<JointId> =
        free_ends(layout).into_iter().filter_map(|end| roads::joint_of(layout, end)).collect();
    let place = |id: &JointId| layout.joints.get(id).map(|j| (j.x_mm, j.y_mm));
    let mut meetings = Vec::new();
    for joint in free.iter().filter(|id| moved.contains(id)) {
        let Some((x, y)) = place(joint) else { continue };
        for onto in free.iter().filter(|id| !moved.contains(id)) {
            let Some(there) = place(onto) else { continue };
            let off = (there.0 - x - by.0, there.1 - y - by.1);
            if off.0.hypot(off.1) <= reach_mm {
                meetings.push(Meeting { joint: *joint, onto: *onto, off });
            }
        }
    }
    meetings
}

/// A moved end of track near another one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meeting {
    /// The joint that is moved.
    pub joint: JointId,
    /// The joint that stays.
    pub onto: JointId,
    /// How far the first still is from the second, mm.
    pub off: Point,
}

/// Moves joints, and joins the free ends of track that come to lie at one place with others that stay.
pub fn moved(layout: &Layout, joints: Vec<JointId>, (dx_mm, dy_mm): Point) -> Edit {
    let mut onto: BTreeMap<JointId, JointId> = BTreeMap::new();
    for meeting in meetings(layout, &joints, (dx_mm, dy_mm), AT_ONE_PLACE_MM) {
        // One end has room for one other.
        if !onto.values().any(|there| *there == meeting.onto) {
            onto.entry(meeting.joint).or_insert(meeting.onto);
        }
    }
    let shift = Edit::Move { joints, dx_mm, dy_mm };
    if onto.is_empty() {
        return shift;
    }
    // What the runs are after the move: control points have moved with them.
    let mut draft = layout.clone();
    if drafted(&mut draft, shift.clone()).is_err() {
        return shift;
    }
    let mut edits = vec![shift];
    let to = |id: JointId| onto.get(&id).copied().unwrap_or(id);
    for run in draft.runs.values() {
        let (from, end) = (to(run.from), to(run.to));
        if (from, end) != (run.from, run.to) {
            edits.push(Edit::Replace(Run { from, to: end, ..run.clone() }.into()));
        }
    }
    edits.push(Edit::Delete(onto.keys().map(|id| EntityId::Joint(*id)).collect()));
    Edit::Batch(edits)
}
