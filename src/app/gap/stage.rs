//! The stage: the two rails at the gap to scale, and on them what is dragged over it, with the wheels that join what.

use eframe::egui::{
    self, Color32, CursorIcon, FontId, Id, Key, Modifiers, Painter, Pos2, Rect, Role, Sense,
    Slider, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2,
};

use super::super::form::{choice_ui, length_typed};
use super::super::marks::{dashed, mark_ui};
use super::super::names::{capital, shortened};
use super::super::theme::{TIGHT, Tokens, block_dash, card, small, strong, tokens};
use super::Standing;
use super::commands::Command;
use super::model::Model;
use super::play::play_ui;
use super::scene::Scene;
use crate::layout::{Rail, Wheel};
use crate::rails::PlanNet;
use crate::report::percent;
use crate::straddle::contacts::{Facing, Touched};
use crate::study::scope::{Stance, WheelOn, Who};

/// Height of the stage, points.
const HEIGHT: f32 = 146.0;
/// Distance of each rail from the middle between them, points.
const RAIL: f32 = 28.0;
/// Height of the strip above the rails that has the names of the blocks, points.
const NAMES: f32 = 20.0;
/// Height of the words below the stage, points.
const LINES: f32 = 83.0;
/// Step of an arrow key, mm; with Shift ten times as far.
const STEP_MM: f64 = 1.0;

/// The stage, for the focus.
pub(super) fn stage_id() -> Id {
    Id::unique("gap stage")
}

/// A stance that joins both rails best, as a wish.
pub(super) fn stand_best(scene: &Scene, who: Who, facing: Facing) -> Command {
    let lead_mm = scene.gap.best_mm(who, facing, [false; 2]);
    Command::Stand(Standing { who, facing, lead_mm, touch: [true; 2] })
}

/// The stage with its controls and words.
pub(super) fn stage_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    let Some(scene) = model.scene else { return };
    controls_ui(ui, model, scene, commands);
    ui.add_space(TIGHT);
    picture_ui(ui, model, scene, commands);
    ui.add_space(TIGHT);
    place_ui(ui, model, scene, commands);
    ui.add_space(TIGHT);
    words_ui(ui, model, scene);
}

/// The choice of vehicle, facing and touching wheels.
fn controls_ui(ui: &mut Ui, model: &Model, scene: &Scene, commands: &mut Vec<Command>) {
    let standing = scene.standing();
    ui.horizontal_wrapped(|ui| {
        let choices: Vec<(Who, String)> =
            scene.gap.all().map(|who| (who, capital(&model.who(who)))).collect();
        let mut who = standing.who;
        let id = Id::unique("what stands there");
        if choice_ui(ui, id, "What stands there", &mut who, &choices, Some(170.0)).1 {
            commands.push(stand_best(scene, who, standing.facing));
        }
        let [before, beyond] = model.sides();
        for (facing, to) in [(Facing::FrontAhead, beyond), (Facing::RearAhead, before)] {
            let chosen = standing.facing == facing;
            let words = format!("Front to {}", shortened(&to, 18));
            if ui.selectable_label(chosen, words).clicked() && !chosen {
                commands.push(stand_best(scene, standing.who, facing));
            }
        }
        for (rail, words) in ["Left wheels touch", "Right wheels touch"].into_iter().enumerate() {
            let mut touch = standing.touch;
            let tip = "Not every wheel need touch: dirt or a hump in the track lifts one side";
            if ui.checkbox(&mut touch[rail], words).on_hover_text(tip).changed() {
                commands.push(Command::Stand(Standing { touch, ..standing }));
            }
        }
    });
}

