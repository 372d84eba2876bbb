//! All findings with what was decided on each.

use eframe::egui::{
    Frame, Key, Label, Margin, Modifiers, Response, Role, Sense, Stroke, Ui, UiBuilder, WidgetInfo,
    vec2,
};

use super::super::marks::verdict_mark;
use super::super::theme::{RADIUS, tokens};
use super::commands::Command;
use super::large::{Letters, lineup_name};
use super::model::{Item, Model};
use crate::findings::{Class, about_words, state_words, weight};
use crate::layout::{Decided, Decision, capital, shown};

/// The list.
pub(super) fn overview_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    let letters = Letters { factor: model.factor };
    if !model.is_checked {
        let words = if model.is_looking {
            "The check is still looking. Its findings will stand here."
        } else {
            "This layout is not checked: what stands here may be about an earlier one. The bar on the plan begins the check."
        };
        ui.add(Label::new(letters.strong(words)).wrap());
        if model.items.is_empty() {
            return;
        }
    }
    let n = model.items.len();
    let s = if n == 1 { "" } else { "s" };
    ui.add(Label::new(letters.strong(format!("{n} finding{s}: {}", states(model)))).wrap());
    ui.add(Label::new(letters.body(&model.verdict)).wrap());
    if n == 0 {
        ui.add(Label::new(letters.body("There is nothing to review.")).wrap());
    }
    ui.separator();
    let mut group = "";
    for (at, item) in model.items.iter().enumerate() {
        if item.group != group {
            group = &item.group;
            ui.add(Label::new(letters.strong(shown(group))).wrap());
        }
        let row = row_ui(ui, &letters, item, model.at == Some(at), commands);
        if model.at == Some(at) && model.view.to_current {
            row.scroll_to_me(None);
        }
    }
    past_ui(ui, &letters, model, commands);
}

/// Number of findings in each state, in words.
fn states(model: &Model) -> String {
    let counts = Decided::ALL.into_iter().zip(model.states());
    let some: Vec<String> = counts
        .filter(|(_, count)| *count > 0)
        .map(|(state, count)| format!("{count} {}", state.word()))
        .collect();
    if some.is_empty() { "nothing to decide".to_owned() } else { some.join(", ") }
}

/// A finding. The one that is shown has a bar at its edge, the one with the focus a frame.
fn row_ui(
    ui: &mut Ui,
    letters: &Letters,
    item: &Item,
    current: bool,
    commands: &mut Vec<Command>,
) -> Response {
    let t = tokens(ui);
    let decided = item.decision.map_or_else(|| "not decided".to_owned(), state_words);
    let again = item.again.as_deref().unwrap_or_default();
    let said = format!("{}: {} {decided} {again}", weight(item.finding), item.words.says);
    let row = ui
        .scope_builder(UiBuilder::new().sense(Sense::click()), |ui| {
            let edge = ui.response();
            let stroke = if edge.has_focus() {
                Stroke::new(2.0, t.accent)
            } else {
                Stroke::new(1.0, if edge.hovered() { t.text } else { t.hairline })
            };
            let frame = Frame::new().stroke(stroke).corner_radius(RADIUS);
            let shown = frame.inner_margin(Margin::symmetric(10, 6)).show(ui, |ui| {
                ui.set_width(ui.available_width());
                ui.horizontal_top(|ui| {
                    let (_, left) = ui.allocate_space(vec2(16.0, 16.0) * letters.factor);
                    if item.finding.class == Class::Fault {
                        let radius = 6.0 * letters.factor;
                        let verdict = item.finding.verdict;
                        verdict_mark(ui.painter(), left.center(), radius, verdict, t);
                    }
                    ui.vertical(|ui| words_ui(ui, letters, item, &decided));
                });
            });
            if current {
                let bar = shown.response.rect.with_max_x(shown.response.rect.left() + 5.0);
                ui.painter().rect_filled(bar, RADIUS, t.accent);
            }
        })
        .response;
    row.widget_info(|| WidgetInfo::selected(Role::Button, true, current, &said));
    if row.gained_focus() {
        row.scroll_to_me(None);
    }
    if row.clicked() {
        commands.push(Command::Show(item.id.clone()));
    }
    if row.has_focus() && ui.input_mut(|i| i.consume_key(Modifiers::NONE, Key::D)) {
        commands.push(Command::NoteOn(item.id.clone()));
    }
    row
}

/// Headline and decision of a finding.
fn words_ui(ui: &mut Ui, letters: &Letters, item: &Item, decided: &str) {
    let t = tokens(ui);
    let line = |ui: &mut Ui, text| drop(ui.add(Label::new(text).selectable(false).wrap()));
    line(ui, letters.body(&item.words.says));
    let words = letters.strong(format!("{}: {decided}", capital(weight(item.finding))));
    line(ui, if item.decision.is_some() { words } else { words.color(t.weak) });
    if let Some(again) = &item.again {
        line(ui, letters.strong(again).color(t.verdict(crate::findings::Verdict::Caution)));
    }
    if let Some(decision) = item.decision
        && !decision.decision.trim().is_empty()
    {
        line(ui, letters.body(shown(decision.decision.trim())));
    }
}

/// Decisions without a finding.
fn past_ui(ui: &mut Ui, letters: &Letters, model: &Model, commands: &mut Vec<Command>) {
    if model.past.is_empty() {
        return;
    }
    ui.separator();
    let n = model.past.len();
    ui.add(Label::new(letters.strong(format!("No longer found ({n})"))).wrap());
    let mut cured = Vec::new();
    for &decision in &model.past {
        let words = format!("{}: {}", state_words(decision), about_words(decision));
        ui.add(Label::new(letters.body(words)).wrap());
        if !decision.decision.trim().is_empty() {
            let words = letters.body(shown(decision.decision.trim()));
            ui.add(Label::new(words).wrap());
        }
        match lineup(model, decision) {
            // It may stand again as soon as that lineup is set.
            Some(name) => {
                let words = format!("It is looked at in {name}: set that lineup to see it.");
                ui.add(Label::new(letters.body(words)).wrap());
            }
            None => cured.push(decision.id),
        }
        let note = ui.button("Note…").accessible_name(format!("Note {}", about_words(decision)));
        if note.clicked() {
            commands.push(Command::NotePast(decision.id));
        }
    }
    let forget = ui.add_enabled(
        model.is_checked && !cured.is_empty(),
        eframe::egui::Button::new("Forget these decisions"),
    );
    let tip = "Takes away those that are looked at in no lineup. One step of undo";
    if forget.on_hover_text(tip).clicked() {
        commands.push(Command::Forget(cured));
    }
}

/// The name of the lineup in which a decision is looked at.
fn lineup(model: &Model, decision: &Decision) -> Option<String> {
    let id = decision.lineup?;
    model.lineups.iter().find(|lineup| lineup.id == id).map(|lineup| lineup_name(lineup))
}
