//! New supplies, drivers and trains.

use super::App;
use super::particulars::DriveWord;
use crate::layout::edit::{Edit, Entity};
use crate::layout::{Drive, Driver, DriverId, Idle, SupplyId, VehicleId, defaults};

/// Kinds of drive that can be added, with their words.
pub const KINDS: [(DriveWord, &str); 5] = [
    (DriveWord::Pwm, "PWM bridge"),
    (DriveWord::Smooth, "Smooth DC"),
    (DriveWord::Dcc, "DCC booster"),
    (DriveWord::Split, "Split half-bridge"),
    (DriveWord::Nothing, "Nothing"),
];

/// A driver of a kind as it is when new.
pub fn new_driver(kind: DriveWord, supply: SupplyId) -> Driver {
    let drive = match kind {
        // What most bridges do unless they are told otherwise.
        DriveWord::Pwm => defaults::pwm_bridge(Idle::BrakeLow),
        DriveWord::Smooth => defaults::smooth_dc(),
        DriveWord::Dcc => defaults::dcc_booster(),
        DriveWord::Split => defaults::split_half_bridge(),
        DriveWord::Nothing => Drive::Nothing,
    };
    defaults::driver(supply, drive)
}

/// "A", "B", … "Z", then "27" and so on.
fn letter(n: usize) -> String {
    match u8::try_from(n) {
        Ok(n) if n < 26 => char::from(b'A' + n).to_string(),
        _ => (n + 1).to_string(),
    }
}

impl App {
    /// The first name with this beginning that is not taken.
    fn free_name(&self, beginning: &str, taken: impl Fn(&str) -> bool) -> String {
        (0..)
            .map(|n| format!("{beginning} {}", letter(n)))
            .find(|name| !taken(name))
            .unwrap_or_default()
    }

    /// The edits that add a PWM bridge on an isolated supply of its own, and the identity that the bridge will have.
    pub fn new_driver_with_supply(&self) -> (Vec<Edit>, DriverId) {
        let layout = self.doc.layout();
        let mut supply = defaults::supply();
        supply.name =
            self.free_name("Supply", |name| layout.supplies.values().any(|s| s.name == name));
        let mut driver = new_driver(DriveWord::Pwm, SupplyId(layout.next_id));
        driver.name =
            self.free_name("Driver", |name| layout.drivers.values().any(|d| d.name == name));
        let both = vec![Edit::Add(Entity::Supply(supply)), Edit::Add(Entity::Driver(driver))];
        (both, DriverId(layout.next_id.saturating_add(1)))
    }

    /// Adds a PWM bridge on an isolated supply of its own.
    pub fn add_driver_with_supply(&mut self) {
        let (both, driver) = self.new_driver_with_supply();
        if self.edit("add a driver with its supply", Edit::Batch(both)).is_some() {
            self.tools.feed.driver = Some(driver.into());
        }
    }

    /// Adds a driver of a kind on the first supply there is, or on a new one.
    pub fn add_driver(&mut self, kind: DriveWord) {
        let layout = self.doc.layout();
        let wants_split = kind == DriveWord::Split;
        let fitting = layout.supplies.values().find(|s| s.split == wants_split).map(|s| s.id);
        let mut edits = Vec::new();
        let supply = fitting.unwrap_or_else(|| {
            let mut supply =
                if wants_split { defaults::split_supply() } else { defaults::supply() };
            supply.name =
                self.free_name("Supply", |name| layout.supplies.values().any(|s| s.name == name));
            edits.push(Edit::Add(Entity::Supply(supply)));
            SupplyId(layout.next_id)
        });
        let mut driver = new_driver(kind, supply);
        driver.name =
            self.free_name("Driver", |name| layout.drivers.values().any(|d| d.name == name));
        edits.push(Edit::Add(Entity::Driver(driver)));
        let made = self.edit("add a driver", Edit::Batch(edits));
        if let Some(id) = made.and_then(|made| made.last().copied()) {
            self.select(id);
        }
    }

    /// Adds an isolated supply.
    pub fn add_supply(&mut self) {
        let layout = self.doc.layout();
        let mut supply = defaults::supply();
        supply.name =
            self.free_name("Supply", |name| layout.supplies.values().any(|s| s.name == name));
        let made = self.edit("add a supply", Edit::Add(Entity::Supply(supply)));
        if let Some(id) = made.and_then(|made| made.last().copied()) {
            self.select(id);
        }
    }

    /// Adds a train of the first vehicle there is, or of a new one.
    pub fn add_train(&mut self) {
        let layout = self.doc.layout();
        let mut edits = Vec::new();
        let first = layout.vehicles.keys().next().copied().unwrap_or_else(|| {
            edits.push(Edit::Add(Entity::Vehicle(defaults::two_axle_railcar())));
            VehicleId(layout.next_id)
        });
        let mut train = defaults::train(&[first]);
        train.name = self.free_name("Train", |name| layout.trains.values().any(|t| t.name == name));
        edits.push(Edit::Add(Entity::Train(train)));
        let made = self.edit("add a train", Edit::Batch(edits));
        if let Some(id) = made.and_then(|made| made.last().copied()) {
            self.select(id);
        }
    }

    /// Makes a driver one of another kind; its name, supply and feeds stay.
    pub fn change_kind(&mut self, id: DriverId, kind: DriveWord) {
        let Some(old) = self.doc.layout().drivers.get(&id).cloned() else { return };
        let mut new = new_driver(kind, old.supply);
        new.id = id;
        new.name = old.name;
        new.notes = old.notes;
        new.separately_switched = old.separately_switched;
        self.edit("change the kind of a driver", Edit::Replace(Entity::Driver(new)));
    }
}
