//! The grid under the plan, and the scale bar over it.

use eframe::egui::{Align2, FontId, Rect, Stroke, pos2, vec2};

use super::Scene;

impl Scene<'_> {
    pub(super) fn grid(&self) {
        let camera = self.places.camera;
        let canvas = self.places.canvas;
        let fine = camera.grid_mm(10.0);
        for (step, colour) in [(fine, self.tokens.grid), (fine * 10.0, self.tokens.grid_coarse)] {
            if step * camera.scale < 8.0 {
                continue;
            }
            let (low, high) = self.view();
            let stroke = Stroke::new(1.0, colour);
            let mut x = (low.0 / step).floor() * step;
            while x <= high.0 {
                let at = self.screen((x, 0.0)).x.round() + 0.5;
                self.painter
                    .line_segment([pos2(at, canvas.top()), pos2(at, canvas.bottom())], stroke);
                x += step;
            }
            let mut y = (low.1 / step).floor() * step;
            while y <= high.1 {
                let at = self.screen((0.0, y)).y.round() + 0.5;
                self.painter
                    .line_segment([pos2(canvas.left(), at), pos2(canvas.right(), at)], stroke);
                y += step;
            }
        }
    }

    pub(super) fn scale_bar(&self) {
        let canvas = self.places.canvas;
        let bar_mm = self.places.camera.grid_mm(90.0);
        let width = (bar_mm * self.places.camera.scale) as f32;
        let left = canvas.left_bottom() + vec2(18.0, -20.0);
        let right = left + vec2(width, 0.0);
        let stroke = Stroke::new(1.5, self.tokens.weak);
        // What lies under it would be read with it.
        let under = Rect::from_min_max(left - vec2(8.0, 22.0), right + vec2(8.0, 8.0));
        self.painter.rect_filled(under, 4.0, self.tokens.canvas.gamma_multiply(0.9));
        self.painter.line_segment([left, right], stroke);
        for end in [left, right] {
            self.painter.line_segment([end - vec2(0.0, 4.0), end + vec2(0.0, 4.0)], stroke);
        }
        let small = FontId::proportional(12.0);
        self.painter.text(
            left + vec2(width / 2.0, -5.0),
            Align2::CENTER_BOTTOM,
            self.places.camera.units.length(bar_mm),
            small.clone(),
            self.tokens.weak,
        );
        if let Some((x, y)) = self.pointer {
            let units = self.places.camera.units;
            self.painter.text(
                canvas.right_bottom() + vec2(-14.0, -12.0),
                Align2::RIGHT_BOTTOM,
                format!("{}, {}", units.mm(x.round()), units.mm(y.round())),
                small,
                self.tokens.weak,
            );
        }
    }
}
