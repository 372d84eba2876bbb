//! Every driver's throttle, always in reach: direction, speed, idle state.

use eframe::egui::{self, Button, Id, Margin, Sense, Slider, Stroke, Ui, vec2};

use super::App;
use super::form::choice_ui;
use super::names;
use super::names::shortened;
use super::theme::{SPACE, TIGHT, card, small, strong, tokens};
use crate::drive::{self, SetWord, Signal};
use crate::layout::edit::{Edit, Entity};
use crate::layout::{DeviceId, Direction, Drive, Driver, DriverId, EntityId, Origin, Setting};

/// The directions that a kind of drive can be set to.
fn directions(drive: &Drive) -> Vec<Direction> {
    // In the order of the buttons.
    const ALL: [Direction; 5] =
        [Direction::Reverse, Direction::Stopped, Direction::Forward, Direction::On, Direction::Off];
    let kind = drive::of(drive);
    ALL.into_iter().filter(|way| kind.settings().contains(&SetWord::from(*way))).collect()
}

/// The strip of throttles.
pub fn throttles_ui(ui: &mut Ui, app: &mut App) {
    let ids: Vec<DriverId> = app.doc.layout().drivers.keys().copied().collect();
    if ids.is_empty() {
        ui.horizontal_wrapped(|ui| {
            ui.label(strong("Throttles"));
            ui.label(small(ui, "No driver yet. A driver turns a supply into track power."));
            if ui.button("Add a driver with its supply").clicked() {
                app.add_driver_with_supply();
            }
        });
        return;
    }
    let devices: Vec<DeviceId> = app
        .doc
        .layout()
        .devices
        .values()
        .filter(|device| device.kind.positions() > 1)
        .map(|device| device.id)
        .collect();
    // The bar that scrolls is always seen where there are more than fit, and the wheel moves it as well.
    let bar = egui::style::ScrollStyle { bar_width: 6.0, ..egui::style::ScrollStyle::solid() };
    ui.spacing_mut().scroll = bar;
    ui.style_mut().always_scroll_the_only_direction = true;
    egui::ScrollArea::horizontal().id_salt("throttles").show(ui, |ui| {
        ui.horizontal(|ui| {
            for id in ids {
                throttle_ui(ui, app, id);
            }
            for id in devices {
                selector_ui(ui, app, id);
            }
        });
    });
}

/// A card of the strip.
fn card_ui(ui: &mut Ui, selected: bool, width: Option<f32>, show: impl FnOnce(&mut Ui)) {
    let t = tokens(ui);
    card(t)
        .stroke(Stroke::new(1.0, if selected { t.accent } else { t.hairline }))
        .inner_margin(Margin::symmetric(10, 7))
        .show(ui, |ui| {
            ui.vertical(|ui| {
                if let Some(width) = width {
                    ui.set_width(width);
                }
                ui.spacing_mut().item_spacing = vec2(TIGHT, 5.0);
                show(ui);
            });
        });
}

/// The name on a card; a click shows the particulars.
fn title_ui(ui: &mut Ui, app: &mut App, id: EntityId, what: &str, name: &str) {
    let title = ui
        .add(Button::new(strong(shortened(name, 24))).frame(false).sense(Sense::click_and_drag()))
        .on_hover_text(format!(
            "A click shows this {}'s particulars; dragged to the track it feeds that",
            what.to_lowercase()
        ))
        .accessible_name(format!("{what} {name}"));
    match id {
        EntityId::Driver(driver) => title.dnd_set_drag_payload(Origin::Driver(driver)),
        EntityId::Device(device) => title.dnd_set_drag_payload(Origin::Device(device)),
        _ => {}
    }
    if title.clicked() {
        app.select(id);
    }
}

