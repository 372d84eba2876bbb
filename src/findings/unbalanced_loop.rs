//! `unbalanced-loop`: track that leads back onto itself the other way round, with room for a reversing section.

use super::shared::loops;
use super::{Cure, Found, Text, View, Words};
use crate::layout::Layout;

/// Loops with room for reversing sections.
pub use super::LoopSections as Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    loops::with_room(view)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    w.sections(e)
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}
