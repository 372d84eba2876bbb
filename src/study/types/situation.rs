//! A situation at a cut and what flows in it.
//!
//! Currents are in A, times in s, lengths in mm, shares from 0 to 1.

use std::collections::BTreeMap;

use serde::Serialize;

use super::verdict::{Trips, Verdict};
use crate::drive::{SetWord, StateWord};
use crate::layout::{DeviceId, DriverId, Rail, TrainId, VehicleId};
use crate::rails::{NetId, SelectorId};
use crate::signal::Longest;

/// Peak of the magnitude, signed mean, mean of the magnitude, RMS. A.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Current {
    /// Largest magnitude.
    pub peak: f64,
    /// Signed mean: what an averaging meter shows.
    pub mean: f64,
    /// Mean of the magnitude.
    pub mean_abs: f64,
    /// Root of the mean square: what a true-RMS meter shows.
    pub rms: f64,
    /// Least and largest of these over a phase that nobody knows, where one is frozen.
    pub over_phases: Option<OverPhases>,
}

/// Least and largest figures over a phase that nobody knows. A.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OverPhases {
    /// Of the signed mean.
    pub mean: [f64; 2],
    /// Of the mean of the magnitude.
    pub mean_abs: [f64; 2],
    /// Of the RMS.
    pub rms: [f64; 2],
}

/// A driver's setting in a situation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SetState {
    /// What it is set to.
    pub state: SetWord,
    /// Throttle from 0 to 1.
    pub throttle: f64,
}

/// Which end of the vehicle leads from `blocks[0]` into `blocks[1]`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Facing {
    /// The front points to `blocks[1]`.
    AToB,
    /// The front points to `blocks[0]`.
    BToA,
}

/// Whether the vehicle moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Motion {
    /// Rolling over the cut.
    Moving,
    /// Standing on it.
    Standing,
    /// Nothing stands there, or nothing that can stand there joins anything.
    #[serde(rename = "no train")]
    NoTrain,
}

/// Rails joined by a vehicle.
#[derive(Debug, Clone, PartialEq)]
pub struct Join {
    /// The rail, as seen from the start of the cut's run.
    pub side: SideWord,
    /// The nets that are joined.
    pub nets: Vec<NetId>,
    /// Contact resistance from each of them to the pickup, Ω.
    pub contact_ohm: Vec<f64>,
    /// Which group of joined pickups: joins of one group and side meet, those of different groups do not.
    pub group: usize,
    /// In a train, the vehicles whose pickups the group is.
    pub vehicles: Vec<VehicleId>,
}

/// A rail, in reports.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum SideWord {
    Left,
    Right,
}

impl From<Rail> for SideWord {
    fn from(rail: Rail) -> Self {
        match rail {
            Rail::Left => SideWord::Left,
            Rail::Right => SideWord::Right,
        }
    }
}

/// A joint state of the drivers and its share of time.
#[derive(Debug, Clone, PartialEq)]
pub struct JointState {
    /// Share of time, 0 to 1.
    pub share: f64,
    /// State of each driver.
    pub drivers: BTreeMap<DriverId, StateWord>,
}

/// What one driver carries in a situation.
#[derive(Debug, Clone, PartialEq)]
pub struct DriverFigures {
    /// The driver.
    pub id: DriverId,
    /// Current leaving output P.
    pub p: Current,
    /// Current leaving output M.
    pub m: Current,
    /// Current drawn from the positive pole.
    pub supply: Current,
    /// Current where its trip senses, if it has one.
    pub sensed: Option<Current>,
    /// Highest voltage of its positive pole over its negative pole, V.
    pub positive_pole_v: Option<f64>,
    /// Whether its trip acts.
    pub trips: Trips,
    /// Share of phases in which it acts.
    pub trips_share: f64,
    /// Time from the start of the straddle until it acts at the worst phase, s.
    pub trip_after_s: Option<f64>,
    /// The figure that its trip compares with the threshold at the worst phase, A; `None` without a trip that can act.
    pub trip_compares_a: Option<f64>,
}

/// What one device of the feed chain carries in a situation.
#[derive(Debug, Clone, PartialEq)]
pub struct DeviceFigures {
    /// The device.
    pub id: DeviceId,
    /// Current in the larger of its poles.
    pub current: Current,
    /// Whether it acts: opens, or exchanges its poles.
    pub trips: Trips,
    /// Share of phases in which it acts.
    pub trips_share: f64,
    /// Time from the start of the straddle until it acts at the worst phase, s.
    pub trip_after_s: Option<f64>,
}

/// What goes on once the drivers and devices whose trips are first have gone to what they do after a trip.
#[derive(Debug, Clone, PartialEq)]
pub struct AfterFirst {
    /// Whether the conflict goes on.
    pub conflict: bool,
    /// Largest current in any leg of any driver then, A.
    pub peak_a: f64,
    /// Drivers whose trips then act.
    pub trips: Vec<DriverId>,
    /// Devices that then act.
    pub devices: Vec<DeviceId>,
}

