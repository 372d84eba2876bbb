//! Edits as values: the one way to change a layout.
//!
//! [`apply`] changes a layout and returns the edit that takes the change back, or says why it cannot be done and leaves
//! the layout as it was. The window, undo, cures and hypotheses all go through it.

mod apply;
mod between;
mod carry;
mod change;
mod delete;
mod history;
mod join;
mod lineup;
mod places;
mod renamed;
mod split;
mod value;

pub use crate::layout::model::{Entity, entity};
pub use crate::track::plane::Turn;
pub(crate) use apply::drafted;
pub use apply::{applied, apply};
pub use between::{all_ids, differing, made_like, whole_like};
pub use history::History;
pub use renamed::{renamed, turned_round};
pub use value::{Edit, End, Refused, Restore};
