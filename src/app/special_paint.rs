//! Painting special work: points, frogs, slip rails, bridges and their pits, buffers, bonds.

use eframe::egui::{Align2, Color32, FontId, Pos2, Rect, Shape, Stroke, Vec2, vec2};

use super::camera::World;
use super::labels::Level;
use super::marks::polarity_sign;
use super::paint::{Places, Scene, polarity_looks};
use super::special_drawn::{Drawn, FrogMark, OpenPoint, SlipRoad};
use super::theme::{RAIL_LINE, RUN_LINE, bold};
use crate::layout::geometry::Curve;
use crate::layout::{Bond, EntityId, Rail, RunEnd, Special, Spot, TrackEnd, Work};
use crate::rails::Polarity;

/// How far an open point stands off on the screen at least, points: to scale it could not be seen.
const LEAST_OPEN: f64 = 4.5;

impl Places<'_> {
    /// A place on a rail, on the screen.
    pub fn spot(&self, spot: Spot) -> Option<Pos2> {
        let curve = self.derived.curves.get(&spot.run)?;
        let place = if self.near() {
            curve.rail_at(spot.at_mm, spot.rail, self.layout.gauge_mm)
        } else {
            let pose = curve.at(spot.at_mm);
            (pose.x_mm, pose.y_mm)
        };
        Some(self.camera.to_screen(self.canvas, place))
    }

    /// The line of a bond, on the screen.
    pub fn bond_line(&self, bond: &Bond) -> Option<[Pos2; 2]> {
        Some([self.spot(bond.from)?, self.spot(bond.to)?])
    }

    /// How far a rail stands in from its place at a distance along its run, mm: where a point is open.
    pub fn point_open_mm(&self, points: &[OpenPoint], length_mm: f64, at_mm: f64) -> f64 {
        points
            .iter()
            .map(|point| {
                let from_end = if point.end == RunEnd::Start { at_mm } else { length_mm - at_mm };
                let share = 1.0 - from_end / point.long_mm.max(1e-6);
                let tip = point
                    .open_mm
                    .max(LEAST_OPEN / self.camera.scale)
                    .min(self.layout.gauge_mm * 0.35);
                tip * share.clamp(0.0, 1.0)
            })
            .fold(0.0, f64::max)
    }
}

