//! What stands at the track: cuts with their verdicts, feeds, names of blocks.

use std::collections::BTreeMap;

use eframe::egui::{Align2, Color32, FontId, Pos2, Rect, Stroke, StrokeKind, pos2, vec2};

use super::Scene;
use super::places::{Places, STUD, tag_words};
use crate::app::marks::verdict_mark;
use crate::app::nets::BlockStretch;
use crate::app::theme::bold;
use crate::findings::Verdict;
use crate::layout::{Cut, EntityId, Feed, Rail, Rails, RunId, shown};
use crate::report::cut_verdict;

impl Scene<'_> {
    /// The worst that stands against a cut; `None` while it is not checked.
    pub(super) fn cut_verdict(&self, cut: &Cut) -> Option<Verdict> {
        let told = self.report.cuts.iter().find(|c| c.id == cut.id)?;
        Some(cut_verdict(self.report, told))
    }

    pub(super) fn cut(&self, cut: &Cut) {
        let Some((at, badge)) = self.places.cut_places(cut) else { return };
        if !self.places.canvas.expand(30.0).contains(at) {
            return;
        }
        let id = EntityId::Cut(cut.id);
        let selected = self.selection.contains(&id);
        let hovered = self.hovered == Some(id);
        self.cut_ticks(cut.run, cut.at_mm, cut.rails, cut.stagger_mm, self.tokens.text);
        if selected || hovered {
            let colour = self.tokens.accent.gamma_multiply(if selected { 0.45 } else { 0.25 });
            self.painter.circle_filled(badge, 15.0, colour);
            self.ring(cut.run, cut.at_mm, at, colour);
        }
        match self.cut_verdict(cut) {
            Some(verdict) => {
                let radius = if verdict.is_fault() { 9.0 } else { 7.0 };
                self.painter.circle_filled(badge, radius + 2.5, self.tokens.canvas);
                verdict_mark(&self.painter, badge, radius, verdict, self.tokens);
            }
            None => {
                self.painter.circle_stroke(badge, 5.0, Stroke::new(1.2, self.tokens.weak));
            }
        }
        if !cut.name.is_empty() && (selected || hovered || self.places.camera.scale > 0.22) {
            self.painter.text(
                badge + vec2(14.0, -1.0),
                Align2::LEFT_CENTER,
                shown(&cut.name),
                FontId::proportional(12.0),
                self.tokens.text,
            );
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

    pub(super) fn feed(&self, feed: &Feed, tag: Rect) {
        let Some((at, left)) = self.places.placed(feed.run, feed.at_mm) else { return };
        let id = EntityId::Feed(feed.id);
        let selected = self.selection.contains(&id);
        let hovered = self.hovered == Some(id);
        let line = Stroke::new(1.5, if selected { self.tokens.accent } else { self.tokens.weak });
        let half = self.places.half_gauge();
        for (letter, rail) in [("P", feed.p), ("M", feed.m)] {
            let Some(rail) = rail else { continue };
            let side = if rail == Rail::Left { left } else { -left };
            let foot = at + side * half;
            let along = vec2(left.y, -left.x) * if letter == "P" { 5.0 } else { -5.0 };
            let on_tag = tag.center() + along;
            let top = pos2(on_tag.x, if tag.center().y > at.y { tag.top() } else { tag.bottom() });
            let top = if (tag.center().y - at.y).abs() < 4.0 { on_tag } else { top };
            self.painter.line_segment([foot, top], line);
            self.painter.circle_filled(foot, 2.5, line.color);
            if self.places.near() {
                let away = if tag.center().y > at.y { 1.0 } else { -1.0 };
                self.painter.text(
                    foot.lerp(top, 0.62) + along.normalized() * 7.0 + vec2(0.0, away),
                    Align2::CENTER_CENTER,
                    letter,
                    FontId::new(11.0, bold()),
                    self.tokens.weak,
                );
            }
        }
        let edge = if selected || hovered { self.tokens.accent } else { self.tokens.weak };
        self.painter.rect(
            tag,
            5.0,
            self.tokens.card,
            Stroke::new(if selected { 2.0 } else { 1.0 }, edge),
            StrokeKind::Inside,
        );
        if tag.size() == STUD && !selected && !hovered {
            return;
        }
        self.painter.text(
            tag.center(),
            Align2::CENTER_CENTER,
            tag_words(self.places.layout, feed),
            FontId::proportional(12.0),
            self.tokens.text,
        );
    }

    /// Each block's name once, where the block has most room.
    pub(super) fn block_names(&self) {
        let mut best: BTreeMap<usize, (f64, RunId, f64)> = Default::default();
        for (run, nets) in &self.places.derived.nets {
            for BlockStretch { from_mm, to_mm, block } in &nets.blocks {
                let Some(block) = block else { continue };
                let length = to_mm - from_mm;
                let longest = best.entry(*block).or_insert((0.0, *run, 0.0));
                if length > longest.0 {
                    *longest = (length, *run, from_mm + length * 0.5);
                }
            }
        }
        let mut best: Vec<_> = best.into_iter().collect();
        best.sort_by(|a, b| b.1.0.total_cmp(&a.1.0).then(a.0.cmp(&b.0)));
        // The longest first; a name that would lie on another one is left out.
        let mut drawn: Vec<Rect> = Vec::new();
        for (block, (length, run, at)) in best {
            if length * self.places.camera.scale < 50.0 {
                continue;
            }
            let Some((place, left)) = self.places.placed(run, at) else { continue };
            let Some(name) = self.report.blocks.get(block).map(|b| b.name.as_str()) else {
                continue;
            };
            let galley = self.painter.layout_no_wrap(
                name.to_owned(),
                FontId::new(12.5, bold()),
                self.tokens.text,
            );
            let size = galley.size() + vec2(10.0, 4.0);
            let off = Places::upper(left) * self.places.clear_of_track(left, size);
            let rect = Rect::from_center_size(place + off, size);
            if drawn.iter().any(|other| other.intersects(rect)) {
                continue;
            }
            drawn.push(rect);
            self.painter.rect_filled(rect, 4.0, self.tokens.canvas.gamma_multiply(0.9));
            let underline =
                [rect.left_bottom() + vec2(5.0, 0.0), rect.right_bottom() - vec2(5.0, 0.0)];
            self.painter.line_segment(underline, Stroke::new(2.0, self.tokens.block(block)));
            self.painter.galley(rect.min + vec2(5.0, 2.0), galley, self.tokens.text);
        }
    }
}
