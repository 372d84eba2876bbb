//! Painting labels.

use eframe::egui::{Align2, FontId, Painter, Pos2, Rect, Stroke, StrokeKind, Vec2, pos2, vec2};

use super::place::mark_radius;
use super::{Face, Key, Look, Placed};
use crate::app::marks::verdict_mark;
use crate::app::paint::Scene;
use crate::app::theme::bold;
use crate::layout::{EntityId, Feed, Rail};
use crate::report::Standing;

impl Scene<'_> {
    /// Paints the labels in view: names under tags, tags under marks.
    pub fn labels(&self) {
        let view = self.places.canvas.expand(20.0);
        let in_view: Vec<(&Placed, Pos2, Vec2, Rect)> = self
            .labels
            .placed()
            .iter()
            .filter_map(|placed| {
                let (at, left) = self.places.anchored(placed.key, placed.anchor)?;
                let rect = Rect::from_center_size(at + placed.off, placed.size);
                let whole = rect.union(Rect::from_min_max(at, at).expand(12.0));
                view.intersects(whole).then_some((placed, at, left, rect))
            })
            .collect();
        for (placed, at, _, rect) in &in_view {
            if placed.leader && !matches!(placed.key, Key::Tag(_)) {
                let foot = edge(*rect, *at);
                self.painter.line_segment([*at, foot], Stroke::new(1.0, self.tokens.weak));
            }
        }
        for (placed, at, left, rect) in in_view.iter().rev() {
            self.label(placed, *at, *left, *rect);
        }
    }

    fn label(&self, placed: &Placed, at: Pos2, left: Vec2, rect: Rect) {
        let id = placed.key.entity();
        let lit = id.is_some_and(|id| self.selection.contains(&id) || self.hovered == Some(id));
        match (&placed.look, placed.key) {
            (Look::Mark(standing), _) => self.mark(*standing, rect),
            (Look::Marks(cuts, standing), _) => self.crowd(cuts.len(), *standing, rect),
            (look, Key::Tag(feed)) => {
                if let Some(feed) = self.places.layout.feeds.get(&feed) {
                    self.tag(feed, look, (at, left), rect);
                }
            }
            (Look::Text(text), Key::Block(block)) => self.block_name(block, text, rect),
            (Look::Stud(_), Key::Block(block)) => {
                if let Some(about) = self.labels.block(block) {
                    let line = Stroke::new(1.0, self.tokens.weak);
                    let colour = self.tokens.block(about.look);
                    self.painter.rect(rect, 2.0, colour, line, StrokeKind::Inside);
                }
            }
            (Look::Text(text), Key::Work(_)) => self.words(text, Face::Bold, rect, lit),
            (Look::Text(text), _) => self.words(text, Face::Plain, rect, lit),
            (Look::Stud(_), _) => {}
        }
    }

    fn words(&self, text: &str, face: Face, rect: Rect, lit: bool) {
        let colour = if lit { self.tokens.accent } else { self.tokens.text };
        let font = face.font(self.factor);
        self.painter.rect_filled(rect, 3.0, self.tokens.canvas.gamma_multiply(0.9));
        self.painter.text(rect.center(), Align2::CENTER_CENTER, text, font, colour);
    }

    fn block_name(&self, block: crate::rails::BlockId, text: &str, rect: Rect) {
        self.words(text, Face::Bold, rect, false);
        let Some(about) = self.labels.block(block) else { return };
        let underline = [rect.left_bottom() + vec2(5.0, 0.0), rect.right_bottom() - vec2(5.0, 0.0)];
        let stroke = Stroke::new(2.0 * self.factor, self.tokens.block(about.look));
        self.painter.line_segment(underline, stroke);
    }

    fn mark(&self, standing: Option<Standing>, rect: Rect) {
        standing_mark(&self.painter, rect.center(), standing, self.factor, self.tokens);
    }

    /// The worst of several gaps, and how many they are.
    fn crowd(&self, count: usize, standing: Option<Standing>, rect: Rect) {
        let round = rect.height() / 2.0;
        let line = Stroke::new(1.0, self.tokens.weak);
        self.painter.rect(rect, round, self.tokens.card, line, StrokeKind::Inside);
        let at = pos2(rect.left() + round, rect.center().y);
        standing_mark(&self.painter, at, standing, self.factor * 0.86, self.tokens);
        self.painter.text(
            pos2(rect.right() - 4.0 * self.factor, rect.center().y),
            Align2::RIGHT_CENTER,
            count,
            FontId::new(12.5 * self.factor, bold()),
            self.tokens.text,
        );
    }

    /// The tag of a feed with its two wires: P and M, each to its rail.
    fn tag(&self, feed: &Feed, look: &Look, (at, left): (Pos2, Vec2), tag: Rect) {
        let id = EntityId::Feed(feed.id);
        let selected = self.selection.contains(&id);
        let lit = selected || self.hovered == Some(id);
        let line = Stroke::new(1.5, if selected { self.tokens.accent } else { self.tokens.weak });
        let half = self.places.half_gauge();
        // Each wire begins at its rail and ends at its side of the tag.
        let way = (tag.center() - at).normalized();
        for (letter, rail) in [("P", feed.p), ("M", feed.m)] {
            let Some(rail) = rail else { continue };
            let side = if rail == Rail::Left { left } else { -left };
            let foot = at + side * half;
            let along = way.rot90() * if letter == "P" { 5.0 } else { -5.0 };
            let top = edge(tag, at) + along;
            let top = top.clamp(tag.min, tag.max);
            self.painter.line_segment([foot, top], line);
            self.painter.circle_filled(foot, 2.5, line.color);
            // Too short a wire has no room for its letter.
            if self.places.near() && foot.distance(top) > 26.0 {
                self.painter.text(
                    foot.lerp(top, 0.55) + along.normalized() * 7.0,
                    Align2::CENTER_CENTER,
                    letter,
                    FontId::new(11.0, bold()),
                    self.tokens.weak,
                );
            }
        }
        let frame = Stroke::new(
            if selected { 2.0 } else { 1.0 },
            if lit { self.tokens.accent } else { self.tokens.weak },
        );
        self.painter.rect(tag, 5.0, self.tokens.card, frame, StrokeKind::Inside);
        if let Look::Text(text) = look {
            let font = Face::Plain.font(self.factor);
            self.painter.text(tag.center(), Align2::CENTER_CENTER, text, font, self.tokens.text);
        }
    }
}

