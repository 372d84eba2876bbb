//! Every driver's throttle, always in reach: direction, speed, idle state.

use std::ops::Range;

use eframe::egui::{
    self, Button, Id, Key, Margin, Modifiers, Rect, Sense, Slider, Stroke, Ui, pos2, vec2,
};

use super::App;
use super::form::choice_ui;
use super::names;
use super::names::shortened;
use super::theme::{SPACE, TIGHT, card, small, strong, tokens};
use crate::drive::{self, SetWord, Signal};
use crate::layout::edit::{Edit, Entity};
use crate::layout::{
    DeviceId, Direction, Drive, Driver, DriverId, EntityId, Idle, Origin, Setting,
};

/// Width of a driver's card with its edge, points.
const CARD: f32 = 340.0;
/// Room of a card beside what is in it, points: its margin and its edge.
const CARD_EDGE: f32 = 11.0;
/// How far beyond what is in view cards are laid out, points: the next one is there for the Tab key.
const BEYOND: f32 = CARD;

/// What the strip shows, as far as it moves by itself.
#[derive(Debug, Default)]
pub struct Strip {
    /// The drivers of what was selected or opened last.
    about: Vec<DriverId>,
}

/// The directions that a kind of drive can be set to.
pub(super) fn directions(drive: &Drive) -> Vec<Direction> {
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
    let wanted = scroll_to(app, &ids);
    ui.horizontal(|ui| {
        all_ui(ui, app);
        // The bar that scrolls is always seen where there are more than fit, and the wheel moves it as well.
        let bar = egui::style::ScrollStyle { bar_width: 6.0, ..egui::style::ScrollStyle::solid() };
        ui.spacing_mut().scroll = bar;
        ui.style_mut().always_scroll_the_only_direction = true;
        egui::ScrollArea::horizontal().id_salt("throttles").show_viewport(ui, |ui, view| {
            ui.horizontal(|ui| {
                cards_ui(ui, app, &ids, view, wanted);
                for id in devices {
                    selector_ui(ui, app, id);
                }
            });
        });
    });
}

/// Which cards are to be scrolled to, counted from the left: those of the drivers of what has just been selected or opened.
fn scroll_to(app: &mut App, ids: &[DriverId]) -> Option<Range<usize>> {
    let about = drivers_about(app);
    if about == app.strip.about {
        return None;
    }
    let at = about.iter().filter_map(|id| ids.iter().position(|one| one == id));
    let (first, last) = at.fold((usize::MAX, 0), |(a, b), n| (a.min(n), b.max(n)));
    app.strip.about = about;
    // Cards too far apart to be seen together: the first.
    let last = if last.saturating_sub(first) > 2 { first } else { last };
    (first <= last).then(|| first..last + 1)
}

/// The drivers of what is selected, or else of the finding that is open.
fn drivers_about(app: &App) -> Vec<DriverId> {
    let layout = app.doc.layout();
    let blocks = &app.check.latest.report.blocks;
    let of_block = |n: Option<usize>| n.and_then(|n| blocks.get(n)).map(|b| b.drivers.clone());
    let of_run = |run| {
        let stretches = &app.derived.nets.get(&run)?.blocks;
        of_block(stretches.iter().find_map(|stretch| stretch.block))
    };
    let open = || super::findings::opened(app).map(|finding| finding.drivers.clone());
    let found = match app.selection.as_slice() {
        [EntityId::Driver(id)] => Some(vec![*id]),
        [EntityId::Feed(id)] => layout.feeds.get(id).and_then(|feed| match feed.driver {
            Origin::Driver(id) => Some(vec![id]),
            Origin::Device(_) => of_block(app.derived.plan.block_at(feed.run, feed.at_mm)),
        }),
        [EntityId::Run(run)] => open().or_else(|| of_run(*run)),
        [EntityId::Label(id)] => layout
            .labels
            .get(id)
            .and_then(|label| of_block(app.derived.plan.block_at(label.run, label.at_mm))),
        [EntityId::Cut(id)] => {
            let cuts = &app.check.latest.report.cuts;
            cuts.iter().find(|cut| cut.id == *id).map(|cut| {
                let side = |id| blocks.iter().find(|b| b.id == id).map(|b| b.drivers.clone());
                cut.blocks.iter().filter_map(|id| side(*id)).flatten().collect()
            })
        }
        _ => open(),
    };
    found.unwrap_or_default()
}

/// The cards of the drivers that are in view, and room for the others.
fn cards_ui(
    ui: &mut Ui,
    app: &mut App,
    ids: &[DriverId],
    view: Rect,
    wanted: Option<Range<usize>>,
) {
    let step = CARD + ui.spacing().item_spacing.x;
    let start = ui.cursor().min;
    if let Some(wanted) = wanted {
        let left = start.x + wanted.start as f32 * step;
        let right = start.x + wanted.end as f32 * step;
        let cards = Rect::from_min_max(pos2(left, start.y), pos2(right, start.y + 1.0));
        ui.scroll_to_rect(cards, None);
        ui.ctx().request_repaint();
    }
    let index = |x: f32| (x / step).clamp(0.0, ids.len() as f32);
    let first = index(view.left() - BEYOND).floor() as usize;
    let last = index(view.right() + BEYOND).ceil() as usize;
    ui.add_space(first as f32 * step);
    for &id in &ids[first..last] {
        throttle_ui(ui, app, id);
    }
    ui.add_space((ids.len() - last) as f32 * step);
}

