//! What laying would do at the pointer, and how it is drawn.

use eframe::egui::{Painter, Pos2, Shape as Drawn, Stroke};

use super::How;
use crate::app::App;
use crate::app::camera::World;
use crate::app::canvas::{end_place, snap};
use crate::app::marks::dashed;
use crate::app::paint::Scene;
use crate::findings::Verdict;
use crate::layout::geometry::{Curve, curve};
use crate::layout::{Joint, JointId, Layout, Run, RunId, Shape};
use crate::report::Units;

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
        Some(crate::app::canvas::Drag::Line(line)) => line.clone(),
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

    pub(super) fn ghost_line(&self, painter: &Painter, points: &[Pos2], tight: bool) {
        match tight {
            true => {
                let colour = self.tokens.verdict(Verdict::Short);
                dashed(painter, points, Stroke::new(3.0, colour), &[4.0, 4.0]);
            }
            false => dashed(painter, points, Stroke::new(3.0, self.tokens.accent), &[]),
        }
    }
}
