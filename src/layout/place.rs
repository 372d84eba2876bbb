//! Placing special work: each function builds one edit that splits runs, lays roads and adds the special work.
//!
//! The edit is tried out on a draft first, because identities of what it makes are used further on in it. Whether the
//! result makes sense is for [`super::apply`] to say, which takes all of it or nothing.

mod bridges;
mod crossings;
mod reshape;

use std::f64::consts::FRAC_PI_3;

use super::edit::{Edit, End, Entity, Refused, drafted};
use super::geometry::{Point, RunEnd, curve, end_at, length_mm, tenths, thousandths};
use super::ids::{EntityId, JointId, RunId, SpecialId};
use super::model::{Joint, Layout, Run, Shape, default_tread_mm};
use super::roads::{away_from, ends_at, joint_at, joint_of, left_to_right};
use super::special::{
    Contact, Frog, Special, TrackEnd, Work, default_frog_length_mm, default_open_mm,
};

pub use bridges::{Ground, TraverserWish, TurntableWish, buffer, traverser, turntable};
pub use crossings::{CrossingKind, CrossingWish, crossing, crossing_of, crossover};
pub use reshape::{Leaving, leaving, reshaped};

/// What placing comes to.
#[derive(Debug, Clone)]
pub struct Placed {
    /// Everything in one edit.
    pub edit: Edit,
    /// The layout as it would be, not looked at for sense.
    pub layout: Layout,
    /// Runs that are laid.
    pub laid: Vec<RunId>,
    /// Special work that is added.
    pub specials: Vec<SpecialId>,
    /// What was assumed, in words.
    pub assumed: Option<String>,
}

/// A place on a run, and towards which end of it the roads leave from there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Site {
    /// The run.
    pub run: RunId,
    /// Distance along it, mm.
    pub at_mm: f64,
    /// Towards this end the roads leave.
    pub towards: RunEnd,
}

/// How the roads of a turnout part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parting {
    /// The diverging road goes to the left.
    Left,
    /// It goes to the right.
    Right,
    /// Two roads, one to each side; at an end of track only.
    Wye,
    /// One to each side of the through road.
    ThreeWay,
}

/// A turnout that is wished for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnoutWish {
    /// How its roads part.
    pub parting: Parting,
    /// Frogs.
    pub frog: Frog,
    /// How far a diverging road turns away from the through road by its end, degrees, above 0.
    pub turn_deg: f64,
    /// Length of each road that is laid, mm.
    pub length_mm: f64,
    /// How far the through road turns (positive left), degrees, where it is laid: at an end of track.
    pub through_deg: f64,
}

/// Runs of which the others turn away by more than this cannot be roads of one turnout, radians.
const MOST_TURN: f64 = FRAC_PI_3;

/// A layout while it is being changed, and the edits that were done on it.
struct Draft {
    layout: Layout,
    edits: Vec<Edit>,
    laid: Vec<RunId>,
    specials: Vec<SpecialId>,
    assumed: Option<String>,
}

impl Draft {
    fn of(layout: &Layout) -> Self {
        let (edits, laid, specials) = Default::default();
        Self { layout: layout.clone(), edits, laid, specials, assumed: None }
    }

    fn edit(&mut self, edit: Edit) -> Result<Vec<EntityId>, Refused> {
        let made = drafted(&mut self.layout, edit.clone())?;
        self.edits.push(edit);
        Ok(made)
    }

    fn done(self) -> Placed {
        let Self { layout, edits, laid, specials, assumed } = self;
        Placed { edit: Edit::Batch(edits), layout, laid, specials, assumed }
    }

    fn run(&self, id: RunId) -> Result<&Run, Refused> {
        self.layout.runs.get(&id).ok_or_else(|| {
            Refused(format!("There is no run {id} on this layout (any more). Choose another run."))
        })
    }

    fn joint(&self, end: TrackEnd) -> Result<JointId, Refused> {
        self.run(end.run).map(|run| joint_at(run, end.end))
    }

