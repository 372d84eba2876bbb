//! The ends of runs at each joint.

use std::collections::{BTreeMap, BTreeSet};

use crate::layout::model::{JointId, Layout, RunEnd, RunId, TrackEnd};

/// The ends of runs at each joint, in the order of the runs.
pub(super) type Ends = BTreeMap<JointId, Vec<(RunId, RunEnd)>>;

pub(super) fn ends_at_joints(layout: &Layout) -> Ends {
    let mut ends = Ends::new();
    for run in layout.runs.values() {
        ends.entry(run.from).or_default().push((run.id, RunEnd::Start));
        ends.entry(run.to).or_default().push((run.id, RunEnd::End));
    }
    ends
}

/// The run ends that turnouts, diamonds and slips join.
pub(super) fn ends_held(layout: &Layout) -> BTreeSet<TrackEnd> {
    layout
        .specials
        .values()
        .filter(|s| s.work.frog().is_some())
        .flat_map(|s| s.work.ends())
        .collect()
}
