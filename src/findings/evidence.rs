//! What single kinds of evidence are made of: guards and how they fail, coins across the rails, narrow places.

use crate::layout::{DeviceId, DriverId, EntityId, FeedId, RunId};
use crate::study::{Current, GuardId, SetState};

/// How a driver's trip fails to see a fault.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Blind {
    /// More than the threshold passes where the trip does not look.
    LooksElsewhere {
        /// Peak of the larger leg, A.
        carried_a: f64,
        /// Peak where it senses, A.
        sensed_a: f64,
    },
    /// The supply gives up below the threshold.
    SupplyGivesUpFirst {
        /// Sustained limit of the supply, A.
        limit_a: f64,
    },
}

/// How auto-reversers fail at a cut.
#[derive(Debug, Clone, PartialEq)]
pub enum Reversing {
    /// One on each side: both act on one fault. When each has acted, s.
    Race([(DeviceId, Option<f64>); 2]),
    /// The current of the fault does not make it act.
    Unseen {
        /// The auto-reverser.
        device: DeviceId,
        /// Its threshold, A.
        threshold_a: f64,
        /// What it carries, A.
        carried_a: f64,
    },
    /// Something above it in its chain, or beside it, is there before it.
    TooLate {
        /// The auto-reverser.
        device: DeviceId,
        /// When it would have acted, s.
        after_s: Option<f64>,
        /// What acts before it.
        before: GuardId,
        /// When that acts, s.
        before_s: Option<f64>,
    },
}

/// What bounds a current that flows for ever.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    /// The trip's threshold.
    Trip,
    /// A breaker or a fuse between the driver and the wire.
    Guard,
    /// The supply's sustained limit.
    Limit,
    /// The resistance of a dead short at the feeders.
    Bolted,
}

/// A rating that a fault exceeds for ever.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Beyond {
    /// The driver bears so much, A.
    Driver(f64),
    /// The wires of a feed carry so much and bear so much, A.
    Wire(FeedId, f64, f64),
}

/// A dead short at the far end of a block that is fed for ever.
#[derive(Debug, Clone, PartialEq)]
pub struct CoinEvidence {
    /// The driver.
    pub driver: DriverId,
    /// Where the coin lies.
    pub run: RunId,
    /// Distance along the run, mm.
    pub at_mm: f64,
    /// Rail between it and the nearest feeders, on the two rails, mm.
    pub rail_mm: [f64; 2],
    /// The settings at which nothing ends it, the worst first.
    pub settings: Vec<SetState>,
    /// In the driver's larger leg, at the worst of them.
    pub leg: Current,
    /// Where its trip senses.
    pub sensed: Option<Current>,
    /// The trip's threshold, A.
    pub threshold_a: Option<f64>,
    /// Breakers and fuses on the way, and what each waits for, A.
    pub guards: Vec<(DeviceId, f64)>,
    /// What the supply gives, A.
    pub supply_a: f64,
    /// Whether the supply is at its limit, less what else it feeds.
    pub limited: bool,
    /// Ratings that are exceeded.
    pub beyond: Vec<Beyond>,
    /// Values whose ranges leave it open: the entity (`None`: the layout) and the field.
    pub measure: Vec<(Option<EntityId>, &'static str)>,
}

/// Where two rails of special work come near to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Narrow {
    /// Beyond a frog, seen from the joint: treads reach across.
    BeyondFrog,
    /// Before it: the backs of wheels touch.
    BeforeFrog,
    /// An open point and its stock rail: the backs of wheels touch.
    OpenPoint,
}
