//! The one transform between the plan (mm, y upwards) and the screen (points, y downwards).

use eframe::egui::{Pos2, Rect, Vec2, pos2, vec2};

use crate::report::{INCH_MM, Units};

/// A point on the plan, mm.
pub type World = (f64, f64);

/// Farthest away, points per mm: a line of 10 km fits on a small screen.
pub const MIN_SCALE: f64 = 0.000_05;
/// Nearest, points per mm.
pub const MAX_SCALE: f64 = 16.0;

/// Where one looks at the plan from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// Point of the plan in the middle of the canvas, mm.
    pub centre: World,
    /// Points per mm.
    pub scale: f64,
    /// Units of lengths on the plan.
    pub units: Units,
}

impl Default for Camera {
    fn default() -> Self {
        Self { centre: (900.0, 300.0), scale: 0.4, units: Units::Metric }
    }
}

impl Camera {
    /// From the plan to the screen.
    pub fn to_screen(self, canvas: Rect, (x, y): World) -> Pos2 {
        let middle = canvas.center();
        pos2(
            middle.x + ((x - self.centre.0) * self.scale) as f32,
            middle.y - ((y - self.centre.1) * self.scale) as f32,
        )
    }

    /// From the screen to the plan.
    pub fn to_world(self, canvas: Rect, at: Pos2) -> World {
        let from_middle = at - canvas.center();
        (
            self.centre.0 + f64::from(from_middle.x) / self.scale,
            self.centre.1 - f64::from(from_middle.y) / self.scale,
        )
    }

    /// Moves the plan with the pointer by `delta` points.
    pub fn pan(&mut self, delta: Vec2) {
        self.centre.0 -= f64::from(delta.x) / self.scale;
        self.centre.1 += f64::from(delta.y) / self.scale;
    }

    /// Zooms by `factor` so that what is under `at` stays there.
    pub fn zoom_at(&mut self, canvas: Rect, at: Pos2, factor: f64) {
        if !factor.is_finite() || factor <= 0.0 {
            return;
        }
        let held = self.to_world(canvas, at);
        self.scale = (self.scale * factor).clamp(MIN_SCALE, MAX_SCALE);
        let now = self.to_world(canvas, at);
        self.centre.0 += held.0 - now.0;
        self.centre.1 += held.1 - now.1;
    }

    /// Shows everything between two corners, with a margin.
    pub fn fit(&mut self, canvas: Rect, low: World, high: World) {
        let (width, height) = ((high.0 - low.0).max(100.0), (high.1 - low.1).max(100.0));
        let room = vec2(canvas.width().max(80.0), canvas.height().max(80.0));
        let scale = (f64::from(room.x) * 0.84 / width).min(f64::from(room.y) * 0.7 / height);
        // A newly drawn siding should not fill the screen as if seen through a lens.
        self.scale = scale.clamp(MIN_SCALE, 4.0);
        self.centre = ((low.0 + high.0) / 2.0, (low.1 + high.1) / 2.0);
    }

    /// The same with labels that reach so many points beyond the corners: left, above, right, below.
    pub fn fit_beside(&mut self, canvas: Rect, low: World, high: World, over: [f32; 4]) {
        /// Room at the edges of the canvas, points; the scale bar stands below.
        const EDGE: [f32; 4] = [18.0, 18.0, 18.0, 44.0];
        let [left, above, right, below] = std::array::from_fn(|n| {
            let most = if n % 2 == 0 { canvas.width() } else { canvas.height() };
            over[n].clamp(0.0, most * 0.3) + EDGE[n]
        });
        let (width, height) = ((high.0 - low.0).max(100.0), (high.1 - low.1).max(100.0));
        let wide = f64::from((canvas.width() - left - right).max(60.0));
        let tall = f64::from((canvas.height() - above - below).max(60.0));
        self.scale = (wide / width).min(tall / height).clamp(MIN_SCALE, 4.0);
        let aside = [f64::from(right - left) / 2.0, f64::from(above - below) / 2.0];
        self.centre = (
            (low.0 + high.0) / 2.0 + aside[0] / self.scale,
            (low.1 + high.1) / 2.0 + aside[1] / self.scale,
        );
    }

    /// Distance between grid lines, mm, at least `points` apart on the screen: 1, 2 or 5 times a power of ten, or
    /// round numbers of inches and feet.
    pub fn grid_mm(&self, points: f64) -> f64 {
        let wanted = points / self.scale;
        if self.units == Units::Imperial {
            const INCHES: [f64; 12] =
                [0.0625, 0.125, 0.25, 0.5, 1.0, 3.0, 6.0, 12.0, 36.0, 120.0, 360.0, 1200.0];
            let steps = INCHES.map(|inches| inches * INCH_MM);
            return steps.into_iter().find(|step| *step >= wanted).unwrap_or(steps[11]);
        }
        let power = 10f64.powf(wanted.log10().floor());
        [1.0, 2.0, 5.0, 10.0]
            .into_iter()
            .map(|step| step * power)
            .find(|step| *step >= wanted * 0.999)
            .unwrap_or(10.0 * power)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn canvas() -> Rect {
        Rect::from_min_size(pos2(200.0, 80.0), vec2(800.0, 600.0))
    }

    #[test]
    fn there_and_back_again() {
        let camera = Camera { centre: (12.0, -7.0), scale: 0.3, units: Units::Metric };
        let at = camera.to_world(canvas(), camera.to_screen(canvas(), (431.0, 88.0)));
        assert!((at.0 - 431.0).abs() < 1e-3 && (at.1 - 88.0).abs() < 1e-3);
    }

    #[test]
    fn up_on_the_plan_is_up_on_the_screen() {
        let camera = Camera::default();
        let low = camera.to_screen(canvas(), (0.0, 0.0));
        let high = camera.to_screen(canvas(), (0.0, 100.0));
        assert!(high.y < low.y);
    }

    #[test]
    fn zoom_holds_what_is_under_the_pointer() {
        let mut camera = Camera::default();
        let pointer = pos2(333.0, 222.0);
        let before = camera.to_world(canvas(), pointer);
        camera.zoom_at(canvas(), pointer, 2.5);
        let after = camera.to_world(canvas(), pointer);
        assert!((before.0 - after.0).abs() < 1e-9 && (before.1 - after.1).abs() < 1e-9);
        for wrong in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            let was = camera;
            camera.zoom_at(canvas(), pointer, wrong);
            assert_eq!(camera, was);
        }
    }

    #[test]
    fn fit_shows_both_corners() {
        let mut camera = Camera::default();
        let (low, high) = ((-300.0, 0.0), (5200.0, 900.0));
        camera.fit(canvas(), low, high);
        assert!(canvas().contains(camera.to_screen(canvas(), low)));
        assert!(canvas().contains(camera.to_screen(canvas(), high)));
        // One point has no size.
        camera.fit(canvas(), (5.0, 5.0), (5.0, 5.0));
        assert!(camera.scale.is_finite() && camera.scale <= MAX_SCALE);
    }

    #[test]
    fn grid_steps_are_round() {
        for scale in [0.005, 0.04, 0.3, 1.0, 7.0, 16.0] {
            let step = Camera { scale, ..Camera::default() }.grid_mm(12.0);
            assert!(step * scale >= 11.9 && step * scale <= 12.0 * 5.1, "{scale}: {step}");
        }
    }
}