impl Scene<'_> {
    fn specials_in_view(&self) -> Vec<(&Special, &Drawn)> {
        let view = self.places.canvas.expand(40.0);
        let specials = &self.places.derived.special.specials;
        specials
            .iter()
            .filter_map(|(id, drawn)| Some((self.places.layout.specials.get(id)?, drawn)))
            .filter(|(_, drawn)| {
                let reach = drawn.reach_mm * self.places.camera.scale;
                view.expand(reach as f32).contains(self.screen(drawn.at))
            })
            .collect()
    }

    /// What lies under the track: pits.
    pub fn under_track(&self) {
        for (special, drawn) in self.specials_in_view() {
            let Some((centre, half)) = drawn.pit else { continue };
            let fill = self.tokens.sleeper.gamma_multiply(0.55);
            let line = Stroke::new(1.5, self.tokens.weak);
            let radius = (half * self.places.camera.scale) as f32 + 2.0;
            match special.work {
                Work::Turntable { .. } => {
                    self.painter.circle(self.screen(centre), radius, fill, line);
                }
                _ => {
                    let corners = self.traverser_pit(drawn, centre, half);
                    self.painter.add(Shape::convex_polygon(corners, fill, line));
                }
            }
        }
    }

    /// The corners of a traverser's pit: as long as the bridge, as wide as it goes.
    fn traverser_pit(&self, drawn: &Drawn, centre: World, half: f64) -> Vec<Pos2> {
        let (dx, dy) = drawn.along;
        let aside = |p: &World| dx * (p.1 - centre.1) - dy * (p.0 - centre.0);
        let (mut low, mut high) = (0.0_f64, 0.0_f64);
        for road in &drawn.roads {
            (low, high) = (low.min(aside(road)), high.max(aside(road)));
        }
        let wide = self.places.layout.gauge_mm;
        let corner = |on: f64, left: f64| {
            self.screen((centre.0 + on * dx - left * dy, centre.1 + on * dy + left * dx))
        };
        let (low, high) = (low - wide, high + wide);
        vec![corner(-half, low), corner(half, low), corner(half, high), corner(-half, high)]
    }

    /// What lies on the track.
    pub fn on_track(&self) {
        for (special, drawn) in self.specials_in_view() {
            let id = EntityId::Special(special.id);
            let selected = self.selection.contains(&id);
            let hovered = self.hovered == Some(id);
            let at = self.screen(drawn.at);
            if selected || hovered {
                let colour = self.tokens.accent.gamma_multiply(if selected { 0.45 } else { 0.25 });
                self.painter.circle_filled(at, 15.0, colour);
            }
            match special.work {
                Work::Turntable { .. } | Work::Traverser { .. } => self.bridge(special, drawn),
                Work::Buffer { .. } => self.buffer(drawn),
                _ if self.places.near() => self.rails_of(special, drawn),
                // So far away that only blocks are told apart.
                _ if self.level() == Level::Far && !selected && !hovered => {}
                _ => self.afar(special, drawn),
            }
        }
        for bond in self.places.layout.bonds.values() {
            self.bond(bond);
        }
    }

    fn rails_of(&self, special: &Special, drawn: &Drawn) {
        for slip in &drawn.slips {
            self.slip(slip);
        }
        for frog in &drawn.frogs {
            self.frog(frog);
        }
        self.points_mark(special, drawn, 5.0);
    }

    /// A stretch of a road from its end on, on the screen.
    fn stretch(&self, end: TrackEnd, from_mm: f64, to_mm: f64) -> Vec<Pos2> {
        let Some(curve) = self.places.derived.curves.get(&end.run) else { return Vec::new() };
        let long = curve.length_mm();
        let (from_mm, to_mm) = (from_mm.min(long), to_mm.min(long));
        match end.end {
            RunEnd::Start => self.outline(curve, from_mm, to_mm, 0.0),
            RunEnd::End => self.outline(curve, long - to_mm, long - from_mm, 0.0),
        }
    }

    /// From afar the set road is heavy and the others are light, in the colours of their blocks; a mark stands at the
    /// points.
    fn afar(&self, special: &Special, drawn: &Drawn) {
        let scale = self.places.camera.scale;
        let far = |mm: f64| mm.clamp(12.0 / scale, 26.0 / scale);
        for (end, mm) in &drawn.not_set {
            let points = self.stretch(*end, 0.0, far(*mm));
            let ground = Stroke::new(RUN_LINE + 2.0, self.tokens.canvas);
            self.painter.add(Shape::line(points.clone(), ground));
            self.painter.add(Shape::line(points, Stroke::new(1.5, self.block_colour(*end))));
        }
        for (end, mm) in &drawn.set {
            let points = self.stretch(*end, 0.0, far(*mm));
            let stroke = Stroke::new(RUN_LINE + 2.0, self.block_colour(*end));
            self.painter.add(Shape::line(points, stroke));
        }
        for slip in drawn.slips.iter().filter(|slip| slip.set) {
            let points = self.slip_points(slip, 0.0);
            self.painter.add(Shape::line(points, Stroke::new(RUN_LINE + 1.0, self.tokens.text)));
        }
        self.points_mark(special, drawn, 5.5);
    }

    /// Colour of the block at the end of a run.
    fn block_colour(&self, end: TrackEnd) -> Color32 {
        let derived = self.places.derived;
        let nets = derived.nets.get(&end.run).map(|nets| &nets.blocks);
        let stretch = nets.and_then(|blocks| match end.end {
            RunEnd::Start => blocks.first(),
            RunEnd::End => blocks.last(),
        });
        match stretch.and_then(|stretch| stretch.block) {
            Some(block) => self.tokens.block(derived.looks.of(block)),
            None => self.tokens.dead,
        }
    }

    /// A small arrow head that points from the toe into the roads.
    fn points_mark(&self, special: &Special, drawn: &Drawn, size: f32) {
        let at = self.screen(drawn.at);
        let along = vec2(drawn.along.0 as f32, -drawn.along.1 as f32);
        let left = vec2(along.y, -along.x);
        let corners = if !matches!(special.work, Work::Turnout { .. }) {
            vec![at + along * size, at + left * size, at - along * size, at - left * size]
        } else {
            let (tip, back) = (along * size * 1.3, along * size * 0.9);
            vec![at + tip, at - back + left * size, at - back - left * size]
        };
        let line = Stroke::new(1.5, self.tokens.text);
        self.painter.add(Shape::convex_polygon(corners, self.tokens.canvas, line));
    }

    /// A frog: a marked shape, filled if it is live and hollow if it is dead, with the sign of its polarity.
    fn frog(&self, frog: &FrogMark) {
        let at = self.screen(frog.at);
        let along = vec2(frog.along.0 as f32, -frog.along.1 as f32);
        let left = vec2(along.y, -along.x);
        let size =
            (self.places.layout.gauge_mm * self.places.camera.scale * 0.24).clamp(5.0, 12.0) as f32;
        let corners = vec![
            at + along * size * 1.5,
            at + left * size * 0.7,
            at - along * size * 1.5,
            at - left * size * 0.7,
        ];
        let (colour, _) = polarity_looks(self.tokens, frog.polarity);
        let fill = if frog.polarity == Polarity::Dead { self.tokens.canvas } else { colour };
        self.painter.add(Shape::convex_polygon(corners, fill, Stroke::new(2.0, colour)));
        let positive = match frog.polarity {
            Polarity::Plus => true,
            Polarity::Minus => false,
            Polarity::Dead | Polarity::Alternating | Polarity::Fought => return,
        };
        polarity_sign(&self.painter, at, positive, self.tokens.canvas);
    }

    /// Points along a slip rail, `off` points to its left.
    fn slip_points(&self, slip: &SlipRoad, off: f32) -> Vec<Pos2> {
        let [from, to] = slip.ends.map(|pose| {
            let along = vec2(pose.dx as f32, -pose.dy as f32);
            (self.screen((pose.x_mm, pose.y_mm)), along)
        });
        let arm = from.0.distance(to.0) * 0.4;
        let (a, b) = (from.0 + from.1 * arm, to.0 - to.1 * arm);
        (0..=16)
            .map(|n| {
                let t = n as f32 / 16.0;
                let mix = |p: Pos2, q: Pos2| p.lerp(q, t);
                let (ab, bc, cd) = (mix(from.0, a), mix(a, b), mix(b, to.0));
                let (abc, bcd) = (mix(ab, bc), mix(bc, cd));
                let along: Vec2 = (bcd - abc).normalized();
                mix(abc, bcd) + vec2(along.y, -along.x) * off
            })
            .collect()
    }

    /// Slip rails: whole where they are set, thin and short of the roads where they are not.
    fn slip(&self, slip: &SlipRoad) {
        let half = (self.places.layout.gauge_mm * self.places.camera.scale / 2.0) as f32;
        for (off, polarity) in [half, -half].into_iter().zip(slip.polarity) {
            let points = self.slip_points(slip, off);
            let (colour, _) = polarity_looks(self.tokens, polarity);
            if slip.set {
                self.painter.add(Shape::line(points, Stroke::new(RAIL_LINE, colour)));
            } else if let Some(inner) = points.get(3..14) {
                let stroke = Stroke::new(1.0, colour.gamma_multiply(0.7));
                self.painter.add(Shape::line(inner.to_vec(), stroke));
            }
        }
    }

    fn bridge(&self, special: &Special, drawn: &Drawn) {
        let Some((_, half)) = drawn.pit else { return };
        let scale = self.places.camera.scale;
        let (dx, dy) = drawn.along;
        let wide = self.places.layout.gauge_mm * 0.95;
        let corner = |on: f64, left: f64| {
            self.screen((drawn.at.0 + on * dx - left * dy, drawn.at.1 + on * dy + left * dx))
        };
        let line = Stroke::new(1.5, self.tokens.text);
        let wide = wide.max(6.0 / scale);
        for side in [wide, -wide] {
            self.painter.line_segment([corner(-half, side), corner(half, side)], line);
        }
        // The end at which the bridge's run starts: after half a turn it is the other one.
        let start = corner(-half + 9.0 / scale, 0.0);
        let along = vec2(dx as f32, -dy as f32);
        let left = vec2(along.y, -along.x);
        let mark = vec![
            start - along * 8.0,
            start + along * 3.0 + left * 6.0,
            start + along * 3.0 - left * 6.0,
        ];
        self.painter.add(Shape::convex_polygon(mark, self.tokens.text, Stroke::NONE));
        if half * scale < 34.0 {
            return;
        }
        let per_road = if matches!(special.work, Work::Turntable { .. }) { 2 } else { 1 };
        for (n, road) in drawn.roads.iter().enumerate() {
            let here = special.position / per_road == n as u32;
            let at = self.screen(*road);
            let middle = self.screen(drawn.pit.map_or(*road, |(centre, _)| centre));
            let inwards = (middle - at).normalized();
            let aside = vec2(-inwards.y, inwards.x) * (self.half_gauge() + 12.0);
            let (font, colour) = if here {
                (FontId::new(13.0, bold()), self.tokens.text)
            } else {
                (FontId::proportional(12.0), self.tokens.weak)
            };
            let place = at - inwards * 12.0 + aside;
            if here {
                let ring = Stroke::new(1.5, self.tokens.text);
                self.painter.circle_stroke(place, 9.0, ring);
            }
            self.painter.text(place, Align2::CENTER_CENTER, (n + 1).to_string(), font, colour);
        }
    }

    fn half_gauge(&self) -> f32 {
        if self.places.near() {
            (self.places.layout.gauge_mm * self.places.camera.scale / 2.0) as f32
        } else {
            0.0
        }
    }

    /// A bar across the end of track.
    fn buffer(&self, drawn: &Drawn) {
        let at = self.screen(drawn.at);
        let along = vec2(drawn.along.0 as f32, -drawn.along.1 as f32);
        let left = vec2(along.y, -along.x) * (self.half_gauge() * 1.5).max(8.0);
        let stroke = Stroke::new(4.0, self.tokens.text);
        self.painter.line_segment([at + left, at - left], stroke);
    }

    fn bond(&self, bond: &Bond) {
        let Some([from, to]) = self.places.bond_line(bond) else { return };
        let view = self.places.canvas.expand(20.0);
        if !view.intersects(Rect::from_two_pos(from, to).expand(1.0)) {
            return;
        }
        let id = EntityId::Bond(bond.id);
        let selected = self.selection.contains(&id) || self.hovered == Some(id);
        let colour = if selected { self.tokens.accent } else { self.tokens.text };
        self.wire(from, to, colour);
    }

    /// A wire with a solder joint at either end, bowed so that it is not taken for a rail.
    fn wire(&self, from: Pos2, to: Pos2, colour: Color32) {
        let along = to - from;
        let bow = vec2(-along.y, along.x) * 0.12;
        let points: Vec<Pos2> = (0..=12)
            .map(|n| {
                let t = n as f32 / 12.0;
                from + along * t + bow * (4.0 * t * (1.0 - t))
            })
            .collect();
        self.painter.add(Shape::line(points, Stroke::new(1.5, colour)));
        for end in [from, to] {
            self.painter.circle_filled(end, 3.0, colour);
        }
    }

    /// Track that would be laid, or why not.
    pub fn special_preview(&self, at: Pos2, laid: &[Curve], refused: Option<&str>) {
        let accent = self.tokens.accent;
        for curve in laid {
            let points = self.outline(curve, 0.0, curve.length_mm(), 0.0);
            self.painter.add(Shape::line(points, Stroke::new(3.0, accent)));
        }
        self.painter.circle_stroke(at, 6.0, Stroke::new(2.0, accent));
        if let Some(why) = refused {
            // The first sentence says it; the whole stands in the notice after a click.
            let short: String =
                why.split_inclusive(". ").next().unwrap_or(why).chars().take(90).collect();
            self.caption(at, short.trim());
        }
    }

    /// A bond that would be made.
    pub fn bond_preview(&self, from: Option<Spot>, to: Spot) {
        let Some(end) = self.places.spot(to) else { return };
        match from.and_then(|from| self.places.spot(from)) {
            Some(from) => self.wire(from, end, self.tokens.accent),
            None => {
                self.painter.circle_filled(end, 5.0, self.tokens.accent);
            }
        }
        let rail = if to.rail == Rail::Left { "left" } else { "right" };
        self.caption(
            end,
            &format!("{rail} rail of {} at {}", to.run, self.places.camera.units.mm(to.at_mm)),
        );
    }
}
