//! All findings with what was decided on each.

use eframe::egui::{Frame, Label, Margin, Role, Sense, Stroke, Ui, UiBuilder, WidgetInfo, vec2};

use super::super::marks::verdict_mark;
use super::super::theme::{RADIUS, tokens};
use super::commands::Command;
use super::large::Letters;
use super::model::{Item, Model};
use crate::findings::{Class, state_words};
use crate::layout::{Decided, capital, shown};

/// The list.
pub(super) fn overview_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    let letters = Letters { factor: model.factor };
    let n = model.items.len();
    let s = if n == 1 { "" } else { "s" };
    ui.add(Label::new(letters.strong(format!("{n} finding{s}: {}", states(model)))).wrap());
    ui.add(Label::new(letters.body(&model.verdict)).wrap());
    if n == 0 {
        ui.add(Label::new(letters.body("There is nothing to review.")).wrap());
    }
    ui.separator();
    for item in &model.items {
        row_ui(ui, &letters, item, commands);
    }
    past_ui(ui, &letters, model, commands);
}

/// How many are in each state.
fn states(model: &Model) -> String {
    let counts = Decided::ALL.into_iter().zip(model.states());
    let some: Vec<String> = counts
        .filter(|(_, count)| *count > 0)
        .map(|(state, count)| format!("{count} {}", state.word()))
        .collect();
    if some.is_empty() { "nothing to decide".to_owned() } else { some.join(", ") }
}

fn row_ui(ui: &mut Ui, letters: &Letters, item: &Item, commands: &mut Vec<Command>) {
    let t = tokens(ui);
    let decided = item.decision.map_or_else(|| "open".to_owned(), state_words);
    let changed = if item.changed.is_some() { " (its ground has changed)" } else { "" };
    let said = format!("{}: {} {decided}{changed}", item.weight(), item.words.says);
    let row = ui
        .scope_builder(UiBuilder::new().sense(Sense::click()), |ui| {
            let edge = ui.response();
            let stroke = if edge.has_focus() {
                Stroke::new(2.0, t.accent)
            } else {
                Stroke::new(1.0, if edge.hovered() { t.text } else { t.hairline })
            };
            let frame = Frame::new().stroke(stroke).corner_radius(RADIUS);
            frame.inner_margin(Margin::symmetric(10, 6)).show(ui, |ui| {
                ui.set_width(ui.available_width());
                ui.horizontal_top(|ui| {
                    let side = vec2(16.0, 16.0) * letters.factor;
                    let (_, left) = ui.allocate_space(side);
                    if item.finding.class == Class::Fault {
                        let t = tokens(ui);
                        let radius = 6.0 * letters.factor;
                        verdict_mark(ui.painter(), left.center(), radius, item.finding.verdict, t);
                    }
                    ui.vertical(|ui| {
                        let says = Label::new(letters.body(&item.words.says)).selectable(false);
                        ui.add(says.wrap());
                        let words = letters
                            .strong(format!("{}: {decided}{changed}", capital(item.weight())));
                        let words = if item.changed.is_some() {
                            words.color(t.verdict(crate::findings::Verdict::Caution))
                        } else if item.decision.is_some() {
                            words
                        } else {
                            words.color(t.weak)
                        };
                        ui.add(Label::new(words).selectable(false).wrap());
                        if let Some(decision) = item.decision
                            && !decision.decision.trim().is_empty()
                        {
                            let words = letters.body(shown(decision.decision.trim()));
                            ui.add(Label::new(words).selectable(false).wrap());
                        }
                    });
                });
            });
        })
        .response;
    row.widget_info(|| WidgetInfo::labeled(Role::Button, true, &said));
    if row.clicked() {
        commands.push(Command::Show(item.id.clone()));
    }
}

/// Decisions on findings that are past.
fn past_ui(ui: &mut Ui, letters: &Letters, model: &Model, commands: &mut Vec<Command>) {
    if model.past.is_empty() {
        return;
    }
    ui.separator();
    let n = model.past.len();
    ui.add(Label::new(letters.strong(format!("No longer found ({n})"))).wrap());
    for decision in &model.past {
        let said = match decision.said.trim() {
            "" => shown(&decision.finding),
            said => shown(said),
        };
        let words = format!("{}: {said}", state_words(decision));
        ui.add(Label::new(letters.body(words)).wrap());
    }
    let forget = ui.button("Forget these decisions");
    if forget.on_hover_text("One step of undo").clicked() {
        commands.push(Command::Forget);
    }
}
