//! The document: the things of a layout, as the file holds them.
//!
//! Lengths are in mm of the model, times in s, electrical values in SI units unless the field's name says otherwise.

mod bare;
mod chain;
mod climate;
mod decision;
pub mod defaults;
mod device;
mod drive;
mod driver;
mod entity;
mod feed;
mod ids;
mod layout;
pub mod lineup;
mod picture;
mod runs;
mod skip;
mod special;
mod supply;
mod trip;
mod trip_curve;
mod vehicle;
pub mod wire;

pub use chain::{Resolved, driver_now, resolve};
pub use climate::*;
pub use decision::{Decided, Decision};
pub use device::{Device, DeviceKind, Origin, default_device_ohm};
pub use drive::*;
pub use driver::{Direction, Driver, Setting};
pub use entity::{Entity, entity};
pub(in crate::layout) use entity::{put_raw, remove_raw, with_number};
pub use feed::{Feed, Wire, WireSize};
pub use ids::*;
pub use layout::Layout;
pub use lineup::{Lineup, Points, Switched, Throttle};
pub use picture::{Picture, default_opacity};
pub use runs::*;
pub use special::*;
pub use supply::*;
pub use trip::*;
pub use trip_curve::{TripPoint, TripPoints};
pub use vehicle::*;
