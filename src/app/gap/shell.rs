//! The frame of the view: its panels, and the ways to other gaps and back to the plan.

use eframe::egui::{self, Align, CentralPanel, Frame, Layout, Margin, Panel, ScrollArea, Ui};

use super::super::form::choice_ui;
use super::super::marks::mark_ui;
use super::super::names::shortened;
use super::super::theme::{SPACE, heading, small, strong, tokens};
use super::commands::Command;
use super::model::Model;
use super::{Below, Left, card, path, rush, stage, suspects, trying, waves};
use crate::layout::CutId;

/// Least and usual width of the card, points.
const CARD_LEAST: f32 = 330.0;
/// Height of the list of what is tried out, points.
const TRIED: f32 = 152.0;

/// The whole view.
pub(super) fn view_ui(ui: &mut Ui, model: &Model) -> Vec<Command> {
    let mut commands = Vec::new();
    let t = tokens(ui);
    let bar = Frame::new().fill(t.panel).inner_margin(Margin::symmetric(10, 6));
    Panel::top("gap bar").frame(bar).show(ui, |ui| bar_ui(ui, model, &mut commands));
    let Some(why) = why_nothing(model) else {
        let width = ui.ctx().content_rect().width();
        let side = Frame::new().fill(t.panel).inner_margin(Margin::same(10));
        Panel::left("gap card")
            .frame(side)
            .default_size((width * 0.36).clamp(CARD_LEAST, 470.0))
            .size_range(CARD_LEAST..=(width * 0.5).max(CARD_LEAST))
            .show(ui, |ui| {
                if model.view.left == Left::Trying {
                    Panel::bottom("gap tried")
                        .frame(Frame::new())
                        .exact_size(TRIED)
                        .show(ui, |ui| trying::changes_ui(ui, model, &mut commands));
                }
                let width = ui.available_width();
                ScrollArea::vertical()
                    .id_salt(("gap card", model.view.gap()))
                    .auto_shrink(false)
                    .show(ui, |ui| {
                        ui.set_max_width(width - 8.0);
                        left_ui(ui, model, &mut commands);
                    });
            });
        let ground = Frame::new().fill(t.canvas).inner_margin(Margin::same(10));
        CentralPanel::default().frame(ground).show(ui, |ui| {
            shown_ui(ui, model, &mut commands);
            ScrollArea::vertical().id_salt(("gap", model.view.gap())).auto_shrink(false).show(
                ui,
                |ui| {
                    stage::stage_ui(ui, model, &mut commands);
                    below_ui(ui, model, &mut commands);
                },
            );
        });
        return commands;
    };
    let ground = Frame::new().fill(t.canvas).inner_margin(Margin::same(20));
    CentralPanel::default().frame(ground).show(ui, |ui| {
        ui.label(heading(why.0));
        ui.label(why.1);
    });
    commands
}

/// The settings that stage, waveforms and path are about, with the way back to those now. It stays in sight while what is
/// below is scrolled.
fn shown_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    let t = tokens(ui);
    let [before, beyond] = model.sides();
    let sides = [shortened(&before, 24), shortened(&beyond, 24)];
    ui.horizontal(|ui| {
        let other = model.view.cell;
        let words = match other {
            None => "Shown below: the settings now".to_owned(),
            Some((a, b)) => format!(
                "Shown below: {} {}, {} {} (not as set now)",
                sides[0],
                a.word(),
                sides[1],
                b.word()
            ),
        };
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let back = egui::Button::new("Show the settings now");
            let back = ui
                .add_enabled(other.is_some(), back)
                .on_hover_text("Back from the pair of settings that was chosen on the card (0)")
                .on_disabled_hover_text(
                    "A click on a pair of settings on the card shows that pair",
                );
            if back.clicked() {
                commands.push(Command::Cell(None));
            }
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                let words = strong(words);
                let words = if other.is_some() { words.color(t.accent) } else { words };
                ui.add(egui::Label::new(words).truncate());
            });
        });
    });
}

