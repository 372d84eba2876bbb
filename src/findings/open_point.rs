//! `open-point`: an open live point stands so near to its stock rail that the backs of wheels touch it.

use super::shared::narrow;
use super::{Cure, Found, Kind, Text, View, Words};
use crate::layout::Layout;

pub use super::shared::narrow::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    narrow::of_kind(view, Kind::OpenPoint)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    narrow::words(e, w)
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}
