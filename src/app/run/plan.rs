//! The train on the plan, with a few words beside it.

use eframe::egui::{
    Align2, FontId, Id, Painter, Pos2, Rect, Role, Sense, Shape, Stroke, StrokeKind, Ui,
    WidgetInfo, pos2, vec2,
};

use super::OnPlan;
use crate::app::App;
use crate::app::theme::{Tokens, tokens};

/// Draws the train, and names it for assistive technology.
pub fn paint(ui: &Ui, app: &App, canvas: Rect) {
    let Some(here) = app.run.on_plan() else { return };
    let painter = ui.painter_at(canvas);
    let t = tokens(ui);
    let Some(outline) = band(&painter, app, here, canvas, t) else { return };
    let words = app.run.words(app);
    let seen = outline.intersect(canvas);
    if seen.is_positive() {
        label(&painter, canvas, seen, &words, t);
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

/// The words above the train, or below it where there is no room above.
fn label(painter: &Painter, canvas: Rect, train: Rect, words: &str, t: &Tokens) {
    const AWAY: f32 = 34.0;
    let galley = painter.layout(
        words.to_owned(),
        FontId::proportional(13.0),
        t.text,
        canvas.width().min(320.0),
    );
    let size = galley.size() + vec2(12.0, 6.0);
    let above = pos2(train.center().x, train.top() - AWAY - size.y / 2.0);
    let below = pos2(train.center().x, train.bottom() + AWAY + size.y / 2.0);
    let middle = if above.y - size.y / 2.0 > canvas.top() + 4.0 { above } else { below };
    let half = size.x / 2.0 + 4.0;
    let (left, right) = (canvas.left() + half, canvas.right() - half);
    let middle = pos2(middle.x.clamp(left.min(right), right.max(left)), middle.y);
    let card = Rect::from_center_size(middle, size);
    let foot = if middle.y < train.top() { card.center_bottom() } else { card.center_top() };
    let edge = if middle.y < train.top() { train.center_top() } else { train.center_bottom() };
    painter.line_segment([foot, edge], Stroke::new(1.0, t.outline));
    painter.rect(card, 4.0, t.card, Stroke::new(1.0, t.hairline), StrokeKind::Inside);
    let at = Align2::CENTER_CENTER.align_size_within_rect(galley.size(), card).min;
    painter.galley(at, galley, t.text);
}
