//! What a judgement says, and what a situation is that could not be judged.

use super::super::types::{Motion, Trips, Verdict};
use super::scenario::Scenario;
use crate::drive::Part;
use crate::signal::{Figures, Longest, NotComputed};
use crate::straddle::ix::{DeviceIx, DriverIx, SupplyIx, Table};
use crate::units::ValueId;

/// What decided a verdict.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Decided {
    /// Nothing flows that matters.
    Nothing,
    /// A driver's trip.
    Trip(DriverIx),
    /// A device's trip.
    Device(DeviceIx),
    /// A driver's continuous rating.
    Rating(DriverIx),
    /// A supply's sustained limit.
    Limit(SupplyIx),
    /// The voltage that a supply's pole may bear.
    Pole(SupplyIx),
    /// Steady current into a supply that can take it.
    Sink(SupplyIx),
    /// The vehicle's wiring.
    VehicleWiring,
    /// A conflict that nothing guards against: no trip, no rating, no limit is known.
    Unguarded,
    /// The circuit of some moment could not be solved and verified.
    Unsolved,
}

/// One driver in a judged situation.
#[derive(Debug, Clone, PartialEq)]
pub struct JudgedDriver {
    /// Leaving P, leaving M, drawn from the positive pole.
    pub figures: [Figures; 3],
    /// Where its trip senses.
    pub sensed: Option<Figures>,
    /// Highest voltage between its supply's poles, V.
    pub pole_v: Option<f64>,
    /// Its trip.
    pub trips: Trips,
    /// Share of phases in which it acts.
    pub trips_share: f64,
    /// Earliest time until it acts, s.
    pub trip_after_s: Option<f64>,
    /// The figure that its trip compares with the threshold at the worst phase, A: what is exceeded for longer than the
    /// blanking, what so many samples in a row read, the largest output of the filter, the constant current that heats as
    /// much. `None` without a trip that can act.
    pub trip_compares_a: Option<f64>,
}

/// A device in a judged situation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JudgedDevice {
    /// In the larger of its poles.
    pub figures: Figures,
    /// Whether it acts.
    pub trips: Trips,
    /// Share of phases in which it does.
    pub trips_share: f64,
    /// Earliest time until it does, s.
    pub trip_after_s: Option<f64>,
}

/// A pole that stands above its supply's own voltage because a neighbour feeds it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lifted {
    /// The supply.
    pub supply: SupplyIx,
    /// Voltage with the rails apart, V.
    pub from_v: f64,
    /// Voltage with them joined, V.
    pub to_v: f64,
}

/// What goes on once the drivers that trip first have done so.
#[derive(Debug, Clone, PartialEq)]
pub struct After {
    /// Whether the conflict goes on.
    pub conflict: bool,
    /// Largest current in any leg, A.
    pub peak_a: f64,
    /// Drivers whose trips then act.
    pub trips: Vec<DriverIx>,
    /// Devices that then act.
    pub devices: Vec<DeviceIx>,
}

/// A judged situation.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// Verdict.
    pub verdict: Verdict,
    /// (threshold − figure)/threshold of what decided.
    pub margin: Option<f64>,
    /// What decided.
    pub decided: Decided,
    /// Moving or standing, whichever is worse.
    pub motion: Motion,
    /// Share of time in conflict.
    pub share: f64,
    /// Longest unbroken conflict; not computed but where the situation is judged thoroughly.
    pub longest: Longest,
    /// Least and largest share of time in conflict, where one clock holds a phase that nobody knows.
    pub share_range: Option<(f64, f64)>,
    /// Time until the inductance of wires and rails lets 95 % of the resistive peak through, s: in a shorter conflict the
    /// peak is an upper bound.
    pub resistive_after_s: Option<f64>,
    /// Joint states: share and the part of each driver.
    pub joints: Vec<(f64, Table<DriverIx, Part>)>,
    /// True for each joint state in conflict.
    pub over: Vec<bool>,
    /// The joint state of the largest conflict current, and that current (A).
    pub worst_joint: Option<(usize, f64)>,
    /// Drivers.
    pub drivers: Table<DriverIx, JudgedDriver>,
    /// Devices of the feed chains.
    pub devices: Table<DeviceIx, JudgedDevice>,
    /// Drivers whose trip is first.
    pub first: Vec<DriverIx>,
    /// Devices that act first, beside those drivers.
    pub first_devices: Vec<DeviceIx>,
    /// Whether the devices that act first are auto-reversers, and nothing is in conflict once they have: the verdict is
    /// that of afterwards, the figures are those of before.
    pub resolved: bool,
    /// Auto-reversers that have acted before all that is told here, because they end a part of the conflict.
    pub exchanged: Vec<DeviceIx>,
    /// What goes on after they have tripped, where that was asked.
    pub after: Option<After>,
    /// The same with the vehicle's load.
    pub loaded: Option<Table<DriverIx, JudgedDriver>>,
    /// Poles lifted.
    pub lifted: Vec<Lifted>,
    /// Supplies that take steady current back, and how much, A.
    pub sunk: Vec<(SupplyIx, f64)>,
    /// Values whose range leaves the verdict open, the one worth measuring first.
    pub open: Vec<ValueId>,
    /// Drivers that were held in their drive state.
    pub held: Vec<DriverIx>,
}

impl Judged {
    /// The circuit of some moment could not be solved and verified.
    pub(super) fn unsolved(scenario: &Scenario) -> Judged {
        Judged {
            verdict: Verdict::NotKnown,
            margin: None,
            decided: Decided::Unsolved,
            motion: Motion::Standing,
            share: 0.0,
            longest: Longest::NotComputed(NotComputed::NotSolved),
            share_range: None,
            resistive_after_s: None,
            joints: Vec::new(),
            over: Vec::new(),
            worst_joint: None,
            drivers: Table::new(),
            devices: Table::new(),
            first: Vec::new(),
            first_devices: Vec::new(),
            resolved: false,
            exchanged: Vec::new(),
            after: None,
            loaded: None,
            lifted: Vec::new(),
            sunk: Vec::new(),
            open: Vec::new(),
            held: scenario.held.clone(),
        }
    }
}
