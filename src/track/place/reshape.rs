//! Turnouts that lie are given another hand, turn or length, and what follows their diverging roads swings along.

use std::collections::{BTreeMap, BTreeSet};

use petgraph::unionfind::UnionFind;

use super::draft::{Draft, Placed};
use super::turnouts::{Parting, diverges, end_of_road, turn_deg};
use crate::layout::edit::{Edit, Refused};
use crate::layout::model::{
    Entity, JointId, Layout, Run, RunEnd, Shape, Special, SpecialId, TrackEnd, Work,
};
use crate::track::curve::{self, length_mm};
use crate::track::plane::{Turn, thousandths};
use crate::track::roads::{away_from, joint_at, joint_of, left_to_right};
use crate::units::Point;

/// How the diverging roads of a turnout leave it: read off the drawing, or wished for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leaving {
    /// How its roads part.
    pub parting: Parting,
    /// How far a diverging road turns away from the through road by the end of its first run, degrees; of a wye, the
    /// one road from the other.
    pub turn_deg: f64,
    /// Length of that run, mm.
    pub length_mm: f64,
}

/// Turns that differ by less than this share of both together are taken for the same.
const SAME: f64 = 0.05;

/// How the roads of a turnout leave it as it is drawn. `None` for other special work.
pub fn leaving(layout: &Layout, special: &Special) -> Option<Leaving> {
    let Work::Turnout { toe, exits, .. } = &special.work else { return None };
    let (through, diverging) = (*exits.first()?, *exits.get(1)?);
    let length = length_mm(layout, layout.runs.get(&diverging.run)?);
    let [along, away] = [through, diverging].map(|exit| turn_deg(layout, exit, length));
    let apart = away - along;
    let same = |a: f64, b: f64| (a - b).abs() < SAME * (a.abs() + b.abs());
    // A road that goes on in the curve before the points is a through road, whatever the other does.
    let before = -turn_deg(layout, *toe, length);
    let is_wye = same(along, -away) && !same(along, before) && !same(away, before);
    let parting = match exits.len() {
        2 if is_wye => Parting::Wye,
        2 if left_to_right(layout, *toe, exits, length)[0] == 1 => Parting::Left,
        2 => Parting::Right,
        _ => Parting::ThreeWay,
    };
    let (turn_deg, length_mm) = (thousandths(apart.abs()), thousandths(length));
    Some(Leaving { parting, turn_deg, length_mm })
}

/// Gives the diverging roads of a turnout another hand, turn or length: their first runs are bent anew from the points,
/// with all that stands on them, and the track beyond swings along as one piece. Points and through road stay where they
/// are, and so do frogs of their kind, position, contact and gang.
///
/// # Errors
/// When it is no turnout, when it would have to become one with other roads, when the wish makes no road, or when the
/// track beyond a road leads back to the turnout, so that it cannot swing.
pub fn reshaped(layout: &Layout, id: SpecialId, wish: &Leaving) -> Result<Placed, Refused> {
    let there = layout.specials.get(&id);
    let there = there.and_then(|old| leaving(layout, old).map(|now| (old, now, old.work.clone())));
    let Some((
        old,
        now,
        Work::Turnout { toe, exits, frog, closures_bonded, exits_bonded, open_mm, .. },
    )) = there
    else {
        return Err(Refused(format!("There is no turnout {id} (any more).")));
    };
    let handed = |parting| matches!(parting, Parting::Left | Parting::Right);
    if wish.parting != now.parting && !(handed(wish.parting) && handed(now.parting)) {
        return Err(Refused(
            "Only the hand can be changed in place. Lay another road from the points, or take one away.".into(),
        ));
    }
    diverges(wish.turn_deg, wish.length_mm)?;
    let mut draft = Draft::of(layout);
    let through = exits.first().map_or(0.0, |exit| turn_deg(layout, *exit, wish.length_mm));
    let order = left_to_right(layout, toe, &exits, now.length_mm);
    let is_left = |exit: usize, than: usize| {
        let at = |which: usize| order.iter().position(|o| *o == which);
        at(exit) < at(than)
    };
    let turn = wish.turn_deg;
    let mut bends: Vec<(TrackEnd, f64)> = Vec::new();
    for (n, &exit) in exits.iter().enumerate() {
        bends.push(match (wish.parting, n) {
            (Parting::Wye, n) => (exit, if is_left(n, 1 - n) { turn / 2.0 } else { -turn / 2.0 }),
            (_, 0) => continue,
            (Parting::Left, _) => (exit, through + turn),
            (Parting::Right, _) => (exit, through - turn),
            (Parting::ThreeWay, n) => (exit, through + if is_left(n, 0) { turn } else { -turn }),
        });
    }
    for (exit, bend_deg) in bends {
        draft.swing(toe, exit, bend_deg, wish.length_mm)?;
    }
    let mut work = draft.turnout_work(toe, exits, frog);
    if let Work::Turnout { closures_bonded: c, exits_bonded: e, open_mm: o, .. } = &mut work {
        (*c, *e, *o) = (closures_bonded, exits_bonded, open_mm);
    }
    draft.edit(Edit::Replace(Entity::Special(Special { work, ..old.clone() })))?;
    Ok(draft.done())
}