/// A selector of the feed chain, with a button per position.
fn selector_ui(ui: &mut Ui, app: &mut App, id: DeviceId) {
    let Some(device) = app.doc.layout().devices.get(&id).cloned() else { return };
    let name = names::short_name(app.doc.layout(), id.into());
    card_ui(ui, app.selection.contains(&id.into()), None, |ui| {
        ui.horizontal(|ui| {
            title_ui(ui, app, id.into(), "Device", &name);
            if !device.gang.is_empty() {
                ui.label(small(ui, format!("in gang {}", device.gang)));
            }
        });
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 2.0;
            for position in 0..device.kind.positions() {
                let words = names::position_words(app.doc.layout(), id.into(), position);
                let chosen = device.position == position;
                let button = ui
                    .add(Button::selectable(chosen, &words).frame_when_inactive(true))
                    .accessible_name(format!("{name}: {words}"));
                if button.clicked() && !chosen {
                    app.throw_to(id.into(), position);
                }
            }
        });
    });
}

fn throttle_ui(ui: &mut Ui, app: &mut App, id: DriverId) {
    let Some(driver) = app.doc.layout().drivers.get(&id).cloned() else { return };
    let name = names::driver_name(app.doc.layout(), id);
    card_ui(ui, app.selection.contains(&id.into()), Some(276.0), |ui| {
        ui.horizontal(|ui| {
            title_ui(ui, app, id.into(), "Driver", &name);
            let powered = app.doc.layout().supplies.get(&driver.supply).is_none_or(|s| s.powered);
            let state = if powered {
                names::drive_word(&driver.drive).to_owned()
            } else {
                format!("{}, supply off", names::drive_word(&driver.drive))
            };
            ui.label(small(ui, state));
        });
        directions_ui(ui, app, &driver, &name);
        speed_ui(ui, app, &driver, &name);
    });
}

fn directions_ui(ui: &mut Ui, app: &mut App, driver: &Driver, name: &str) {
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 2.0;
        for direction in directions(&driver.drive) {
            let chosen = driver.setting.direction == direction;
            let word = names::direction_word(direction);
            let tip = match direction {
                Direction::Forward => "P positive",
                Direction::Reverse => "M positive",
                Direction::Stopped => "Throttle at zero: a PWM bridge stays in its idle state",
                Direction::On => "The booster sends",
                Direction::Off => "Outputs at high-impedance",
            };
            let button = ui
                .add(Button::selectable(chosen, word).frame_when_inactive(true))
                .on_hover_text(tip)
                .accessible_name(format!("{name}: {word}"));
            if button.clicked() && !chosen {
                let setting = Setting { direction, ..driver.setting };
                let what = format!("set {name} to {}", word.to_lowercase());
                app.edit(&what, Edit::Set { driver: driver.id, setting });
            }
        }
    });
}

fn speed_ui(ui: &mut Ui, app: &mut App, driver: &Driver, name: &str) {
    let mut drive = driver.drive.clone();
    let kind = drive::of(&driver.drive);
    let has_speed = kind.settings().contains(&SetWord::Forward);
    ui.horizontal(|ui| {
        if has_speed {
            let mut percent = (driver.setting.throttle * 1000.0).round() / 10.0;
            ui.spacing_mut().slider_width = 76.0;
            let slider = ui
                .add(Slider::new(&mut percent, 0.0..=100.0).suffix(" %").max_decimals(1))
                .accessible_name(format!("{name}: throttle"));
            if slider.changed() && percent.is_finite() {
                let throttle = (percent / 100.0).clamp(0.0, 1.0);
                let setting = Setting { throttle, ..driver.setting };
                let edit = Edit::Set { driver: driver.id, setting };
                app.edit_field(&format!("set the throttle of {name}"), edit, Some(slider.id));
            }
        }
        let choices = names::idle_choices(&drive);
        if let Some(idle) = drive::idle_of(&mut drive) {
            let id = Id::unique(("idle", driver.id));
            let label = format!("{name}: idle state");
            let (response, changed) = choice_ui(ui, id, &label, idle, &choices, Some(132.0));
            response.on_hover_text(names::IDLE_HELP);
            if changed {
                let word = names::idle_word(*idle).to_lowercase();
                let changed = Driver { drive, ..driver.clone() };
                app.edit(
                    &format!("set the idle state of {name} to {word}"),
                    Edit::Replace(Entity::Driver(changed)),
                );
            }
        } else if kind.signal() != Signal::Direct {
            ui.add_space(SPACE);
            ui.label(small(ui, "speed is set in the locomotives"));
        }
    });
}
