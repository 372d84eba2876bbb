//! Laying track: smoothly on from an end, with a bend, through three points, or drawn by hand; or on by typed lengths.

use eframe::egui::{Painter, Pos2, Shape as Drawn, Stroke, Ui};

use super::App;
use super::bulk::runs_of;
use super::camera::World;
use super::canvas::{end_place, snap};
use super::form::{ANY, DEGREE, FROM_ZERO, Form, MM};
use super::marks::dashed;
use super::paint::Scene;
use super::theme::{SPACE, heading, small};
use super::tools::action;
use crate::findings::Verdict;
use crate::layout::edit::End;
use crate::layout::geometry::{Curve, Pose, curve, tenths, thousandths};
use crate::layout::laying::{
    bend_onwards, bend_through, bent, end_of_arc, fitted, onwards, pulled, smooth,
};
use crate::layout::{Joint, JointId, Layout, Run, RunId, Shape, place};
use crate::report::Units;

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
        (self.from, self.through) = (None, None);
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

/// The centre line of a run that is not laid yet.
fn ghost(from: World, to: World, shape: Shape) -> Curve {
    let mut layout = Layout::default();
    for (n, (x_mm, y_mm)) in [(1, from), (2, to)] {
        let joint = Joint { id: JointId(n), x_mm, y_mm, joiners: Default::default() };
        layout.joints.insert(joint.id, joint);
    }
    let (from, to) = (JointId(1), JointId(2));
    curve(&layout, &Run { id: RunId(3), from, to, shape, length_mm: None })
}

/// What laying would do now.
#[derive(Debug, Clone)]
pub struct Ghost {
    /// Where it starts, if it is begun.
    from: Option<World>,
    /// Where the pointer would put an end.
    to: World,
    /// The point between.
    through: Option<World>,
    /// The run, or why there would be none.
    run: Option<Result<Curve, String>>,
    /// A line that is being drawn by hand.
    line: Vec<World>,
    /// Tighter than this is told, mm.
    least_radius_mm: f64,
}

/// What laying would do at the pointer.
pub fn ghost_at(app: &App, at: Pos2, shift: bool) -> Ghost {
    let layout = app.doc.layout();
    let lay = &app.tools.lay;
    let (end, to) = snap(app, at, shift);
    let from = lay.from.and_then(|end| end_place(layout, end));
    let waits = lay.how == How::Through && lay.through.is_none();
    let run = match (lay.from, from) {
        (_, Some(from)) if from == to => None,
        (Some(start), Some(from)) if !waits => {
            Some(lay.shape(layout, start, end, shift).map(|shape| ghost(from, to, shape)))
        }
        (Some(_), Some(from)) => Some(Ok(ghost(from, to, Shape::Straight))),
        _ => None,
    };
    let line = match &app.drag {
        Some(super::canvas::Drag::Line(line)) => line.clone(),
        _ => Vec::new(),
    };
    let least_radius_mm = lay.least_radius_mm(layout);
    Ghost { from, to, through: lay.through, run, line, least_radius_mm }
}

/// Length, radius and turn of a run in words, and whether it is tighter than wanted.
pub fn measures(curve: &Curve, least_radius_mm: f64, units: Units) -> (String, bool) {
    let length = units.length(curve.drawn_mm());
    let Some((radius_mm, left)) = curve.least_radius_mm().filter(|(radius, _)| *radius < 1e5)
    else {
        return (length, false);
    };
    let (start, end) = (curve.at(0.0), curve.at(curve.length_mm()));
    let turn = (start.dx * end.dy - start.dy * end.dx).atan2(start.dx * end.dx + start.dy * end.dy);
    // Of arcs of more than half a circle the directions alone do not say how far they turn.
    let turn_deg = match curve.drawn_mm() / radius_mm {
        along if along > std::f64::consts::PI => along.to_degrees(),
        _ => turn.to_degrees().abs(),
    };
    let side = if left { "left" } else { "right" };
    let mut words = format!("{length}, radius {}, {turn_deg:.1}° {side}", units.length(radius_mm));
    let tight = radius_mm < least_radius_mm - 0.5;
    if tight {
        words.push_str(&format!(": tighter than {}", units.length(least_radius_mm)));
    }
    (words, tight)
}

