//! Things without their names and notes, and without how they are set: what is built.

use super::{Cut, Device, Direction, Driver, Setting, Special, Supply, Train, Vehicle};

/// The name and the notes of a thing that has none.
fn none() -> (String, String) {
    (String::new(), String::new())
}

impl Cut {
    /// The gap without its name and notes.
    pub fn unnamed(&self) -> Cut {
        let (name, notes) = none();
        Cut { name, notes, ..self.clone() }
    }
}

impl Special {
    /// The special work without its name and notes.
    pub fn unnamed(&self) -> Special {
        let (name, notes) = none();
        Special { name, notes, ..self.clone() }
    }

    /// The same in no position, with its contact in none.
    pub fn in_no_position(&self) -> Special {
        let mut special = Special { position: 0, ..self.unnamed() };
        special.contact.position = None;
        special
    }
}

impl Device {
    /// The device without its name and notes.
    pub fn unnamed(&self) -> Device {
        let (name, notes) = none();
        Device { name, notes, ..self.clone() }
    }
}

impl Driver {
    /// The driver off, without its name and notes.
    pub fn in_no_setting(&self) -> Driver {
        let (name, notes) = none();
        let setting = Setting { direction: Direction::Off, throttle: 0.0 };
        Driver { name, notes, setting, ..self.clone() }
    }
}

impl Supply {
    /// The supply switched on, without its name and notes.
    pub fn by_itself(&self) -> Supply {
        let (name, notes) = none();
        Supply { name, notes, powered: true, ..self.clone() }
    }
}

impl Vehicle {
    /// The vehicle without its name and notes.
    pub fn unnamed(&self) -> Vehicle {
        let (name, notes) = none();
        Vehicle { name, notes, ..self.clone() }
    }
}

impl Train {
    /// The train without its name and notes.
    pub fn unnamed(&self) -> Train {
        let (name, notes) = none();
        Train { name, notes, ..self.clone() }
    }
}
