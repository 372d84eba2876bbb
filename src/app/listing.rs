//! Everything on the layout in lists: the way to reach a thing without the canvas.

mod aside;

use eframe::egui::{
    self, Align, Layout, Pos2, Role, Sense, TextEdit, Ui, WidgetInfo, WidgetText, pos2, vec2,
};

use super::equipment::DEVICES;
use super::form::{
    CELSIUS, FINE_MM, FROM_ZERO, Form, MM_PER_M, NUMBER, OHM_PER_M, ROOM, UM_PER_M_K,
};
use super::glossary::term;
use super::marks::block_swatch;
use super::names;
use super::theme::{SPACE, small, strong, tokens};
use super::tools::Tool;
use super::{App, Tab};
use crate::drive;
use crate::layout::edit::{Edit, Entity};
use crate::layout::{Climate, DriverId, EntityId, SupplyId, VehicleId, defaults};
use aside::aside_ui;

/// What the lists show.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Listing {
    /// Only names with all these words.
    filter: String,
}

impl Listing {
    fn is_filtered(&self) -> bool {
        !self.filter.trim().is_empty()
    }

    fn shows(&self, name: &str) -> bool {
        let name = name.to_lowercase();
        self.filter.to_lowercase().split_whitespace().all(|word| name.contains(word))
    }
}

/// The lists.
pub fn listing_ui(ui: &mut Ui, app: &mut App) {
    let hint = small(ui, "a word of a name");
    let field = TextEdit::singleline(&mut app.listing.filter).hint_text(hint);
    ui.add(field.desired_width(f32::INFINITY)).accessible_name("Show only names with");
    ui.add_space(SPACE);
    if !app.listing.is_filtered() {
        whole_ui(ui, app);
        ui.add_space(SPACE);
    }
    blocks_ui(ui, app);
    power_ui(ui, app);
    lineups_ui(ui, app);
    track_ui(ui, app);
}

/// What is drawn, each with a button that takes its tool in hand.
fn track_ui(ui: &mut Ui, app: &mut App) {
    let take = |words: &'static str, tool: Tool| {
        move |ui: &mut Ui, app: &mut App| {
            if ui.button(words).on_hover_text("Takes the tool in hand").clicked() {
                app.tools.take_up(tool);
            }
        }
    };
    let layout = app.doc.layout();
    let specials = ids(layout.specials.keys());
    let cuts = ids(layout.cuts.keys());
    let feeds = ids(layout.feeds.keys());
    let bonds = ids(layout.bonds.keys());
    let pictures = ids(layout.pictures.keys());
    let runs = ids(layout.runs.keys());
    let labels = ids(layout.labels.keys());
    let joints = ids(layout.joints.keys());
    group_ui(ui, app, "Special work", &specials, take("Add special work", Tool::Special));
    group_ui(ui, app, "Gaps", &cuts, take("Add a gap", Tool::Cut));
    group_ui(ui, app, "Feeds", &feeds, take("Add a feed", Tool::Feed));
    group_ui(ui, app, "Bonds", &bonds, take("Add a bond", Tool::Bond));
    group_ui(ui, app, "Pictures", &pictures, |ui, app| {
        if ui.button("Add a picture…").clicked() {
            app.ask_picture(None);
        }
    });
    group_ui(ui, app, "Runs", &runs, take("Add track", Tool::Lay));
    group_ui(ui, app, "Block names", &labels, |ui, app| {
        if ui.button("Name a block").clicked() {
            app.name_next_block();
        }
    });
    group_ui(ui, app, "Joints", &joints, |_, _| {});
}

/// Identities of one kind.
fn ids<'a, T: Copy + Into<EntityId> + 'a>(of: impl Iterator<Item = &'a T>) -> Vec<EntityId> {
    of.map(|id| (*id).into()).collect()
}

/// A button that opens the list of vehicles that can be added.
pub fn add_vehicle_ui(ui: &mut Ui, app: &mut App) {
    ui.menu_button("Add a vehicle", |ui| {
        for vehicle in defaults::vehicles() {
            if ui.button(vehicle.name.clone()).clicked() {
                let made = app.edit("add a vehicle", Edit::Add(Entity::Vehicle(vehicle)));
                if let Some(id) = made.and_then(|made| made.last().copied()) {
                    app.selection = vec![id];
                    app.cell = None;
                    if app.tab != Tab::Run {
                        app.tab = Tab::Selected;
                    }
                }
                ui.close();
            }
        }
        super::presets::add_presets_ui(ui, app, VehicleId(0).into());
    });
}