/// The place of the vehicle, in numbers and by steps.
fn place_ui(ui: &mut Ui, model: &Model, scene: &Scene, commands: &mut Vec<Command>) {
    let standing = scene.standing();
    let (least, most) = scene.gap.reach_mm(standing.who);
    let units = model.units;
    let mut lead_mm = standing.lead_mm;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().slider_width = 160.0;
        let slider = Slider::new(&mut lead_mm, least..=most)
            .custom_formatter(move |at, _| units.mm(at))
            .custom_parser(move |text| length_typed(text, units));
        let slid = ui
            .add(slider)
            .on_hover_text("How far its leading coupler is past the gap")
            .accessible_name("How far it is past the gap");
        if slid.changed() {
            commands.push(Command::Stand(Standing { lead_mm, ..standing }));
        }
        play_ui(ui, model, scene, commands);
        for (words, ahead, tip) in [
            ("Last change", false, "Back to where the wheels joined something else ([, or Ctrl+Left on the stage)"),
            ("Next change", true, "On to where the wheels join something else (], or Ctrl+Right on the stage)"),
        ] {
            if ui.button(words).on_hover_text(tip).clicked() {
                commands.push(Command::Step { ahead });
            }
        }
        let worst = ui
            .button("Worst place")
            .on_hover_text("Stands there what makes the worst of the settings that are shown. Wheels that touch stay so where that is as bad");
        if worst.clicked() {
            commands.push(Command::StandWorst);
        }
    });
}

/// Where things are on the stage.
struct OnStage {
    rect: Rect,
    middle_mm: f64,
    scale: f32,
}

impl OnStage {
    fn new(rect: Rect, scene: &Scene) -> OnStage {
        let who = scene.stance.who;
        let length_mm = scene.gap.length_mm(who);
        let (least, most) = scene.gap.reach_mm(who);
        let (from_mm, to_mm) = (least - length_mm, most);
        let scale = rect.width() / (to_mm - from_mm).max(1.0) as f32;
        OnStage { rect, middle_mm: f64::midpoint(from_mm, to_mm), scale }
    }

    fn x(&self, at_mm: f64) -> f32 {
        self.rect.center().x + (at_mm - self.middle_mm) as f32 * self.scale
    }

    /// The left rail is above: one looks along the cut's run, to the right.
    fn y(&self, rail: Rail) -> f32 {
        let down = if rail == Rail::Left { -RAIL } else { RAIL };
        self.middle_y() + down
    }

    /// The height of the middle between the rails.
    fn middle_y(&self) -> f32 {
        self.rect.center().y + NAMES / 2.0
    }
}

fn picture_ui(ui: &mut Ui, model: &Model, scene: &Scene, commands: &mut Vec<Command>) {
    let t = tokens(ui);
    let size = vec2(ui.available_width(), HEIGHT);
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    let response = ui.interact(rect, stage_id(), Sense::click_and_drag());
    let said = format!(
        "Stage: {}, {} past the gap. Arrow keys move it, Ctrl with them goes to the next change",
        capital(&model.who(scene.stance.who)),
        model.units.mm(scene.stance.lead_mm)
    );
    response.widget_info(|| WidgetInfo::labeled(Role::Canvas, true, &said));
    let on = OnStage::new(rect, scene);
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 4.0, t.card);
    rails(&painter, model, scene, &on, t);
    rolling(&painter, scene, &on, t);
    if response.has_focus() {
        painter.rect_stroke(rect, 4.0, Stroke::new(2.0, t.accent), StrokeKind::Inside);
    }
    let response = response.on_hover_cursor(CursorIcon::Grab);
    if response.clicked() || response.drag_started() {
        response.request_focus();
    }
    let (least, most) = scene.gap.reach_mm(scene.stance.who);
    let mut lead_mm = scene.stance.lead_mm;
    if response.dragged() {
        lead_mm += f64::from(response.drag_delta().x / on.scale);
    }
    if response.has_focus() {
        lead_mm = by_keys(ui, scene, lead_mm);
    }
    let lead_mm = lead_mm.clamp(least, most);
    if lead_mm != scene.stance.lead_mm {
        commands.push(Command::Stand(Standing { lead_mm, ..scene.standing() }));
    }
}

