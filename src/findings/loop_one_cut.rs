//! `loop-one-cut`: track that leads back onto itself the other way round with both rails cut in one place only.

use super::shared::loops;
use super::{Cure, Found, Text, View, Words};
use crate::layout::Layout;

pub use super::shared::loops::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    loops::without_room(view, false)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    w.loop_without_room(&e.round, &e.longest)
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}
