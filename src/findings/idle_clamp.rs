//! `idle-clamp`: a driver's idle state fights what the neighbour drives.

use super::shared::crossing;
use super::{Cure, Found, Kind, Text, View, Words};
use crate::layout::Layout;

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::IdleClamp)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    w.crossing(&e.situation, e.relation, e.now, &e.by_join, &e.idles)
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}
