//! Marks drawn as shapes, so that they look the same everywhere and need no glyph.

use std::f32::consts::{FRAC_PI_2, TAU};

use eframe::egui::{Color32, Painter, Pos2, Rect, Response, Sense, Shape, Stroke, Ui, pos2, vec2};

use super::theme::{Tokens, tokens};
use crate::findings::Verdict;

fn polygon(centre: Pos2, radius: f32, corners: usize, turn: f32) -> Vec<Pos2> {
    (0..corners)
        .map(|n| {
            let angle = turn + TAU * n as f32 / corners as f32;
            centre + radius * vec2(angle.cos(), angle.sin())
        })
        .collect()
}

/// Paints the mark of a verdict: each has a shape of its own.
///
/// Clear: a tick in a ring. Caution: an open triangle. Not known: an open diamond with a dot. Stall: a bar across a
/// square. Back-feed: an arrow head pointing back. Overload: a filled triangle. Short: a filled octagon with a bolt.
pub fn verdict_mark(painter: &Painter, centre: Pos2, radius: f32, verdict: Verdict, t: &Tokens) {
    let colour = t.verdict(verdict);
    let ground = t.panel;
    let line = Stroke::new((radius * 0.26).max(1.4), colour);
    let on = Stroke::new((radius * 0.26).max(1.4), ground);
    match verdict {
        Verdict::Clear => {
            painter.circle_stroke(centre, radius - line.width / 2.0, line);
            let p = |x: f32, y: f32| centre + radius * vec2(x, y);
            painter.add(Shape::line(vec![p(-0.42, 0.02), p(-0.1, 0.34), p(0.44, -0.32)], line));
        }
        Verdict::Caution => {
            let p = polygon(centre + vec2(0.0, radius * 0.14), radius, 3, -FRAC_PI_2);
            painter.add(Shape::closed_line(p, line));
        }
        Verdict::NotKnown => {
            painter.add(Shape::closed_line(polygon(centre, radius, 4, 0.0), line));
            painter.circle_filled(centre, radius * 0.24, colour);
        }
        Verdict::Stall => {
            let square = Rect::from_center_size(centre, vec2(radius, radius) * 1.7);
            painter.rect_filled(square, 1.5, colour);
            painter.line_segment(
                [centre - vec2(radius * 0.55, 0.0), centre + vec2(radius * 0.55, 0.0)],
                on,
            );
        }
        Verdict::BackFeed => {
            let p = |x: f32, y: f32| centre + radius * vec2(x, y);
            painter.add(Shape::convex_polygon(
                vec![p(-1.0, 0.0), p(0.1, -0.85), p(0.1, 0.85)],
                colour,
                Stroke::NONE,
            ));
            painter.line_segment(
                [p(0.1, 0.0), p(0.95, 0.0)],
                Stroke::new((radius * 0.5).max(2.0), colour),
            );
        }
        Verdict::Overload => {
            let p = polygon(centre + vec2(0.0, radius * 0.14), radius * 1.08, 3, -FRAC_PI_2);
            painter.add(Shape::convex_polygon(p, colour, Stroke::NONE));
            painter.line_segment(
                [centre - vec2(0.0, radius * 0.36), centre + vec2(0.0, radius * 0.2)],
                on,
            );
            painter.circle_filled(centre + vec2(0.0, radius * 0.46), on.width * 0.6, ground);
        }
        Verdict::Short => {
            let p = polygon(centre, radius, 8, TAU / 16.0);
            painter.add(Shape::convex_polygon(p, colour, Stroke::NONE));
            let p = |x: f32, y: f32| centre + radius * vec2(x, y);
            painter.add(Shape::line(
                vec![p(0.22, -0.62), p(-0.28, 0.08), p(0.24, -0.04), p(-0.2, 0.62)],
                on,
            ));
        }
    }
}

/// A verdict's mark as a widget in a line of text. It says nothing to a screen reader: the word stands beside it.
pub fn mark_ui(ui: &mut Ui, verdict: Verdict, radius: f32) -> Response {
    let (rect, response) = ui.allocate_exact_size(vec2(radius, radius) * 2.2, Sense::hover());
    verdict_mark(ui.painter(), rect.center(), radius, verdict, tokens(ui));
    response
}

/// A short sample of a block's line: its colour and its dash.
pub fn block_swatch(painter: &Painter, rect: Rect, n: usize, t: &Tokens) {
    let y = rect.center().y;
    dashed(
        painter,
        &[pos2(rect.left(), y), pos2(rect.right(), y)],
        Stroke::new(4.0, t.block(n)),
        super::theme::block_dash(n),
    );
}

/// A line with a dash pattern; an empty pattern is solid.
pub fn dashed(painter: &Painter, points: &[Pos2], stroke: Stroke, dash: &[f32]) {
    if points.len() < 2 {
        return;
    }
    if dash.is_empty() {
        painter.add(Shape::line(points.to_vec(), stroke));
        return;
    }
    let (marks, gaps): (Vec<f32>, Vec<f32>) = dash.chunks(2).map(|c| (c[0], c[1])).unzip();
    painter.extend(Shape::dashed_line_with_offset(points, stroke, &marks, &gaps, 0.0));
}

/// A plus or a minus beside a rail.
pub fn polarity_sign(painter: &Painter, at: Pos2, positive: bool, colour: Color32) {
    let stroke = Stroke::new(1.6, colour);
    painter.line_segment([at - vec2(3.5, 0.0), at + vec2(3.5, 0.0)], stroke);
    if positive {
        painter.line_segment([at - vec2(0.0, 3.5), at + vec2(0.0, 3.5)], stroke);
    }
}