/// Moves the vehicle by the arrow keys.
fn by_keys(ui: &Ui, scene: &Scene, lead_mm: f64) -> f64 {
    let filter = egui::EventFilter { horizontal_arrows: true, ..Default::default() };
    ui.memory_mut(|m| m.set_focus_lock_filter(stage_id(), filter));
    let count = |modifiers, key| ui.input_mut(|i| i.count_and_consume_key(modifiers, key)) as f64;
    for (key, ahead) in [(Key::ArrowRight, true), (Key::ArrowLeft, false)] {
        if count(Modifiers::COMMAND, key) > 0.0 {
            return scene.gap.next_change_mm(&scene.stance, ahead);
        }
    }
    let by = |modifiers| count(modifiers, Key::ArrowRight) - count(modifiers, Key::ArrowLeft);
    lead_mm + STEP_MM * (10.0 * by(Modifiers::SHIFT) + by(Modifiers::NONE))
}

/// The two rails in the colours of their blocks, broken at the gap, with what feeds them.
fn rails(painter: &Painter, model: &Model, scene: &Scene, on: &OnStage, t: &Tokens) {
    let place = &scene.gap.place;
    let looks = &model.derived.looks;
    let (from, to) = (on.rect.left(), on.rect.right());
    for rail in Rail::BOTH {
        let side = usize::from(rail == Rail::Right);
        let y = on.y(rail);
        for span in &place.spans {
            let (a, b) = (on.x(span.from_mm).max(from), on.x(span.to_mm).min(to));
            if a >= b {
                continue;
            }
            let (block, fed) = block_of(model, scene, span.nets[side]);
            let colour = block.map_or(t.dead, |block| t.block(looks.of(block)));
            let colour = if fed { colour } else { t.dead };
            let dash = if fed { &[][..] } else { &[5.0, 4.0][..] };
            dashed(painter, &[pos2(a, y), pos2(b, y)], Stroke::new(4.0, colour), dash);
        }
        let open = 5.0;
        match place.gaps_mm[side] {
            Some(gap) => {
                let x = on.x(gap);
                let hole = Rect::from_center_size(pos2(x, y), vec2(open, 10.0));
                painter.rect_filled(hole, 0.0, t.card);
                for x in [x - open / 2.0, x + open / 2.0] {
                    painter.line_segment(
                        [pos2(x, y - 7.0), pos2(x, y + 7.0)],
                        Stroke::new(1.5, t.text),
                    );
                }
            }
            None => drop(painter.circle_filled(pos2(on.x(0.0), y), 2.0, t.weak)),
        }
    }
    names(painter, model, scene, on, t);
}

/// The block that a net is a rail of, of several the one at the gap, and whether anything feeds the net.
fn block_of(model: &Model, scene: &Scene, net: PlanNet) -> (Option<usize>, bool) {
    let plan = model.source.plan;
    let place = &scene.gap.place;
    let own = [(0, place.at.block_before), (1, place.at.block_after)];
    let own = own.into_iter().find(|(side, _)| place.nets[*side].contains(&net));
    let block = own
        .map(|(_, block)| block)
        .or_else(|| plan.blocks.iter().position(|block| block.nets.contains(&net.0)));
    let fed = plan.nets.get(net.0).is_some_and(|net| !net.legs.is_empty());
    (block, fed)
}

/// The blocks' names and dashes in a strip above the rails, which nothing rolls into, and what feeds each rail on its outer
/// side, at the ends of the stage. Each has half of the width at most.
fn names(painter: &Painter, model: &Model, scene: &Scene, on: &OnStage, t: &Tokens) {
    let place = &scene.gap.place;
    let most = on.rect.width() / 2.0 - 14.0;
    for (side, name) in model.sides().into_iter().enumerate() {
        let write = |y: f32, words: &str, font: FontId, colour: Color32| {
            let galley = fitted(painter, words, font, colour, most);
            let size = galley.size();
            let x = if side == 0 { on.rect.left() + 8.0 } else { on.rect.right() - 8.0 - size.x };
            let at = pos2(x, y - size.y / 2.0);
            painter.galley(at, galley, colour);
            Rect::from_min_size(at, size)
        };
        let block = if side == 0 { place.at.block_before } else { place.at.block_after };
        let look = model.derived.looks.of(block);
        let font = FontId::new(12.5, super::super::theme::bold());
        let drawn = write(on.rect.top() + 12.0, &name, font, t.text);
        let under = [drawn.left_bottom() + vec2(0.0, 1.0), drawn.right_bottom() + vec2(0.0, 1.0)];
        dashed(painter, &under, Stroke::new(3.0, t.block(look)), block_dash(look));
        for rail in Rail::BOTH {
            let net = place.nets[side][usize::from(rail == Rail::Right)];
            let off = if rail == Rail::Left { -15.0 } else { 15.0 };
            let letters = FontId::proportional(11.5);
            write(on.y(rail) + off, &model.net_words(net), letters, t.weak);
        }
    }
}

