//! Every question about files as a dialog over the window.

use std::path::{Path, PathBuf};

use eframe::egui::text::{CCursor, CCursorRange};
use eframe::egui::{self, Context, Id, Key, Modal, TextEdit, Ui};

use super::super::App;
use super::super::names::path_words;
use super::super::theme::{SPACE, heading, room, small, strong};
use super::recover::{recent_ui, recover_ui};
use super::{Asking, Leave, file_stem, try_design, try_open, try_picture};
use crate::layout::{EXTENSION, PictureId, earlier, shown};

/// Whatever is being asked.
pub fn dialogs_ui(ctx: &Context, app: &mut App) {
    let Some(asking) = app.files.asking.clone() else { return };
    let frame = egui::Frame::window(&ctx.global_style()).inner_margin(18);
    let modal = Modal::new(egui::Id::unique("question")).frame(frame).show(ctx, |ui| {
        ui.set_width(room(ctx, 460.0, 0.0).x);
        match asking {
            Asking::Open => open_ui(ui, app),
            Asking::SaveAs(then) => save_as_ui(ui, app, then),
            Asking::Sample => sample_ui(ui, app),
            Asking::Recent => recent_ui(ui, app),
            Asking::Recover(found) => recover_ui(ui, app, &found),
            Asking::Unsaved(leave) => unsaved_ui(ui, app, leave),
            Asking::Comments(then) => comments_ui(ui, app, then),
            Asking::Outside(then) => outside_ui(ui, app, then),
            Asking::Overwrite(path, then) => overwrite_ui(ui, app, &path, then),
            Asking::Picture(which) => picture_ui(ui, app, which),
            Asking::Design => design_ui(ui, app),
            Asking::Papers => papers_ui(ui, app),
        }
        if !app.files.wrong.is_empty() {
            ui.add_space(SPACE);
            let t = super::super::theme::tokens(ui);
            let wrong = app.files.wrong.lines().map(shown).collect::<Vec<_>>().join("\n");
            let text = egui::RichText::new(wrong).color(t.verdict(crate::findings::Verdict::Short));
            ui.add(egui::Label::new(text).wrap().selectable(true));
        }
    });
    if modal.should_close() {
        app.files.close();
    }
}

fn path_ui(ui: &mut Ui, app: &mut App, example: &str) -> bool {
    let first = ui.memory(|m| m.focused().is_none());
    let field = ui
        .add(
            TextEdit::singleline(&mut app.files.path)
                // Its own, since the lines above it come and go with what is typed.
                .id(Id::unique("path of the file"))
                .hint_text(small(ui, example))
                .desired_width(f32::INFINITY),
        )
        .accessible_name("Path of the file");
    if first {
        field.request_focus();
        // Typing replaces what is there; an arrow key keeps it.
        let mut state = TextEdit::load_state(ui.ctx(), field.id).unwrap_or_default();
        let end = CCursor::new(app.files.path.chars().count());
        state.cursor.set_char_range(Some(CCursorRange::two(CCursor::new(0), end)));
        state.store(ui.ctx(), field.id);
    }
    field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter))
}

fn browse_ui(ui: &mut Ui, app: &mut App, save: bool) {
    let busy = app.files.browsing.is_some();
    let suggested = format!("{}.{EXTENSION}", file_stem(&app.doc.title()));
    if app.files.native
        && ui
            .add_enabled(!busy, egui::Button::new("Browse…"))
            .on_hover_text("Use the desktop's file dialog")
            .clicked()
    {
        let ctx = ui.ctx().clone();
        app.files.browse(&ctx, save, &suggested);
    }
    if busy {
        ui.label(small(ui, "waiting for the desktop's dialog"));
    }
}

/// The buttons under a path to read: the answer (which Enter in the field gives too), the desktop's dialog, none.
fn answer_ui(
    ui: &mut Ui,
    app: &mut App,
    (words, entered): (&str, bool),
    answer: impl FnOnce(&mut App),
) {
    ui.horizontal(|ui| {
        let ready = !app.files.path.trim().is_empty();
        if ui.add_enabled(ready, egui::Button::new(strong(words))).clicked() || (ready && entered) {
            answer(app);
        }
        browse_ui(ui, app, false);
        if ui.button("Cancel").clicked() {
            app.files.close();
        }
    });
}

