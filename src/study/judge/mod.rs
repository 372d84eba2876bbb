//! Judging one situation: drivers set in one way, a vehicle standing in one way over the cut.
//!
//! All in numbers: what a number belongs to is known only to the caller. A judgement depends on the wiring, the
//! [`Scenario`] and the [`NumericStand`] alone, so a [`Bench`] may remember what it has solved.

mod acting;
mod after;
mod bench;
mod carried;
mod chain;
mod figures;
mod flows;
mod inrush;
mod judged;
mod open;
mod rate;
mod rated;
mod scenario;
mod seen;
mod situation;
mod stand;
mod trips;

pub use acting::{Acting, Acts};
pub use bench::{Bench, solved};
pub use carried::Carried;
pub use judged::{After, Decided, Judged, JudgedDevice, JudgedDriver, Lifted};
pub use rated::NEAR;
pub use scenario::{DriverRun, Scenario};
pub use seen::Seen;
pub use stand::{NumericGroup, NumericStand};
pub use trips::numeric_trip;

/// A leg that differs by more than this from what it carries with the rails apart is in conflict, A.
pub const CONFLICT_A: f64 = 0.1;
