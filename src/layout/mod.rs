//! The drawn document: runs, special work, cuts, feeds, what they are fed from, vehicles; edits as values; the RON file.
//!
//! Nothing here knows physics or the screen.

pub mod bulk;
mod chain;
pub mod defaults;
pub mod edit;
pub mod file;
pub mod geometry;
mod history;
mod ids;
pub mod laying;
pub mod lineup;
mod meaning;
mod model;
mod notation;
pub mod picture;
pub mod place;
mod positions;
mod quantity;
pub mod roads;
mod shown;
mod special;
mod trip_curve;
pub mod wire;

pub use chain::{Device, DeviceKind, Origin, Resolved, default_device_ohm, resolve};
pub use edit::{Edit, End, Entity, Refused, Turn, applied, apply, entity};
#[cfg(feature = "window")]
pub(crate) use file::write_whole;
pub use file::{
    EXTENSION, LoadError, Loaded, ReadError, io_words, load, read_path, save, write_path,
};
pub use geometry::{RunEnd, drawn_length_mm, length_mm};
pub use history::History;
pub use ids::{
    BondId, CutId, DeviceId, DriverId, EntityId, FeedId, JointId, LabelId, LineupId, NotAnId,
    PictureId, RunId, SpecialId, SupplyId, TrainId, VehicleId,
};
pub use lineup::{Lineup, Points, Switched, Throttle};
pub use model::*;
pub use picture::Picture;
pub use quantity::{Quantity, Source};
pub use shown::{shown, shown_json};
pub use special::{
    Bond, Contact, FIRST_FROG, Frog, Lever, Special, Spot, TrackEnd, Work, default_open_mm,
};
pub use trip_curve::{TripPoint, TripPoints};
