//! The drawn document: runs, cuts, feeds, drivers, supplies, vehicles; edits as values; the RON file.
//!
//! Nothing here knows physics or the screen.

pub mod edit;
mod ids;
mod model;
mod quantity;

pub use ids::{
    CutId, DriverId, EntityId, FeedId, JointId, LabelId, NotAnId, RunId, SupplyId, VehicleId,
};
pub use model::*;
pub use quantity::{Quantity, Source};
