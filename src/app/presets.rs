//! Equipment for use on any layout: generic presets that come with the program, and the user's own.

use eframe::egui::Ui;

use super::App;
use super::settings::Preset;
use super::theme::{SPACE, small};
use crate::layout::edit::{Edit, Entity};
use crate::layout::{
    Driver, DriverId, EntityId, Idle, Quantity, Supply, SupplyId, VehicleId, defaults,
};

/// Generic drivers: what many boards are, by common practice (no source). Each range says how far a real one may be off.
fn shipped() -> Vec<Preset> {
    let bridge = |amps: f64, idle: Idle| {
        let mut driver = defaults::driver(SupplyId(0), defaults::pwm_bridge(idle));
        if let Some(trip) = &mut driver.trip {
            trip.amps = Quantity::assumed(amps, amps * 0.85, amps * 1.15);
        }
        let mut supply = defaults::supply();
        if let Some(limit) = &mut supply.limit {
            limit.amps = Quantity::assumed(amps + 2.0, amps + 1.0, amps + 3.0);
        }
        (driver, supply)
    };
    let dcc = |amps: f64| {
        let mut driver = defaults::driver(SupplyId(0), defaults::dcc_booster());
        if let Some(trip) = &mut driver.trip {
            trip.amps = Quantity::assumed(amps, amps * 0.9, amps * 1.1);
        }
        (driver, defaults::supply())
    };
    let smooth = (defaults::driver(SupplyId(0), defaults::smooth_dc()), defaults::supply());
    [
        ("3 A bridge, brake-low idle", bridge(3.0, Idle::BrakeLow)),
        ("3 A bridge, high-impedance idle", bridge(3.0, Idle::HighImpedance)),
        ("5 A bridge, brake-low idle", bridge(5.0, Idle::BrakeLow)),
        ("5 A bridge, high-impedance idle", bridge(5.0, Idle::HighImpedance)),
        ("Smooth throttle", smooth),
        ("3 A DCC booster", dcc(3.0)),
        ("5 A DCC booster", dcc(5.0)),
    ]
    .map(|(name, (driver, supply))| Preset::Driver {
        name: name.to_owned(),
        driver: Box::new(driver),
        supply: Box::new(supply),
    })
    .into()
}

impl App {
    /// Adds the equipment of a preset; a driver comes with its supply.
    pub fn add_preset(&mut self, preset: &Preset) {
        let layout = self.doc.layout();
        let edits = match preset {
            Preset::Driver { driver, supply, .. } => {
                let mut supply = Supply { negative: None, ..(**supply).clone() };
                supply.name = self
                    .free_name("Supply", |name| layout.supplies.values().any(|s| s.name == name));
                let name = self
                    .free_name("Driver", |name| layout.drivers.values().any(|d| d.name == name));
                let driver =
                    Driver { supply: SupplyId(layout.next_id), name, ..(**driver).clone() };
                vec![Edit::Add(Entity::Supply(supply)), Edit::Add(Entity::Driver(driver))]
            }
            Preset::Supply { supply, .. } => {
                let supply = Supply { negative: None, ..(**supply).clone() };
                vec![Edit::Add(Entity::Supply(supply))]
            }
            Preset::Vehicle { vehicle, .. } => {
                vec![Edit::Add(Entity::Vehicle((**vehicle).clone()))]
            }
        };
        let made = self.edit("add a preset", Edit::Batch(edits));
        if let Some(id) = made.and_then(|made| made.last().copied()) {
            self.select(id);
        }
    }

    /// Keeps a driver with its supply, a supply or a vehicle as a preset under its name.
    fn keep_preset(&mut self, id: EntityId) {
        let layout = self.doc.layout();
        let name = super::names::bare_name(layout, id);
        let preset = match id {
            EntityId::Driver(id) => driver_preset(layout, id, name),
            EntityId::Supply(id) => layout
                .supplies
                .get(&id)
                .map(|supply| Preset::Supply { name, supply: Box::new(supply.clone()) }),
            EntityId::Vehicle(id) => vehicle_preset(layout, id, name),
            _ => None,
        };
        if let Some(preset) = preset {
            self.tell(format!("Kept as the preset \"{}\", for use on any layout.", preset.name()));
            self.settings.keep(preset);
        }
    }
}

fn driver_preset(layout: &crate::layout::Layout, id: DriverId, name: String) -> Option<Preset> {
    let driver = layout.drivers.get(&id)?.clone();
    let supply = layout.supplies.get(&driver.supply)?.clone();
    Some(Preset::Driver { name, driver: Box::new(driver), supply: Box::new(supply) })
}

fn vehicle_preset(layout: &crate::layout::Layout, id: VehicleId, name: String) -> Option<Preset> {
    let vehicle = Box::new(layout.vehicles.get(&id)?.clone());
    Some(Preset::Vehicle { name, vehicle })
}

/// Entries of a menu that adds: presets of a kind. `like` is any identity of the kind.
pub fn add_presets_ui(ui: &mut Ui, app: &mut App, like: EntityId) {
    let own = app.settings.presets.clone();
    let groups = [("Presets", shipped()), ("Your own presets", own)];
    for (title, presets) in groups {
        let of_kind: Vec<&Preset> = presets.iter().filter(|preset| preset.is_like(like)).collect();
        if of_kind.is_empty() {
            continue;
        }
        ui.separator();
        ui.label(small(ui, title));
        for preset in of_kind {
            if ui.button(preset.name()).clicked() {
                app.add_preset(preset);
                ui.close();
            }
        }
    }
}

/// In the particulars of equipment: keep it, or forget the preset of its name.
pub fn keep_ui(ui: &mut Ui, app: &mut App, id: EntityId) {
    let name = super::names::bare_name(app.doc.layout(), id);
    let known = app.settings.presets.iter().any(|p| p.is_like(id) && p.name() == name);
    ui.add_space(SPACE);
    ui.horizontal_wrapped(|ui| {
        let words = if known { "Renew the preset" } else { "Keep as a preset" };
        if ui.button(words).on_hover_text("For use on any layout").clicked() {
            app.keep_preset(id);
        }
        if known && ui.button("Forget the preset").clicked() {
            app.settings.presets.retain(|p| !(p.is_like(id) && p.name() == name));
        }
    });
}