/// What stands beside the stage: the card, or what one can try out.
fn left_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    ui.horizontal(|ui| {
        for (left, words) in
            [(Left::Card, "Card"), (Left::Trying, "Try out"), (Left::Suspects, "What is wrong?")]
        {
            if ui.selectable_label(model.view.left == left, words).clicked() {
                commands.push(Command::Left(left));
            }
        }
    });
    ui.separator();
    match model.view.left {
        Left::Card => card::card_ui(ui, model, commands),
        Left::Trying => trying::trying_ui(ui, model, commands),
        Left::Suspects => suspects::suspects_ui(ui, model, commands),
    }
}

/// What stands below the stage: traces, or the path of the current.
fn below_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    ui.add_space(SPACE);
    ui.horizontal(|ui| {
        for (below, words) in [
            (Below::Waves, "Waveforms"),
            (Below::Path, "Path of the current"),
            (Below::Rush, "First milliseconds"),
        ] {
            if ui.selectable_label(model.view.below == below, words).clicked() {
                commands.push(Command::Below(below));
            }
        }
    });
    ui.separator();
    match model.view.below {
        Below::Waves => waves::waves_ui(ui, model, commands),
        Below::Path => path::path_ui(ui, model, commands),
        Below::Rush => rush::rush_ui(ui, model),
    }
}

/// The bar: the gap, its verdict now, and the way back.
fn bar_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    let t = tokens(ui);
    ui.horizontal(|ui| {
        let words = if model.in_review { "Back to the review" } else { "Back to the plan" };
        let back = ui.button(words).on_hover_text("G or Escape");
        if back.clicked() {
            commands.push(Command::Back);
        }
        ui.add_space(SPACE);
        chooser_ui(ui, model, commands);
        let Some(cut) = model.cut else { return };
        ui.add_space(SPACE);
        mark_ui(ui, cut.now.verdict, 8.0);
        let words = format!("{} now", cut.now.verdict.plain());
        ui.label(strong(words).color(t.verdict(cut.now.verdict)));
        if !model.source.is_checked {
            ui.label(small(ui, "checking again"));
        }
        if let Some(trial) = &model.view.trial {
            let n = trial.changes.len();
            let words = if n == 1 { "1 change".to_owned() } else { format!("{n} changes") };
            ui.label(strong(format!("trying out {words}")));
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let [before, beyond] = model.sides();
            let words = format!("{} to {}", shortened(&before, 24), shortened(&beyond, 24));
            ui.add(egui::Label::new(small(ui, words)).truncate());
        });
    });
}

/// The gap that is shown, and the others to choose from.
fn chooser_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    if model.cuts.is_empty() {
        return;
    }
    let shown = model.view.cut;
    let mut chosen = shown;
    let choices: Vec<(Option<CutId>, String)> =
        model.cuts.iter().map(|(id, name)| (Some(*id), name.clone())).collect();
    let id = egui::Id::unique("which gap");
    if choice_ui(ui, id, "Which gap", &mut chosen, &choices, Some(200.0)).1
        && let Some(id) = chosen
    {
        commands.push(Command::Choose(id));
    }
    let at = model.cuts.iter().position(|(id, _)| Some(*id) == shown);
    for (words, tip, by) in [("Before", "The gap before this one", -1), ("Next", "The next gap", 1)]
    {
        let next = at.and_then(|at| model.cuts.get(at.checked_add_signed(by)?));
        let button = ui.add_enabled(next.is_some(), egui::Button::new(words));
        let button = button.on_hover_text(tip).accessible_name(tip);
        if let Some((id, _)) = next.filter(|_| button.clicked()) {
            commands.push(Command::Choose(*id));
        }
    }
}

/// Why there is no gap to show, with a remedy; `None` if there is one.
fn why_nothing(model: &Model) -> Option<(&'static str, &'static str)> {
    let layout = model.source.layout;
    if layout.cuts.is_empty() {
        return Some((
            "There is no gap to look at yet",
            "Go back to the plan and cut a rail: press C there, then click on the track.",
        ));
    }
    let there = model.view.cut.is_some_and(|cut| layout.cuts.contains_key(&cut));
    if !there {
        return Some((
            "That gap is not there any more",
            "Choose another one above, or undo what took it away.",
        ));
    }
    if model.scene.is_none() {
        return Some((
            "There is nothing to show at this gap",
            "It needs track with two rails on both sides. Go back to the plan and look at how the track ends there.",
        ));
    }
    None
}
