//! Layouts: the document, edits as values, the file, validation.
//!
//! Nothing here knows physics or the screen.

pub mod edit;
pub mod file;
pub mod model;
mod shown;
pub mod stated;
mod validate;
mod words;

/// Where a run is on the plan.
pub mod geometry {
    pub use super::model::RunEnd;
    pub use crate::track::curve::*;
    pub use crate::track::plane::{tenths, thousandths};
    pub use crate::units::Point;
}

/// Pictures under the plan, and their files.
pub mod picture {
    pub use super::file::{find, folder_of, named};
    pub use super::model::{Picture, default_opacity};
}

pub use edit::{Edit, End, History, Refused, applied, apply};
pub use file::{
    EARLIER, EXTENSION, LARGEST_FILE, LoadError, Loaded, ReadError, earlier, io_words, load,
    read_from, read_path, save, write_path, write_whole,
};
#[cfg(feature = "window")]
pub(crate) use file::{text_for, write_private};
pub use geometry::{drawn_length_mm, length_mm};
pub use model::*;
pub use shown::{shown, shown_json};
pub(crate) use words::{and, capital};

pub use crate::track::{bulk, kinks, laying, place, plane::Turn, roads};
pub use crate::units::{Quantity, Source};
