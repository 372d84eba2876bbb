//! Symbols of the schematic, drawn as shapes: wires with arrows, switches, diodes, supplies.

use eframe::egui::{Color32, Painter, Pos2, Rect, Shape, Stroke, pos2, vec2};

use super::super::theme::Tokens;
use super::branches::CARRIES_A;

/// How a branch is drawn: heavier and with larger arrows the more it carries, thin and dotted where it carries nothing.
pub(super) struct Ink {
    stroke: Stroke,
    carries: bool,
    arrow: f32,
}

impl Ink {
    /// For a current, against the largest of the drawing, A.
    pub fn of(amps: f64, most_a: f64, t: &Tokens) -> Ink {
        let share = (amps.abs() / most_a.max(CARRIES_A)).clamp(0.0, 1.0) as f32;
        let carries = amps.abs() >= CARRIES_A;
        let colour = if carries { t.text } else { t.outline };
        let width = if carries { 1.5 + 2.5 * share } else { 1.0 };
        Ink { stroke: Stroke::new(width, colour), carries, arrow: 4.0 + 4.0 * share }
    }
}

/// A wire along points; positive current flows from the first to the last.
pub(super) fn wire(painter: &Painter, points: &[Pos2], ink: &Ink, amps: f64) {
    if !ink.carries {
        painter.extend(Shape::dashed_line(points, ink.stroke, 2.0, 4.0));
        return;
    }
    painter.add(Shape::line(points.to_vec(), ink.stroke));
    for pair in points.windows(2) {
        let (from, to) = if amps > 0.0 { (pair[0], pair[1]) } else { (pair[1], pair[0]) };
        let length = from.distance(to);
        if length > 3.0 * ink.arrow {
            arrow(painter, from.lerp(to, 0.5), (to - from) / length, ink.arrow, ink.stroke.color);
        }
    }
}

fn arrow(painter: &Painter, at: Pos2, along: eframe::egui::Vec2, size: f32, colour: Color32) {
    let across = vec2(-along.y, along.x) * size * 0.75;
    let (tip, back) = (at + along * size, at - along * size * 0.6);
    painter.add(Shape::convex_polygon(
        vec![tip, back + across, back - across],
        colour,
        Stroke::NONE,
    ));
}

/// A switch between a pole and an output: a whole line where it is on, a lifted blade where it is off.
pub(super) fn switch(
    painter: &Painter,
    (pole, output): (Pos2, Pos2),
    on: bool,
    ink: &Ink,
    amps: f64,
) {
    let (a, b) = (pole.lerp(output, 0.3), pole.lerp(output, 0.7));
    if on {
        // A switch that is on is drawn whole even where it carries nothing.
        let whole = Ink { carries: true, arrow: 0.0, stroke: ink.stroke };
        let shown = if ink.carries { ink } else { &whole };
        wire(painter, &[pole, output], shown, amps);
    } else {
        let thin = Stroke::new(1.0, ink.stroke.color);
        painter.line_segment([pole, a], thin);
        painter.line_segment([b, output], thin);
        painter.line_segment([a, b + vec2(9.0, 0.0)], thin);
    }
    for at in [a, b] {
        painter.circle_filled(at, 2.0, ink.stroke.color);
    }
}

/// A diode from one end to the other beside a switch at `x`: filled where it conducts, an outline where it does not.
pub(super) fn diode(painter: &Painter, (from, to): (Pos2, Pos2), x: f32, ink: &Ink, amps: f64) {
    let (start, end) = (pos2(x, from.y), pos2(x, to.y));
    let (start, end) = (start.lerp(end, 0.12), start.lerp(end, 0.88));
    let (low, high) = (pos2(from.x, start.y), pos2(from.x, end.y));
    wire(painter, &[start, low], ink, amps);
    wire(painter, &[low, high], ink, amps);
    wire(painter, &[high, end], ink, amps);
    let middle = low.lerp(high, 0.5);
    let up = (high.y - low.y).signum();
    let triangle = vec![
        middle + vec2(-5.0, -5.0 * up),
        middle + vec2(5.0, -5.0 * up),
        middle + vec2(0.0, 4.0 * up),
    ];
    let edge = Stroke::new(1.3, ink.stroke.color);
    let fill = if ink.carries { ink.stroke.color } else { Color32::TRANSPARENT };
    painter.add(Shape::convex_polygon(triangle, fill, edge));
    let bar = middle + vec2(0.0, 4.0 * up);
    painter.line_segment([bar - vec2(5.0, 0.0), bar + vec2(5.0, 0.0)], edge);
}

/// The plates of a supply: the long one is its positive pole, above.
pub(super) fn plates(painter: &Painter, at: Pos2, colour: Color32) {
    painter.line_segment([at + vec2(-9.0, -5.0), at + vec2(9.0, -5.0)], Stroke::new(1.5, colour));
    painter.line_segment([at + vec2(-5.0, 5.0), at + vec2(5.0, 5.0)], Stroke::new(3.0, colour));
}

/// The place for words that cover no others: as asked, or a little above or below. As asked where all of that is taken.
pub(super) fn beside(taken: &[Rect], asked: Rect) -> Rect {
    let steps = [0.0, 1.0, -1.0, 2.0, -2.0, 3.0, -3.0];
    let places = steps.map(|step| asked.translate(vec2(0.0, step * asked.height())));
    let is_free = |place: &Rect| !taken.iter().any(|other| other.shrink(0.5).intersects(*place));
    places.into_iter().find(is_free).unwrap_or(asked)
}

#[cfg(test)]
mod tests {
    use super::*;
    use eframe::egui::pos2;

    #[test]
    fn words_give_way_to_those_that_are_there() {
        let word = |x: f32, y: f32| Rect::from_min_size(pos2(x, y), vec2(40.0, 12.0));
        let mut taken = Vec::new();
        for _ in 0..4 {
            let place = beside(&taken, word(10.0, 100.0));
            assert!(!taken.iter().any(|other: &Rect| other.shrink(0.6).intersects(place)));
            taken.push(place);
        }
        assert_eq!(taken[0], word(10.0, 100.0));
        assert_eq!(beside(&taken, word(80.0, 100.0)), word(80.0, 100.0));
    }
}
