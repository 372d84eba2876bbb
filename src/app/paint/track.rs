//! Track: from afar one line per run in its block's colour and dash, near by two rails with their polarity.

use eframe::egui::{Color32, Pos2, Shape, Stroke};

use super::Scene;
use crate::app::labels::Level;
use crate::app::marks::{dashed, polarity_sign};
use crate::app::nets::{BlockStretch, RailStretch};
use crate::app::theme::{RAIL_LINE, RUN_LINE, Tokens, block_dash};
use crate::findings::Verdict;
use crate::layout::geometry::Curve;
use crate::layout::{EntityId, Rail, RunId};
use crate::rails::Polarity;

impl Scene<'_> {
    /// Points of a stretch on the screen, `off_mm` to the left of the centre line.
    pub fn outline(&self, curve: &Curve, from: f64, to: f64, off_mm: f64) -> Vec<Pos2> {
        let tolerance = 0.25 / self.places.camera.scale;
        curve
            .outline(from, to, tolerance)
            .iter()
            .map(|pose| self.screen(pose.left_by(off_mm)))
            .collect()
    }

    /// Points of a rail on the screen; where it is an open point, it stands in from its place.
    pub(super) fn rail_points(
        &self,
        id: RunId,
        curve: &Curve,
        from: f64,
        to: f64,
        off: f64,
    ) -> Vec<Pos2> {
        let rail = if off > 0.0 { Rail::Left } else { Rail::Right };
        let Some(points) = self.places.derived.special.open.get(&(id, rail)) else {
            return self.outline(curve, from, to, off);
        };
        let steps = ((to - from) * self.places.camera.scale / 6.0).ceil().clamp(8.0, 400.0);
        (0..=steps as u32)
            .map(|n| {
                let at = from + (to - from) * f64::from(n) / steps;
                let open = self.places.point_open_mm(points, curve.length_mm(), at);
                self.screen(curve.at(at).left_by(off - off.signum() * open))
            })
            .collect()
    }

    pub(super) fn halo(&self, id: RunId, curve: &Curve) {
        let id = EntityId::Run(id);
        let selected = self.selection.contains(&id);
        if !selected && self.hovered != Some(id) {
            return;
        }
        let width = if self.places.near() {
            (self.places.layout.gauge_mm * self.places.camera.scale) as f32 + 14.0
        } else {
            RUN_LINE + 10.0
        };
        let alpha = if selected { 0.42 } else { 0.2 };
        let colour = self.tokens.accent.gamma_multiply(alpha);
        let points = self.outline(curve, 0.0, curve.length_mm(), 0.0);
        self.painter.add(Shape::line(points, Stroke::new(width, colour)));
    }

    /// A stretch with its ends drawn back where the rail is cut.
    pub(super) fn shortened(
        &self,
        cuts: &[f64],
        from: f64,
        to: f64,
        gap_points: f32,
    ) -> Option<(f64, f64)> {
        let half = f64::from(gap_points) / 2.0 / self.places.camera.scale;
        let cut_at = |mm: f64| cuts.iter().any(|at| (at - mm).abs() < 0.02);
        let from = if cut_at(from) { from + half } else { from };
        let to = if cut_at(to) { to - half } else { to };
        (to > from).then_some((from, to))
    }

    /// How wide the break of a cut is drawn, points: to scale, but never too small to see.
    pub(super) fn gap_points(&self, run: RunId) -> f32 {
        let widest = self.places.derived.gap_mm.get(&run).copied().unwrap_or_default();
        ((widest * self.places.camera.scale) as f32).max(6.0)
    }

    pub(super) fn line(&self, id: RunId, curve: &Curve) {
        let Some(nets) = self.places.derived.nets.get(&id) else { return };
        let cuts: Vec<f64> = self.places.derived.cut_at.get(&id).map_or(Vec::new(), |c| c.concat());
        for BlockStretch { from_mm, to_mm, block } in &nets.blocks {
            let Some((from, to)) = self.shortened(&cuts, *from_mm, *to_mm, 7.0) else { continue };
            let points = self.outline(curve, from, to, 0.0);
            let (colour, dash): (Color32, &[f32]) = match block {
                Some(n) => {
                    let look = self.places.derived.looks.of(*n);
                    (self.tokens.block(look), block_dash(look))
                }
                None => (self.tokens.dead, &[]),
            };
            dashed(
                &self.painter,
                &points,
                Stroke::new(RUN_LINE * self.factor.min(2.0), colour),
                dash,
            );
        }
    }

    pub(super) fn sleepers(&self, curve: &Curve) {
        let scale = self.places.camera.scale;
        // Drawn by eye, not to scale: one every gauge or so, fewer when they would run together.
        let step = self.places.layout.gauge_mm * if scale > 1.0 { 0.6 } else { 1.0 };
        let half = self.places.layout.gauge_mm * 0.85;
        let count = (curve.length_mm() / step).floor();
        if !(1.0..=2000.0).contains(&count) {
            return;
        }
        let stroke = Stroke::new((step * scale * 0.3).clamp(1.5, 9.0) as f32, self.tokens.sleeper);
        for n in 0..count as u32 {
            let pose = curve.at((f64::from(n) + 0.5) * step);
            let ends = [self.screen(pose.left_by(half)), self.screen(pose.left_by(-half))];
            if self.places.canvas.expand(20.0).contains(ends[0]) {
                self.painter.line_segment(ends, stroke);
            }
        }
    }

    pub(super) fn rails(&self, id: RunId, curve: &Curve) {
        let Some(nets) = self.places.derived.nets.get(&id) else { return };
        let empty: [Vec<f64>; 2] = Default::default();
        let cuts = self.places.derived.cut_at.get(&id).unwrap_or(&empty);
        let broken = self.places.derived.broken_at.get(&id).unwrap_or(&empty);
        let gap = self.gap_points(id);
        let half = self.places.layout.gauge_mm / 2.0;
        for (n, rail) in nets.rails.iter().enumerate() {
            let off = if n == 0 { half } else { -half };
            for RailStretch { from_mm, to_mm, polarity, .. } in rail {
                let Some((from, to)) = self.shortened(&cuts[n], *from_mm, *to_mm, gap) else {
                    continue;
                };
                let Some((from, to)) = self.shortened(&broken[n], from, to, 5.0) else { continue };
                let points = self.rail_points(id, curve, from, to, off);
                let (colour, dash) = polarity_looks(self.tokens, *polarity);
                dashed(&self.painter, &points, Stroke::new(RAIL_LINE, colour), dash);
                self.signs(curve, from, to, off, *polarity, colour);
            }
        }
        // The block's own colour stays in sight between the rails.
        let all: Vec<f64> = cuts.concat();
        for BlockStretch { from_mm, to_mm, block } in &nets.blocks {
            let (Some(n), Some((from, to))) =
                (block, self.shortened(&all, *from_mm, *to_mm, gap + 4.0))
            else {
                continue;
            };
            let points = self.outline(curve, from, to, 0.0);
            let look = self.places.derived.looks.of(*n);
            let stroke = Stroke::new(2.0, self.tokens.block(look).gamma_multiply(0.75));
            dashed(&self.painter, &points, stroke, block_dash(look));
        }
    }

    /// Signs of polarity outside a rail, every so often.
    pub(super) fn signs(
        &self,
        curve: &Curve,
        from: f64,
        to: f64,
        off: f64,
        is: Polarity,
        colour: Color32,
    ) {
        let positive = match is {
            Polarity::Plus => true,
            Polarity::Minus => false,
            Polarity::Dead | Polarity::Alternating | Polarity::Fought => return,
        };
        let scale = self.places.camera.scale;
        let out = off + off.signum() * 9.0 / scale;
        let every = 130.0 / scale;
        let count = ((to - from) / every).ceil().clamp(1.0, 200.0);
        for n in 0..count as u32 {
            let at = from + (to - from) * (f64::from(n) + 0.5) / count;
            let place = self.screen(curve.at(at).left_by(out));
            if self.places.canvas.contains(place) {
                polarity_sign(&self.painter, place, positive, colour);
            }
        }
    }

    pub(super) fn joints(&self) {
        let layout = self.places.layout;
        let ends = &self.places.derived.ends;
        let far = self.level() == Level::Far;
        for (id, joint) in &layout.joints {
            let at = self.screen((joint.x_mm, joint.y_mm));
            // At points and on bridges other marks stand.
            if ends.get(id).copied().unwrap_or(0) > 2
                || self.places.derived.bridge_joints.contains_key(id)
            {
                continue;
            }
            if !self.places.canvas.expand(10.0).contains(at) {
                continue;
            }
            let selected = self.selection.contains(&EntityId::Joint(*id));
            let hovered = self.hovered == Some(EntityId::Joint(*id));
            if far && !selected && !hovered {
                continue;
            }
            let free = ends.get(id).copied().unwrap_or(0) < 2;
            let radius = if selected || hovered {
                6.0
            } else if free {
                4.0
            } else {
                2.5
            };
            let line = if selected || hovered { self.tokens.accent } else { self.tokens.weak };
            self.painter.circle(at, radius, self.tokens.canvas, Stroke::new(1.5, line));
        }
    }
}

/// Colour and dash of a rail at a polarity.
pub fn polarity_looks(t: &Tokens, polarity: Polarity) -> (Color32, &'static [f32]) {
    match polarity {
        Polarity::Dead => (t.dead, &[3.0, 3.0]),
        Polarity::Plus => (t.positive, &[]),
        Polarity::Minus => (t.negative, &[]),
        Polarity::Alternating => (t.text, &[10.0, 3.0]),
        Polarity::Fought => (t.verdict(Verdict::Short), &[6.0, 2.0, 2.0, 2.0]),
    }
}