    fn lay(&mut self, from: End, to: End, shape: Shape) -> Result<RunId, Refused> {
        let made = self.edit(Edit::Lay { from, to, shape, length_mm: None })?;
        let run = made.iter().find_map(|id| match id {
            EntityId::Run(run) => Some(*run),
            _ => None,
        });
        let run = run.ok_or_else(|| Refused("The run could not be laid.".into()))?;
        self.laid.push(run);
        Ok(run)
    }

    fn special(&mut self, work: Work, gang: &str) -> Result<SpecialId, Refused> {
        let special = Special {
            id: SpecialId(0),
            name: String::new(),
            work,
            position: 0,
            contact: Contact::default(),
            gang: gang.to_owned(),
            notes: String::new(),
        };
        let made = self.edit(Edit::Add(Entity::Special(special)))?;
        let id = made.iter().find_map(|id| match id {
            EntityId::Special(id) => Some(*id),
            _ => None,
        });
        let id = id.ok_or_else(|| Refused("The special work could not be added.".into()))?;
        self.specials.push(id);
        Ok(id)
    }

    /// Splits a run; the two ends that meet at the new joint.
    fn split(&mut self, run: RunId, at_mm: f64) -> Result<[TrackEnd; 2], Refused> {
        let made = self.edit(Edit::Split { run, at_mm })?;
        let rest = made.iter().find_map(|id| match id {
            EntityId::Run(run) => Some(*run),
            _ => None,
        });
        let rest = rest.ok_or_else(|| Refused(format!("Run {run} could not be split.")))?;
        Ok([TrackEnd { run, end: RunEnd::End }, TrackEnd { run: rest, end: RunEnd::Start }])
    }

    /// The run ends at a joint.
    fn ends_at(&self, joint: JointId) -> Vec<TrackEnd> {
        ends_at(&self.layout, joint)
    }

    /// Prepares a place for points: the end from which one comes, and the road that is there already, if any.
    fn points_at(&mut self, site: Site) -> Result<(TrackEnd, Option<TrackEnd>), Refused> {
        let length = length_mm(&self.layout, self.run(site.run)?);
        let Some(end) = end_at(length, site.at_mm) else {
            let [first, second] = self.split(site.run, site.at_mm)?;
            return Ok(match site.towards {
                RunEnd::End => (first, Some(second)),
                RunEnd::Start => (second, Some(first)),
            });
        };
        let own = TrackEnd { run: site.run, end };
        let joint = self.joint(own)?;
        let mut others = self.ends_at(joint);
        others.retain(|other| *other != own);
        match others.as_slice() {
            [] => Ok((own, None)),
            [other] if site.towards == end => Ok((own, Some(*other))),
            [other] => Ok((*other, Some(own))),
            _ => Err(Refused(format!(
                "Joint {joint} has special work already. Choose a place beside it."
            ))),
        }
    }

    /// Lays a road out of a joint: where it starts, it goes on from `toe`.
    fn road(&mut self, toe: TrackEnd, bend_deg: f64, length_mm: f64) -> Result<TrackEnd, Refused> {
        let joint = self.joint(toe)?;
        let back = away_from(&self.layout, toe, 0.0)
            .ok_or_else(|| Refused("The run is not there any more.".into()))?;
        let to = end_of_road((back.x_mm, back.y_mm), (-back.dx, -back.dy), bend_deg, length_mm);
        let shape = if bend_deg == 0.0 { Shape::Straight } else { Shape::Arc { bend_deg } };
        let run = self.lay(End::At(joint), End::New(to.0, to.1), shape)?;
        Ok(TrackEnd { run, end: RunEnd::Start })
    }

    /// Adds a turnout of run ends that meet at one joint; its frogs lie where the roads are one gauge apart.
    fn turnout(
        &mut self,
        toe: TrackEnd,
        exits: Vec<TrackEnd>,
        frog: Frog,
        gang: &str,
    ) -> Result<SpecialId, Refused> {
        let work = self.turnout_work(toe, exits, frog);
        self.special(work, gang)
    }

