//! Makes two runs one again.

use std::collections::BTreeSet;

use super::change::{Change, not_there};
use super::value::Refused;
use crate::layout::model::{JointId, Made, Run, RunEnd, Shape, Special, TrackEnd};
use crate::track::curve::{curve, end_at, length_mm};
use crate::track::roads::joint_at;

/// Runs that turn against each other by less than this go straight on, degrees.
const STRAIGHT_DEG: f64 = 0.05;

/// Radii that differ by less than this share are one.
const SAME_RADIUS: f64 = 0.005;

impl Change<'_> {
    /// Joins the two runs that meet at a joint.
    pub(super) fn join(&mut self, joint: JointId) -> Result<(), Refused> {
        let (first, second) = self.joined_runs(joint)?;
        let mut first = first;
        let mut second = second;
        // The first is to end at the joint, the second to start there: turn round what does not.
        if first.to != joint {
            if second.to == joint {
                std::mem::swap(&mut first, &mut second);
            } else {
                first = self.reverse(first);
            }
        }
        if second.from != joint {
            second = self.reverse(second);
        }
        let shape = self.one_shape(joint, &first, &second)?;
        let [first_mm, second_mm] = [&first, &second].map(|run| length_mm(self.layout, run));
        let measured = first.length_mm.is_some() || second.length_mm.is_some();
        let whole = Run {
            to: second.to,
            shape,
            length_mm: measured.then_some(first_mm + second_mm),
            ..first.clone()
        };
        let (kept, gone) = (first.id, second.id);
        let far = TrackEnd { run: gone, end: RunEnd::End };
        self.put(whole.clone());
        self.anchor_again(|run, at_mm| (run == gone).then_some((kept, first_mm + at_mm)));
        self.give_ends(|end| (end == far).then_some(TrackEnd { run: kept, end: RunEnd::End }));
        self.remove(gone.into());
        self.remove(joint.into());
        // The drawn length may be shorter than the sum in the last digits.
        let length = length_mm(self.layout, &whole);
        self.anchor_again(|run, at_mm| (run == kept && at_mm > length).then_some((kept, length)));
        Ok(())
    }

    fn joined_runs(&self, joint: JointId) -> Result<(Run, Run), Refused> {
        if !self.layout.joints.contains_key(&joint) {
            return Err(not_there(joint));
        }
        let runs: Vec<&Run> =
            self.layout.runs.values().filter(|r| r.from == joint || r.to == joint).collect();
        let &[first, second] = runs.as_slice() else {
            return Err(Refused(format!(
                "Joint {joint} is not between two runs. Choose a joint at which two runs meet."
            )));
        };
        let at = |end: &TrackEnd| {
            self.layout.runs.get(&end.run).is_some_and(|run| joint_at(run, end.end) == joint)
        };
        let held = self.layout.specials.values().find(|s| s.work.ends().iter().any(at));
        if let Some(special) = held {
            return Err(Refused(format!(
                "There is a {} at joint {joint}. Its roads are runs of their own.",
                special.work.word()
            )));
        }
        let bridge =
            |run: &Run| self.layout.specials.values().any(|s| s.work.bridge() == Some(run.id));
        if bridge(first) || bridge(second) {
            return Err(Refused(format!("One of the runs at joint {joint} is a bridge.")));
        }
        let joiner = self.layout.cuts.values().find(|cut| {
            let run = [first, second].into_iter().find(|run| run.id == cut.run);
            let end = run.and_then(|run| {
                let end = end_at(length_mm(self.layout, run), cut.at_mm)?;
                Some(joint_at(run, end))
            });
            cut.made == Made::InsulatedJoiner && end == Some(joint)
        });
        if let Some(cut) = joiner {
            return Err(Refused(format!(
                "The insulated joiner {} is at joint {joint}. Delete it or make it an open cut first.",
                cut.id
            )));
        }
        Ok((first.clone(), second.clone()))
    }

    /// Counts a run from its other end; what stands on it stays where it is.
    pub(super) fn reverse(&mut self, run: Run) -> Run {
        let id = run.id;
        let length = length_mm(self.layout, &run);
        let shape = match run.shape {
            Shape::Straight => Shape::Straight,
            Shape::Arc { bend_deg } => Shape::Arc { bend_deg: -bend_deg },
            Shape::Cubic { c1, c2 } => Shape::Cubic { c1: c2, c2: c1 },
        };
        let new = Run { from: run.to, to: run.from, shape, ..run };
        self.put(new.clone());
        self.flip(&BTreeSet::from([id]), |_, at_mm| (length - at_mm).max(0.0), true);
        self.give_ends(|end| (end.run == id).then_some(TrackEnd { run: id, end: end.end.other() }));
        new
    }

    /// Gives special work other run ends where `new` says so.
    pub(super) fn give_ends(&mut self, new: impl Fn(TrackEnd) -> Option<TrackEnd>) {
        let given = |special: &Special| {
            let mut given = special.clone();
            for end in given.work.ends_mut() {
                *end = new(*end).unwrap_or(*end);
            }
            (given != *special).then_some(given)
        };
        let changed: Vec<Special> = self.layout.specials.values().filter_map(given).collect();
        for special in changed {
            self.put(special);
        }
    }

    /// The shape of two runs in one: a straight or a curve of one radius.
    fn one_shape(&self, joint: JointId, first: &Run, second: &Run) -> Result<Shape, Refused> {
        let curves = [first, second].map(|run| curve(self.layout, run));
        let (end, start) = (curves[0].at(curves[0].length_mm()), curves[1].at(0.0));
        let cross = end.dx * start.dy - end.dy * start.dx;
        let angle_deg = cross.atan2(end.dx * start.dx + end.dy * start.dy).to_degrees();
        if angle_deg.abs() > STRAIGHT_DEG {
            return Err(Refused(format!(
                "Runs {} and {} meet at an angle of {:.1}° at joint {joint}: they make no one straight or curve.",
                first.id,
                second.id,
                angle_deg.abs()
            )));
        }
        let bends = [first, second].map(|run| match run.shape {
            Shape::Straight => Some(0.0),
            Shape::Arc { bend_deg } => Some(bend_deg),
            Shape::Cubic { .. } => None,
        });
        if let [Some(a), Some(b)] = bends {
            let curvature = [(a, &curves[0]), (b, &curves[1])]
                .map(|(bend, curve)| bend / curve.drawn_mm().max(f64::MIN_POSITIVE));
            let bend_deg = a + b;
            if a == 0.0 && b == 0.0 {
                return Ok(Shape::Straight);
            }
            let apart = (curvature[0] - curvature[1]).abs();
            if apart <= SAME_RADIUS * curvature[0].abs() && bend_deg.abs() < 360.0 {
                return Ok(Shape::Arc { bend_deg });
            }
        }
        Err(Refused(format!(
            "Runs {} and {} have different radii: they make no one straight or curve. Leave the joint.",
            first.id, second.id
        )))
    }
}
