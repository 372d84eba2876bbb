//! What the numbers of a case belong to: who stands how at which cut.
//!
//! Stands and footings are in the order of those of the [`Case`](super::Case).

use crate::layout::{TrainId, VehicleId};
use crate::rails::{CutAt, PlanNet};
use crate::straddle::case::Names;
use crate::straddle::contacts::{Facing, Touched};
use crate::straddle::ix::{FootingIx, StandIx, Table};

/// What the numbers of a case belong to.
#[derive(Debug, Clone, PartialEq)]
pub struct Surroundings {
    /// Where it stands in the plan.
    pub at: CutAt,
    /// Names of the wiring.
    pub names: Names,
    /// For each stand: who stands how.
    pub stands: Table<StandIx, StandAt>,
    /// For each footing: who stands how.
    pub footings: Table<FootingIx, FootingAt>,
    /// Ways in which trains can stand that were not looked at, because there are too many.
    pub left_out: usize,
}

/// Who stands at a cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stander {
    /// The vehicle, of a train one whose pickups join nets; `None` for what stands in where a layout has none.
    pub vehicle: Option<VehicleId>,
    /// The train, if it is one.
    pub train: Option<TrainId>,
    /// Length over the outer couplers, mm.
    pub length_mm: f64,
}

/// How a vehicle or a train stands over a cut without need to join anything.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FootingAt {
    /// Who.
    pub by: Stander,
    /// Facing.
    pub facing: Facing,
    /// Place of its front past the cut where the footing begins, mm.
    pub front_mm: f64,
    /// How far it rolls on it, mm.
    pub rolls_mm: f64,
}

/// A pickup group of a stand.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupAt {
    /// Its vehicles, front to rear.
    pub vehicles: Vec<VehicleId>,
    /// Nets under its left and right pickups, along the ruler.
    pub touched: [Touched<PlanNet>; 2],
}

/// How a vehicle or a train stands over a cut.
#[derive(Debug, Clone, PartialEq)]
pub struct StandAt {
    /// Who.
    pub by: Stander,
    /// Facing.
    pub facing: Facing,
    /// Place of the leading coupler where it begins, mm on the ruler.
    pub lead_mm: f64,
    /// How far it rolls while at least this much is joined, mm.
    pub rolls_mm: f64,
    /// Whether it is a single wheel across the opening rather than a pickup group.
    pub single_wheel: bool,
    /// The groups that join nets.
    pub groups: Vec<GroupAt>,
    /// Distance of their first and last pickup behind the leading coupler, mm.
    pub pickups_mm: (f64, f64),
}

/// The place of a rake's front when its leading coupler is at a place, mm on the ruler.
pub fn front_mm(facing: Facing, lead_mm: f64, length_mm: f64) -> f64 {
    match facing {
        Facing::FrontAhead => lead_mm,
        Facing::RearAhead => lead_mm - length_mm,
    }
}