    fn turnout_work(&mut self, toe: TrackEnd, exits: Vec<TrackEnd>, frog: Frog) -> Work {
        let mut frog_length_mm = frog_length_mm(&self.layout);
        let crossed = frog_mm(&self.layout, toe, &exits);
        let frog_mm = crossed.unwrap_or_else(|| {
            let shortest = exits
                .iter()
                .filter_map(|exit| self.layout.runs.get(&exit.run))
                .map(|run| length_mm(&self.layout, run))
                .fold(f64::INFINITY, f64::min);
            let out = tenths((0.98 * shortest - frog_length_mm / 2.0).max(frog_length_mm));
            self.assumed = Some(format!(
                "The roads are nowhere one gauge apart before their first runs end. The frog is taken to lie as far \
                 out as they reach, {out} mm from the points."
            ));
            out
        });
        if let Some(clear_mm) = clear_mm(&self.layout, toe, &exits).filter(|_| crossed.is_some()) {
            frog_length_mm = frog_length_mm.max(tenths((clear_mm - frog_mm) * 2.0 + 0.1));
        }
        frog_length_mm = frog_length_mm.min(tenths(frog_mm * 0.8));
        Work::Turnout {
            toe,
            exits,
            frog,
            frog_mm,
            frog_length_mm,
            closures_bonded: true,
            exits_bonded: true,
            open_mm: open_mm(&self.layout),
        }
    }
}

/// Whether a road that turns away so far (degrees) over such a length (mm) is one that diverges.
fn diverges(turn_deg: f64, length_mm: f64) -> Result<(), Refused> {
    if turn_deg > 0.0 && turn_deg < 180.0 && length_mm > 0.0 {
        return Ok(());
    }
    Err(Refused(
        "The diverging road must turn away by more than 0° and less than 180°, and must have a length.".into(),
    ))
}

/// Where a road ends that leaves a place in a direction, bends (degrees, positive to the left) and has this length (mm).
fn end_of_road(from: Point, out: (f64, f64), bend_deg: f64, length_mm: f64) -> Point {
    let half = bend_deg.to_radians() / 2.0;
    // Chord of an arc of this length.
    let chord = if half.abs() < 1e-9 { length_mm } else { length_mm * half.sin() / half };
    let heading = out.1.atan2(out.0) + half;
    let to = (from.0 + chord * heading.cos(), from.1 + chord * heading.sin());
    (thousandths(to.0), thousandths(to.1))
}

/// Length of a new frog, mm: 20 mm at 16.5 mm gauge and more, in proportion on narrower track (common practice, no
/// source).
fn frog_length_mm(layout: &Layout) -> f64 {
    tenths(default_frog_length_mm() * (layout.gauge_mm / 16.5).min(1.0)).max(0.1)
}

/// How far an open point of new points stands off, mm: 2 mm at 16.5 mm gauge and less, in proportion on wider track
/// (common practice, no source).
fn open_mm(layout: &Layout) -> f64 {
    tenths(default_open_mm() * (layout.gauge_mm / 16.5).max(1.0))
}

/// Distance from the points beyond which no wheel reaches from one inner rail to the other, mm.
fn clear_mm(layout: &Layout, toe: TrackEnd, exits: &[TrackEnd]) -> Option<f64> {
    let treads = layout.vehicles.values().map(|vehicle| vehicle.tread_mm);
    let tread_mm = treads.max_by(f64::total_cmp).unwrap_or_else(default_tread_mm);
    apart_by_mm(layout, toe, exits, layout.gauge_mm + tread_mm)
}

