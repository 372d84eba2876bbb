//! A layout: everything that is drawn, cut, fed and set.

use std::collections::BTreeMap;

use super::climate::{Climate, default_rail_ohm_per_m};
use super::decision::Decision;
use super::device::Device;
use super::driver::Driver;
use super::feed::Feed;
use super::ids::{
    BondId, CutId, DecisionId, DeviceId, DriverId, FeedId, JointId, LabelId, LineupId, PictureId,
    RunId, SpecialId, SupplyId, TrainId, VehicleId,
};
use super::lineup::Lineup;
use super::picture::Picture;
use super::runs::{Bond, Cut, Joint, Label, Run};
use super::special::Special;
use super::supply::Supply;
use super::vehicle::{Train, Vehicle};
use crate::units::Quantity;

/// A layout: everything that is drawn, cut, fed and set. A `Layout` that came out of [`crate::layout::load`] or of
/// [`crate::layout::apply`] is valid: every reference leads somewhere and every value makes sense.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// Name of the layout.
    pub name: String,
    /// Free words of the user.
    pub notes: String,
    /// Scale as the number behind "1:".
    pub scale: f64,
    /// Gauge, mm between the rails.
    pub gauge_mm: f64,
    /// Resistance of one rail, Ω per m.
    pub rail_ohm_per_m: Quantity,
    /// The room, if it is stated; otherwise [`Climate::default`] is assumed.
    pub climate: Option<Climate>,
    /// Joints by identity.
    pub joints: BTreeMap<JointId, Joint>,
    /// Runs by identity.
    pub runs: BTreeMap<RunId, Run>,
    /// Cuts by identity.
    pub cuts: BTreeMap<CutId, Cut>,
    /// Block names by identity.
    pub labels: BTreeMap<LabelId, Label>,
    /// Supplies by identity.
    pub supplies: BTreeMap<SupplyId, Supply>,
    /// Drivers by identity.
    pub drivers: BTreeMap<DriverId, Driver>,
    /// Feeds by identity.
    pub feeds: BTreeMap<FeedId, Feed>,
    /// Vehicles by identity.
    pub vehicles: BTreeMap<VehicleId, Vehicle>,
    /// Special work by identity.
    pub specials: BTreeMap<SpecialId, Special>,
    /// Devices of feed chains by identity.
    pub devices: BTreeMap<DeviceId, Device>,
    /// Bonds by identity.
    pub bonds: BTreeMap<BondId, Bond>,
    /// Trains by identity.
    pub trains: BTreeMap<TrainId, Train>,
    /// Lineups by identity.
    pub lineups: BTreeMap<LineupId, Lineup>,
    /// Pictures under the plan by identity; one with a higher number lies over one with a lower.
    pub pictures: BTreeMap<PictureId, Picture>,
    /// Decisions on findings by identity.
    pub decisions: BTreeMap<DecisionId, Decision>,
    /// The number that the next new identity gets; larger than every number in use.
    pub next_id: u32,
}

impl Default for Layout {
    /// An empty layout at 1:87 on 16.5 mm track.
    fn default() -> Self {
        Self {
            name: String::new(),
            notes: String::new(),
            scale: 87.0,
            gauge_mm: 16.5,
            rail_ohm_per_m: default_rail_ohm_per_m(),
            climate: None,
            joints: BTreeMap::new(),
            runs: BTreeMap::new(),
            cuts: BTreeMap::new(),
            labels: BTreeMap::new(),
            supplies: BTreeMap::new(),
            drivers: BTreeMap::new(),
            feeds: BTreeMap::new(),
            vehicles: BTreeMap::new(),
            specials: BTreeMap::new(),
            devices: BTreeMap::new(),
            bonds: BTreeMap::new(),
            trains: BTreeMap::new(),
            lineups: BTreeMap::new(),
            pictures: BTreeMap::new(),
            decisions: BTreeMap::new(),
            next_id: 1,
        }
    }
}
