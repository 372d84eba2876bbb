//! The case of a cut: what is wired how around it, how the drivers are set now, and what can stand there.
//!
//! No identities and no names: indices are those of the wiring, and a case without a vehicle is a case too.

use serde::Serialize;

use crate::drive::SetWord;
use crate::layout::{Driver, DriverId, Layout, SupplyId};
use crate::straddle::case::{Names, Wiring};
use crate::straddle::contacts::Touched;
use crate::straddle::ix::{DriverIx, FootingIx, NetIx, PartyIx, StandIx, SupplyIx, Table};

use super::super::judge::NumericStand;
use super::super::key::Key;
use super::parties::Party;

/// A setting of one driver: word and throttle.
pub type Set = (SetWord, f64);

/// A setting of every driver.
pub type Settings = Table<DriverIx, Set>;

/// How a driver is set now, and what it is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Control {
    /// The driver (its identity and names blanked).
    pub driver: Driver,
    /// Its setting now.
    pub now: Set,
    /// Whether it or its supply is switched off by itself in operation.
    pub separately_switched: bool,
}

/// Pickups of a vehicle while it stands over the cut without need to join anything.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Footing {
    /// Nets under the left and the right pickups.
    pub touched: [Touched<NetIx>; 2],
    /// Contact resistance of a wheel, Ω.
    pub wheel_ohm: f64,
}

/// A cut and its neighbourhood, in numbers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Case {
    /// Supplies and drivers.
    pub wiring: Wiring,
    /// How each driver is set.
    pub controls: Table<DriverIx, Control>,
    /// Whether each supply is on now.
    pub powered: Table<SupplyIx, bool>,
    /// The drivers of the block before and of the block after: of several, the one with the nearest feeder.
    pub sides: [Option<DriverIx>; 2],
    /// All drivers of the block before and of the block after.
    pub meeting: [Vec<DriverIx>; 2],
    /// +1 where directions carry on through the cut.
    pub sign: i8,
    /// Drivers on the rails that stands and footings touch.
    pub parties: Table<PartyIx, Party>,
    /// Nets of the left and right rail before the cut, and after it.
    pub rails: [[Option<NetIx>; 2]; 2],
    /// Ways in which a vehicle can join nets.
    pub stands: Table<StandIx, NumericStand>,
    /// Places where a loaded vehicle touches both blocks.
    pub footings: Table<FootingIx, Footing>,
}

/// The control of a driver in a case.
fn control(layout: &Layout, driver: &Driver) -> Control {
    let supply = layout.supplies.get(&driver.supply);
    let powered = supply.is_some_and(|s| s.powered);
    let word = if powered { SetWord::from(driver.setting.direction) } else { SetWord::Unpowered };
    let throttle = match word {
        SetWord::Forward | SetWord::Reverse => driver.setting.throttle,
        SetWord::On => 1.0,
        _ => 0.0,
    };
    let mut blank = driver.clone();
    blank.id = DriverId(0);
    blank.supply = SupplyId(0);
    blank.name.clear();
    blank.notes.clear();
    Control {
        driver: blank,
        now: (word, throttle),
        separately_switched: driver.separately_switched
            || supply.is_some_and(|s| s.separately_switched),
    }
}

/// How drivers are set now.
fn controls(layout: &Layout, names: &Names) -> Table<DriverIx, Control> {
    let drivers = names.drivers.iter().filter_map(|id| layout.drivers.get(id));
    drivers.map(|driver| control(layout, driver)).collect()
}

/// Which supplies are on now.
fn powered(layout: &Layout, names: &Names) -> Table<SupplyIx, bool> {
    let on = |id| layout.supplies.get(id).is_some_and(|supply| supply.powered);
    names.supplies.iter().map(on).collect()
}

impl Case {
    /// A rough measure of what it takes to solve it, at most `MOST_WORK`: ways of standing, times pairs of
    /// parties, times their settings.
    pub fn size(&self) -> usize {
        let parties = self.parties.len();
        (self.stands.len() * parties * parties * 16).min(super::solve::MOST_WORK)
    }

    /// Its content, for remembering results.
    pub fn key(&self) -> Key<Case> {
        Key::of(self)
    }

    /// A case of drivers as they are set now, without a place or a vehicle.
    pub fn bare(layout: &Layout, wiring: Wiring, names: &Names) -> Case {
        Case {
            controls: controls(layout, names),
            powered: powered(layout, names),
            sides: [None; 2],
            meeting: Default::default(),
            sign: 1,
            parties: Table::new(),
            rails: [[None; 2]; 2],
            stands: Table::new(),
            footings: Table::new(),
            wiring,
        }
    }

    /// The same case with the drivers set as they are in a layout that differs in nothing else. `None` if that changes
    /// nothing.
    pub(in crate::study) fn as_set_in(&self, layout: &Layout, names: &Names) -> Option<Case> {
        let (controls, powered) = (controls(layout, names), powered(layout, names));
        let changed = controls != self.controls || powered != self.powered;
        changed.then(|| Case { controls, powered, ..self.clone() })
    }

    /// How the drivers are set now.
    pub(super) fn now(&self) -> Settings {
        self.controls.iter().map(|control| control.now).collect()
    }

    /// Which supplies are on in some settings: those with a driver that is live, and otherwise those that are on now. None
    /// with a driver that is set as unpowered.
    pub fn powered_for(&self, settings: &Settings) -> Table<SupplyIx, bool> {
        let mut powered = self.powered.clone();
        for (at, _) in settings.pairs().filter(|(_, set)| !set.0.is_dead()) {
            powered[self.wiring.drivers[at].supply] = true;
        }
        for (at, _) in settings.pairs().filter(|(_, set)| set.0 == SetWord::Unpowered) {
            powered[self.wiring.drivers[at].supply] = false;
        }
        powered
    }
}