/// The mark of what stands against a gap: its verdict, or an open ring where nothing is judged.
pub fn standing_mark(
    painter: &Painter,
    at: Pos2,
    standing: Option<Standing>,
    factor: f32,
    t: &crate::app::theme::Tokens,
) {
    match standing {
        Some(Standing::Judged(verdict)) => {
            verdict_mark(painter, at, mark_radius(standing, factor), verdict, t);
        }
        Some(Standing::NotFed) => {
            let (line, r) = (Stroke::new(1.4 * factor, t.weak), 5.5 * factor);
            painter.circle_stroke(at, r, line);
            painter.line_segment([at - vec2(r, -r) * 0.7, at + vec2(r, -r) * 0.7], line);
        }
        None => {
            painter.circle_stroke(at, 5.0 * factor, Stroke::new(1.2 * factor, t.weak));
        }
    }
}

/// Where a line from a place to the middle of a box enters it.
fn edge(rect: Rect, from: Pos2) -> Pos2 {
    let way = rect.center() - from;
    let half = rect.size() / 2.0;
    let share =
        |along: f32, half: f32| if along.abs() > 1e-6 { half / along.abs() } else { f32::MAX };
    let inside = share(way.x, half.x).min(share(way.y, half.y)).min(1.0);
    rect.center() - way * inside
}
