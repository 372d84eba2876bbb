//! The lists and fields of a layout file.

use ron::extensions::Extensions;
use serde::Deserialize;

use crate::layout::model::{
    Bond, Climate, Cut, Decision, Device, Driver, Feed, Joint, Label, Layout, Lineup, Picture, Run,
    Special, Supply, Train, Vehicle, default_rail_ohm_per_m,
};
use crate::units::Quantity;

/// The version of the file format that this program reads and writes.
pub const VERSION: u32 = 1;

/// The ending of a layout file's name, without the dot.
pub const EXTENSION: &str = "gapwright";

/// Largest file that is read or written, bytes.
pub const LARGEST_FILE: u64 = 64 * 1024 * 1024;

/// How deep brackets may be nested.
pub(super) const DEEPEST: usize = 32;

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Layout")]
pub(super) struct File {
    #[serde(rename = "version")]
    pub(super) _version: u32,
    #[serde(default)]
    pub(super) name: String,
    #[serde(default)]
    pub(super) notes: String,
    #[serde(default = "default_scale")]
    pub(super) scale: f64,
    #[serde(default = "default_gauge")]
    pub(super) gauge_mm: f64,
    #[serde(default = "default_rail_ohm_per_m")]
    pub(super) rail_ohm_per_m: Quantity,
    #[serde(default)]
    pub(super) climate: Option<Climate>,
    #[serde(default)]
    pub(super) next_id: Option<u32>,
    #[serde(default)]
    pub(super) joints: Vec<Joint>,
    #[serde(default)]
    pub(super) runs: Vec<Run>,
    #[serde(default)]
    pub(super) cuts: Vec<Cut>,
    #[serde(default)]
    pub(super) labels: Vec<Label>,
    #[serde(default)]
    pub(super) supplies: Vec<Supply>,
    #[serde(default)]
    pub(super) drivers: Vec<Driver>,
    #[serde(default)]
    pub(super) feeds: Vec<Feed>,
    #[serde(default)]
    pub(super) vehicles: Vec<Vehicle>,
    #[serde(default)]
    pub(super) specials: Vec<Special>,
    #[serde(default)]
    pub(super) devices: Vec<Device>,
    #[serde(default)]
    pub(super) bonds: Vec<Bond>,
    #[serde(default)]
    pub(super) trains: Vec<Train>,
    #[serde(default)]
    pub(super) lineups: Vec<Lineup>,
    #[serde(default)]
    pub(super) pictures: Vec<Picture>,
    #[serde(default)]
    pub(super) decisions: Vec<Decision>,
}

fn default_scale() -> f64 {
    Layout::default().scale
}

fn default_gauge() -> f64 {
    Layout::default().gauge_mm
}

pub(super) fn options() -> ron::Options {
    ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME)
}