fn open_ui(ui: &mut Ui, app: &mut App) {
    ui.label(heading("Open a layout"));
    ui.label(small(ui, "Type the path, browse for the file, or drop it on the window."));
    let entered = path_ui(ui, app, "/home/me/layout.gapwright");
    ui.add_space(SPACE);
    answer_ui(ui, app, ("Open", entered), try_open);
}

fn design_ui(ui: &mut Ui, app: &mut App) {
    ui.label(heading("Compare with another design"));
    ui.label(small(
        ui,
        "The design in the file is the old one, the layout in the window the new one. Type the path, or browse for the file.",
    ));
    let entered = path_ui(ui, app, "/home/me/before-the-redesign.gapwright");
    ui.add_space(SPACE);
    answer_ui(ui, app, ("Compare", entered), try_design);
}

fn picture_ui(ui: &mut Ui, app: &mut App, which: Option<PictureId>) {
    let (title, button) = match which {
        Some(_) => ("The file of the picture", "Use this file"),
        None => ("Add a picture to draw over", "Add"),
    };
    ui.label(heading(title));
    ui.label(small(
        ui,
        "PNG or JPEG. Type the path, or browse for the file; one can be dropped on the window too.",
    ));
    let entered = path_ui(ui, app, "/home/me/plan.png");
    ui.add_space(SPACE);
    answer_ui(ui, app, (button, entered), |app| try_picture(app, which));
}

fn papers_ui(ui: &mut Ui, app: &mut App) {
    ui.label(heading("Papers for the bench"));
    ui.label(small(
        ui,
        "Plan, cut list, feeder list, ring-out sheet, gap cards, operators' sheets, driver settings, shopping list and \
         findings, as PDF files into a folder. Type its path, or browse for it; it is made if it is not there.",
    ));
    let entered = path_ui(ui, app, "/home/me/papers");
    ui.add_space(SPACE);
    let entered = app.papers.choices_ui(ui) || entered;
    ui.add_space(SPACE);
    app.papers.progress_ui(ui);
    ui.horizontal(|ui| {
        let busy = app.papers.is_busy();
        let ready = !busy && !app.files.path.trim().is_empty();
        let make = ui.add_enabled(ready, egui::Button::new(strong("Make the papers")));
        if make.clicked() || (ready && entered) {
            let folder = PathBuf::from(app.files.path.trim());
            app.make_papers(ui.ctx(), &folder);
        }
        browse_ui(ui, app, false);
        if ui.button("Cancel").clicked() {
            app.files.close();
        }
    });
}

fn save_as_ui(ui: &mut Ui, app: &mut App, then: Option<Leave>) {
    ui.label(heading("Save the layout as"));
    if Path::new(app.files.path.trim()).is_relative()
        && let Ok(folder) = std::env::current_dir()
    {
        ui.label(small(ui, format!("A name alone is saved in {}", path_words(&folder))));
    }
    let entered = path_ui(ui, app, "/home/me/layout.gapwright");
    ui.add_space(SPACE);
    ui.horizontal(|ui| {
        let ready = !app.files.path.trim().is_empty();
        if ui.add_enabled(ready, egui::Button::new(strong("Save"))).clicked() || (ready && entered)
        {
            let mut path = PathBuf::from(app.files.path.trim());
            if path.extension().is_none() {
                path.set_extension(EXTENSION);
            }
            let own = app.doc.path.as_deref() == Some(&path) && !app.doc.is_file_changed();
            if path.exists() && !own {
                app.files.ask(Asking::Overwrite(path, then));
            } else {
                app.write(&path, then);
            }
        }
        browse_ui(ui, app, true);
        if ui.button("Cancel").clicked() {
            app.files.close();
        }
    });
}

fn overwrite_ui(ui: &mut Ui, app: &mut App, path: &Path, then: Option<Leave>) {
    ui.label(heading("Write over this file?"));
    ui.label(format!("{} is there already.", path_words(path)));
    ui.add_space(SPACE);
    ui.horizontal(|ui| {
        if ui.button(strong("Write over it")).clicked() {
            app.write(path, then.clone());
        }
        if ui.button("Choose another name").clicked() {
            app.files.ask(Asking::SaveAs(then));
        }
    });
}

