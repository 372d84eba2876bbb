//! Work that a crash left behind, and layouts of late: offered to go on with.

use std::path::Path;

use eframe::egui::{self, ScrollArea, Ui};

use super::super::App;
use super::super::doc::{Document, Stamp};
use super::super::names::path_words;
use super::super::recovery::{Found, Recovery, ago_words};
use super::super::theme::{SPACE, heading, room, small, strong};
use super::Leave;
use crate::layout::read_path;

impl App {
    /// Offers work that crashes left behind, if there is any.
    pub(in super::super) fn ask_recover(&mut self) {
        if !self.offer_what_is_left() {
            self.tell("There is no work that a crash left behind.");
        }
    }

    /// Takes up work that a crash left behind: as changes that are not saved.
    pub(super) fn recover(&mut self, found: &Found) {
        let Some(recovery) = &mut self.recovery else { return };
        match recovery.take_up(found) {
            Ok(layout) => {
                let mut doc = Document::new(layout);
                if let Some(path) = &found.path {
                    // A file that was written after the work was kept has changed meanwhile. Its file is asked
                    // whether a save would take comments away.
                    let seen = if found.outdated { None } else { Stamp::of(path) };
                    let had_comments = read_path(path).is_ok_and(|file| file.had_comments);
                    doc = doc.lying_in(path.clone(), seen, had_comments);
                }
                self.take(doc.unsaved());
            }
            Err(why) => self.tell_bad(why),
        }
        self.offer_what_is_left();
    }

    /// Asks what to do with what crashes left behind. Returns whether there is any.
    fn offer_what_is_left(&mut self) -> bool {
        let left = self.recovery.as_ref().map(Recovery::found).unwrap_or_default();
        let any = !left.is_empty();
        if any {
            self.files.offer(left);
        } else {
            self.files.close();
        }
        any
    }
}

/// Whether to take up work that crashes left behind.
pub fn recover_ui(ui: &mut Ui, app: &mut App, found: &[Found]) {
    ui.label(heading("Work that was not saved"));
    ui.label("The program ended without saving this. Take it up again?");
    ui.add_space(SPACE);
    let height = room(ui.ctx(), 0.0, 380.0).y;
    ScrollArea::vertical().max_height(height).show(ui, |ui| {
        for one in found {
            found_ui(ui, app, one);
        }
    });
    let tip = "It is offered again at the next start, and in the File menu";
    if ui.button("Later").on_hover_text(tip).clicked() {
        app.files.close();
    }
}

fn found_ui(ui: &mut Ui, app: &mut App, one: &Found) {
    let from = match &one.path {
        None => "it was in no file yet".to_owned(),
        Some(path) if one.outdated => {
            format!("changes to {}, which was saved again after that", path_words(path))
        }
        Some(path) => format!("changes to {}", path_words(path)),
    };
    ui.label(strong(&one.title));
    ui.label(small(ui, format!("{}, {from}", ago_words(one.ago))));
    ui.horizontal(|ui| {
        let named = |what: &str| format!("{what} {}", one.title);
        let take_up = ui.button(strong("Take it up")).accessible_name(named("Take up"));
        if take_up.clicked() {
            app.leave(Leave::Recover(one.clone()));
        }
        let away = ui.button("Throw it away").accessible_name(named("Throw away"));
        if away.clicked() {
            if let Err(why) = Recovery::discard(one) {
                app.tell_bad(why);
            }
            app.offer_what_is_left();
        }
    });
    ui.add_space(SPACE);
}

/// Which of the layouts that were opened or saved of late to open.
pub fn recent_ui(ui: &mut Ui, app: &mut App) {
    ui.label(heading("Open a recent layout"));
    ui.add_space(SPACE);
    let mut gone = false;
    let height = room(ui.ctx(), 0.0, 380.0).y;
    ScrollArea::vertical().max_height(height).show(ui, |ui| {
        for path in app.settings.recent.clone() {
            let there = path.is_file();
            gone |= !there;
            let name =
                path.file_name().map_or_else(String::new, |name| path_words(Path::new(name)));
            let words = if there { name } else { format!("{name} (gone)") };
            let button =
                egui::Button::new(strong(words)).min_size(egui::vec2(ui.available_width(), 0.0));
            if ui.add_enabled(there, button).clicked() {
                app.leave(Leave::OpenPath(path.clone()));
            }
            ui.label(small(ui, path_words(&path)));
        }
    });
    ui.add_space(SPACE);
    ui.horizontal(|ui| {
        if gone && ui.button("Forget those that are gone").clicked() {
            app.settings.recent.retain(|path| path.is_file());
        }
        if ui.button("Cancel").clicked() {
            app.files.close();
        }
    });
}
