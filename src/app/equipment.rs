//! New supplies, drivers and trains.

use super::App;
use crate::drive;
use crate::job;
use crate::layout::edit::{Edit, Entity};
use crate::layout::{
    DeviceKind, Drive, DriverId, Idle, Origin, Quantity, SupplyId, TripKind, VehicleId, defaults,
};

/// "A", "B", … "Z", then "27" and so on.
fn letter(n: usize) -> String {
    match u8::try_from(n) {
        Ok(n) if n < 26 => char::from(b'A' + n).to_string(),
        _ => (n + 1).to_string(),
    }
}

/// A kind of device without its values.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum DeviceWord {
    Cab,
    Reversing,
    AutoReverser,
    Breaker,
    Fuse,
    Resistor,
    Diodes,
}

/// Kinds of device that can be added, with their words.
pub const DEVICES: [(DeviceWord, &str); 7] = [
    (DeviceWord::Cab, "Cab selector"),
    (DeviceWord::Reversing, "Reversing switch"),
    (DeviceWord::AutoReverser, "Auto-reverser"),
    (DeviceWord::Breaker, "Breaker"),
    (DeviceWord::Fuse, "Fuse"),
    (DeviceWord::Resistor, "Lamp or resistor"),
    (DeviceWord::Diodes, "Diode pair"),
];

/// The kind of a device.
pub fn device_word(kind: &DeviceKind) -> DeviceWord {
    match kind {
        DeviceKind::CabSelector { .. } => DeviceWord::Cab,
        DeviceKind::ReversingSwitch { .. } => DeviceWord::Reversing,
        DeviceKind::AutoReverser { .. } => DeviceWord::AutoReverser,
        DeviceKind::Breaker { .. } => DeviceWord::Breaker,
        DeviceKind::Fuse { .. } => DeviceWord::Fuse,
        DeviceKind::Resistor { .. } => DeviceWord::Resistor,
        DeviceKind::DiodePair { .. } => DeviceWord::Diodes,
    }
}

/// A device of a kind as it is when new: values by common practice, no source, with the range in which they may lie.
pub fn new_device(kind: DeviceWord, sources: &[Origin]) -> Option<DeviceKind> {
    let from = *sources.first()?;
    let assumed = Quantity::assumed;
    Some(match kind {
        DeviceWord::Cab => {
            let mut cabs: Vec<Option<Origin>> = sources.iter().copied().map(Some).collect();
            cabs.push(None);
            DeviceKind::CabSelector { cabs }
        }
        DeviceWord::Reversing => DeviceKind::ReversingSwitch { from, centre_off: false },
        DeviceWord::AutoReverser => job::new_reverser(from),
        DeviceWord::Breaker => DeviceKind::Breaker {
            from,
            amps: assumed(3.0, 2.5, 4.0),
            trip: TripKind::Averaged { tau_s: 0.01 },
            retry_s: Some(2.0),
        },
        DeviceWord::Fuse => DeviceKind::Fuse {
            from,
            amps: assumed(2.0, 2.0, 4.0),
            trip: TripKind::Averaged { tau_s: 1.0 },
        },
        DeviceWord::Resistor => DeviceKind::Resistor { from, ohm: assumed(7.0, 4.0, 12.0) },
        DeviceWord::Diodes => DeviceKind::DiodePair {
            from,
            volts: assumed(0.75, 0.6, 1.0),
            ohm: assumed(0.05, 0.02, 0.15),
        },
    })
}

impl App {
    /// Adds a device of a kind behind the first driver, or behind a new one; a cab selector joins the first two.
    pub fn add_device(&mut self, kind: DeviceWord) {
        let layout = self.doc.layout();
        let mut sources: Vec<Origin> =
            layout.drivers.keys().take(2).map(|&id| Origin::from(id)).collect();
        let mut edits = Vec::new();
        if sources.is_empty() {
            let (both, driver) = self.new_driver_with_supply();
            edits = both;
            sources.push(driver.into());
        }
        let Some(kind) = new_device(kind, &sources) else { return };
        edits.push(Edit::Add(job::new_device(kind).into()));
        let made = self.edit("add a device", Edit::Batch(edits));
        if let Some(id) = made.and_then(|made| made.last().copied()) {
            self.select(id);
        }
    }

    /// The first name with this beginning that is not taken: "Supply A", "Supply B".
    pub fn free_name(&self, beginning: &str, taken: impl Fn(&str) -> bool) -> String {
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
        let mut driver =
            defaults::driver(SupplyId(layout.next_id), defaults::pwm_bridge(Idle::BrakeLow));
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

    /// Adds a driver with a drive on the first supply that fits it, or on a new one.
    pub fn add_driver(&mut self, drive: Drive) {
        let layout = self.doc.layout();
        let wants_split = drive::of(&drive).output().needs_midpoint();
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
        let mut driver = defaults::driver(supply, drive);
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

    /// Gives a driver another drive, with what is usual for it; its name, supply and feeds stay.
    pub fn change_drive(&mut self, id: DriverId, drive: Drive) {
        let Some(old) = self.doc.layout().drivers.get(&id).cloned() else { return };
        let mut new = defaults::driver(old.supply, drive);
        new.id = id;
        new.name = old.name;
        new.notes = old.notes;
        new.separately_switched = old.separately_switched;
        self.edit("change the kind of a driver", Edit::Replace(Entity::Driver(new)));
    }
}