/// A line of text that is cut where it is wider than a limit, points.
fn fitted(
    painter: &Painter,
    words: &str,
    font: FontId,
    colour: Color32,
    most: f32,
) -> std::sync::Arc<egui::Galley> {
    let mut job = egui::text::LayoutJob::simple_singleline(words.to_owned(), font, colour);
    job.wrap = egui::text::TextWrapping::truncate_at_width(most.max(1.0));
    painter.layout_job(job)
}

/// The vehicle: outline, front, wheels, and the wiring between them.
fn rolling(painter: &Painter, scene: &Scene, on: &OnStage, t: &Tokens) {
    let Stance { who, facing, lead_mm, .. } = scene.stance;
    let length_mm = scene.gap.length_mm(who);
    let (rear, lead) = (on.x(lead_mm - length_mm), on.x(lead_mm));
    let middle = on.middle_y();
    let body = Rect::from_min_max(pos2(rear, middle - RAIL + 9.0), pos2(lead, middle + RAIL - 9.0));
    painter.rect(
        body,
        6.0,
        t.field.gamma_multiply(0.9),
        Stroke::new(1.5, t.outline),
        StrokeKind::Inside,
    );
    // The front is a wedge at the end that it faces.
    let (tip, back) = match facing {
        Facing::FrontAhead => (body.right() - 4.0, body.right() - 14.0),
        Facing::RearAhead => (body.left() + 4.0, body.left() + 14.0),
    };
    let wedge = vec![pos2(tip, middle), pos2(back, middle - 7.0), pos2(back, middle + 7.0)];
    painter.add(egui::Shape::convex_polygon(wedge, t.weak, Stroke::NONE));
    let wheels = scene.gap.wheels(&scene.stance);
    let joined = scene.gap.touched(&scene.stance);
    for (group, sides) in joined.iter().enumerate() {
        for rail in Rail::BOTH {
            pickups(painter, (&wheels, group, rail), sides, on, t);
        }
    }
    for wheel in &wheels {
        let touches = scene.stance.touch[usize::from(wheel.rail == Rail::Right)];
        let side = usize::from(wheel.rail == Rail::Right);
        let joins = joined.get(wheel.group).is_some_and(|sides| sides[side].len() > 1);
        wheel_mark(painter, wheel, (touches, joins), on, t);
    }
}

/// The wire that joins the pickups of a group on a rail: heavy where it joins nets.
fn pickups(
    painter: &Painter,
    (wheels, group, rail): (&[WheelOn], usize, Rail),
    sides: &[Touched<PlanNet>; 2],
    on: &OnStage,
    t: &Tokens,
) {
    let own = |w: &&WheelOn| w.group == group && w.rail == rail && w.wheel == Wheel::Pickup;
    let places = || wheels.iter().filter(own).map(|wheel| wheel.at_mm);
    let (Some(first), Some(last)) = (places().reduce(f64::min), places().reduce(f64::max)) else {
        return;
    };
    let inward = if rail == Rail::Left { 14.0 } else { -14.0 };
    let y = on.y(rail) + inward;
    let joins = sides[usize::from(rail == Rail::Right)].len() > 1;
    let stroke = if joins { Stroke::new(4.0, t.accent) } else { Stroke::new(1.5, t.weak) };
    painter.line_segment([pos2(on.x(first), y), pos2(on.x(last), y)], stroke);
    for at in places() {
        painter.line_segment([pos2(on.x(at), y), pos2(on.x(at), on.y(rail))], stroke);
    }
}