impl Draft {
    /// Bends a road of a turnout anew, and takes along what follows it.
    fn swing(
        &mut self,
        toe: TrackEnd,
        exit: TrackEnd,
        bend_deg: f64,
        length_mm: f64,
    ) -> Result<(), Refused> {
        let gone = || Refused("The run is not there any more.".into());
        let run = self.run(exit.run)?.clone();
        let far = joint_at(&run, exit.end.other());
        let points = self.joint(toe)?;
        let follows = beyond(&self.layout, far, &run);
        if follows.contains(&points) {
            return Err(Refused(format!(
                "The track beyond run {} leads back to the turnout, so that it cannot swing along. Take it off at the \
                 far end of the run first, and join it again after.",
                run.id
            )));
        }
        let back = away_from(&self.layout, toe, 0.0).ok_or_else(gone)?;
        let from =
            away_from(&self.layout, exit, curve::length_mm(&self.layout, &run)).ok_or_else(gone)?;
        let out = (-back.dx, -back.dy);
        let to = end_of_road((back.x_mm, back.y_mm), out, bend_deg, length_mm);
        let heading = out.1.atan2(out.0).to_degrees() + bend_deg;
        let turn_deg = heading - from.dy.atan2(from.dx).to_degrees();
        let about: Point = (from.x_mm, from.y_mm);
        let joints: Vec<JointId> = follows.into_iter().collect();
        if joints.len() > 1 {
            let turn = Turn { about, mirrored: false, turn_deg };
            self.edit(Edit::Turn { joints: joints.clone(), turn })?;
        }
        let (dx_mm, dy_mm) = (to.0 - about.0, to.1 - about.1);
        self.edit(Edit::Move { joints, dx_mm, dy_mm })?;
        // A bend is to the left as one goes along the run.
        let along = if exit.end == RunEnd::Start { bend_deg } else { -bend_deg };
        let shape = if along == 0.0 { Shape::Straight } else { Shape::Arc { bend_deg: along } };
        self.edit(Edit::Replace(Entity::Run(Run { shape, length_mm: None, ..run })))?;
        Ok(())
    }
}

/// All joints that hang together with one of them, not through this run; special work holds its tracks together.
fn beyond(layout: &Layout, from: JointId, without: &Run) -> BTreeSet<JointId> {
    let numbers: BTreeMap<JointId, usize> =
        layout.joints.keys().enumerate().map(|(n, joint)| (*joint, n)).collect();
    let mut together = UnionFind::<usize>::new(numbers.len());
    let mut join = |joints: &[JointId]| {
        for pair in joints.windows(2) {
            if let (Some(a), Some(b)) = (numbers.get(&pair[0]), numbers.get(&pair[1])) {
                together.union(*a, *b);
            }
        }
    };
    for run in layout.runs.values().filter(|run| run.id != without.id) {
        join(&[run.from, run.to]);
    }
    for special in layout.specials.values() {
        let bridge = special.work.bridge().and_then(|run| layout.runs.get(&run));
        let ends = special.work.ends().into_iter().filter_map(|end| joint_of(layout, end));
        let all = ends.chain(bridge.into_iter().flat_map(|run| [run.from, run.to]));
        join(&all.collect::<Vec<_>>());
    }
    let Some(&first) = numbers.get(&from) else { return BTreeSet::from([from]) };
    let follows = numbers.iter().filter(|(_, n)| together.equiv(first, **n));
    follows.map(|(joint, _)| *joint).collect()
}