/// Drivers, devices, supplies, vehicles and trains, each with a button that adds one.
fn power_ui(ui: &mut Ui, app: &mut App) {
    let layout = app.doc.layout();
    let drivers = ids(layout.drivers.keys());
    let supplies = ids(layout.supplies.keys());
    let vehicles = ids(layout.vehicles.keys());
    let trains = ids(layout.trains.keys());
    let devices = ids(layout.devices.keys());
    group_ui(ui, app, "Drivers", &drivers, |ui, app| {
        ui.menu_button("Add a driver", |ui| {
            for new in drive::new_drives() {
                if ui.button(names::drive_word(&new)).clicked() {
                    app.add_driver(new);
                    ui.close();
                }
            }
            super::presets::add_presets_ui(ui, app, DriverId(0).into());
        });
    });
    group_ui(ui, app, "Devices", &devices, |ui, app| {
        ui.menu_button("Add a device", |ui| {
            for (kind, words) in DEVICES {
                if ui.button(words).clicked() {
                    app.add_device(kind);
                    ui.close();
                }
            }
        });
    });
    group_ui(ui, app, "Supplies", &supplies, |ui, app| {
        if ui.button("Add a supply").clicked() {
            app.add_supply();
        }
    });
    if app.settings.presets.iter().any(|preset| preset.is_like(SupplyId(0).into())) {
        ui.menu_button("Add a supply of your own", |ui| {
            super::presets::add_presets_ui(ui, app, SupplyId(0).into());
        });
    }
    group_ui(ui, app, "Vehicles", &vehicles, add_vehicle_ui);
    group_ui(ui, app, "Trains", &trains, |ui, app| {
        if ui.button("Add a train").clicked() {
            app.add_train();
        }
    });
}

fn lineups_ui(ui: &mut Ui, app: &mut App) {
    let all = ids(app.doc.layout().lineups.keys());
    if app.listing.is_filtered() {
        return group_ui(ui, app, "Lineups", &all, |_, _| {});
    }
    if header_ui(ui, app, "Lineups", all.len(), |ui, _| drop(term(ui, "lineup"))) {
        ui.label(small(ui, "Throttles and points as they are set for a moment of a session."));
        super::lineups::lineups_ui(ui, app);
        ui.add_space(SPACE);
    }
}

/// Name, scale, gauge, rail: the particulars of the layout as a whole.
fn whole_ui(ui: &mut Ui, app: &mut App) {
    let layout = app.doc.layout();
    let (mut name, mut notes) = (layout.name.clone(), layout.notes.clone());
    let (mut scale, mut gauge_mm, mut rail) =
        (layout.scale, layout.gauge_mm, layout.rail_ohm_per_m);
    let mut climate = layout.climate;
    let mut form = Form::new(ui, "Layout");
    form.text("Name", &mut name, "a name for the layout");
    form.number("Scale 1:", &mut scale, NUMBER, 1.0..=1000.0);
    form.number("Gauge", &mut gauge_mm, FINE_MM, 1.0..=1000.0);
    form.quantity("Rail", &mut rail, OHM_PER_M, 1e-5..=100.0);
    climate_form(&mut form, &mut climate);
    form.notes("Notes", &mut notes);
    let Some(changed) = form.changed else { return };
    let layout = app.doc.layout();
    let edit = Edit::Describe {
        name: (name != layout.name).then_some(name),
        notes: (notes != layout.notes).then_some(notes),
        scale: (scale != layout.scale).then_some(scale),
        gauge_mm: (gauge_mm != layout.gauge_mm).then_some(gauge_mm),
        rail_ohm_per_m: (rail != layout.rail_ohm_per_m).then_some(rail),
        climate: (climate != layout.climate).then_some(climate),
    };
    app.edit_field("describe the layout", edit, changed.flowing.then_some(changed.field));
}

/// The room that the layout stands in.
fn climate_form(form: &mut Form<'_>, climate: &mut Option<Climate>) {
    let mut stated = climate.is_some();
    form.tick("State the room's temperatures", &mut stated)
        .on_hover_text("How far rails grow and benchwork shrinks: whether a gap may close");
    if stated != climate.is_some() {
        *climate = stated.then(Climate::default);
    }
    let Some(climate) = climate else { return };
    form.number("Coldest", &mut climate.coldest_c, CELSIUS, ROOM);
    form.number("Hottest", &mut climate.hottest_c, CELSIUS, ROOM);
    form.number("Rail grows", &mut climate.rail_um_per_m_k, UM_PER_M_K, FROM_ZERO);
    form.number("Benchwork moves", &mut climate.benchwork_mm_per_m, MM_PER_M, FROM_ZERO)
        .on_hover_text("How much it shrinks between the dampest and the driest air");
}

