//! Painting the plan: from afar one line per run in its block's colour and dash, near by two rails with their polarity.

use std::collections::BTreeMap;

use eframe::egui::{
    Align2, Color32, FontId, Painter, Pos2, Rect, Shape, Stroke, StrokeKind, Vec2, pos2, vec2,
};

use super::camera::{Camera, World};
use super::derived::Derived;
use super::lay::Ghost;
use super::marks::{dashed, polarity_sign, verdict_mark};
use super::names::origin_name;
use super::nets::{BlockStretch, RailStretch};
use super::theme::{RAIL_LINE, RUN_LINE, Tokens, block_dash, bold};
use crate::findings::{Report, Round, Verdict};
use crate::layout::geometry::{Curve, Pose};
use crate::layout::{
    Cut, EntityId, Feed, FeedId, JointId, Label, Layout, Rail, Rails, RunId, Spot,
};
use crate::rails::Polarity;
use crate::report::cut_verdict;

/// From this distance between the rails on, a run is drawn as two rails, points.
const NEAR: f64 = 9.0;
/// Size of a feed that has no room for its tag, points.
const STUD: Vec2 = Vec2::new(9.0, 9.0);
/// Distance of a cut's mark from the track, points.
const BADGE_OFF: f32 = 19.0;

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

/// Where things stand on the screen.
#[derive(Clone, Copy)]
pub struct Places<'a> {
    /// From where one looks.
    pub camera: Camera,
    /// The canvas.
    pub canvas: Rect,
    /// The layout.
    pub layout: &'a Layout,
    /// Its geometry.
    pub derived: &'a Derived,
}

impl Places<'_> {
    /// Whether the two rails are told apart.
    pub fn near(&self) -> bool {
        self.layout.gauge_mm * self.camera.scale >= NEAR
    }

    fn screen(&self, at: World) -> Pos2 {
        self.camera.to_screen(self.canvas, at)
    }

    fn pose(&self, run: RunId, at_mm: f64) -> Option<Pose> {
        self.derived.curves.get(&run).map(|c| c.at(at_mm))
    }

    /// On the screen: the place, and the unit vector to the left of the run.
    fn placed(&self, run: RunId, at_mm: f64) -> Option<(Pos2, Vec2)> {
        let pose = self.pose(run, at_mm)?;
        let left = vec2(-pose.dy as f32, -pose.dx as f32);
        Some((self.screen((pose.x_mm, pose.y_mm)), left))
    }

    fn half_gauge(&self) -> f32 {
        if self.near() { (self.layout.gauge_mm * self.camera.scale / 2.0) as f32 } else { 0.0 }
    }

    /// Upwards on the screen, or to the left where the track is upright: the side of verdicts.
    fn upper(left: Vec2) -> Vec2 {
        if left.y < -0.01 || (left.y.abs() <= 0.01 && left.x < 0.0) { left } else { -left }
    }

    /// A cut's place on the track and that of its mark.
    pub fn cut_places(&self, cut: &Cut) -> Option<(Pos2, Pos2)> {
        let (at, left) = self.placed(cut.run, cut.at_mm)?;
        Some((at, at + Self::upper(left) * (BADGE_OFF + self.half_gauge())))
    }

    /// How far from the track a box of this size stands clear of it, points.
    fn clear_of_track(&self, left: Vec2, size: Vec2) -> f32 {
        let reach = (left.x.abs() * size.x + left.y.abs() * size.y) / 2.0;
        self.half_gauge() + reach + 9.0
    }

    /// The tags of the feeds in view. Where two would lie on each other, the later one stands farther from the track, or
    /// is a stud without words.
    pub fn feed_tags(&self) -> BTreeMap<FeedId, Rect> {
        // With very many in view nobody reads them, and looking each up against each would take long.
        const MOST: usize = 150;
        let view = self.canvas.expand(80.0);
        let mut tags: BTreeMap<FeedId, Rect> = BTreeMap::new();
        for feed in self.layout.feeds.values() {
            let Some((at, left)) = self.placed(feed.run, feed.at_mm) else { continue };
            if !view.contains(at) {
                continue;
            }
            let letters = tag_words(self.layout, feed).chars().count();
            let size = vec2(16.0 + 6.9 * letters as f32, 19.0);
            let away = -Self::upper(left);
            let first = self.clear_of_track(left, size) + 12.0;
            let tag = |step: f32| Rect::from_center_size(at + away * (first + step * 23.0), size);
            let free = |rect: &Rect| !tags.values().any(|t| t.expand(2.0).intersects(*rect));
            // Where there is no room it shrinks to a stud beside the track.
            let stud = Rect::from_center_size(at + away * (self.half_gauge() + 9.0), STUD);
            let places = [0.0, 1.0, 2.0].map(tag).into_iter();
            let rect = places.filter(|_| tags.len() < MOST).find(free).unwrap_or(stud);
            tags.insert(feed.id, rect);
        }
        tags
    }

    /// The place of a block's name.
    pub fn label_place(&self, label: &Label) -> Option<Pos2> {
        let (at, left) = self.placed(label.run, label.at_mm)?;
        Some(at + Self::upper(left) * (BADGE_OFF + self.half_gauge()))
    }

    /// Where an entity is to be pointed at.
    pub fn node_place(&self, tags: &BTreeMap<FeedId, Rect>, id: EntityId) -> Option<Pos2> {
        match id {
            EntityId::Cut(c) => self.cut_places(self.layout.cuts.get(&c)?).map(|p| p.0),
            EntityId::Feed(f) => tags.get(&f).map(|r| r.center()),
            other => self.derived.place(self.layout, other).map(|at| self.screen(at)),
        }
    }
}