/// A selector in a position.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct SelectorAt {
    /// The selector.
    pub id: SelectorId,
    /// Its position, counted from 0.
    pub position: u32,
}

/// A situation at a cut: a vehicle over it, the drivers set in one way, and what flows.
#[derive(Debug, Clone, PartialEq)]
pub struct Situation {
    /// Judgement.
    pub verdict: Verdict,
    /// (threshold − figure) / threshold of what decided; negative beyond it; null where there is no threshold.
    pub margin: Option<f64>,
    /// The vehicle; null only where the layout has no vehicle and the tool's own stand-in straddles.
    pub vehicle: Option<VehicleId>,
    /// The train that the vehicle is in, where it is the train that stands there: facing and position are then its own.
    pub train: Option<TrainId>,
    /// Its facing.
    pub facing: Facing,
    /// How far its front is past the cut, mm, at the start of the straddle that is judged.
    pub position_mm: f64,
    /// Moving or standing.
    pub motion: Motion,
    /// Speed when moving.
    pub speed_mm_s: Option<f64>,
    /// Share of time in conflict.
    pub share: f64,
    /// Longest unbroken conflict.
    pub longest_s: Longest,
    /// Least and largest share of time in conflict, where one clock holds a phase that nobody knows; else null.
    pub share_range: Option<[f64; 2]>,
    /// Time until the inductance of wires and rails lets 95 % of the resistive peak through, s: in a shorter conflict
    /// the peak is an upper bound. Null without a conflict.
    pub resistive_after_s: Option<f64>,
    /// Settings of the drivers.
    pub settings: BTreeMap<DriverId, SetState>,
    /// Positions of the selectors that matter there; empty where none do.
    pub selectors: Vec<SelectorAt>,
    /// The parties: drivers whose nets are joined; with nothing that joins any, those of the two sides.
    pub parties: Vec<DriverId>,
    /// Joined rails.
    pub joins: Vec<Join>,
    /// Joint states and their shares.
    pub states: Vec<JointState>,
    /// Currents with the vehicle's load removed, contacts at their low end.
    pub drivers: Vec<DriverFigures>,
    /// What the devices on the way from the drivers carry, likewise.
    pub devices: Vec<DeviceFigures>,
    /// Drivers beside the two sides that were held in their drive state, because too many take part for every joint state
    /// to be looked at: the figures are then not exhaustive.
    pub held: Vec<DriverId>,
    /// Drivers whose trip is first.
    pub first: Vec<DriverId>,
    /// Devices that act first, beside those drivers.
    pub first_devices: Vec<DeviceId>,
    /// Whether those devices are auto-reversers that end the conflict: the verdict is that of afterwards, the currents are
    /// those of before.
    pub resolved: bool,
    /// Auto-reversers that have acted before all of this, because they end a part of the conflict.
    pub exchanged: Vec<DeviceId>,
    /// What goes on after those have tripped; null where nothing trips.
    pub after_first: Option<AfterFirst>,
    /// The same with the vehicle's load, without what trips do.
    pub loaded: Option<Vec<DriverFigures>>,
}

impl Situation {
    /// Largest current in any leg of any driver, A.
    pub fn peak_a(&self) -> f64 {
        self.drivers.iter().map(|d| d.p.peak.max(d.m.peak)).fold(0.0, f64::max)
    }
}

/// How one vehicle passes a cut.
#[derive(Debug, Clone, PartialEq)]
pub struct PassReport {
    /// The vehicle; null for the tool's own stand-in.
    pub vehicle: Option<VehicleId>,
    /// The train, where it is a train that passes: the vehicle is one of it.
    pub train: Option<TrainId>,
    /// Its facing: the one in which it joins rails for longer.
    pub facing: Facing,
    /// Judgement, assumed values taken at their value.
    pub verdict: Verdict,
    /// How far it rolls with its pickups on both sides, mm.
    pub straddle_mm: f64,
    /// How far it rolls without a closed circuit although both sides drive and agree, mm; `None` where that was not looked
    /// at, as of a vehicle that draws nothing.
    pub stall_mm: Option<f64>,
    /// Wheels that pick up on each side of the cut, left and right rail: the fewest that must touch for the joint to be.
    pub wheels: [Vec<u32>; 2],
    /// At its least speed.
    pub slow: PassAt,
    /// At its largest speed.
    pub fast: PassAt,
    /// Standing there.
    pub standing: PassAt,
}

/// Whether a trip acts in a pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassAt {
    /// Speed, mm/s; null when standing.
    pub speed_mm_s: Option<f64>,
    /// Time over the cut, s; null when standing.
    pub time_s: Option<f64>,
    /// Whether a trip acts.
    pub trips: Trips,
    /// In which share of phases.
    pub trips_share: f64,
}
