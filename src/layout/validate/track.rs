//! Rules for joints, runs, labels, and single cuts.

use super::about::About;
use super::ends;
use super::ends::Ends;
use super::found::{CELSIUS, Found, May, nearest};
use super::limits::{FARTHEST_MM, NARROWEST_CUT_MM, SHORTEST_RUN_MM, WIDEST_CUT_MM};
use crate::layout::model::{Cut, Joint, Label, Layout, Made, Rails, Run, RunEnd, Shape, TrackEnd};
use crate::layout::words::{mm, number};
use crate::track::curve::{END_TOLERANCE_MM, end_at};

pub(super) fn joints_and_their_ends(layout: &Layout, ends: &Ends, found: &mut Found) {
    let special = ends::ends_held(layout);
    for (joint, ends) in ends {
        if ends.iter().any(|&(run, end)| special.contains(&TrackEnd { run, end })) {
            continue;
        }
        for &(run, end) in ends.iter().skip(2) {
            found.of(run);
            found.add(
                if end == RunEnd::Start { "from" } else { "to" },
                format!(
                    "joint {joint} already joins run {} and run {}, so run {run} cannot end there",
                    ends[0].0, ends[1].0
                ),
                "a joint with one run end at most",
                "a third run end makes a turnout, a fourth a diamond or a slip: say so in `specials`, or end the run at a free joint",
            );
        }
    }
}

pub(super) fn joint(joint: &Joint, found: &mut Found) {
    found.of(joint.id);
    found.plan("x_mm", joint.x_mm);
    found.plan("y_mm", joint.y_mm);
}

pub(super) fn run(about: &About, run: &Run, found: &mut Found) {
    let layout = about.layout;
    found.of(run.id);
    found.number(run.id);
    let mut ends = true;
    for (field, joint) in [("from", run.from), ("to", run.to)] {
        if !layout.joints.contains_key(&joint) {
            found.missing(field, joint, nearest(layout.joints.keys(), joint.0));
            ends = false;
        }
    }
    let shaped = shape(&run.shape, found);
    if let Some(length) = run.length_mm {
        let may = May::Be(SHORTEST_RUN_MM, FARTHEST_MM);
        let hint = "leave the field away to have the drawn length count";
        found.value("length_mm", length, may, " mm", hint);
    }
    if !ends || !shaped {
        return;
    }
    if run.from == run.to && !matches!(run.shape, Shape::Cubic { .. }) {
        found.add(
            "to",
            format!("the run starts and ends at joint {}", run.from),
            "another joint than the one it starts at",
            "only a cubic can lead back to its own joint",
        );
        return;
    }
    let drawn = about.drawn_length(run);
    // Joints with impossible coordinates have faults of their own.
    let placed = [run.from, run.to].iter().all(|id| {
        layout
            .joints
            .get(id)
            .is_some_and(|j| j.x_mm.abs() <= FARTHEST_MM && j.y_mm.abs() <= FARTHEST_MM)
    });
    if placed && !(SHORTEST_RUN_MM..=FARTHEST_MM).contains(&drawn) {
        found.add(
            "shape",
            format!("the run is drawn {} long", mm(drawn)),
            format!("a drawn length from {} to {}", mm(SHORTEST_RUN_MM), mm(FARTHEST_MM)),
            "move its joints, or change its shape",
        );
    }
}

/// Returns whether the run has a shape that can be measured.
fn shape(shape: &Shape, found: &mut Found) -> bool {
    let mut sound = true;
    match *shape {
        Shape::Straight => {}
        Shape::Arc { bend_deg } => {
            if !(bend_deg.abs() > 0.0 && bend_deg.abs() < 360.0) {
                sound = false;
                found.add(
                    "shape.bend_deg",
                    if bend_deg.is_finite() {
                        format!("the arc turns by {}°", number(bend_deg))
                    } else {
                        "the turn of the arc is not a finite number".to_owned()
                    },
                    "a turn of more than 0° and less than 360°, positive to the left, negative to the right",
                    "for no turn use shape: Straight",
                );
            }
        }
        Shape::Cubic { c1, c2 } => {
            for (field, value) in [
                ("shape.c1[0]", c1.0),
                ("shape.c1[1]", c1.1),
                ("shape.c2[0]", c2.0),
                ("shape.c2[1]", c2.1),
            ] {
                let may = May::Be(-FARTHEST_MM, FARTHEST_MM);
                let hint = "control points are places on the plan, in mm";
                sound &= found.value(field, value, may, " mm", hint);
            }
        }
    }
    sound
}

pub(super) fn cut(about: &About, cut: &Cut, found: &mut Found) {
    found.of(cut.id);
    found.number(cut.id);
    found.name("name", &cut.name);
    found.anchor(about, cut.run, cut.at_mm);
    let may = May::Be(NARROWEST_CUT_MM, WIDEST_CUT_MM);
    found.value("width_mm", cut.width_mm, may, " mm", "a saw cut is about 0.8 mm wide");
    if let Some(cut_at_c) = cut.cut_at_c {
        found.value("cut_at_c", cut_at_c, CELSIUS, " °C", "leave it away if it is not known");
    }
    if !cut.stagger_mm.is_finite() {
        let may = May::Be(-FARTHEST_MM, FARTHEST_MM);
        found.value("stagger_mm", cut.stagger_mm, may, " mm", "leave it away for no stagger");
        return;
    }
    if cut.stagger_mm != 0.0 && cut.rails != Rails::Both {
        found.add(
            "stagger_mm",
            "only one rail is cut, so there is nothing to stagger",
            "a stagger only with rails: Both",
            "leave the stagger away and move at_mm instead",
        );
        return;
    }
    let Some(length) = about.sound_length(cut.run) else { return };
    let right = cut.at_mm + cut.stagger_mm;
    let within = |at: f64| (-END_TOLERANCE_MM..=length + END_TOLERANCE_MM).contains(&at);
    if within(cut.at_mm) && !within(right) {
        found.add(
            "stagger_mm",
            format!(
                "the right rail would be cut at {}, but run {} is {} long",
                mm(right),
                cut.run,
                mm(length)
            ),
            format!("a stagger from {} to {}", mm(-cut.at_mm), mm(length - cut.at_mm)),
            "make the stagger smaller, or cut each rail by itself on its own run",
        );
    }
    if cut.made == Made::InsulatedJoiner && within(cut.at_mm) {
        if end_at(length, cut.at_mm).is_none() {
            found.add(
                "at_mm",
                format!(
                    "an insulated joiner cannot stand at {} on run {}: it joins run ends",
                    mm(cut.at_mm),
                    cut.run
                ),
                format!("0 or {}", number(length)),
                "put it at an end of the run, split the run there, or make it a cut",
            );
        } else if cut.stagger_mm != 0.0 && end_at(length, right).is_none() {
            found.add(
                "stagger_mm",
                "an insulated joiner stands at the run's end in both rails",
                "no stagger",
                "leave the stagger away",
            );
        }
    }
}

pub(super) fn label(about: &About, label: &Label, found: &mut Found) {
    found.of(label.id);
    found.word("name", &label.name);
    found.anchor(about, label.run, label.at_mm);
}