fn blocks_ui(ui: &mut Ui, app: &mut App) {
    let checked = std::sync::Arc::clone(&app.check.latest);
    let blocks = checked.report.blocks.iter().enumerate();
    let blocks: Vec<_> = blocks.filter(|(_, block)| app.listing.shows(&block.name)).collect();
    if blocks.is_empty() || !header_ui(ui, app, "Blocks", blocks.len(), |_, _| {}) {
        return;
    }
    for (n, block) in blocks {
        ui.horizontal(|ui| {
            let (rect, _) = ui.allocate_exact_size(vec2(34.0, 16.0), Sense::hover());
            block_swatch(ui.painter(), rect, app.derived.looks.of(n), tokens(ui));
            if ui.button(&block.name).clicked() {
                app.selection = vec![block.id.run.into()];
                app.go_to(block.id.run.into());
            }
            let drivers: Vec<String> =
                block.drivers.iter().map(|d| names::driver_name(app.doc.layout(), *d)).collect();
            let fed = if drivers.is_empty() { "no driver".to_owned() } else { drivers.join(", ") };
            let length = app.camera.units.length(block.length_mm);
            ui.label(small(ui, format!("{length}, {fed}")));
        });
    }
}

/// Groups that begin folded: long lists that one seldom reads.
const FOLDED_AT_FIRST: [&str; 3] = ["Runs", "Block names", "Joints"];

/// The line above a group: a click folds or unfolds it, and the window remembers that. What adds to the group stands at its
/// end, folded or not. Returns whether the group is unfolded.
fn header_ui(
    ui: &mut Ui,
    app: &mut App,
    title: &'static str,
    count: usize,
    add: impl FnOnce(&mut Ui, &mut App),
) -> bool {
    let filtered = app.listing.is_filtered();
    let usual = !FOLDED_AT_FIRST.contains(&title);
    // What is looked for is shown, folded or not.
    let open = filtered || app.settings.unfolded.get(title).copied().unwrap_or(usual);
    ui.horizontal(|ui| {
        let words = format!("{title} ({count})");
        let galley = WidgetText::from(strong(&words)).into_galley(
            ui,
            Some(egui::TextWrapMode::Truncate),
            ui.available_width() - 24.0,
            egui::TextStyle::Body,
        );
        let size = vec2(galley.size().x + 24.0, ui.spacing().interact_size.y);
        let (rect, response) = ui.allocate_exact_size(size, Sense::click());
        response.widget_info(|| WidgetInfo::selected(Role::Button, true, open, &words));
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_expanded(open));
        let t = tokens(ui);
        let ink = if response.hovered() || response.has_focus() { t.accent } else { t.text };
        fold_mark(ui, rect.left_center() + vec2(8.0, 0.0), open, ink);
        let at = pos2(rect.left() + 20.0, rect.center().y - galley.size().y / 2.0);
        ui.painter().galley_with_override_text_color(at, galley, ink);
        if response.clicked() && !filtered {
            app.settings.unfolded.insert(title.to_owned(), !open);
        }
        if !filtered {
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| add(ui, app));
        }
    });
    open
}

/// A triangle that points down over what is unfolded, and to the right beside what is folded.
fn fold_mark(ui: &Ui, at: Pos2, open: bool, ink: egui::Color32) {
    let corners = match open {
        true => [vec2(-4.5, -3.0), vec2(4.5, -3.0), vec2(0.0, 4.0)],
        false => [vec2(-3.0, -4.5), vec2(4.0, 0.0), vec2(-3.0, 4.5)],
    };
    let corners = corners.map(|by| at + by).to_vec();
    ui.painter().add(egui::Shape::convex_polygon(corners, ink, egui::Stroke::NONE));
}

fn group_ui(
    ui: &mut Ui,
    app: &mut App,
    title: &'static str,
    ids: &[EntityId],
    add: impl FnOnce(&mut Ui, &mut App),
) {
    let shown: Vec<EntityId> = match app.listing.is_filtered() {
        true => {
            let layout = app.doc.layout();
            let named = |id: &&EntityId| app.listing.shows(&names::entity_name(layout, **id));
            ids.iter().filter(named).copied().collect()
        }
        false => ids.to_vec(),
    };
    if app.listing.is_filtered() && shown.is_empty() {
        return;
    }
    if !header_ui(ui, app, title, shown.len(), add) {
        return;
    }
    // A list of ten thousand joints helps nobody; the canvas and the findings lead there.
    const MOST: usize = 400;
    for id in shown.iter().take(MOST) {
        ui.horizontal(|ui| {
            ui.add_space(SPACE);
            let name = names::entity_name(app.doc.layout(), *id);
            let chosen = app.selection.contains(id);
            if ui.selectable_label(chosen, name).clicked() {
                app.select(*id);
                app.go_to(*id);
            }
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                aside_ui(ui, app, *id);
            });
        });
    }
    if shown.len() > MOST {
        ui.label(small(ui, format!("and {} more", shown.len() - MOST)));
    }
}
