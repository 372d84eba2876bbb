//! `wheel-bridges-frog`: a wheel reaches from one rail to the other at an end of a frog.

use super::shared::narrow;
use super::{Cure, Found, Kind, Text, View, Words};
use crate::layout::Layout;

pub use super::shared::narrow::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    narrow::of_kind(view, Kind::WheelBridgesFrog)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    narrow::words(e, w)
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}