/// Distance from the points at which the centre lines of neighbouring roads are one gauge apart, mm: there their inner
/// rails cross. Of three roads, the larger of the two. `None` if they are not before one of the runs ends.
pub fn frog_mm(layout: &Layout, toe: TrackEnd, exits: &[TrackEnd]) -> Option<f64> {
    apart_by_mm(layout, toe, exits, layout.gauge_mm)
}

/// Distance from the points at which the centre lines of neighbouring roads are so far apart, mm. Of three roads, the
/// larger of the two. `None` if they are not before one of the runs ends.
fn apart_by_mm(layout: &Layout, toe: TrackEnd, exits: &[TrackEnd], width_mm: f64) -> Option<f64> {
    let shortest = exits
        .iter()
        .filter_map(|exit| layout.runs.get(&exit.run))
        .map(|run| length_mm(layout, run))
        .fold(f64::INFINITY, f64::min);
    if !(shortest.is_finite() && layout.gauge_mm > 0.0 && width_mm > 0.0) {
        return None;
    }
    let order = left_to_right(layout, toe, exits, shortest);
    let mut farthest: f64 = 0.0;
    for pair in order.windows(2) {
        let (a, b) = (*exits.get(pair[0])?, *exits.get(pair[1])?);
        let apart = |mm: f64| {
            let (a, b) = (away_from(layout, a, mm)?, away_from(layout, b, mm)?);
            Some((a.x_mm - b.x_mm).hypot(a.y_mm - b.y_mm))
        };
        let steps = (shortest / layout.gauge_mm * 4.0).ceil().clamp(8.0, 2000.0);
        let step = shortest / steps;
        let mut at = 0.0;
        while apart(at)? < width_mm {
            at += step;
            if at > shortest * (1.0 + 1e-9) {
                return None;
            }
        }
        let (mut low, mut high) = ((at - step).max(0.0), at);
        for _ in 0..40 {
            let middle = f64::midpoint(low, high);
            if apart(middle)? < width_mm {
                low = middle;
            } else {
                high = middle;
            }
        }
        farthest = farthest.max(high);
    }
    (farthest > 0.0).then(|| tenths(farthest))
}

/// Of run ends that meet, the one that all others continue, and the others, the straightest on first. `None` if every
/// one is turned away from by more than 60°.
pub fn parting(layout: &Layout, ends: &[TrackEnd]) -> Option<(TrackEnd, Vec<TrackEnd>)> {
    let heading = |end: TrackEnd| away_from(layout, end, 0.0).map(|pose| (pose.dx, pose.dy));
    let mut best: Option<(f64, TrackEnd, Vec<TrackEnd>)> = None;
    for &toe in ends {
        let out = heading(toe)?;
        let mut exits: Vec<(f64, TrackEnd)> = Vec::new();
        for &exit in ends.iter().filter(|end| **end != toe) {
            let on = heading(exit)?;
            exits.push((-(out.0 * on.0 + out.1 * on.1), exit));
        }
        exits.sort_by(|a, b| b.0.total_cmp(&a.0));
        let worst = exits.last().map_or(-1.0, |(straight, _)| *straight);
        if worst >= MOST_TURN.cos() && best.as_ref().is_none_or(|(b, ..)| worst > *b + 1e-9) {
            best = Some((worst, toe, exits.into_iter().map(|(_, exit)| exit).collect()));
        }
    }
    best.map(|(_, toe, exits)| (toe, exits))
}

/// How far a road turns over a distance from its end, degrees.
fn turn_deg(layout: &Layout, end: TrackEnd, over_mm: f64) -> f64 {
    let Some(run) = layout.runs.get(&end.run) else { return 0.0 };
    let length = curve(layout, run).length_mm();
    let over = over_mm.min(length);
    let (Some(here), Some(there)) = (away_from(layout, end, 0.0), away_from(layout, end, over))
    else {
        return 0.0;
    };
    let turned = (here.dx * there.dy - here.dy * there.dx)
        .atan2(here.dx * there.dx + here.dy * there.dy)
        .to_degrees();
    // A road that ends sooner goes on as it began.
    let turned = if over > 0.0 { turned * over_mm / over } else { 0.0 };
    if turned.abs() < 1e-6 { 0.0 } else { turned }
}

