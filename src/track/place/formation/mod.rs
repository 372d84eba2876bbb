//! Formations: several turnouts and the runs between them, placed as one on track that is there, or on from a free end.
//!
//! They lie on plain track of one run. No rail is cut and nothing is fed: [`Placed::needs`] says in words what a
//! formation needs before it can be run over.

mod reversing;
mod siding;
mod twin;
mod yard;

use std::collections::{BTreeMap, BTreeSet};

use super::crossings::where_they_cross;
use super::draft::{Draft, Placed};
use super::turnouts::{Site, end_of_road};
use crate::layout::edit::{End, Refused};
use crate::layout::model::{Frog, Layout, Rail, Run, RunEnd, RunId, Shape, TrackEnd, Work};
use crate::track::curve::{Curve, Pose, curve, drawn_length_mm, end_at, length_mm};
use crate::track::laying::free_ends;
use crate::track::plane::thousandths;
use crate::track::roads::away_from;
use crate::units::Point;

pub use reversing::{LoopWish, loop_length_mm, reversing_loop, usual_radii_mm};
pub use siding::{SidingWish, siding, siding_length_mm};
pub use twin::twin_crossover;
pub use yard::{MOST_TRACKS, YardWish, yard};

/// What the turnouts of a formation are like, and how far its tracks lie apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Throat {
    /// The side of the track that is there on which the new track lies, seen the way the formation goes.
    pub hand: Rail,
    /// Frogs.
    pub frog: Frog,
    /// How far the track turns away from the one that is there before it is parallel again, degrees.
    pub turn_deg: f64,
    /// Distance between centre lines, mm.
    pub centres_mm: f64,
}

impl Throat {
    /// The sign of its hand: left is positive.
    fn side(&self) -> f64 {
        if self.hand == Rail::Left { 1.0 } else { -1.0 }
    }

    /// Length along the track over which a lead reaches a track beside it by two equal curves, one each way, mm.
    fn lead_mm(&self) -> f64 {
        self.centres_mm / (self.turn_deg.to_radians() / 2.0).tan()
    }

    /// Refuses sizes of which no track can be laid at the layout's gauge.
    fn sound(&self, layout: &Layout) -> Result<(), Refused> {
        if !(self.turn_deg >= 2.0 && self.turn_deg <= 45.0) {
            return Err(Refused(format!(
                "The roads turn by {:.1}°. Choose a turn of 2° to 45°.",
                self.turn_deg
            )));
        }
        let least_mm = 2.0 * layout.gauge_mm;
        if !(self.centres_mm >= least_mm && self.centres_mm < 1e5) {
            return Err(Refused(format!(
                "Centre lines {:.0} mm apart leave no room for the frogs. Choose {least_mm:.0} mm or more.",
                self.centres_mm
            )));
        }
        Ok(())
    }
}

/// A straight line on the plan, read from a place onwards.
#[derive(Debug, Clone, Copy)]
struct Axis {
    from: Pose,
    side: f64,
}

impl Axis {
    /// The point so far along the line, and so far aside of it on the formation's hand, mm.
    fn point(&self, along_mm: f64, aside_mm: f64) -> Point {
        let ahead = Pose {
            x_mm: self.from.x_mm + along_mm * self.from.dx,
            y_mm: self.from.y_mm + along_mm * self.from.dy,
            ..self.from
        };
        let (x, y) = ahead.left_by(self.side * aside_mm);
        (thousandths(x), thousandths(y))
    }

    /// How far along the line a point lies, and how far aside of it on the formation's hand, mm.
    fn offsets(&self, at: &Pose) -> (f64, f64) {
        let (x, y) = (at.x_mm - self.from.x_mm, at.y_mm - self.from.y_mm);
        (x * self.from.dx + y * self.from.dy, self.side * (y * self.from.dx - x * self.from.dy))
    }
}

/// The place of a site, with the direction in which the formation goes on from there.
fn onwards(line: &Curve, site: Site, far_mm: f64) -> Pose {
    match site.towards {
        RunEnd::End => line.at(site.at_mm + far_mm),
        RunEnd::Start => {
            let pose = line.at(site.at_mm - far_mm);
            Pose { dx: -pose.dx, dy: -pose.dy, ..pose }
        }
    }
}

/// Points of a formation: the end from which one comes, and the road that goes straight on.
#[derive(Debug, Clone, Copy)]
struct Points {
    toe: TrackEnd,
    through: TrackEnd,
}

/// Two points on one run, and the piece of it between them.
struct Gate {
    first: Points,
    second: Points,
    between: RunId,
}

