//! The drawn document: runs, cuts, feeds, drivers, supplies, vehicles; edits as values; the RON file.
//!
//! Nothing here knows physics or the screen.

pub mod defaults;
pub mod edit;
pub mod file;
pub mod geometry;
mod history;
mod ids;
mod meaning;
mod model;
mod notation;
mod positions;
mod quantity;
mod trip_curve;
pub mod wire;

pub use edit::{Edit, End, Entity, Refused, applied, apply, entity};
pub use file::{EXTENSION, LoadError, Loaded, ReadError, load, read_path, save, write_path};
pub use geometry::{drawn_length_mm, length_mm};
pub use history::History;
pub use ids::{
    CutId, DriverId, EntityId, FeedId, JointId, LabelId, NotAnId, RunId, SupplyId, VehicleId,
};
pub use model::*;
pub use quantity::{Quantity, Source};
pub use trip_curve::{TripPoint, TripPoints};
