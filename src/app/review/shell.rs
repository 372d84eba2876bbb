//! The frame of the view: a bar for whoever leads the meeting, and above it one finding beside its plan, or all of them.

use eframe::egui::{self, Align, CentralPanel, Frame, Layout, Margin, Panel, ScrollArea, Ui};

use super::super::App;
use super::super::canvas::canvas_ui;
use super::super::form::choice_ui;
use super::super::theme::{small, strong, tokens};
use super::commands::Command;
use super::cure::Cure;
use super::model::Model;
use super::{By, large, overview};

/// The share of the window that the words take.
const WORDS: f32 = 0.54;

/// Width of a window in which the bar has room for everything, points.
const WIDE: f32 = 1180.0;

/// The whole view.
pub(super) fn view_ui(ui: &mut Ui, app: &mut App) -> Vec<Command> {
    let mut commands = Vec::new();
    let t = tokens(ui);
    let scroll = eframe::egui::vec2(0.0, std::mem::take(&mut app.review.scroll));
    let model = Model::of(app);
    let bar = Frame::new().fill(t.panel).inner_margin(Margin::symmetric(10, 6));
    Panel::bottom("review bar").frame(bar).show(ui, |ui| bar_ui(ui, &model, &mut commands));
    let ground = Frame::new().fill(t.card).inner_margin(Margin::same(16));
    if model.view.overview || model.item().is_none() {
        CentralPanel::default().frame(ground).show(ui, |ui| {
            ScrollArea::vertical().id_salt("review of all").auto_shrink(false).show(ui, |ui| {
                ui.scroll_with_delta(scroll);
                overview::overview_ui(ui, &model, &mut commands);
            });
        });
        app.review.to_current = false;
        return commands;
    }
    let width = ui.available_width();
    Panel::left("review words")
        .frame(ground)
        .resizable(false)
        .exact_size((width * WORDS).max(320.0))
        .show(ui, |ui| {
            // Each finding is read from its top.
            let id = model.item().map(|item| item.id.to_string());
            ScrollArea::vertical().id_salt(("review", id)).auto_shrink(false).show(ui, |ui| {
                ui.scroll_with_delta(scroll);
                large::large_ui(ui, &model);
            });
        });
    CentralPanel::default().frame(Frame::new().fill(t.canvas)).show(ui, |ui| canvas_ui(ui, app));
    commands
}

/// The bar: position in the order, and the ways on.
fn bar_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    ui.horizontal_wrapped(|ui| {
        let button = |ui: &mut Ui, words: &str, tip: &str, can: bool| {
            let button = ui.add_enabled(can, egui::Button::new(words));
            button.on_hover_text(tip).clicked()
        };
        if button(ui, "Back to the plan", "V or Escape", true) {
            commands.push(Command::Leave);
        }
        let some = model.item().is_some() && !model.view.overview;
        if button(ui, "Previous", "The finding before this one (Page up)", some) {
            commands.push(Command::Step(-1));
        }
        if button(ui, "Next", "The next finding (Page down)", some) {
            commands.push(Command::Step(1));
        }
        if let Some(at) = model.at {
            ui.label(strong(format!("{} of {}", at + 1, model.items.len())));
        }
        if !model.view.said.is_empty() {
            ui.label(strong(model.view.said));
        }
        let cure = matches!(model.view.cure, Cure::First(_));
        if button(ui, "Before and after…", "A. The layout stays as it is", some && cure) {
            commands.push(Command::BeforeAndAfter);
        }
        let gap = some && model.item().is_some_and(|item| !item.finding.cuts().is_empty());
        if button(ui, "Gap", "The gap, large (G). Closed, it leads back here", gap) {
            commands.push(Command::Gap);
        }
        let listed = model.view.overview || model.item().is_none();
        let all = egui::Button::selectable(listed, "All findings");
        if ui.add(all.frame_when_inactive(true)).on_hover_text("O").clicked() {
            commands.push(Command::Overview);
        }
        let mut by = model.view.by;
        let orders = [
            (By::Weight, "Worst first".to_owned()),
            (By::Block, "By block".to_owned()),
            (By::Owner, "By owner".to_owned()),
            (By::State, "By state".to_owned()),
        ];
        let id = egui::Id::unique("order of the review");
        if choice_ui(ui, id, "Order of the findings", &mut by, &orders, Some(110.0)).1 {
            commands.push(Command::By(by));
        }
        if button(ui, "Note a decision…", "D", some) {
            commands.push(Command::Note);
        }
        // In a small window it stands in a row of its own.
        if ui.ctx().content_rect().width() >= WIDE {
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| state_ui(ui, model));
        }
    });
    if ui.ctx().content_rect().width() < WIDE {
        ui.horizontal(|ui| state_ui(ui, model));
    }
}

/// State of the layout (saved, checked), and the distance from which the letters read.
fn state_ui(ui: &mut Ui, model: &Model) {
    if model.unsaved {
        ui.label(small(ui, "not saved")).on_hover_text("Ctrl+S saves the layout");
    }
    if !model.is_checked {
        let words = if model.is_looking { "checking again" } else { "not checked" };
        ui.label(small(ui, words));
    }
    let words = format!("letters read from {:.1} m", model.reads_m);
    let words = small(ui, words);
    ui.label(words).on_hover_text(format!(
                "A capital is 1/200 of that distance high (common practice, no source). The last row is said to be {:.1} m \
                 away; the presenter's look (F5) has the distance and the height of the picture.",
                model.last_row_m
            ));
}