/// A turnout, curved or not, a wye or a three-way turnout.
///
/// In the middle of a run, or where two runs meet, the track that is there is the through road and the diverging roads
/// are laid; on a curve they turn with it, so that the turnout is a curved one. At an end of track all roads are laid.
///
/// # Errors
/// When the place is not on the run, or there are roads enough at it.
pub fn turnout(layout: &Layout, site: Site, wish: &TurnoutWish) -> Result<Placed, Refused> {
    diverges(wish.turn_deg, wish.length_mm)?;
    let mut draft = Draft::of(layout);
    let (toe, through) = draft.points_at(site)?;
    let (length, turn) = (wish.length_mm, wish.turn_deg);
    let along = match through {
        Some(end) => turn_deg(&draft.layout, end, length),
        None => wish.through_deg,
    };
    let turns: &[f64] = match (wish.parting, through) {
        (Parting::Left, _) => &[turn],
        (Parting::Right, _) => &[-turn],
        (Parting::ThreeWay, _) => &[turn, -turn],
        (Parting::Wye, None) => &[turn / 2.0, -turn / 2.0],
        (Parting::Wye, Some(_)) => {
            return Err(Refused(
                "A wye begins at an end of track, and here the track goes on. Choose a free end of a run, or a turnout \
                 to the left or the right."
                    .into(),
            ));
        }
    };
    let mut exits: Vec<TrackEnd> = through.into_iter().collect();
    if through.is_none() && wish.parting != Parting::Wye {
        exits.push(draft.road(toe, along, length)?);
    }
    for turn in turns {
        exits.push(draft.road(toe, along + turn, length)?);
    }
    draft.turnout(toe, exits, wish.frog, "")?;
    Ok(draft.done())
}

/// Lays runs end to end. Where an end of one meets two run ends that meet already, the three become a turnout; where it meets a
/// turnout of two roads, a three-way turnout. The toe is the end that all others continue.
///
/// # Errors
/// When an end is not there, or none of the run ends that would meet is continued by all others.
pub fn lay(layout: &Layout, from: End, pieces: &[(End, Shape)]) -> Result<Placed, Refused> {
    let mut draft = Draft::of(layout);
    let mut from = from;
    let mut joints = Vec::new();
    for (to, shape) in pieces {
        let run = draft.lay(from, *to, *shape)?;
        let new = draft.run(run)?.clone();
        from = End::At(new.to);
        joints.extend([new.from, new.to]);
    }
    joints.dedup();
    for joint in joints {
        let ends = draft.ends_at(joint);
        if ends.len() < 3 {
            continue;
        }
        let there = draft
            .layout
            .specials
            .values()
            .find(|special| special.work.ends().iter().any(|end| ends.contains(end)))
            .cloned();
        let toe_there = match &there {
            None => None,
            Some(Special { work: Work::Turnout { toe, exits, .. }, .. }) if exits.len() == 2 => {
                Some(*toe)
            }
            // What else there is at the joint has no room for another road: whoever applies this says so.
            Some(_) => continue,
        };
        let found = if ends.len() > 4 { None } else { parting(&draft.layout, &ends) };
        let found = found.filter(|(toe, _)| toe_there.is_none_or(|there| there == *toe));
        let Some((toe, exits)) = found else {
            let runs: Vec<String> = ends.iter().map(|end| end.run.to_string()).collect();
            return Err(Refused(format!(
                "Runs {} would meet at joint {joint}, and none of them is continued by all others within 60°, so that \
                 they make no turnout. Let the new run come in along the track, or end it at a free joint.",
                runs.join(", ")
            )));
        };
        match there {
            None => drop(draft.turnout(toe, exits, Frog::default(), "")?),
            Some(old) => {
                // Roads that were there keep their positions.
                let mut kept: Vec<TrackEnd> = old.work.ends().split_off(1);
                kept.extend(exits.into_iter().filter(|exit| !old.work.ends().contains(exit)));
                let work = draft.turnout_work(toe, kept, old.work.frog().unwrap_or_default());
                let contact = Contact::default();
                draft.edit(Edit::Replace(Entity::Special(Special { work, contact, ..old })))?;
            }
        }
    }
    Ok(draft.done())
}

