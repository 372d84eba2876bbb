//! The bar at the top: file, undo and redo, the layout's name, what the eye needs.

use eframe::egui::{self, Align, Button, Layout, Theme, Ui};

use super::App;
use super::keys;
use super::theme::{SPACE, small, strong};

/// The bar.
pub fn top_bar_ui(ui: &mut Ui, app: &mut App) {
    ui.horizontal(|ui| {
        file_menu_ui(ui, app);
        ui.add_space(SPACE);
        let tip = |what: &str, name: Option<&str>, key: String| match name {
            Some("") => format!("{what} ({key})"),
            Some(name) => format!("{what}: {name} ({key})"),
            None => format!("Nothing to {} ({key})", what.to_lowercase()),
        };
        let undo = app.doc.undo_what().map(str::to_owned);
        let redo = app.doc.redo_what().map(str::to_owned);
        let undo_tip = tip("Undo", undo.as_deref(), ui.ctx().format_shortcut(&keys::UNDO));
        let redo_tip = tip("Redo", redo.as_deref(), ui.ctx().format_shortcut(&keys::REDO));
        if ui
            .add_enabled(undo.is_some(), Button::new("Undo"))
            .on_hover_text(&undo_tip)
            .on_disabled_hover_text(&undo_tip)
            .clicked()
        {
            app.undo();
        }
        if ui
            .add_enabled(redo.is_some(), Button::new("Redo"))
            .on_hover_text(&redo_tip)
            .on_disabled_hover_text(&redo_tip)
            .clicked()
        {
            app.redo();
        }
        ui.add_space(SPACE);
        ui.separator();
        ui.add_space(SPACE);
        ui.label(strong(app.doc.title()));
        let state = match (&app.doc.path, app.doc.is_changed()) {
            (None, false) => "nothing to save".to_owned(),
            (None, true) => "not saved yet".to_owned(),
            (Some(_), false) => "saved".to_owned(),
            (Some(_), true) => "changed since it was saved".to_owned(),
        };
        let state = ui.label(small(ui, state));
        if let Some(path) = &app.doc.path {
            state.on_hover_text(path.display().to_string());
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
            if ui.button("Fit").on_hover_text("Show the whole layout (Home)").clicked() {
                app.fit_wanted = true;
            }
        });
    });
}

fn file_menu_ui(ui: &mut Ui, app: &mut App) {
    ui.menu_button("File", |ui| {
        ui.set_min_width(220.0);
        let item = |ui: &mut Ui, words: &str, key: Option<&egui::KeyboardShortcut>| {
            let mut button = Button::new(words).min_size(egui::vec2(220.0, 0.0));
            if let Some(key) = key {
                button = button.shortcut_text(ui.ctx().format_shortcut(key));
            }
            let clicked = ui.add(button).clicked();
            if clicked {
                ui.close();
            }
            clicked
        };
        if item(ui, "New layout", Some(&keys::NEW)) {
            app.ask_new();
        }
        if item(ui, "Open…", Some(&keys::OPEN)) {
            app.ask_open();
        }
        if item(ui, "Open a sample", None) {
            app.ask_sample();
        }
        ui.separator();
        if item(ui, "Save", Some(&keys::SAVE)) {
            app.save();
        }
        if item(ui, "Save as…", Some(&keys::SAVE_AS)) {
            app.ask_save_as();
        }
        ui.separator();
        if item(ui, "Quit", None) {
            ui.ctx().send_viewport_cmd(egui::ViewportCommand::Close);
        }
    });
}
