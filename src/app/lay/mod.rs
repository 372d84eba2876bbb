//! Laying track: smoothly on from an end, with a bend, through three points, or drawn by hand; or on by typed lengths.

mod form;
mod ghost;

use super::App;
use super::bulk::runs_of;
use super::camera::World;
use super::canvas::{end_place, snap};
use crate::layout::edit::End;
use crate::layout::geometry::{Pose, tenths, thousandths};
use crate::layout::laying::{
    bend_onwards, bend_through, bent, end_of_arc, fitted, onwards, pulled, smooth,
};
use crate::layout::{JointId, Layout, Shape, place};

pub use form::lay_ui;
pub use ghost::{Ghost, ghost_at, measures};

/// The tightest radius that a plan should have, mm at full size: 360 mm at 1:87 (common practice, no source).
const LEAST_RADIUS_FULL_SIZE_MM: f64 = 31_300.0;

/// An arc that comes into an end of track within this angle is in line with it, degrees.
const IN_LINE_DEG: f64 = 0.5;

/// What clicks make.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum How {
    /// From an end of track, on in its direction.
    #[default]
    Onwards,
    /// With a bend that is typed.
    Bend,
    /// Start, a point in between, end.
    Through,
    /// Drawn with the button held.
    ByHand,
}

/// An end of a run in the form.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TypedEnd {
    /// An existing joint, or none for a new one.
    pub joint: Option<JointId>,
    /// Place of a new one, mm.
    pub x_mm: f64,
    /// Place of a new one, mm.
    pub y_mm: f64,
}

impl TypedEnd {
    fn end(&self) -> End {
        match self.joint {
            Some(joint) => End::At(joint),
            None => End::New(self.x_mm, self.y_mm),
        }
    }
}

/// How track goes on that is typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Turning {
    Straight,
    Left,
    Right,
}

/// State of the tool that lays runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Lay {
    /// Where the run that is being drawn starts.
    pub from: Option<End>,
    /// The point between, mm, once it is given.
    through: Option<World>,
    /// Whether it starts where the last run that was laid ends, so that nothing was clicked for it yet.
    chained: bool,
    /// What clicks make.
    pub how: How,
    /// Bend of the run, degrees; 0 is straight.
    bend_deg: f64,
    /// Typed start.
    pub start: TypedEnd,
    /// Typed end.
    pub end: TypedEnd,
    turning: Turning,
    length_mm: f64,
    radius_mm: f64,
    angle_deg: f64,
    /// The tightest radius that is wanted, mm; `None`: that of the layout's scale.
    least_radius_mm: Option<f64>,
}

impl Default for Lay {
    fn default() -> Self {
        let end = |x_mm| TypedEnd { joint: None, x_mm, y_mm: 0.0 };
        Self {
            from: None,
            through: None,
            chained: false,
            how: How::default(),
            bend_deg: 0.0,
            start: end(0.0),
            end: end(1000.0),
            turning: Turning::Straight,
            length_mm: 500.0,
            radius_mm: 600.0,
            angle_deg: 30.0,
            least_radius_mm: None,
        }
    }
}

impl Lay {
    /// Whether something is begun.
    pub fn begun(&self) -> bool {
        self.from.is_some() || self.through.is_some()
    }

    /// Ends what is begun.
    pub fn end(&mut self) {
        (self.from, self.through, self.chained) = (None, None, false);
    }

