//! Running a train: what it joins at each place of its way, and what happens as it goes.
//!
//! [`at`] tells how things are at one place, for a train moved by hand; [`run`] tells every event of a way driven at a
//! speed: cuts straddled, nets joined, trips, what they do then, and how it ends. Both are pure functions of the layout
//! at the settings now. Inertia is not modelled: a train without drive stops at once.

mod course;
mod log;
mod meter;
mod moment;
mod trial;

pub use course::{Course, OnTrack};
pub use meter::{Ohms, lifted_ohms, ohms, volts};
pub use trial::{Chance, Hidden, Noticed, Way, noticed};

use super::{DriverFigures, GuardId, NetId, SideWord, Verdict};
use crate::layout::{CutId, DeviceId, DriverId, Layout, RunId, TrainId, VehicleId};
use crate::rails::Plan;

/// What runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rolls {
    /// A vehicle by itself.
    Vehicle(VehicleId),
    /// A train.
    Train(TrainId),
}

/// A way to run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Running {
    /// What runs.
    pub rolls: Rolls,
    /// The run on which its leading coupler is at first.
    pub run: RunId,
    /// Distance along that run, mm.
    pub at_mm: f64,
    /// Whether it goes along that run, from its start to its end; otherwise against it.
    pub along: bool,
    /// True if its rear leads.
    pub rear_first: bool,
    /// Speed, mm/s.
    pub speed_mm_s: f64,
    /// How far it is to go, mm. It goes once round a ring at most.
    pub distance_mm: f64,
    /// Whether it is pushed by hand: it then goes on whatever drives it or does not.
    pub pushed: bool,
}

/// A pickup group at a place.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupStanding {
    /// Its vehicles, front to rear.
    pub vehicles: Vec<VehicleId>,
    /// Nets under its pickups on the left and on the right rail, as seen the way it goes.
    pub nets: [Vec<NetId>; 2],
    /// Whether current flows through what it draws, with the drivers as they are set; `None` if it draws nothing.
    pub live: Option<bool>,
}

impl GroupStanding {
    /// Whether it joins nets.
    pub fn joins(&self) -> bool {
        self.nets.iter().any(|side| side.len() > 1)
    }
}

/// What drives a train at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Urge {
    /// It is driven on.
    On,
    /// It is driven back.
    Back,
    /// Its motors work against each other.
    Torn,
    /// No motor gets current.
    Dead,
    /// It has no motor: somebody pushes it.
    Pushed,
}

/// How things are at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// How far it has come, mm.
    pub position_mm: f64,
    /// Its pickup groups, front to rear.
    pub groups: Vec<GroupStanding>,
    /// The cuts that it straddles.
    pub cuts: Vec<CutId>,
    /// Verdict at the settings now, standing there.
    pub verdict: Verdict,
    /// How far from the threshold that decides.
    pub margin: Option<f64>,
    /// Share of time in conflict.
    pub share: f64,
    /// Drivers that what it touches brings together, with what they carry: loads removed, contacts clean.
    pub drivers: Vec<DriverFigures>,
    /// Drivers whose trip is first.
    pub first: Vec<DriverId>,
    /// Devices of the feed chains that act first, beside those drivers.
    pub first_devices: Vec<DeviceId>,
    /// What drives it.
    pub urge: Urge,
}

impl Standing {
    /// Largest current in any leg of any driver, A.
    pub fn peak_a(&self) -> f64 {
        self.drivers.iter().map(|d| d.p.peak.max(d.m.peak)).fold(0.0, f64::max)
    }
}

/// How a run ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    /// It comes all the way.
    Arrives,
    /// The track ends before.
    EndOfTrack,
    /// It stands without drive, and nothing will change that.
    Stalls,
    /// It is driven back the way it came.
    DrivenBack,
    /// Drivers trip and try again for ever.
    HiccupsForEver,
    /// So much happens that the log was given up.
    GivenUp,
}

/// What happens.
#[derive(Debug, Clone, PartialEq)]
pub enum What {
    /// A pickup group begins to straddle a cut in one rail.
    Begins {
        /// The cut.
        cut: CutId,
        /// The rail, as seen the way it goes.
        side: SideWord,
        /// The group's vehicles.
        vehicles: Vec<VehicleId>,
    },
    /// It has left the cut behind.
    Leaves {
        /// The cut.
        cut: CutId,
        /// The rail, as seen the way it goes.
        side: SideWord,
        /// The group's vehicles.
        vehicles: Vec<VehicleId>,
    },
    /// What is joined has changed, or what the drivers do: how things are from now on.
    Stands(Box<Standing>),
    /// Trips act, or auto-reversers exchange their poles.
    Trips {
        /// Whose.
        guards: Vec<GuardId>,
        /// Time since the joining, s, at the worst phase.
        after_s: f64,
        /// Whether they act at every phase.
        always: bool,
    },
    /// What has tripped tries again.
    TriesAgain(Vec<GuardId>),
    /// It comes to a stand.
    Stops(Urge),
    /// It gets going again.
    GoesOn,
    /// The end.
    Ends(Fate),
}

/// One event of a run.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// How far it has come, mm.
    pub position_mm: f64,
    /// Time since the start, s.
    pub time_s: f64,
    /// What happens.
    pub what: What,
}

/// How things are when a train has come so far along its way. Positions are cut to the way. `None` if what runs or the
/// track is not on the layout.
pub fn at(layout: &Layout, plan: &Plan, running: &Running, position_mm: f64) -> Option<Standing> {
    let course = Course::new(layout, plan, running)?;
    Some(course.at(layout, plan, position_mm))
}

/// Every event of a run, in order; the last one says how it ends. Empty if what runs or the track is not on the layout.
pub fn run(layout: &Layout, plan: &Plan, running: &Running) -> Vec<Event> {
    Course::new(layout, plan, running)
        .map(|course| log::log(layout, plan, running, &course))
        .unwrap_or_default()
}
