//! What the tool in hand would do.

use eframe::egui::{FontId, Pos2, Rect, Stroke, StrokeKind, vec2};

use super::Scene;
use crate::app::lay::Ghost;
use crate::layout::geometry::Curve;
use crate::layout::{Rails, RunId, Spot};

/// What the tool in hand would do.
#[derive(Debug, Clone)]
pub enum Preview {
    /// Lay a run.
    Lay(Ghost),
    /// Cut here.
    Cut {
        /// Run.
        run: RunId,
        /// Distance, mm.
        at_mm: f64,
        /// Rails.
        rails: Rails,
    },
    /// Feed here, or let what is dragged go here.
    At {
        /// Run.
        run: RunId,
        /// Distance, mm.
        at_mm: f64,
    },
    /// Place special work here.
    Special {
        /// The pointer.
        at: Pos2,
        /// The roads that are laid.
        laid: Vec<Curve>,
        /// Why it cannot be done.
        refused: Option<String>,
    },
    /// Bond these.
    Bond {
        /// The place that was clicked.
        from: Option<Spot>,
        /// The place under the pointer.
        to: Spot,
    },
}

impl Scene<'_> {
    pub(super) fn preview(&self) {
        let accent = self.tokens.accent;
        match self.preview.clone() {
            None => {}
            Some(Preview::Lay(ghost)) => self.lay_preview(&ghost),
            Some(Preview::Cut { run, at_mm, rails }) => {
                self.cut_ticks(run, at_mm, rails, 0.0, accent);
                if let Some((at, _)) = self.places.placed(run, at_mm) {
                    self.ring(run, at_mm, at, accent.gamma_multiply(0.35));
                    self.caption(at, &format!("{run} at {}", self.places.camera.units.mm(at_mm)));
                }
            }
            Some(Preview::At { run, at_mm }) => {
                if let Some((at, _)) = self.places.placed(run, at_mm) {
                    self.painter.circle_filled(at, 5.0, accent);
                    self.caption(at, &format!("{run} at {}", self.places.camera.units.mm(at_mm)));
                }
            }
            Some(Preview::Special { at, laid, refused }) => {
                self.special_preview(at, &laid, refused.as_deref());
            }
            Some(Preview::Bond { from, to }) => self.bond_preview(from, to),
        }
    }

    /// Words beside the pointer.
    pub fn caption(&self, at: Pos2, words: &str) {
        let galley = self.painter.layout_no_wrap(
            words.to_owned(),
            FontId::proportional(13.0),
            self.tokens.text,
        );
        let rect = Rect::from_min_size(at + vec2(14.0, 12.0), galley.size() + vec2(12.0, 6.0));
        let over = (rect.right() - self.places.canvas.right() + 6.0).max(0.0);
        let rect = rect.translate(vec2(-over, 0.0));
        self.painter.rect(
            rect,
            4.0,
            self.tokens.card,
            Stroke::new(1.0, self.tokens.hairline),
            StrokeKind::Inside,
        );
        self.painter.galley(rect.min + vec2(6.0, 3.0), galley, self.tokens.text);
    }
}