    /// What is given up if the run that is begun is not laid, in words; empty if nothing was clicked for it.
    pub fn gives_up(&self) -> &'static str {
        if self.chained && self.through.is_none() {
            ""
        } else {
            "The run that was begun was given up; nothing was laid for it."
        }
    }

    /// Forgets joints that are gone.
    pub fn forget_what_is_gone(&mut self, layout: &Layout) {
        let here = |id: &JointId| layout.joints.contains_key(id);
        if matches!(self.from, Some(End::At(joint)) if !here(&joint)) {
            self.end();
        }
        for end in [&mut self.start, &mut self.end] {
            end.joint = end.joint.filter(here);
        }
    }

    /// The tightest radius that is wanted, mm.
    pub fn least_radius_mm(&self, layout: &Layout) -> f64 {
        let usual = (LEAST_RADIUS_FULL_SIZE_MM / layout.scale / 10.0).round() * 10.0;
        let usual = if usual.is_finite() { usual } else { 0.0 };
        self.least_radius_mm.unwrap_or(usual)
    }

    /// The shape of a run that clicks lay, or why there is none.
    fn shape(&self, layout: &Layout, from: End, to: End, straight: bool) -> Result<Shape, String> {
        let (Some(a), Some(b)) = (end_place(layout, from), end_place(layout, to)) else {
            return Err("The joint is not there any more.".into());
        };
        match self.how {
            How::Bend => Ok(bent(self.bend_deg)),
            How::Through => match self.through {
                Some(through) => bend_through(a, through, b)
                    .map(bent)
                    .ok_or_else(|| "The three points are not three places.".into()),
                None => Ok(Shape::Straight),
            },
            How::Onwards | How::ByHand if straight => Ok(Shape::Straight),
            How::Onwards | How::ByHand => shape_onwards(layout, (from, a), (to, b)),
        }
    }
}

/// The shape of a run that leaves an open end in its direction and comes into another one in that one's.
fn shape_onwards(layout: &Layout, from: (End, World), to: (End, World)) -> Result<Shape, String> {
    let direction = |end: End| match end {
        End::At(joint) => onwards(layout, joint),
        End::New(..) => None,
    };
    let back = || "Track cannot go straight back from its end.".to_owned();
    match (direction(from.0), direction(to.0)) {
        (None, None) => Ok(Shape::Straight),
        (Some(out), None) => bend_onwards(out, to.1).map(bent).ok_or_else(back),
        (None, Some(out)) => bend_onwards(out, from.1).map(|bend| bent(-bend)).ok_or_else(back),
        (Some(out), Some(facing)) => {
            let into = Pose { dx: -facing.dx, dy: -facing.dy, ..facing };
            let arrives = bend_onwards(out, to.1).filter(|bend| {
                let (sine, cosine) = bend.to_radians().sin_cos();
                let at = (out.dx * cosine - out.dy * sine, out.dx * sine + out.dy * cosine);
                let off = (at.0 * into.dy - at.1 * into.dx).atan2(at.0 * into.dx + at.1 * into.dy);
                off.to_degrees().abs() < IN_LINE_DEG
            });
            Ok(arrives.map_or_else(|| smooth(out, into), bent))
        }
    }
}

impl App {
    /// A click of the tool; `straight` with Shift.
    pub fn lay_click(&mut self, end: End, straight: bool, double: bool) {
        let Some(from) = self.tools.lay.from else {
            self.tools.lay.from = Some(end);
            return;
        };
        if from == end || double {
            self.tools.lay.end();
            return;
        }
        let lay = &mut self.tools.lay;
        if lay.how == How::Through && lay.through.is_none() {
            lay.through = end_place(self.doc.layout(), end);
            return;
        }
        let lay = self.tools.lay.clone();
        self.lay_shaped(&lay, from, end, straight);
    }

    /// Lays a run in the shape that the tool gives it, or tells why there is none. Returns the joint at its end.
    fn lay_shaped(&mut self, lay: &Lay, from: End, to: End, straight: bool) -> Option<JointId> {
        match lay.shape(self.doc.layout(), from, to, straight) {
            Ok(shape) => self.lay(from, to, shape),
            Err(why) => {
                self.tell_bad(format!("Could not lay a run: {why}"));
                None
            }
        }
    }

    /// Lays a run and goes on from its end. Returns the joint there.
    pub fn lay(&mut self, from: End, to: End, shape: Shape) -> Option<JointId> {
        self.lay_all(from, &[(to, shape)])
    }

