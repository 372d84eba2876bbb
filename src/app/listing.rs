//! Everything on the layout in lists: the way to reach a thing without the canvas.

use eframe::egui::{self, Align, CollapsingHeader, Layout, Ui};

use super::App;
use super::equipment::DEVICES;
use super::form::{
    CELSIUS, FINE_MM, FROM_ZERO, Form, MM_PER_M, NUMBER, OHM_PER_M, ROOM, UM_PER_M_K,
};
use super::marks::{block_swatch, mark_ui};
use super::names;
use super::theme::{SPACE, small, strong, tokens};
use crate::drive;
use crate::layout::edit::{Edit, Entity};
use crate::layout::{Climate, DriverId, EntityId, SupplyId, VehicleId, defaults};
use crate::report::cut_verdict;

/// The lists.
pub fn listing_ui(ui: &mut Ui, app: &mut App) {
    whole_ui(ui, app);
    ui.add_space(SPACE);
    let layout = app.doc.layout();
    let ids = |it: Vec<EntityId>| it;
    let cuts = ids(layout.cuts.keys().map(|id| (*id).into()).collect());
    let feeds = ids(layout.feeds.keys().map(|id| (*id).into()).collect());
    let runs = ids(layout.runs.keys().map(|id| (*id).into()).collect());
    let specials = ids(layout.specials.keys().map(|id| (*id).into()).collect());
    let bonds = ids(layout.bonds.keys().map(|id| (*id).into()).collect());
    let joints = ids(layout.joints.keys().map(|id| (*id).into()).collect());
    let pictures = ids(layout.pictures.keys().map(|id| (*id).into()).collect());
    let labels = ids(layout.labels.keys().map(|id| (*id).into()).collect());
    blocks_ui(ui, app);
    power_ui(ui, app);
    ui.add_space(SPACE);
    ui.label(strong("Lineups"));
    ui.label(small(ui, "Throttles and points as they are set for a moment of a session."));
    super::lineups::lineups_ui(ui, app);
    ui.add_space(SPACE);
    section_ui(ui, app, "Special work", &specials, true, |_, _| {});
    section_ui(ui, app, "Gaps", &cuts, true, |_, _| {});
    section_ui(ui, app, "Feeds", &feeds, true, |_, _| {});
    section_ui(ui, app, "Bonds", &bonds, true, |_, _| {});
    section_ui(ui, app, "Pictures", &pictures, true, |ui, app| {
        if ui.button("Add a picture…").clicked() {
            app.ask_picture(None);
        }
    });
    section_ui(ui, app, "Runs", &runs, false, |_, _| {});
    section_ui(ui, app, "Block names", &labels, false, |ui, app| {
        if ui.button("Add a block name").clicked() {
            app.name_next_block();
        }
    });
    section_ui(ui, app, "Joints", &joints, false, |_, _| {});
}

