//! The bar at the top: file, undo and redo, the layout's name, what the eye needs.

use eframe::egui::{self, Align, Button, Layout, Theme, Ui};

use super::App;
use super::actions::{ACTIONS, MENUS, Menu, act, keys_words, named};
use super::frame::is_narrow;
use super::names::{path_words, shortened};
use super::theme::{SPACE, small, strong};

/// The bar.
pub fn top_bar_ui(ui: &mut Ui, app: &mut App) {
    ui.horizontal(|ui| {
        for (menu, title) in MENUS {
            menu_ui(ui, app, menu, title);
        }
        ui.add_space(SPACE);
        for (name, what) in [("Undo", app.doc.undo_what()), ("Redo", app.doc.redo_what())]
            .map(|(n, w)| (n, w.map(str::to_owned)))
        {
            let Some(action) = named(name) else { continue };
            let key = keys_words(ui.ctx(), action);
            let tip = match what.as_deref() {
                Some("") => format!("{name} ({key})"),
                Some(what) => format!("{name}: {what} ({key})"),
                None => format!("Nothing to {} ({key})", name.to_lowercase()),
            };
            let button = ui.add_enabled(what.is_some(), Button::new(name));
            if button.on_hover_text(&tip).on_disabled_hover_text(&tip).clicked() {
                act(app, ui.ctx(), action);
            }
        }
        ui.add_space(SPACE);
        views_ui(ui, app);
        if is_narrow(ui.ctx()) {
            return narrow_ui(ui, app);
        }
        ui.add_space(SPACE);
        ui.separator();
        ui.add_space(SPACE);
        let title = app.doc.title();
        // In a small window the buttons at the right come first.
        let most = if ui.ctx().content_rect().width() < 1180.0 { 20 } else { 48 };
        let label = ui.label(strong(shortened(&title, most)));
        if title.chars().count() > most {
            label.on_hover_text(title);
        }
        let state = match (&app.doc.path, app.doc.is_changed()) {
            (None, false) => "nothing to save".to_owned(),
            (None, true) => "not saved yet".to_owned(),
            (Some(_), false) => "saved".to_owned(),
            (Some(_), true) => "changed since it was saved".to_owned(),
        };
        let state = ui.label(small(ui, state));
        if let Some(path) = &app.doc.path {
            state.on_hover_text(path_words(path));
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let dark = ui.visuals().dark_mode;
            let (words, next) = if dark { ("Light", Theme::Light) } else { ("Dark", Theme::Dark) };
            if ui
                .button(words)
                .on_hover_text(format!("Show the window in {} colours", words.to_lowercase()))
                .clicked()
            {
                ui.ctx().set_theme(next);
            }
            // Of the plan.
            if app.gap.shown {
                return;
            }
            if ui.button("Legend").on_hover_text("What lines and marks mean (H)").clicked() {
                app.legend = !app.legend;
            }
            if ui.button("Fit").on_hover_text("Show the whole layout (Home)").clicked() {
                app.fit_wanted = true;
            }
        });
    });
}

/// The switch between the plan and the gap view.
fn views_ui(ui: &mut Ui, app: &mut App) {
    for (words, is_gap, tip) in
        [("Plan", false, "The whole layout (G)"), ("Gap", true, "One gap, large (G)")]
    {
        let chosen = app.gap.shown == is_gap;
        let button = Button::selectable(chosen, words).frame_when_inactive(true);
        if ui.add(button).on_hover_text(tip).clicked() && !chosen {
            app.review.shown = false;
            app.plan_or_gap();
        }
    }
    let review = Button::selectable(false, "Review").frame_when_inactive(true);
    let tip = "The findings one by one, large, with what the club decides (V)";
    if ui.add(review).on_hover_text(tip).clicked() {
        app.review.shown = false;
        app.review_or_plan();
    }
}

/// Where both panels have no room, one of them is shown, and a button brings the other. What else stands in the bar is in
/// the menus, and the title is the window's.
fn narrow_ui(ui: &mut Ui, app: &mut App) {
    ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
        let words = if app.settings.side_hidden { "Panel" } else { "Tools" };
        let tip = "There is room for one of tools and panel: the other one (F9)";
        if ui.button(words).on_hover_text(tip).clicked() {
            app.settings.side_hidden = !app.settings.side_hidden;
        }
    });
}

/// A menu with its actions and their keys.
fn menu_ui(ui: &mut Ui, app: &mut App, menu: Menu, title: &str) {
    ui.menu_button(title, |ui| {
        ui.set_min_width(270.0);
        for action in ACTIONS.iter().filter(|action| action.menu == menu) {
            let button = Button::new(action.name)
                .min_size(egui::vec2(270.0, 0.0))
                .shortcut_text(keys_words(ui.ctx(), action));
            let response = ui.add_enabled((action.can)(app), button);
            if response.accessible_name(action.name).clicked() {
                ui.close();
                act(app, ui.ctx(), action);
            }
        }
    });
}

/// A button for an action, with its key in the tip.
pub fn action_button(ui: &mut Ui, app: &mut App, name: &str) {
    let Some(action) = named(name) else { return };
    let button = ui.add_enabled((action.can)(app), Button::new(action.name));
    if button.on_hover_text(keys_words(ui.ctx(), action)).clicked() {
        act(app, ui.ctx(), action);
    }
}
