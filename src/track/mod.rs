//! Geometry of track: curves, laying, placing, parallel track, work on many things at once.
//!
//! Nothing here knows currents.

pub mod bulk;
mod copy;
pub mod curve;
mod fitted;
pub mod kinks;
pub mod laying;
mod parallel;
pub mod place;
pub mod plane;
pub mod roads;