/// A wheel: filled where it picks up, a ring where it is metal only, a small ring where it is insulated; crossed where it
/// does not touch.
fn wheel_mark(
    painter: &Painter,
    wheel: &WheelOn,
    (touches, joins): (bool, bool),
    on: &OnStage,
    t: &Tokens,
) {
    let at = pos2(on.x(wheel.at_mm), on.y(wheel.rail));
    let colour: Color32 = if joins && wheel.wheel == Wheel::Pickup { t.accent } else { t.text };
    match wheel.wheel {
        Wheel::Pickup => drop(painter.circle(at, 5.5, colour, Stroke::new(1.5, t.card))),
        Wheel::Metal => drop(painter.circle(at, 5.0, t.card, Stroke::new(2.0, colour))),
        Wheel::Insulated => drop(painter.circle(at, 3.5, t.card, Stroke::new(1.0, t.weak))),
    }
    if !touches {
        let cross = |a: Pos2, b: Pos2| painter.line_segment([a, b], Stroke::new(1.5, t.text));
        cross(at - vec2(6.0, 6.0), at + vec2(6.0, 6.0));
        cross(at - vec2(6.0, -6.0), at + vec2(6.0, -6.0));
    }
}

/// The nets that the wheels join now, and the verdict.
fn words_ui(ui: &mut Ui, model: &Model, scene: &Scene) {
    let t = tokens(ui);
    card(t).inner_margin(6.0).show(ui, |ui| {
        ui.set_min_width(ui.available_width());
        // Room for what it says as it rolls, so that nothing below moves.
        ui.set_min_height(LINES);
        ui.spacing_mut().item_spacing.y = 2.0;
        ui.spacing_mut().interact_size.y = 18.0;
        ui.horizontal_wrapped(|ui| match &scene.judged {
            Some(judged) => {
                mark_ui(ui, judged.verdict, 8.0);
                ui.label(strong(judged.verdict.plain()).color(t.verdict(judged.verdict)));
                let share = percent(judged.share.abs());
                ui.label(small(ui, format!("standing here, in conflict {share} of the time")));
                if let Some(margin) = judged.margin {
                    let words = match margin >= 0.0 {
                        true => format!("{} below the threshold that decides", percent(margin)),
                        false => format!("{} above the threshold that decides", percent(-margin)),
                    };
                    ui.label(small(ui, words));
                }
            }
            None => drop(ui.label(strong("Standing here it joins nothing"))),
        });
        for line in joins_words(model, scene) {
            ui.add(egui::Label::new(line).truncate());
        }
        if !scene.woke.is_empty() {
            let names: Vec<String> = scene.woke.iter().map(|id| model.driver(*id)).collect();
            let words = format!(
                "The rails power {}, whose supply is off: it has woken up and idles",
                names.join(" and ")
            );
            ui.add(egui::Label::new(words).truncate());
        }
    });
}

/// The nets that the wheels of each rail join, in words.
pub(super) fn joins_words(model: &Model, scene: &Scene) -> Vec<String> {
    let mut lines = Vec::new();
    let touched = scene.gap.touched(&scene.stance);
    let several = touched.len() > 1;
    let joins = |sides: &[Touched<PlanNet>; 2]| sides.iter().any(|side| side.len() > 1);
    for (group, sides) in touched.iter().enumerate() {
        if several && !joins(sides) {
            continue;
        }
        let whose = if several { format!("Pickups {}: ", group + 1) } else { String::new() };
        for (rail, side) in ["left", "right"].into_iter().zip(sides) {
            let nets: Vec<String> = side
                .iter()
                .map(|(net, wheels)| format!("{} ({wheels} wheels)", model.net_words(*net)))
                .map(|words| words.replace("(1 wheels)", "(1 wheel)"))
                .collect();
            let line = match nets.len() {
                0 => format!("{whose}Nothing touches on the {rail} rail"),
                1 => format!("{whose}On the {rail} rail: {}", nets[0]),
                _ => format!("{whose}On the {rail} rail it joins {}", nets.join(" with ")),
            };
            lines.push(line);
        }
    }
    if scene.stand.as_ref().is_some_and(|stand| stand.single_wheel) {
        lines.push("A single wheel bridges the gap with its tread while it rolls over".to_owned());
    }
    lines
}