fn unsaved_ui(ui: &mut Ui, app: &mut App, leave: Leave) {
    ui.label(heading("Save the changes?"));
    let then = match &leave {
        Leave::New => "Then a new layout is begun.",
        Leave::Open | Leave::OpenPath(_) | Leave::Sample(_) => "Then another layout is opened.",
        Leave::Recover(_) => "Then the work that was left behind is taken up.",
        Leave::Quit => "Then the window closes.",
    };
    ui.label(format!("\"{}\" has changes that are not saved. {then}", app.doc.title()));
    ui.add_space(SPACE);
    ui.horizontal(|ui| {
        if ui.button(strong("Save")).clicked() {
            app.files.close();
            app.save_then(Some(leave.clone()));
        }
        if ui.button("Discard").on_hover_text("The changes are lost").clicked() {
            app.go(leave);
        }
        if ui.button("Keep editing").clicked() {
            app.files.close();
        }
    });
}

fn comments_ui(ui: &mut Ui, app: &mut App, then: Option<Leave>) {
    ui.label(heading("The file has comments"));
    ui.label(
        "Comments that were written into the file by hand are not kept when it is saved. Save under another name to \
         keep the file as it is.",
    );
    ui.add_space(SPACE);
    ui.horizontal(|ui| {
        if ui.button(strong("Save without comments")).clicked()
            && let Some(path) = app.doc.path.clone()
        {
            app.write(&path, then.clone());
        }
        if ui.button("Save as…").clicked() {
            app.save_as_then(then);
        }
        if ui.button("Keep editing").clicked() {
            app.files.close();
        }
    });
}

fn outside_ui(ui: &mut Ui, app: &mut App, then: Option<Leave>) {
    let Some(path) = app.doc.path.clone() else { return };
    ui.label(heading("The file has changed meanwhile"));
    ui.label(format!(
        "Something else has written {} since it was opened or saved here. To save over it leaves what that wrote only in \
         its copy, {}; to read it again loses what is not saved here. Under another name both are kept.",
        path_words(&path),
        path_words(&earlier(&path))
    ));
    ui.add_space(SPACE);
    ui.horizontal_wrapped(|ui| {
        if ui.button(strong("Save as…")).clicked() {
            app.save_as_then(then.clone());
        }
        if ui.button("Save over it").clicked() {
            app.write(&path, then.clone());
        }
        if ui.button("Read it again").clicked() {
            app.go(Leave::OpenPath(path.clone()));
        }
        if ui.button("Keep editing").clicked() {
            app.files.close();
        }
    });
}

fn sample_ui(ui: &mut Ui, app: &mut App) {
    ui.label(heading("Open a sample"));
    ui.label(small(ui, "Places of our own invention, each with one thing to learn."));
    let hint = small(ui, "a word of what you are looking for");
    let field = TextEdit::singleline(&mut app.files.wanted).hint_text(hint);
    let field = ui.add(field.desired_width(f32::INFINITY)).accessible_name("Search the samples");
    if ui.memory(|m| m.focused().is_none()) {
        field.request_focus();
    }
    ui.add_space(SPACE);
    let height = room(ui.ctx(), 0.0, 380.0).y;
    // All of it at once, also in the first moment, when its size is not known.
    let area = egui::ScrollArea::vertical().max_height(height).min_scrolled_height(height);
    area.show(ui, |ui| {
        let wanted = app.files.wanted.clone();
        let samples = app.files.samples.clone().into_iter();
        let mut group = String::new();
        for sample in samples.filter(|sample| sample.answers(&wanted)) {
            if sample.group != group {
                group.clone_from(&sample.group);
                ui.label(heading(&group));
            }
            ui.vertical_centered_justified(|ui| {
                if ui.button(strong(&sample.name)).clicked() {
                    app.leave(Leave::Sample(sample.n));
                }
            });
            ui.label(small(ui, &sample.learn));
            ui.add_space(SPACE);
        }
        if group.is_empty() {
            ui.label(small(ui, "No sample has all these words."));
        }
    });
    if ui.button("Cancel").clicked() {
        app.files.close();
    }
}
