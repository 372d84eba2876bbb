//! The presenter's look: the plan alone, names and faults large, for a room with a projector.
//!
//! Letters are so large that a capital is 1/200 of the distance to the last row high (common practice, no source). How
//! large that is in the window depends on how high the picture is on the wall.

use eframe::egui::{
    Align2, Area, DragValue, Frame, Id, Margin, Order, Panel, RichText, Stroke, Ui, vec2,
};

use super::App;
use super::findings::opened;
use super::theme::{card, small, strong, tokens};

/// A capital's share of the size of its font.
const CAPITAL: f32 = 0.7;
/// Size of the letters of labels usually, points.
const USUAL: f32 = 12.0;
/// Least and largest size of labels against the usual one.
const FACTORS: [f32; 2] = [1.25, 4.0];

/// Where the picture is seen from.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(default)]
pub struct Room {
    /// Distance from the picture to the last row, m.
    pub last_row_m: f32,
    /// Height of the picture on the wall, m.
    pub picture_m: f32,
}

impl Default for Room {
    fn default() -> Self {
        Self { last_row_m: 8.0, picture_m: 1.5 }
    }
}

impl Room {
    /// Size of labels against the usual one, in a window of this height in points.
    fn factor(self, window: f32) -> f32 {
        let capital_m = self.last_row_m / 200.0;
        let points = capital_m / self.picture_m.max(0.1) * window / CAPITAL;
        let [least, most] = FACTORS;
        if points.is_finite() { (points / USUAL).clamp(least, most) } else { least }
    }

    /// How far away the last row may be at a size of labels, m.
    fn reaches_m(self, factor: f32, window: f32) -> f32 {
        factor * USUAL * CAPITAL / window.max(1.0) * self.picture_m * 200.0
    }
}

impl App {
    /// Begins or ends the presenter's look.
    pub(super) fn present(&mut self, presenting: bool) {
        self.presenting = presenting;
        self.gap.shown = false;
        self.fit_wanted = true;
        if presenting {
            self.tools.take_up(super::tools::Tool::Select);
            self.drag = None;
        }
    }

    /// Size of labels against the usual one.
    pub(super) fn label_factor(&self) -> f32 {
        if self.is_shown_only() { self.letters().0 } else { 1.0 }
    }

    /// Size of letters for a room against the usual one, and from how far they read, m.
    pub(super) fn letters(&self) -> (f32, f32) {
        let (room, window) = (self.settings.room, self.window_points);
        let factor = room.factor(window);
        (factor, room.reaches_m(factor, window))
    }

    /// What stands over and under the plan in the presenter's look.
    pub(super) fn presenter_ui(&mut self, ui: &mut Ui) {
        let t = tokens(ui);
        let bar = Frame::new().fill(t.panel).inner_margin(Margin::symmetric(10, 4));
        Panel::bottom("presenter").frame(bar).show(ui, |ui| {
            ui.horizontal(|ui| {
                if ui.button("End the presentation").on_hover_text("Escape").clicked() {
                    self.present(false);
                }
                let room = &mut self.settings.room;
                ui.label(small(ui, "Last row at"));
                ui.add(
                    DragValue::new(&mut room.last_row_m).range(1.0..=60.0).speed(0.1).suffix(" m"),
                )
                .accessible_name("Distance of the last row");
                ui.label(small(ui, "picture"));
                ui.add(
                    DragValue::new(&mut room.picture_m).range(0.3..=10.0).speed(0.05).suffix(" m"),
                )
                .accessible_name("Height of the picture");
                ui.label(small(ui, "high"));
                let reaches = self.letters().1;
                if reaches < self.settings.room.last_row_m * 0.99 {
                    let words = format!("Letters reach {reaches:.0} m: make the picture higher");
                    ui.label(strong(words));
                }
                ui.label(small(ui, "N: next finding, Home: whole plan"));
            });
        });
    }

    /// The verdict and the open finding, over the plan.
    pub(super) fn presenter_words(&self, ui: &Ui) {
        let t = tokens(ui);
        let factor = self.label_factor();
        let large = |text: String| RichText::new(text).size(14.0 * factor);
        let width = self.canvas.width() - 40.0;
        let over = |id: &str, corner: Align2, at, text: RichText| {
            Area::new(Id::unique(id)).order(Order::Middle).pivot(corner).fixed_pos(at).show(
                ui.ctx(),
                |ui| {
                    ui.set_max_width(width);
                    let frame = card(t).stroke(Stroke::new(1.0, t.hairline));
                    frame.inner_margin(Margin::symmetric(12, 6)).show(ui, |ui| ui.label(text));
                },
            );
        };
        let at = self.canvas.left_top() + vec2(12.0, 12.0);
        let verdict = self.check.latest.tally.words();
        over(
            "presenter verdict",
            Align2::LEFT_TOP,
            at,
            large(verdict).family(super::theme::bold()),
        );
        let open = opened(self).and_then(|open| {
            let report = &self.check.latest.report;
            let n = report.findings.iter().position(|finding| finding.id() == open.id())?;
            self.check.latest.words.get(n).map(|words| words.says.clone())
        });
        if let Some(says) = open {
            let at = self.canvas.left_bottom() + vec2(12.0, -12.0);
            over("presenter finding", Align2::LEFT_BOTTOM, at, large(says));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_capital_is_a_two_hundredth_of_the_distance_high() {
        let room = Room { last_row_m: 8.0, picture_m: 1.5 };
        for window in [720.0, 768.0, 1080.0] {
            let capital = USUAL * room.factor(window) * CAPITAL;
            // The share of the window is that of the picture: 40 mm of 1.5 m.
            assert!((capital / window - 0.04 / 1.5).abs() < 1e-6, "{window}: {capital}");
            assert!((room.reaches_m(room.factor(window), window) - 8.0).abs() < 1e-3);
        }
        assert_eq!(Room { last_row_m: f32::NAN, picture_m: 1.0 }.factor(768.0), FACTORS[0]);
        assert_eq!(Room { last_row_m: 60.0, picture_m: 0.3 }.factor(768.0), FACTORS[1]);
    }
}