/// Everything that one picture of the plan depends on.
pub struct Scene<'a> {
    /// Paints within the canvas.
    pub painter: Painter,
    /// Where things stand.
    pub places: Places<'a>,
    /// What the check found.
    pub report: &'a Report,
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
        // A verdict is never hidden by a name.
        self.block_names();
        for cut in self.places.layout.cuts.values() {
            self.cut(cut);
        }
        for (id, tag) in self.places.feed_tags() {
            if let Some(feed) = self.places.layout.feeds.get(&id) {
                self.feed(feed, tag);
            }
        }
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

    fn in_view(&self, id: RunId, (low, high): (World, World)) -> bool {
        self.places
            .derived
            .boxes
            .get(&id)
            .is_some_and(|(a, b)| a.0 <= high.0 && b.0 >= low.0 && a.1 <= high.1 && b.1 >= low.1)
    }

    fn grid(&self) {
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

    /// Points of a stretch on the screen, `off_mm` to the left of the centre line.
    pub fn outline(&self, curve: &Curve, from: f64, to: f64, off_mm: f64) -> Vec<Pos2> {
        let tolerance = 0.25 / self.places.camera.scale;
        curve
            .outline(from, to, tolerance)
            .iter()
            .map(|pose| self.screen(pose.left_by(off_mm)))
            .collect()
    }

    /// Points of a rail on the screen; where it is an open point, it stands in from its place.
    fn rail_points(&self, id: RunId, curve: &Curve, from: f64, to: f64, off: f64) -> Vec<Pos2> {
        let rail = if off > 0.0 { Rail::Left } else { Rail::Right };
        let Some(points) = self.places.derived.special.open.get(&(id, rail)) else {
            return self.outline(curve, from, to, off);
        };
        let steps = ((to - from) * self.places.camera.scale / 6.0).ceil().clamp(8.0, 400.0);
        (0..=steps as u32)
            .map(|n| {
                let at = from + (to - from) * f64::from(n) / steps;
                let open = self.places.point_open_mm(points, curve.length_mm(), at);
                self.screen(curve.at(at).left_by(off - off.signum() * open))
            })
            .collect()
    }

    fn halo(&self, id: RunId, curve: &Curve) {
        let id = EntityId::Run(id);
        let selected = self.selection.contains(&id);
        if !selected && self.hovered != Some(id) {
            return;
        }
        let width = if self.places.near() {
            (self.places.layout.gauge_mm * self.places.camera.scale) as f32 + 14.0
        } else {
            RUN_LINE + 10.0
        };
        let alpha = if selected { 0.42 } else { 0.2 };
        let colour = self.tokens.accent.gamma_multiply(alpha);
        let points = self.outline(curve, 0.0, curve.length_mm(), 0.0);
        self.painter.add(Shape::line(points, Stroke::new(width, colour)));
    }

    /// A stretch with its ends drawn back where the rail is cut.
    fn shortened(&self, cuts: &[f64], from: f64, to: f64, gap_points: f32) -> Option<(f64, f64)> {
        let half = f64::from(gap_points) / 2.0 / self.places.camera.scale;
        let cut_at = |mm: f64| cuts.iter().any(|at| (at - mm).abs() < 0.02);
        let from = if cut_at(from) { from + half } else { from };
        let to = if cut_at(to) { to - half } else { to };
        (to > from).then_some((from, to))
    }

    /// How wide the break of a cut is drawn, points: to scale, but never too small to see.
    fn gap_points(&self, run: RunId) -> f32 {
        let widest = self
            .places
            .layout
            .cuts
            .values()
            .filter(|c| c.run == run)
            .map(|c| c.width_mm)
            .fold(0.0, f64::max);
        ((widest * self.places.camera.scale) as f32).max(6.0)
    }

    fn line(&self, id: RunId, curve: &Curve) {
        let Some(nets) = self.places.derived.nets.get(&id) else { return };
        let cuts: Vec<f64> = self.places.derived.cut_at.get(&id).map_or(Vec::new(), |c| c.concat());
        for BlockStretch { from_mm, to_mm, block } in &nets.blocks {
            let Some((from, to)) = self.shortened(&cuts, *from_mm, *to_mm, 7.0) else { continue };
            let points = self.outline(curve, from, to, 0.0);
            let (colour, dash): (Color32, &[f32]) = match block {
                Some(n) => (self.tokens.block(*n), block_dash(*n)),
                None => (self.tokens.dead, &[]),
            };
            dashed(&self.painter, &points, Stroke::new(RUN_LINE, colour), dash);
        }
    }

    fn sleepers(&self, curve: &Curve) {
        let scale = self.places.camera.scale;
        // Drawn by eye, not to scale: one every gauge or so, fewer when they would run together.
        let step = self.places.layout.gauge_mm * if scale > 1.0 { 0.6 } else { 1.0 };
        let half = self.places.layout.gauge_mm * 0.85;
        let count = (curve.length_mm() / step).floor();
        if !(1.0..=2000.0).contains(&count) {
            return;
        }
        let stroke = Stroke::new((step * scale * 0.3).clamp(1.5, 9.0) as f32, self.tokens.sleeper);
        for n in 0..count as u32 {
            let pose = curve.at((f64::from(n) + 0.5) * step);
            let ends = [self.screen(pose.left_by(half)), self.screen(pose.left_by(-half))];
            if self.places.canvas.expand(20.0).contains(ends[0]) {
                self.painter.line_segment(ends, stroke);
            }
        }
    }

    fn rails(&self, id: RunId, curve: &Curve) {
        let Some(nets) = self.places.derived.nets.get(&id) else { return };
        let empty: [Vec<f64>; 2] = Default::default();
        let cuts = self.places.derived.cut_at.get(&id).unwrap_or(&empty);
        let broken = self.places.derived.broken_at.get(&id).unwrap_or(&empty);
        let gap = self.gap_points(id);
        let half = self.places.layout.gauge_mm / 2.0;
        for (n, rail) in nets.rails.iter().enumerate() {
            let off = if n == 0 { half } else { -half };
            for RailStretch { from_mm, to_mm, polarity, .. } in rail {
                let Some((from, to)) = self.shortened(&cuts[n], *from_mm, *to_mm, gap) else {
                    continue;
                };
                let Some((from, to)) = self.shortened(&broken[n], from, to, 5.0) else { continue };
                let points = self.rail_points(id, curve, from, to, off);
                let (colour, dash) = polarity_looks(self.tokens, *polarity);
                dashed(&self.painter, &points, Stroke::new(RAIL_LINE, colour), dash);
                self.signs(curve, from, to, off, *polarity, colour);
            }
        }
        // The block's own colour stays in sight between the rails.
        let all: Vec<f64> = cuts.concat();
        for BlockStretch { from_mm, to_mm, block } in &nets.blocks {
            let (Some(n), Some((from, to))) =
                (block, self.shortened(&all, *from_mm, *to_mm, gap + 4.0))
            else {
                continue;
            };
            let points = self.outline(curve, from, to, 0.0);
            let stroke = Stroke::new(2.0, self.tokens.block(*n).gamma_multiply(0.75));
            dashed(&self.painter, &points, stroke, block_dash(*n));
        }
    }

    /// Signs of polarity outside a rail, every so often.
    fn signs(&self, curve: &Curve, from: f64, to: f64, off: f64, is: Polarity, colour: Color32) {
        let positive = match is {
            Polarity::Plus => true,
            Polarity::Minus => false,
            Polarity::Dead | Polarity::Alternating | Polarity::Fought => return,
        };
        let scale = self.places.camera.scale;
        let out = off + off.signum() * 9.0 / scale;
        let every = 130.0 / scale;
        let count = ((to - from) / every).ceil().clamp(1.0, 200.0);
        for n in 0..count as u32 {
            let at = from + (to - from) * (f64::from(n) + 0.5) / count;
            let place = self.screen(curve.at(at).left_by(out));
            if self.places.canvas.contains(place) {
                polarity_sign(&self.painter, place, positive, colour);
            }
        }
    }

    fn joints(&self) {
        let layout = self.places.layout;
        let mut ends: BTreeMap<JointId, usize> = Default::default();
        for run in layout.runs.values() {
            *ends.entry(run.from).or_default() += 1;
            *ends.entry(run.to).or_default() += 1;
        }
        for (id, joint) in &layout.joints {
            let at = self.screen((joint.x_mm, joint.y_mm));
            // At points and on bridges other marks stand.
            if ends.get(id).copied().unwrap_or(0) > 2
                || self.places.derived.bridge_joints.contains_key(id)
            {
                continue;
            }
            if !self.places.canvas.expand(10.0).contains(at) {
                continue;
            }
            let selected = self.selection.contains(&EntityId::Joint(*id));
            let hovered = self.hovered == Some(EntityId::Joint(*id));
            let free = ends.get(id).copied().unwrap_or(0) < 2;
            let radius = if selected || hovered {
                6.0
            } else if free {
                4.0
            } else {
                2.5
            };
            let line = if selected || hovered { self.tokens.accent } else { self.tokens.weak };
            self.painter.circle(at, radius, self.tokens.canvas, Stroke::new(1.5, line));
        }
    }

    /// The worst that stands against a cut; `None` while it is not checked.
    fn cut_verdict(&self, cut: &Cut) -> Option<Verdict> {
        let told = self.report.cuts.iter().find(|c| c.id == cut.id)?;
        Some(cut_verdict(self.report, told))
    }

    fn cut(&self, cut: &Cut) {
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
                &cut.name,
                FontId::proportional(12.0),
                self.tokens.text,
            );
        }
    }

    /// Points out a place on a run: a ring from afar, a band across the track near by.
    fn ring(&self, run: RunId, at_mm: f64, at: Pos2, colour: Color32) {
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
    fn cut_ticks(&self, run: RunId, at_mm: f64, rails: Rails, stagger_mm: f64, colour: Color32) {
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

    fn feed(&self, feed: &Feed, tag: Rect) {
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
    fn block_names(&self) {
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

    fn preview(&self) {
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

    fn scale_bar(&self) {
        let canvas = self.places.canvas;
        let bar_mm = self.places.camera.grid_mm(90.0);
        let width = (bar_mm * self.places.camera.scale) as f32;
        let left = canvas.left_bottom() + vec2(18.0, -20.0);
        let right = left + vec2(width, 0.0);
        let stroke = Stroke::new(1.5, self.tokens.weak);
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

/// Colour and dash of a rail at a polarity.
pub fn polarity_looks(t: &Tokens, polarity: Polarity) -> (Color32, &'static [f32]) {
    match polarity {
        Polarity::Dead => (t.dead, &[3.0, 3.0]),
        Polarity::Plus => (t.positive, &[]),
        Polarity::Minus => (t.negative, &[]),
        Polarity::Alternating => (t.text, &[10.0, 3.0]),
        Polarity::Fought => (t.verdict(Verdict::Short), &[6.0, 2.0, 2.0, 2.0]),
    }
}

/// What stands on a feed's tag.
fn tag_words(layout: &Layout, feed: &Feed) -> String {
    let name = origin_name(layout, feed.driver);
    if name.chars().count() <= 20 {
        return name;
    }
    name.chars().take(19).chain(std::iter::once('…')).collect()
}