impl Scene<'_> {
    /// Draws what laying would do.
    pub fn lay_preview(&self, ghost: &Ghost) {
        let accent = self.tokens.accent;
        let end = self.screen(ghost.to);
        self.painter.circle_stroke(end, 6.0, Stroke::new(2.0, accent));
        for at in ghost.from.iter().chain(&ghost.through) {
            self.painter.circle_filled(self.screen(*at), 4.0, accent);
        }
        if ghost.line.len() > 1 {
            let points: Vec<Pos2> = ghost.line.iter().map(|at| self.screen(*at)).collect();
            self.painter.add(Drawn::line(points, Stroke::new(3.0, accent)));
        }
        match &ghost.run {
            Some(Ok(curve)) => {
                let (words, tight) =
                    measures(curve, ghost.least_radius_mm, self.places.camera.units);
                let points = self.outline(curve, 0.0, curve.length_mm(), 0.0);
                self.ghost_line(&self.painter, &points, tight);
                self.caption(end, &words);
            }
            Some(Err(why)) => self.caption(end, why),
            None => {}
        }
    }

    fn ghost_line(&self, painter: &Painter, points: &[Pos2], tight: bool) {
        match tight {
            true => {
                let colour = self.tokens.verdict(Verdict::Short);
                dashed(painter, points, Stroke::new(3.0, colour), &[4.0, 4.0]);
            }
            false => dashed(painter, points, Stroke::new(3.0, self.tokens.accent), &[]),
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

/// The options of the tool.
pub fn lay_ui(ui: &mut Ui, app: &mut App) {
    super::tools::snap_ui(ui, app);
    let mut lay = app.tools.lay.clone();
    let mut form = Form::new(ui, "Lay").label_width(58.0);
    let hows = [
        (How::Onwards, "On from ends".to_owned()),
        (How::Bend, "With a bend".to_owned()),
        (How::Through, "Three points".to_owned()),
        (How::ByHand, "By hand".to_owned()),
    ];
    form.choice("How", &mut lay.how, &hows);
    let help = match lay.how {
        How::Onwards => {
            "From an end of track it goes on in its direction, in an arc to where you click, and smoothly into another \
             end. Elsewhere it is straight."
        }
        How::Bend => "Every run turns by this much between its ends.",
        How::Through => "Click the start, a place on the way, and the end.",
        How::ByHand => "Hold the button and draw. It becomes smooth curves.",
    };
    form.hint(help);
    if lay.how == How::Bend {
        form.number("Bend", &mut lay.bend_deg, DEGREE, -359.0..=359.0).on_hover_text(
            "How far the run turns between its ends; left is positive, 0 is straight",
        );
    }
    let usual = Lay { least_radius_mm: None, ..lay.clone() }.least_radius_mm(app.doc.layout());
    let mut least = lay.least_radius_mm(app.doc.layout());
    form.number("Tightest", &mut least, MM, FROM_ZERO)
        .on_hover_text("Curves of a smaller radius are marked while they are drawn");
    lay.least_radius_mm = (least != usual).then_some(least);
    ui.add_space(SPACE);
    ui.label(heading("On from the end"));
    let mut form = Form::new(ui, "Lay on").label_width(58.0);
    let ways = [
        (Turning::Straight, "Straight".to_owned()),
        (Turning::Left, "Curve left".to_owned()),
        (Turning::Right, "Curve right".to_owned()),
    ];
    form.choice("Way", &mut lay.turning, &ways);
    match lay.turning {
        Turning::Straight => {
            form.number("Length", &mut lay.length_mm, MM, 1.0..=1e6);
        }
        Turning::Left | Turning::Right => {
            form.number("Radius", &mut lay.radius_mm, MM, 1.0..=1e6);
            form.number("Angle", &mut lay.angle_deg, DEGREE, 0.1..=359.0);
        }
    }
    app.tools.lay = lay;
    if action(ui, "Lay it on", true) {
        app.lay_on();
    }
    ui.label(small(ui, "Enter on the plan does the same."));
    ui.add_space(SPACE);
    by_numbers_ui(ui, app);
}

fn by_numbers_ui(ui: &mut Ui, app: &mut App) {
    let mut lay = app.tools.lay.clone();
    ui.label(heading("By numbers"));
    let joints: Vec<(Option<JointId>, String)> = std::iter::once((None, "a new joint".to_owned()))
        .chain(
            app.doc
                .layout()
                .joints
                .values()
                .map(|j| (Some(j.id), format!("{} ({:.0}, {:.0})", j.id, j.x_mm, j.y_mm))),
        )
        .collect();
    for (what, end) in [("From", &mut lay.start), ("To", &mut lay.end)] {
        let mut form = Form::new(ui, format!("Lay {}", what.to_lowercase())).label_width(58.0);
        form.choice(what, &mut end.joint, &joints);
        if end.joint.is_none() {
            form.number("x", &mut end.x_mm, MM, ANY);
            form.number("y", &mut end.y_mm, MM, ANY);
        }
    }
    app.tools.lay = lay;
    if !action(ui, "Lay this run", true) {
        return;
    }
    let (start, end) = (app.tools.lay.start.end(), app.tools.lay.end.end());
    let how = Lay { through: None, ..app.tools.lay.clone() };
    if let Some(joint) = app.lay_shaped(&how, start, end, false) {
        // The next run goes on from here, as far again.
        let lay = &mut app.tools.lay;
        let from = app.doc.layout().joints.get(&joint).map_or((0.0, 0.0), |j| (j.x_mm, j.y_mm));
        lay.start.joint = Some(joint);
        lay.end = TypedEnd { joint: None, x_mm: from.0 + 1000.0, y_mm: from.1 };
        app.fit_if_out_of_sight();
    }
}
