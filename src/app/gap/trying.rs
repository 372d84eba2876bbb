//! The controls to try things out with: throttles, idle states, supplies, feeds of the drivers at the gap.

use eframe::egui::{Button, Label, ScrollArea, Slider, Ui};

use super::super::form::choice_ui;
use super::super::names;
use super::super::theme::{SPACE, heading, small, strong};
use super::super::throttles::directions;
use super::commands::Command;
use super::model::Model;
use super::scene::Scene;
use super::trial::Tried;
use crate::drive::{self, SetWord};
use crate::layout::{
    Direction, Driver, DriverId, FeedId, Layout, Origin, Setting, SupplyId, driver_now,
};

/// The controls.
pub(super) fn trying_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    ui.label(heading("Try out"));
    ui.add(
        Label::new(small(
            ui,
            "On a copy: the layout stays as it is until you keep what you have tried. Everything beside follows.",
        ))
        .wrap(),
    );
    let Some(scene) = model.scene else { return };
    let drivers = drivers(scene);
    if drivers.is_empty() {
        ui.label(small(ui, "No driver reaches this gap."));
        return;
    }
    let tried = model.view.trial.as_ref().map(|trial| trial.tried.clone()).unwrap_or_default();
    for &id in &drivers {
        let Some(driver) = model.source.layout.drivers.get(&id) else { continue };
        ui.add_space(SPACE);
        driver_ui(ui, model, driver, &tried, commands);
    }
    ui.add_space(SPACE);
    supplies_ui(ui, model, &drivers, &tried, commands);
    feeds_ui(ui, model, &drivers, &tried, commands);
}

/// *Keep* and *Discard*, and the list of differences from the layout: it has a place of its own, so that it moves neither them
/// nor the controls.
pub(super) fn changes_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    ui.add_space(SPACE);
    let trial = model.view.trial.as_ref();
    ui.horizontal(|ui| {
        for (words, tip, command) in [
            (
                "Keep",
                "Makes it part of the layout: one step, that one Undo takes back",
                Command::Keep,
            ),
            ("Discard", "Leaves the layout as it is", Command::Discard),
        ] {
            let button = ui.add_enabled(trial.is_some(), Button::new(words));
            let button = button
                .on_hover_text(tip)
                .on_disabled_hover_text("Change something above first: it is tried out on a copy");
            if button.clicked() {
                commands.push(command);
            }
        }
        let words = match trial.map(|trial| trial.changes.len()) {
            None => "Nothing differs from the layout.".to_owned(),
            Some(1) => "1 change is tried out:".to_owned(),
            Some(n) => format!("{n} changes are tried out:"),
        };
        ui.label(small(ui, words));
    });
    ScrollArea::vertical().id_salt("what is tried").auto_shrink(false).show(ui, |ui| {
        for change in trial.iter().flat_map(|trial| &trial.changes) {
            ui.add(Label::new(strong(change)).wrap());
        }
    });
}

/// The drivers at the gap: those of its sides first.
fn drivers(scene: &Scene) -> Vec<DriverId> {
    let names = &scene.gap.around(scene.stance.who).names;
    let case = scene.gap.case(scene.stance.who);
    let sides = case.meeting.iter().flatten().filter_map(|at| names.drivers.get(*at)).copied();
    let mut drivers: Vec<DriverId> = Vec::new();
    for id in sides.chain(names.drivers.iter().copied()) {
        if !drivers.contains(&id) {
            drivers.push(id);
        }
    }
    drivers
}

