//! The train on the plan, with a few words beside it.

use eframe::egui::{
    Align2, FontId, Id, Painter, Pos2, Rect, Role, Sense, Shape, Stroke, StrokeKind, Ui, Vec2,
    WidgetInfo, pos2, vec2,
};

use super::OnPlan;
use crate::app::App;
use crate::app::theme::{Tokens, tokens};
use crate::layout::geometry::Pose;

/// Draws the train, and names it for assistive technology.
pub fn paint(ui: &Ui, app: &App, canvas: Rect) {
    let Some(here) = app.run.on_plan() else { return };
    let painter = ui.painter_at(canvas);
    let t = tokens(ui);
    let Some(outline) = band(&painter, app, here, canvas, t) else { return };
    let words = app.run.words(app);
    let seen = outline.intersect(canvas);
    if seen.is_positive() {
        label(&painter, app, canvas, seen, &words, t);
        let node = ui.interact(seen, Id::unique("train on the plan"), Sense::hover());
        let said = format!("Train on the plan: {words}");
        node.widget_info(|| WidgetInfo::labeled(Role::Label, true, &said));
    }
}

/// Draws the whole train as a band along the track, marked where it joins nets, and each axle across it. Returns the box
/// around it.
fn band(painter: &Painter, app: &App, here: &OnPlan, canvas: Rect, t: &Tokens) -> Option<Rect> {
    let standing = app.run.standing(here);
    let at = |behind_mm: f64, left_mm: f64| -> Option<Pos2> {
        let place = here.course.place(app.run.position_mm, behind_mm)?;
        let pose = app.derived.curves.get(&place.run)?.at(place.at_mm);
        let left = if place.along { left_mm } else { -left_mm };
        Some(app.camera.to_screen(canvas, pose.left_by(left)))
    };
    // From afar it stays wide enough to be seen.
    let half = (app.doc.layout().gauge_mm * 0.75).max(5.0 / app.camera.scale);
    let length = here.course.length_mm();
    let steps = 24;
    let mut outline: Vec<Pos2> = Vec::new();
    for side in [half, -half] {
        let mut edge: Vec<Pos2> = (0..=steps)
            .filter_map(|k| at(length * f64::from(k) / f64::from(steps), side))
            .collect();
        if side < 0.0 {
            edge.reverse();
        }
        outline.append(&mut edge);
    }
    let first = *outline.first()?;
    let mut around = Rect::from_min_max(first, first);
    outline.iter().for_each(|at| around.extend_with(*at));
    let joins = standing.groups.iter().any(|group| group.joins());
    let width = if joins { 3.0 } else { 1.5 };
    painter.add(Shape::closed_line(outline, Stroke::new(width, t.verdict(standing.verdict))));
    for (behind_mm, picks_up) in here.course.axles() {
        if let (Some(a), Some(b)) = (at(behind_mm, half * 0.66), at(behind_mm, -half * 0.66)) {
            let middle = pos2(f32::midpoint(a.x, b.x), f32::midpoint(a.y, b.y));
            painter.line_segment([a, b], Stroke::new(2.0, t.text));
            // Filled where it picks up.
            if picks_up {
                painter.circle_filled(middle, 2.5, t.text);
            } else {
                painter.circle_stroke(middle, 2.5, Stroke::new(1.0, t.text));
            }
        }
    }
    Some(around.expand(2.0))
}

/// The words beside the train, on a card that lies on no track if there is room for one.
fn label(painter: &Painter, app: &App, canvas: Rect, train: Rect, words: &str, t: &Tokens) {
    let width = canvas.width().min(320.0);
    let galley = painter.layout(words.to_owned(), FontId::proportional(13.0), t.text, width);
    let size = galley.size() + vec2(12.0, 6.0);
    let card = free_place(&taken(app, canvas, train), canvas.shrink(4.0), train, size);
    let edge = train.center().clamp(card.min, card.max);
    painter.line_segment([edge, train.center()], Stroke::new(1.0, t.outline));
    painter.rect(card, 4.0, t.card, Stroke::new(1.0, t.hairline), StrokeKind::Inside);
    let at = Align2::CENTER_CENTER.align_size_within_rect(galley.size(), card).min;
    painter.galley(at, galley, t.text);
}

/// How far from the train its words may stand, points.
const AWAY: [f32; 4] = [26.0, 60.0, 100.0, 150.0];

/// Points that the words should leave free: of the track, and of names on the plan, as far as they are near.
fn taken(app: &App, canvas: Rect, train: Rect) -> Vec<Pos2> {
    let near = train.expand(AWAY[3] + 330.0);
    let on_screen = |pose: Pose| app.camera.to_screen(canvas, (pose.x_mm, pose.y_mm));
    let mut points: Vec<Pos2> = Vec::new();
    for curve in app.derived.curves.values() {
        let steps = (curve.length_mm() * app.camera.scale / 8.0).ceil().clamp(2.0, 200.0);
        let places = (0..=steps as u32).map(|n| curve.length_mm() * f64::from(n) / steps);
        points.extend(places.map(|at| on_screen(curve.at(at))).filter(|at| near.contains(*at)));
    }
    let layout = app.doc.layout();
    let names = layout.labels.values().map(|label| (label.run, label.at_mm));
    let cuts = layout.cuts.values().map(|cut| (cut.run, cut.at_mm));
    for (run, at_mm) in names.chain(cuts) {
        let Some(curve) = app.derived.curves.get(&run) else { continue };
        let at = on_screen(curve.at(at_mm));
        let around = [vec2(0.0, -20.0), vec2(-34.0, -20.0), vec2(34.0, -20.0), vec2(0.0, 20.0)];
        points.extend(around.map(|by| at + by));
    }
    points
}

/// The place for a card of a size beside the train that covers the fewest of the points, the nearest of equals.
fn free_place(points: &[Pos2], canvas: Rect, train: Rect, size: Vec2) -> Rect {
    let sides = [
        vec2(0.0, -1.0),
        vec2(0.0, 1.0),
        vec2(1.0, 0.0),
        vec2(-1.0, 0.0),
        vec2(1.0, -1.0),
        vec2(-1.0, 1.0),
        vec2(1.0, 1.0),
        vec2(-1.0, -1.0),
    ];
    let half = (train.size() + size) / 2.0;
    let mut best: Option<(usize, Rect)> = None;
    for side in
        AWAY.into_iter().flat_map(|away| sides.map(|side| side * (half + Vec2::splat(away))))
    {
        let card = Rect::from_center_size(train.center() + side, size);
        if !canvas.contains_rect(card) {
            continue;
        }
        let covered = points.iter().filter(|at| card.expand(4.0).contains(**at)).count();
        if best.is_none_or(|(least, _)| covered < least) {
            best = Some((covered, card));
        }
        if covered == 0 {
            break;
        }
    }
    // In a canvas that is too small for any of them it lies over the train.
    best.map_or_else(|| Rect::from_center_size(train.center(), size), |(_, card)| card)
}