/// What can be done with all throttles at once, each one step of undo.
fn all_ui(ui: &mut Ui, app: &mut App) {
    let menu = ui.menu_button("All", |ui| {
        for direction in [Direction::Forward, Direction::Reverse, Direction::Stopped] {
            let word = names::direction_word(direction).to_lowercase();
            if ui.button(format!("All {word}")).clicked() {
                app.set_all(&word, direction);
                ui.close();
            }
        }
        ui.separator();
        let drivers = app.doc.layout().drivers.values();
        let mut idles: Vec<(Idle, String)> = Vec::new();
        for choice in drivers.flat_map(|driver| names::idle_choices(&driver.drive)) {
            if !matches!(choice.0, Idle::ByInputs { .. }) && !idles.contains(&choice) {
                idles.push(choice);
            }
        }
        for (idle, word) in idles {
            let word = word.to_lowercase();
            if ui.button(format!("All idle states {word}")).clicked() {
                app.idle_all(&word, idle);
                ui.close();
            }
        }
    });
    let tip = "Sets all throttles, or all idle states, at once";
    menu.response.on_hover_text(tip).accessible_name("All throttles");
}

impl App {
    /// Sets all drivers to a direction that can be set to it.
    fn set_all(&mut self, word: &str, direction: Direction) {
        let drivers = self.doc.layout().drivers.values();
        let other = drivers.filter(|driver| {
            driver.setting.direction != direction && directions(&driver.drive).contains(&direction)
        });
        let edits: Vec<Edit> = other
            .map(|driver| {
                let setting = Setting { direction, ..driver.setting };
                Edit::Set { driver: driver.id, setting }
            })
            .collect();
        self.edit_all(&format!("set all throttles to {word}"), edits);
    }

    /// Gives an idle state to all drivers that can have it.
    fn idle_all(&mut self, word: &str, idle: Idle) {
        let changed = self.doc.layout().drivers.values().filter_map(|driver| {
            let can = names::idle_choices(&driver.drive).iter().any(|choice| choice.0 == idle);
            let mut new = driver.clone();
            let own = drive::idle_of(&mut new.drive).filter(|own| can && **own != idle)?;
            *own = idle;
            Some(Edit::Replace(Entity::Driver(new)))
        });
        let edits: Vec<Edit> = changed.collect();
        self.edit_all(&format!("set all idle states to {word}"), edits);
    }

    fn edit_all(&mut self, what: &str, edits: Vec<Edit>) {
        if edits.is_empty() {
            self.tell("Every throttle that can be is set like that already.");
        } else {
            self.edit(what, Edit::Batch(edits));
        }
    }
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
    card_ui(ui, app.selection.contains(&id.into()), Some(CARD - 2.0 * CARD_EDGE), |ui| {
        ui.horizontal(|ui| {
            title_ui(ui, app, id.into(), "Driver", &name);
            let powered = app.doc.layout().supplies.get(&driver.supply).is_none_or(|s| s.powered);
            let state = if powered {
                names::drive_word(&driver.drive).to_owned()
            } else {
                format!("{}, supply off", names::drive_word(&driver.drive))
            };
            ui.add(egui::Label::new(small(ui, state)).truncate());
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

fn slider_key(driver: DriverId) -> Id {
    Id::unique(("slider of", driver))
}

/// Takes the arrow keys for a slider that has the focus: 1 % a press. Returns whether one was pressed.
fn step_by_keys(ui: &Ui, driver: DriverId, percent: &mut f64) -> bool {
    let slider = ui.data(|d| d.get_temp::<Id>(slider_key(driver)));
    if slider.is_none() || ui.memory(|m| m.focused()) != slider {
        return false;
    }
    let count = |key| ui.input_mut(|i| i.count_and_consume_key(Modifiers::NONE, key)) as f64;
    let steps = count(Key::ArrowRight) - count(Key::ArrowLeft);
    *percent = (*percent + steps).clamp(0.0, 100.0);
    steps != 0.0
}

fn speed_ui(ui: &mut Ui, app: &mut App, driver: &Driver, name: &str) {
    let mut drive = driver.drive.clone();
    let kind = drive::of(&driver.drive);
    let has_speed = kind.settings().contains(&SetWord::Forward);
    ui.horizontal(|ui| {
        if has_speed {
            let mut percent = (driver.setting.throttle * 1000.0).round() / 10.0;
            ui.spacing_mut().slider_width = 112.0;
            let stepped = step_by_keys(ui, driver.id, &mut percent);
            let slider = ui
                .add(Slider::new(&mut percent, 0.0..=100.0).suffix(" %").max_decimals(1))
                .on_hover_text("Arrow keys set it by steps of 1 %")
                .accessible_name(format!("{name}: throttle"));
            ui.data_mut(|d| d.insert_temp(slider_key(driver.id), slider.id));
            if (slider.changed() || stepped) && percent.is_finite() {
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
