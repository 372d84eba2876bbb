//! The particulars of a picture under the plan.

use eframe::egui::{Button, Label, RichText, Ui};

use super::App;
use super::form::{ANY, DEGREE, Form, MM, PERCENT, Unit};
use super::names;
use super::particulars::put;
use super::theme::{SPACE, small, strong, tokens};
use super::tools::Tool;
use crate::findings::Verdict;
use crate::layout::PictureId;
use crate::layout::edit::Entity;

/// Millimetres on the plan per pixel.
const MM_PER_PIXEL: Unit = Unit { suffix: " mm", scale: 1.0, zero: 0.0, step: 0.01 };

/// The form.
pub fn picture_ui(ui: &mut Ui, app: &mut App, id: PictureId) {
    let Some(mut picture) = app.doc.layout().pictures.get(&id).cloned() else { return };
    file_ui(ui, app, id, &picture.path);
    ui.add_space(SPACE);
    let (width, height) = app.extent(&picture);
    let mut form = Form::new(ui, "Picture");
    form.number("Corner x", &mut picture.x_mm, MM, ANY).on_hover_text("Of its upper left corner");
    form.number("Corner y", &mut picture.y_mm, MM, ANY).on_hover_text("Of its upper left corner");
    form.number("One pixel", &mut picture.mm_per_pixel, MM_PER_PIXEL, 1e-4..=1e4)
        .on_hover_text("How wide and high one pixel of the picture is on the plan");
    let mut width_mm = width * picture.mm_per_pixel;
    if form.number("Width", &mut width_mm, MM, 0.1..=1e7).changed() {
        picture.mm_per_pixel = width_mm / width;
    }
    let high = app.camera.units.length(height * picture.mm_per_pixel);
    form.hint(&format!("Then it is {high} high."));
    let mut turn_deg = picture.turn_deg;
    if form.number("Turn", &mut turn_deg, DEGREE, -360.0..=360.0).changed() {
        picture = picture.turned((width, height), turn_deg);
    }
    form.number("Strength", &mut picture.opacity, PERCENT, 0.0..=1.0)
        .on_hover_text("100 % shows it as it is, less dims it");
    form.tick("Locked", &mut picture.locked)
        .on_hover_text("The pointer goes through it: it is not selected, moved or scaled");
    let (changed, locked) = (form.changed, picture.locked);
    put(app, changed, "change a picture", Entity::Picture(picture));
    ui.add_space(SPACE);
    let scale = ui
        .add_enabled(!locked, Button::new(strong("Scale it by two points")))
        .on_hover_text("Click two points that are a known distance apart")
        .on_disabled_hover_text("Unlock it first");
    if scale.clicked() {
        app.tools.take_up(Tool::Trace);
        app.tools.trace.picture = Some(id);
    }
}

/// Its file: where it is, and what can be done if it is not there.
fn file_ui(ui: &mut Ui, app: &mut App, id: PictureId, path: &str) {
    let trouble = app.pictures.in_trouble(path);
    let (said, pixels) = (app.picture_said(id), app.pictures.pixels(path));
    if trouble {
        let colour = tokens(ui).verdict(Verdict::Caution);
        ui.horizontal_top(|ui| {
            super::marks::mark_ui(ui, Verdict::Caution, 7.0);
            ui.add(Label::new(RichText::new(format!("{said}.")).color(colour)).wrap());
        });
    } else if let Some((width, height)) = pixels {
        ui.label(small(ui, format!("{width} × {height} pixels")));
    } else {
        ui.label(small(ui, said));
    }
    ui.add(Label::new(small(ui, path)).wrap().selectable(true));
    ui.horizontal(|ui| {
        let words = if trouble { "Find it…" } else { "Another file…" };
        if ui.button(words).on_hover_text("Name the file of this picture").clicked() {
            app.ask_picture(Some(id));
        }
        if ui.button("Read it again").on_hover_text("If the file has changed").clicked() {
            app.pictures.look_again(path);
        }
    });
}

/// A few words about a picture at the end of its row in the list.
pub fn aside_words(app: &App, id: PictureId) -> String {
    let Some(picture) = app.doc.layout().pictures.get(&id) else { return String::new() };
    if app.pictures.in_trouble(&picture.path) {
        return "cannot be shown".to_owned();
    }
    let lock = if picture.locked { ", locked" } else { "" };
    let wide = app.camera.units.length(app.extent(picture).0 * picture.mm_per_pixel);
    format!("{wide} wide{lock}")
}

/// Pictures to choose from.
pub fn choices(app: &App) -> Vec<(Option<PictureId>, String)> {
    let layout = app.doc.layout();
    let name = |id: &PictureId| (Some(*id), names::entity_name(layout, (*id).into()));
    layout.pictures.keys().map(name).collect()
}
