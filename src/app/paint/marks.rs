//! Breaks of the rails at cuts, and rings around what is pointed out.

use eframe::egui::{Color32, Pos2, Stroke};

use super::Scene;
use crate::layout::{Cut, EntityId, Rail, Rails, RunId};

impl Scene<'_> {
    /// Breaks of the rails at a cut, and a ring around the one that is pointed out.
    pub(super) fn cut(&self, cut: &Cut) {
        let Some((at, _)) = self.places.placed(cut.run, cut.at_mm) else { return };
        if !self.places.canvas.expand(30.0).contains(at) {
            return;
        }
        let id = EntityId::Cut(cut.id);
        let selected = self.selection.contains(&id);
        self.cut_ticks(cut.run, cut.at_mm, cut.rails, cut.stagger_mm, self.tokens.text);
        if selected || self.hovered == Some(id) {
            let colour = self.tokens.accent.gamma_multiply(if selected { 0.45 } else { 0.25 });
            self.ring(cut.run, cut.at_mm, at, colour);
        }
    }

    /// Points out a place on a run: a ring from afar, a band across the track near by.
    pub(super) fn ring(&self, run: RunId, at_mm: f64, at: Pos2, colour: Color32) {
        let half = self.places.half_gauge();
        match self.places.placed(run, at_mm) {
            Some((_, left)) if half > 0.0 => {
                let ends = [at + left * (half + 10.0), at - left * (half + 10.0)];
                self.painter.line_segment(ends, Stroke::new(16.0, colour));
            }
            _ => {
                self.painter.circle_stroke(at, 9.0, Stroke::new(2.0, self.tokens.accent));
            }
        }
    }

    /// Short strokes across the rails that are cut.
    pub(super) fn cut_ticks(
        &self,
        run: RunId,
        at_mm: f64,
        rails: Rails,
        stagger_mm: f64,
        colour: Color32,
    ) {
        let half = self.places.half_gauge();
        let stroke = Stroke::new(2.0, colour);
        for rail in Rail::BOTH {
            if !rails.has(rail) {
                continue;
            }
            let along = at_mm + if rail == Rail::Right { stagger_mm } else { 0.0 };
            let Some((at, left)) = self.places.placed(run, along) else { continue };
            let side = if rail == Rail::Left { left } else { -left };
            let (inner, outer) =
                if self.places.near() { (half - 5.0, half + 5.0) } else { (0.0, 8.0) };
            self.painter.line_segment([at + side * inner, at + side * outer], stroke);
        }
    }
}