    fn lay_all(&mut self, from: End, pieces: &[(End, Shape)]) -> Option<JointId> {
        let placed = place::lay(self.doc.layout(), from, pieces);
        let turnouts = placed.as_ref().is_ok_and(|placed| !placed.specials.is_empty());
        let made = self.do_placed("lay a run", placed)?;
        if turnouts {
            self.tell("A third run end makes a turnout: its particulars are under Selected.");
        }
        let run = runs_of(&made).next_back()?;
        self.tools.cut.run = Some(run);
        self.tools.feed.run = Some(run);
        self.tools.special.run = Some(run);
        let joint = self.doc.layout().runs.get(&run).map(|r| r.to)?;
        self.tools.lay.from = Some(End::At(joint));
        self.tools.lay.through = None;
        self.tools.lay.chained = true;
        Some(joint)
    }

    /// Lays the line that was drawn by hand, from and to ends of track where it begins or stops at one.
    pub fn lay_line(&mut self, line: &[World]) {
        let (Some(first), Some(last)) = (line.first(), line.last()) else { return };
        // A hand goes to ends of track, but not to the grid: that would put a kink into the line.
        let ends = [first, last].map(|at| {
            match snap(self, self.camera.to_screen(self.canvas, *at), false) {
                (End::At(joint), place) => (End::At(joint), place),
                (End::New(..), _) => {
                    let at = (tenths(at.0), tenths(at.1));
                    (End::New(at.0, at.1), at)
                }
            }
        });
        let [(from, a), (to, b)] = ends;
        let layout = self.doc.layout();
        let out = |end: End| match end {
            End::At(joint) => onwards(layout, joint).map(|pose| (pose.dx, pose.dy)),
            End::New(..) => None,
        };
        let line = pulled(line, a, b);
        let into = out(to).map(|(dx, dy)| (-dx, -dy));
        // As smooth as a hand is on the screen.
        let tolerance_mm = 4.0 / self.camera.scale;
        let curves = fitted(&line, out(from), into, tolerance_mm);
        let count = curves.len();
        let pieces: Vec<(End, Shape)> = curves
            .iter()
            .enumerate()
            .map(|(k, [_, c1, c2, p])| {
                let end = if k + 1 == count { to } else { End::New(p.0, p.1) };
                (end, Shape::Cubic { c1: *c1, c2: *c2 })
            })
            .collect();
        if !pieces.is_empty() {
            self.lay_all(from, &pieces);
            self.tools.lay.end();
        }
    }

    /// Lays on from an end as typed: a straight, or an arc of a radius and an angle.
    pub fn lay_on(&mut self) {
        let layout = self.doc.layout();
        let begun = match self.tools.lay.from {
            Some(End::At(joint)) => Some(joint),
            _ => None,
        };
        let found = begun
            .or(self.selected_joint())
            .and_then(|joint| Some((joint, onwards(layout, joint)?)));
        let Some((joint, out)) = found else {
            self.tell("Choose the end of track to go on from: click it with this tool, or select its joint.");
            return;
        };
        let lay = &self.tools.lay;
        let side = if lay.turning == Turning::Left { 1.0 } else { -1.0 };
        let (to, shape) = match lay.turning {
            Turning::Straight => {
                let length = lay.length_mm;
                ((out.x_mm + out.dx * length, out.y_mm + out.dy * length), Shape::Straight)
            }
            Turning::Left | Turning::Right => {
                let turn_deg = side * lay.angle_deg;
                (end_of_arc(out, lay.radius_mm, turn_deg), bent(turn_deg))
            }
        };
        let to = (thousandths(to.0), thousandths(to.1));
        // Where track is already, the two meet.
        let near = layout.joints.values().find(|j| (j.x_mm - to.0).hypot(j.y_mm - to.1) < 0.5);
        let end = near.map_or(End::New(to.0, to.1), |joint| End::At(joint.id));
        if self.lay(End::At(joint), end, shape).is_some() {
            self.fit_if_out_of_sight();
        }
    }
}