impl Draft {
    /// The site of a formation on a run that goes on for `long_mm` from there. At a free end of track that much is laid
    /// straight on, and `beyond_mm` more.
    fn room(
        &mut self,
        site: Site,
        long_mm: f64,
        beyond_mm: f64,
        what: &str,
    ) -> Result<Site, Refused> {
        if !(long_mm > 0.0 && long_mm < 1e6) {
            return Err(Refused(format!("A {what} of this size has no sensible length.")));
        }
        let length = length_mm(&self.layout, self.run(site.run)?);
        let mut site = site;
        if let Some(end) = end_at(length, site.at_mm) {
            let own = TrackEnd { run: site.run, end };
            if free_ends(&self.layout).contains(&own) {
                return self.straight_on(own, long_mm + beyond_mm);
            }
            let joint = self.joint(own)?;
            let mut others = self.ends_at(joint);
            others.retain(|other| *other != own);
            let [other] = others[..] else {
                return Err(Refused(format!(
                    "Joint {joint} has special work already. Choose a place beside it."
                )));
            };
            if site.towards == end {
                let long = length_mm(&self.layout, self.run(other.run)?);
                let at_mm = if other.end == RunEnd::Start { 0.0 } else { long };
                site = Site { run: other.run, at_mm, towards: other.end.other() };
            }
        }
        let length = length_mm(&self.layout, self.run(site.run)?);
        let there = match site.towards {
            RunEnd::End => length - site.at_mm,
            RunEnd::Start => site.at_mm,
        };
        if there + 1e-6 < long_mm {
            let end = if site.towards == RunEnd::End { "end" } else { "start" };
            return Err(Refused(format!(
                "The {what} needs {long_mm:.0} mm of track, and run {} has {there:.0} mm from here to its {end}. \
                 Choose a place farther back, a shorter {what}, or join the runs first.",
                site.run
            )));
        }
        Ok(site)
    }

    /// Lays a straight run on from a free end.
    fn straight_on(&mut self, own: TrackEnd, long_mm: f64) -> Result<Site, Refused> {
        let back = away_from(&self.layout, own, 0.0)
            .ok_or_else(|| Refused("The run is not there any more.".into()))?;
        let joint = self.joint(own)?;
        let to = end_of_road((back.x_mm, back.y_mm), (-back.dx, -back.dy), 0.0, long_mm);
        let run = self.lay(End::At(joint), End::New(to.0, to.1), Shape::Straight)?;
        Ok(Site { run, at_mm: 0.0, towards: RunEnd::End })
    }

    /// Points at a site, with a road that goes straight on.
    fn points_of(&mut self, site: Site, what: &str) -> Result<Points, Refused> {
        match self.points_at(site)? {
            (toe, Some(through)) => Ok(Points { toe, through }),
            _ => Err(Refused(format!(
                "The {what} leaves no track beyond its last points. Choose a place farther back, or a shorter {what}."
            ))),
        }
    }

    /// Points at a site and, `far_mm` on along the same run, points that face the way `second` says: onwards, or back.
    fn gate(
        &mut self,
        site: Site,
        far_mm: f64,
        onwards: bool,
        what: &str,
    ) -> Result<Gate, Refused> {
        let mut first = self.points_of(site, what)?;
        let run = first.through.run;
        let length = length_mm(&self.layout, self.run(run)?);
        let forward = first.through.end == RunEnd::Start;
        let at_mm = if forward { far_mm.min(length) } else { (length - far_mm).max(0.0) };
        let ahead = if forward { RunEnd::End } else { RunEnd::Start };
        let towards = if onwards { ahead } else { ahead.other() };
        let second = self.points_of(Site { run, at_mm, towards }, what)?;
        let between = if onwards { second.toe } else { second.through };
        // Splitting may have given the piece between another number.
        first.through = TrackEnd { run: between.run, end: between.end.other() };
        Ok(Gate { first, second, between: between.run })
    }

    /// Lays a lead: out of points straight on, aside, and straight into an end of track.
    fn lead(&mut self, toe: TrackEnd, to: TrackEnd, long_mm: f64) -> Result<TrackEnd, Refused> {
        let gone = || Refused("The run is not there any more.".into());
        let back = away_from(&self.layout, toe, 0.0).ok_or_else(gone)?;
        let on = away_from(&self.layout, to, 0.0).ok_or_else(gone)?;
        let arm = LEAD_ARM * long_mm;
        let shape = Shape::Cubic {
            c1: (thousandths(back.x_mm - back.dx * arm), thousandths(back.y_mm - back.dy * arm)),
            c2: (thousandths(on.x_mm - on.dx * arm), thousandths(on.y_mm - on.dy * arm)),
        };
        let (from, to) = (self.joint(toe)?, self.joint(to)?);
        let run = self.lay(End::At(from), End::At(to), shape)?;
        Ok(TrackEnd { run, end: RunEnd::Start })
    }

