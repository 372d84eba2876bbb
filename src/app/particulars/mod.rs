//! The particulars of what is selected: every value of it, to read and to change.

mod driver;
mod feed;
mod supply;
mod track;
mod trip;
mod vehicle;

use eframe::egui::{self, Ui};

use super::theme::{SPACE, heading, small};
use super::{App, names};
use crate::layout::EntityId;
use crate::layout::edit::{Edit, Entity};
use driver::driver_ui;
use feed::feed_ui;
use supply::supply_ui;
use track::{cut_ui, joint_ui, label_ui, run_ui};
use vehicle::vehicle_ui;

pub(super) use trip::trip_kind_form;

/// The panel.
pub fn particulars_ui(ui: &mut Ui, app: &mut App) {
    match app.selection.as_slice() {
        [] => {
            ui.label("Nothing is selected.");
            ui.label(small(
                ui,
                "Click a run, a gap, a feed or a joint on the canvas, a throttle's name below it, or anything in the \
                 list under Layout.",
            ));
        }
        [one] => {
            let id = *one;
            header_ui(ui, app, id);
            ui.push_id(id, |ui| match id {
                EntityId::Joint(id) => joint_ui(ui, app, id),
                EntityId::Run(id) => run_ui(ui, app, id),
                EntityId::Cut(id) => cut_ui(ui, app, id),
                EntityId::Label(id) => label_ui(ui, app, id),
                EntityId::Supply(id) => supply_ui(ui, app, id),
                EntityId::Driver(id) => driver_ui(ui, app, id),
                EntityId::Feed(id) => feed_ui(ui, app, id),
                EntityId::Vehicle(id) => vehicle_ui(ui, app, id),
                EntityId::Special(id) => super::special_form::special_ui(ui, app, id),
                EntityId::Device(id) => super::special_form::device_ui(ui, app, id),
                EntityId::Bond(id) => super::special_form::bond_ui(ui, app, id),
                EntityId::Train(id) => super::train::train_ui(ui, app, id),
                EntityId::Lineup(id) => super::lineups::lineup_ui(ui, app, id),
                // Decisions have the form of the review.
                EntityId::Decision(_) => {}
                EntityId::Picture(id) => super::picture_form::picture_ui(ui, app, id),
            });
            if let EntityId::Driver(_) | EntityId::Supply(_) | EntityId::Vehicle(_) = id {
                super::presets::keep_ui(ui, app, id);
            }
        }
        _ => super::bulk::many_ui(ui, app),
    }
}

fn header_ui(ui: &mut Ui, app: &mut App, id: EntityId) {
    ui.horizontal(|ui| {
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            if ui
                .button("Delete")
                .on_hover_text("Delete it and what depends on it (Delete)")
                .clicked()
            {
                app.delete_selected();
            }
            let drawn = app.derived.place(app.doc.layout(), id).is_some();
            if drawn && ui.button("Go there").clicked() {
                app.go_to(id);
            }
            ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| {
                let name = heading(names::entity_name(app.doc.layout(), id)).size(16.0);
                ui.add(egui::Label::new(name).truncate());
            });
        });
    });
    ui.add_space(SPACE);
}

/// Puts a changed entity back, as one step per field and gesture.
pub(super) fn put(
    app: &mut App,
    form_changed: Option<super::form::Changed>,
    what: &str,
    entity: Entity,
) {
    if let Some(changed) = form_changed {
        let field = changed.flowing.then_some(changed.field);
        app.edit_field(what, Edit::Replace(entity), field);
    }
}
