//! Painting the plan: from afar one line per run in its block's colour and dash, near by two rails with their polarity.

mod ground;
mod marks;
mod places;
mod preview;
mod track;

use eframe::egui::{Painter, Pos2, Stroke, StrokeKind};

use super::camera::World;
use super::labels::{Labels, Level};
use super::theme::Tokens;
use crate::findings::Round;
use crate::layout::geometry::Curve;
use crate::layout::{EntityId, RunId};

pub use places::Places;
pub use preview::Preview;
pub use track::polarity_looks;

/// Everything that one picture of the plan depends on.
pub struct Scene<'a> {
    /// Paints within the canvas.
    pub painter: Painter,
    /// Where things stand.
    pub places: Places<'a>,
    /// Labels with their places.
    pub labels: &'a Labels,
    /// Size of labels against the usual one.
    pub factor: f32,
    /// Loops that are shown.
    pub rounds: &'a [Round],
    /// What is selected.
    pub selection: &'a [EntityId],
    /// What the pointer is over.
    pub hovered: Option<EntityId>,
    /// What the tool would do.
    pub preview: Option<Preview>,
    /// Where the pointer is, mm.
    pub pointer: Option<World>,
    /// Whether the canvas has the focus.
    pub focused: bool,
    /// Colours.
    pub tokens: &'a Tokens,
}

impl Scene<'_> {
    /// Paints it.
    pub fn paint(&self) {
        self.grid();
        let view = self.view();
        let runs: Vec<(&RunId, &Curve)> =
            self.places.derived.curves.iter().filter(|(id, _)| self.in_view(**id, view)).collect();
        for (id, curve) in &runs {
            self.halo(**id, curve);
        }
        self.under_track();
        // No road's sleepers lie over another's rails.
        if self.places.near() {
            for (_, curve) in &runs {
                self.sleepers(curve);
            }
        }
        for (id, curve) in &runs {
            if self.places.near() {
                self.rails(**id, curve);
            } else {
                self.line(**id, curve);
            }
        }
        self.joints();
        self.on_track();
        self.loops();
        for cut in self.places.layout.cuts.values() {
            self.cut(cut);
        }
        self.labels();
        self.preview();
        self.scale_bar();
        if self.focused {
            let rect = self.places.canvas.shrink(1.0);
            let stroke = Stroke::new(2.0, self.tokens.accent);
            self.painter.rect_stroke(rect, 0.0, stroke, StrokeKind::Inside);
        }
    }

    /// A place on the screen.
    pub fn screen(&self, at: World) -> Pos2 {
        self.places.screen(at)
    }

    /// What is in view, mm, with room for what stands beside the track.
    fn view(&self) -> (World, World) {
        let canvas = self.places.canvas.expand(60.0);
        let a = self.places.camera.to_world(self.places.canvas, canvas.left_bottom());
        let b = self.places.camera.to_world(self.places.canvas, canvas.right_top());
        (a, b)
    }

    /// How much is shown.
    pub(super) fn level(&self) -> Level {
        self.places.level()
    }

    fn in_view(&self, id: RunId, (low, high): (World, World)) -> bool {
        self.places
            .derived
            .boxes
            .get(&id)
            .is_some_and(|(a, b)| a.0 <= high.0 && b.0 >= low.0 && a.1 <= high.1 && b.1 >= low.1)
    }
}