    /// What placing comes to, if the frogs have room and the new track crosses no other.
    fn fitted(self, before: &Layout, needs: String) -> Result<Placed, Refused> {
        frogs_have_room(&self)?;
        crosses_nothing(&self, before)?;
        Ok(Placed { needs: Some(needs), ..self.done() })
    }
}

/// Share of a lead's length at which its control points lie: the tightest radius is then about that of two equal arcs.
pub(super) const LEAD_ARM: f64 = 0.42;

/// Refuses special work whose frogs do not fit on their runs.
pub(super) fn frogs_have_room(draft: &Draft) -> Result<(), Refused> {
    let mut reach: BTreeMap<RunId, f64> = BTreeMap::new();
    for special in draft.layout.specials.values() {
        for end in special.work.ends() {
            let is_toe = matches!(&special.work, Work::Turnout { toe, .. } if *toe == end);
            let wanted = if is_toe { 0.0 } else { special.work.reach_mm() };
            *reach.entry(end.run).or_default() += wanted;
        }
    }
    let new = draft.specials.iter().filter_map(|id| draft.layout.specials.get(id));
    let runs: BTreeSet<RunId> = new.flat_map(|s| s.work.ends()).map(|end| end.run).collect();
    for run in runs {
        let long = length_mm(&draft.layout, draft.run(run)?);
        let wanted = reach.get(&run).copied().unwrap_or_default();
        if wanted > long {
            return Err(Refused(format!(
                "The frogs on one piece of track need {wanted:.0} mm, and it is {long:.0} mm long. Choose a place \
                 farther from other special work, centre lines farther apart, or a smaller turn."
            )));
        }
    }
    Ok(())
}

/// A run with its centre line, and two corners of a box around that, mm.
struct Line<'a> {
    run: &'a Run,
    curve: Curve,
    low: Point,
    high: Point,
}

impl<'a> Line<'a> {
    fn of(layout: &Layout, run: &'a Run) -> Self {
        let curve = curve(layout, run);
        let (mut low, mut high) =
            ((f64::INFINITY, f64::INFINITY), (-f64::INFINITY, -f64::INFINITY));
        for pose in curve.outline(0.0, curve.length_mm(), 1.0) {
            low = (low.0.min(pose.x_mm - 1.0), low.1.min(pose.y_mm - 1.0));
            high = (high.0.max(pose.x_mm + 1.0), high.1.max(pose.y_mm + 1.0));
        }
        Self { run, curve, low, high }
    }

    /// True if a run may come near: no place of a run is farther from its start than the run is long.
    fn may_meet(&self, layout: &Layout, run: &Run) -> bool {
        let Some(start) = layout.joints.get(&run.from) else { return false };
        let reach = drawn_length_mm(layout, run);
        start.x_mm + reach > self.low.0
            && start.x_mm - reach < self.high.0
            && start.y_mm + reach > self.low.1
            && start.y_mm - reach < self.high.1
    }

    /// True if it crosses another run that it meets at no joint.
    fn crosses(&self, other: &Line) -> bool {
        let apart = self.low.0 > other.high.0
            || other.low.0 > self.high.0
            || self.low.1 > other.high.1
            || other.low.1 > self.high.1;
        let joints = [other.run.from, other.run.to];
        let meet = joints.contains(&self.run.from) || joints.contains(&self.run.to);
        !apart && !meet && where_they_cross(&self.curve, &other.curve, 0.0).is_some()
    }
}

/// Refuses new track that crosses track that is there.
fn crosses_nothing(draft: &Draft, before: &Layout) -> Result<(), Refused> {
    let layout = &draft.layout;
    let laid: BTreeSet<RunId> = draft.laid.iter().copied().collect();
    let new: Vec<Line> =
        laid.iter().filter_map(|id| layout.runs.get(id)).map(|run| Line::of(layout, run)).collect();
    for run in layout.runs.values().filter(|run| !laid.contains(&run.id)) {
        if !new.iter().any(|line| line.may_meet(layout, run)) {
            continue;
        }
        let old = Line::of(layout, run);
        if new.iter().any(|line| line.crosses(&old)) {
            // A number that only the draft has given says nothing to anybody.
            let which = match before.runs.contains_key(&run.id) {
                true => format!("run {}", run.id),
                false => "the track that it stands on".to_owned(),
            };
            return Err(Refused(format!(
                "The new track would cross {which}. Choose another place, the other hand, or smaller sizes."
            )));
        }
    }
    Ok(())
}
