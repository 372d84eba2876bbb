//! The loops that the open finding tells of, drawn beside the track once round: a dashed line with arrow heads, and a
//! number where there are several.

use eframe::egui::{Align2, FontId, Pos2, Shape, Stroke, Vec2};

use super::App;
use super::camera::World;
use super::derived::Derived;
use super::findings::opened;
use super::marks::dashed;
use super::paint::{Places, Scene};
use super::theme::bold;
use crate::findings::{Along, Evidence, Finding, Round, Way};

/// Distance of a loop's line from the track, and from the next loop's line, points.
const BESIDE: f64 = 8.0;
/// Distance between two arrow heads, points.
const ARROWS: f32 = 90.0;
/// Loops that are drawn; more would hide the track.
const MOST: usize = 4;

/// The loops of a finding that are drawn.
pub fn of(finding: &Finding) -> &[Round] {
    let rounds = match &finding.evidence {
        Evidence::LoopUncut(e) | Evidence::LoopOneCut(e) => std::slice::from_ref(&e.round),
        Evidence::UnbalancedLoop(told) => told.rounds.as_slice(),
        _ => &[],
    };
    rounds.get(..MOST).unwrap_or(rounds)
}

/// The loops of the finding that is open.
pub fn open(app: &App) -> &[Round] {
    opened(app).map_or(&[], of)
}

/// The corners of the runs that loops lead over.
pub fn bounds(derived: &Derived, rounds: &[Round]) -> Option<(World, World)> {
    let runs = rounds.iter().flat_map(|round| &round.along).map(|along| along.run);
    Derived::hull(runs.filter_map(|run| derived.boxes.get(&run).copied()))
}

impl Places<'_> {
    /// The stretch of a loop on the screen, in the order in which it is passed, beside the track on the left.
    fn passed(&self, along: &Along, beside_mm: f64) -> Vec<Pos2> {
        let Some(curve) = self.derived.curves.get(&along.run) else { return Vec::new() };
        let tolerance = 0.25 / self.camera.scale;
        let left = if along.way == Way::Backward { -beside_mm } else { beside_mm };
        let outline = curve.outline(along.from_mm, along.to_mm, tolerance);
        let on_screen = |pose: &crate::layout::geometry::Pose| {
            self.camera.to_screen(self.canvas, pose.left_by(left))
        };
        let mut points: Vec<Pos2> = outline.iter().map(on_screen).collect();
        match along.way {
            Way::Forward => {}
            Way::Backward => points.reverse(),
            // It is only touched: the lines before and after meet there.
            Way::AtStart | Way::AtEnd => points.clear(),
        }
        points
    }

    /// The lines of a loop on the screen: one, unless it leads over a bridge that does not stand that way.
    pub fn loop_lines(&self, n: usize, round: &Round) -> Vec<Vec<Pos2>> {
        let off = if self.near() { n as f64 } else { n as f64 + 1.0 };
        let beside_mm = BESIDE * off / self.camera.scale;
        // Two cuts apart in a straight line are one line; the far end of a turned bridge is not.
        let reach = (self.layout.gauge_mm * 4.0 * self.camera.scale) as f32 + 4.0 * BESIDE as f32;
        let mut lines: Vec<Vec<Pos2>> = Vec::new();
        for points in round.along.iter().map(|along| self.passed(along, beside_mm)) {
            let Some(first) = points.first() else { continue };
            match lines.last_mut() {
                Some(line) if line.last().is_some_and(|end| end.distance(*first) < reach) => {
                    line.extend(points);
                }
                _ => lines.push(points),
            }
        }
        lines
    }
}

impl Scene<'_> {
    /// Draws the loops of the finding that is open.
    pub fn loops(&self) {
        let colour = self.tokens.text;
        for (n, round) in self.rounds.iter().enumerate() {
            let lines = self.places.loop_lines(n, round);
            for line in &lines {
                dashed(&self.painter, line, Stroke::new(6.0, self.tokens.canvas), &[]);
                dashed(&self.painter, line, Stroke::new(3.0, colour), &[12.0, 6.0]);
                for (at, ahead) in arrows(line) {
                    let across = ahead.rot90() * 5.5;
                    let corners = vec![at + ahead * 11.0, at + across, at - across];
                    let edge = Stroke::new(1.0, self.tokens.canvas);
                    self.painter.add(Shape::convex_polygon(corners, colour, edge));
                }
            }
            let first = lines.first().and_then(|line| line.get(line.len() / 2));
            if let Some(at) = first.filter(|_| self.rounds.len() > 1) {
                self.painter.circle(*at, 10.0, self.tokens.card, Stroke::new(1.5, colour));
                self.painter.text(
                    *at,
                    Align2::CENTER_CENTER,
                    n + 1,
                    FontId::new(13.0, bold()),
                    self.tokens.text,
                );
            }
        }
    }
}

/// Where arrow heads stand on a line, and which way they point.
fn arrows(line: &[Pos2]) -> Vec<(Pos2, Vec2)> {
    let mut arrows = Vec::new();
    let length: f32 = line.windows(2).map(|ends| ends[0].distance(ends[1])).sum();
    // One at least, in the middle.
    let mut next = ARROWS.min(length) / 2.0;
    for ends in line.windows(2) {
        let way = ends[1] - ends[0];
        let long = way.length();
        while next <= long && long > 0.0 {
            arrows.push((ends[0] + way / long * next, way / long));
            next += ARROWS;
        }
        next -= long;
    }
    arrows
}

#[cfg(test)]
mod tests {
    use super::*;
    use eframe::egui::{pos2, vec2};

    #[test]
    fn arrow_heads_stand_at_equal_steps_and_point_ahead() {
        let line = [pos2(0.0, 0.0), pos2(100.0, 0.0), pos2(100.0, -200.0)];
        let places: Vec<_> = arrows(&line);
        assert_eq!(places[0], (pos2(45.0, 0.0), vec2(1.0, 0.0)));
        assert_eq!(places[1], (pos2(100.0, -35.0), vec2(0.0, -1.0)));
        assert_eq!(places.len(), 3);
        assert_eq!(
            arrows(&[pos2(0.0, 0.0), pos2(10.0, 0.0)]),
            vec![(pos2(5.0, 0.0), vec2(1.0, 0.0))]
        );
        assert!(arrows(&[pos2(3.0, 3.0)]).is_empty());
    }
}