/// Drivers, devices, supplies, vehicles and trains, each with a button that adds one.
fn power_ui(ui: &mut Ui, app: &mut App) {
    let layout = app.doc.layout();
    let ids = |it: Vec<EntityId>| it;
    let drivers = ids(layout.drivers.keys().map(|id| (*id).into()).collect());
    let supplies = ids(layout.supplies.keys().map(|id| (*id).into()).collect());
    let vehicles = ids(layout.vehicles.keys().map(|id| (*id).into()).collect());
    let trains = ids(layout.trains.keys().map(|id| (*id).into()).collect());
    let devices = ids(layout.devices.keys().map(|id| (*id).into()).collect());
    section_ui(ui, app, "Drivers", &drivers, true, |ui, app| {
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
    section_ui(ui, app, "Devices", &devices, true, |ui, app| {
        ui.menu_button("Add a device", |ui| {
            for (kind, words) in DEVICES {
                if ui.button(words).clicked() {
                    app.add_device(kind);
                    ui.close();
                }
            }
        });
    });
    section_ui(ui, app, "Supplies", &supplies, true, |ui, app| {
        if ui.button("Add a supply").clicked() {
            app.add_supply();
        }
        if app.settings.presets.iter().any(|preset| preset.is_like(SupplyId(0).into())) {
            ui.menu_button("Add a supply of your own", |ui| {
                super::presets::add_presets_ui(ui, app, SupplyId(0).into());
            });
        }
    });
    section_ui(ui, app, "Vehicles", &vehicles, true, |ui, app| {
        ui.menu_button("Add a vehicle", |ui| {
            for vehicle in defaults::vehicles() {
                if ui.button(vehicle.name.clone()).clicked() {
                    let made = app.edit("add a vehicle", Edit::Add(Entity::Vehicle(vehicle)));
                    if let Some(id) = made.and_then(|made| made.last().copied()) {
                        app.select(id);
                    }
                    ui.close();
                }
            }
            super::presets::add_presets_ui(ui, app, VehicleId(0).into());
        });
    });
    section_ui(ui, app, "Trains", &trains, true, |ui, app| {
        if ui.button("Add a train").clicked() {
            app.add_train();
        }
    });
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
    let blocks = &checked.report.blocks;
    if blocks.is_empty() {
        return;
    }
    CollapsingHeader::new(strong(format!("Blocks ({})", blocks.len()))).default_open(true).show(
        ui,
        |ui| {
            for (n, block) in blocks.iter().enumerate() {
                ui.horizontal(|ui| {
                    let (rect, _) =
                        ui.allocate_exact_size(egui::vec2(34.0, 16.0), egui::Sense::hover());
                    block_swatch(ui.painter(), rect, n, tokens(ui));
                    if ui.button(&block.name).clicked() {
                        app.selection = vec![block.id.run.into()];
                        app.go_to(block.id.run.into());
                    }
                    let drivers: Vec<String> = block
                        .drivers
                        .iter()
                        .map(|d| names::driver_name(app.doc.layout(), *d))
                        .collect();
                    let fed = if drivers.is_empty() {
                        "no driver".to_owned()
                    } else {
                        drivers.join(", ")
                    };
                    ui.label(small(
                        ui,
                        format!("{}, {fed}", app.camera.units.length(block.length_mm)),
                    ));
                });
            }
        },
    );
}

fn section_ui(
    ui: &mut Ui,
    app: &mut App,
    title: &str,
    ids: &[EntityId],
    open: bool,
    add: impl FnOnce(&mut Ui, &mut App),
) {
    CollapsingHeader::new(strong(format!("{title} ({})", ids.len())))
        .id_salt(title)
        .default_open(open)
        .show(ui, |ui| {
            // A list of ten thousand joints helps nobody; the canvas and the findings lead there.
            const MOST: usize = 400;
            for id in ids.iter().take(MOST) {
                ui.horizontal(|ui| {
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
            if ids.len() > MOST {
                ui.label(small(ui, format!("and {} more", ids.len() - MOST)));
            }
            add(ui, app);
        });
}

/// A few words at the end of a row.
fn aside_ui(ui: &mut Ui, app: &App, id: EntityId) {
    let (layout, units) = (app.doc.layout(), app.camera.units);
    let words = match id {
        EntityId::Cut(c) => {
            let report = &app.check.latest.report;
            if let Some(told) = report.cuts.iter().find(|told| told.id == c) {
                mark_ui(ui, cut_verdict(report, told), 6.0);
            }
            layout.cuts.get(&c).map_or_else(String::new, |c| {
                format!(
                    "{} at {}, {}",
                    app.called(c.run.into()),
                    units.mm(c.at_mm),
                    names::rails_word(c.rails).to_lowercase()
                )
            })
        }
        EntityId::Feed(f) => names::feed_place(app, f),
        EntityId::Driver(d) => layout
            .drivers
            .get(&d)
            .map_or_else(String::new, |d| names::drive_word(&d.drive).to_owned()),
        EntityId::Supply(s) => layout.supplies.get(&s).map_or_else(String::new, |s| {
            let on = if s.powered { "" } else { ", off" };
            format!("{:.1} V{on}", s.open_v.value)
        }),
        EntityId::Vehicle(v) => layout.vehicles.get(&v).map_or_else(String::new, |v| {
            format!("{}, {} axles", units.mm(v.length_mm), v.axles.len())
        }),
        EntityId::Special(w) => {
            layout.specials.get(&w).map_or_else(String::new, |w| match w.work.positions() {
                0 | 1 => w.work.word().to_owned(),
                _ => names::position_words(layout, id, w.position),
            })
        }
        EntityId::Device(x) => {
            layout.devices.get(&x).map_or_else(String::new, |x| match x.kind.positions() {
                0 | 1 => x.kind.word().to_owned(),
                _ => names::position_words(layout, id, x.position),
            })
        }
        EntityId::Bond(y) => layout.bonds.get(&y).map_or_else(String::new, |y| {
            let [from, to] = [y.from.run, y.to.run].map(|run| app.called(run.into()));
            format!("{from} to {to}")
        }),
        EntityId::Train(t) => layout.trains.get(&t).map_or_else(String::new, |t| {
            let length: f64 = t
                .vehicles
                .iter()
                .filter_map(|coupled| layout.vehicles.get(&coupled.vehicle))
                .map(|v| v.length_mm)
                .sum();
            format!("{} vehicles, {}", t.vehicles.len(), units.length(length))
        }),
        EntityId::Lineup(l) => layout
            .lineups
            .get(&l)
            .map_or_else(String::new, |l| format!("sets {} things", l.names().count())),
        EntityId::Picture(p) => super::picture_form::aside_words(app, p),
        EntityId::Run(r) => {
            let long = app.derived.curves.get(&r).map(|c| units.length(c.length_mm()));
            let called = app.called(id);
            let called = (called != names::entity_name(layout, id)).then_some(called);
            called.into_iter().chain(long).collect::<Vec<_>>().join(", ")
        }
        EntityId::Joint(j) => layout
            .joints
            .get(&j)
            .map_or_else(String::new, |j| format!("{:.0}, {:.0}", j.x_mm, j.y_mm)),
        EntityId::Label(n) => layout.labels.get(&n).map_or_else(String::new, |n| {
            format!("{} at {}", app.called(n.run.into()), units.mm(n.at_mm))
        }),
    };
    ui.add(egui::Label::new(small(ui, words)).truncate());
}