fn driver_ui(
    ui: &mut Ui,
    model: &Model,
    driver: &Driver,
    tried: &Tried,
    commands: &mut Vec<Command>,
) {
    let name = model.driver(driver.id);
    let kind = drive::of(&driver.drive);
    ui.label(strong(&name));
    let mut setting = driver.setting;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 2.0;
        for direction in directions(&driver.drive) {
            let chosen = setting.direction == direction;
            let word = names::direction_word(direction);
            let button = ui
                .add(Button::selectable(chosen, word).frame_when_inactive(true))
                .accessible_name(format!("Try {name}: {word}"));
            if button.clicked() {
                setting.direction = direction;
            }
        }
    });
    if kind.settings().contains(&SetWord::Forward) {
        let mut percent = (setting.throttle * 1000.0).round() / 10.0;
        ui.spacing_mut().slider_width = 150.0;
        let slider = ui
            .add(Slider::new(&mut percent, 0.0..=100.0).suffix(" %").max_decimals(1))
            .accessible_name(format!("Try {name}: throttle"));
        if slider.changed() && percent.is_finite() {
            setting.throttle = (percent / 100.0).clamp(0.0, 1.0);
            if setting.direction == Direction::Stopped && setting.throttle > 0.0 {
                setting.direction = Direction::Forward;
            }
        }
    }
    if setting != driver.setting {
        commands.push(Command::Try(with_setting(tried, driver.id, setting)));
    }
    let choices = names::idle_choices(&driver.drive);
    let mut own = driver.drive.clone();
    if let Some(idle) = drive::idle_of(&mut own).filter(|_| !choices.is_empty()) {
        let before = *idle;
        let label = format!("Try {name}: idle state");
        ui.horizontal(|ui| {
            ui.label(small(ui, "idles")).on_hover_text(names::IDLE_HELP);
            let id = ui.scope_id().with(("try idle", driver.id));
            choice_ui(ui, id, &label, idle, &choices, Some(150.0));
        });
        if *idle != before {
            let mut tried = tried.clone();
            tried.idles.insert(driver.id, *idle);
            commands.push(Command::Try(tried));
        }
    }
}

fn with_setting(tried: &Tried, driver: DriverId, setting: Setting) -> Tried {
    let mut tried = tried.clone();
    tried.settings.insert(driver, setting);
    tried
}

/// The supplies of some drivers, on or off.
fn supplies_ui(
    ui: &mut Ui,
    model: &Model,
    drivers: &[DriverId],
    tried: &Tried,
    commands: &mut Vec<Command>,
) {
    let layout = model.source.layout;
    let mut supplies: Vec<SupplyId> =
        drivers.iter().filter_map(|id| layout.drivers.get(id)).map(|d| d.supply).collect();
    supplies.sort();
    supplies.dedup();
    for id in supplies {
        let Some(supply) = layout.supplies.get(&id) else { continue };
        let name = names::supply_name(layout, id);
        let mut on = supply.powered;
        let tick = ui.checkbox(&mut on, format!("{name} is on"));
        if tick.accessible_name(format!("Try {name}: on")).changed() {
            let mut tried = tried.clone();
            tried.powered.insert(id, on);
            commands.push(Command::Try(tried));
        }
    }
}

/// The feeds of some drivers, with their wires as they are or exchanged.
fn feeds_ui(
    ui: &mut Ui,
    model: &Model,
    drivers: &[DriverId],
    tried: &Tried,
    commands: &mut Vec<Command>,
) {
    let layout = model.source.layout;
    for feed in feeds_of(layout, drivers) {
        let Some(of) = layout.feeds.get(&feed) else { continue };
        let mut swapped = tried.swapped.contains(&feed);
        let words =
            format!("{feed} from {}: wires exchanged", names::origin_name(layout, of.driver));
        let tick = ui.checkbox(&mut swapped, &words);
        if tick.accessible_name(format!("Try feed {words}")).changed() {
            let mut tried = tried.clone();
            if swapped {
                tried.swapped.insert(feed);
            } else {
                tried.swapped.remove(&feed);
            }
            commands.push(Command::Try(tried));
        }
    }
}

/// Feeds that come from some drivers, straight or through devices as they stand.
fn feeds_of(layout: &Layout, drivers: &[DriverId]) -> Vec<FeedId> {
    let own =
        |origin: Origin| driver_now(layout, origin).is_some_and(|driver| drivers.contains(&driver));
    layout.feeds.values().filter(|feed| own(feed.driver)).map(|feed| feed.id).collect()
}