/// Deletes things, and takes apart the special work that goes with them: tracks that only it held together get joints
/// of their own at the same place. A three-way turnout that loses a road stays a turnout.
///
/// # Errors
/// When the layout has run out of numbers.
pub fn deletion(layout: &Layout, ids: &[EntityId]) -> Result<Edit, Refused> {
    let mut draft = Draft::of(layout);
    let mut gone: Vec<EntityId> = ids.to_vec();
    let run_goes = |run: &Run| {
        [run.id.into(), run.from.into(), run.to.into()].iter().any(|id| ids.contains(id))
    };
    for special in layout.specials.values().filter(|s| s.work.frog().is_some()) {
        let ends = special.work.ends();
        let stays = |end: &TrackEnd| layout.runs.get(&end.run).is_some_and(|run| !run_goes(run));
        let left: Vec<TrackEnd> = ends.iter().copied().filter(stays).collect();
        let itself = ids.contains(&special.id.into());
        if left.len() == ends.len() && !itself {
            continue;
        }
        if let Work::Turnout { toe, exits, frog, .. } = &special.work
            && !itself
            && left.len() == 3
            && stays(toe)
        {
            let kept: Vec<TrackEnd> = exits.iter().copied().filter(stays).collect();
            let position = exits
                .get(special.position as usize)
                .and_then(|set| kept.iter().position(|exit| exit == set))
                .unwrap_or(0) as u32;
            let work = draft.turnout_work(*toe, kept, *frog);
            let contact = Contact::default();
            let new = Special { work, position, contact, ..special.clone() };
            draft.edit(Edit::Replace(Entity::Special(new)))?;
            continue;
        }
        if !itself {
            gone.push(special.id.into());
        }
        if left.len() > 2 {
            let apart: Vec<Vec<TrackEnd>> = match &special.work {
                // Toe and first road stay together.
                Work::Turnout { .. } => left.iter().skip(2).map(|&end| vec![end]).collect(),
                Work::Diamond { roads, .. } | Work::Slip { roads, .. } => {
                    let whole = |road: &[TrackEnd; 2]| road.iter().all(stays);
                    let other = if whole(&roads[0]) { roads[1] } else { roads[0] };
                    vec![other.into_iter().filter(stays).collect()]
                }
                _ => Vec::new(),
            };
            for ends in apart {
                detach(&mut draft, &ends)?;
            }
        }
    }
    // Together, so that nothing takes away what is to go anyhow.
    draft.edit(Edit::Delete(gone))?;
    Ok(match <[Edit; 1]>::try_from(draft.edits) {
        Ok([only]) => only,
        Err(edits) => Edit::Batch(edits),
    })
}

/// Gives run ends a joint of their own where they are.
fn detach(draft: &mut Draft, ends: &[TrackEnd]) -> Result<(), Refused> {
    let Some(old) = ends.first().and_then(|&end| joint_of(&draft.layout, end)) else {
        return Ok(());
    };
    let Some(there) = draft.layout.joints.get(&old).cloned() else { return Ok(()) };
    let joint = JointId(draft.layout.next_id);
    draft.edit(Edit::Add(Entity::Joint(Joint { id: joint, ..there })))?;
    for end in ends {
        let run = draft.run(end.run)?.clone();
        let run = match end.end {
            RunEnd::Start => Run { from: joint, ..run },
            RunEnd::End => Run { to: joint, ..run },
        };
        draft.edit(Edit::Replace(Entity::Run(run)))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests;
