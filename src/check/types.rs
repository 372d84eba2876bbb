//! What the check says: verdicts, situations, findings, all as typed numbers. Words are made in [`crate::report`].

use std::collections::BTreeMap;
use std::fmt;

use serde::Serialize;

pub use crate::drive::{SetWord, StateWord};
use crate::layout::{
    CutId, DeviceId, DriverId, EntityId, FeedId, JointId, Rail, RunId, SpecialId, SupplyId,
    TrainId, VehicleId,
};
pub use crate::rails::balance::Way;
pub use crate::rails::{BlockId, NetId, SelectorId};

/// The judgement of a situation, in ascending weight.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Default)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Nothing wrong.
    #[default]
    Clear,
    /// Clear, but within 20 % of a threshold, or worth knowing.
    Caution,
    /// Would change within the ranges of the assumed values.
    NotKnown,
    /// No driver closes a loop through the vehicle's left and right pickups.
    Stall,
    /// A pole is lifted or charged beyond what it may be.
    BackFeed,
    /// Under the trip, but a continuous rating is exceeded.
    Overload,
    /// A trip acts in the worst window, or a peak exceeds what a part may carry.
    Short,
}

impl Verdict {
    /// The word for it, as in reports and files.
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Clear => "clear",
            Verdict::Caution => "caution",
            Verdict::NotKnown => "not-known",
            Verdict::Stall => "stall",
            Verdict::BackFeed => "back-feed",
            Verdict::Overload => "overload",
            Verdict::Short => "short",
        }
    }

    /// Whether such a finding of class fault makes the check fail.
    pub fn is_fault(self) -> bool {
        self >= Verdict::Stall
    }
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// How a finding counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Class {
    /// Worth knowing.
    Note,
    /// An operating rule: what operators must do at a gap that no wiring can do for them.
    Rule,
    /// Something wrong with wiring, configuration or the settings now.
    Fault,
}

macro_rules! kinds {
    ($($(#[$doc:meta])* $name:ident $word:literal;)*) => {
        /// The kind of a finding.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Kind { $($(#[$doc])* $name,)* }

        impl Kind {
            /// Every kind there is.
            pub const ALL: &'static [Kind] = &[$(Kind::$name,)*];

            /// Its plain word.
            pub fn word(self) -> &'static str {
                match self { $(Kind::$name => $word,)* }
            }
        }
    };
}

kinds! {
    /// The settings now oppose at a cut.
    OpposedPolarity "opposed-polarity";
    /// Agreeing settings oppose because of the feed.
    SwappedFeed "swapped-feed";
    /// An idle state fights what the neighbour drives.
    IdleClamp "idle-clamp";
    /// A pole is lifted, or current flows steadily into a supply.
    BackFeed "back-feed";
    /// A driver's pole is charged at the moment of joining.
    Inrush "inrush";
    /// A locomotive speeds up while it stands in two blocks.
    Surge "surge";
    /// DCC beside DC.
    MixedDrive "mixed-drive";
    /// DCC beside DCC out of phase.
    PhaseOpposed "phase-opposed";
    /// Drivers fight over a common rail with no train.
    CommonRailFight "common-rail-fight";
    /// One joined rail is enough because the negatives are shared.
    SharedNegativeShort "shared-negative-short";
    /// Two named blocks are one.
    BlocksMerged "blocks-merged";
    /// A block has no driver.
    Unfed "unfed";
    /// A block has a driver on one rail only.
    HalfFed "half-fed";
    /// A block has two drivers.
    DoublyFed "doubly-fed";
    /// Only one rail is cut.
    OneRailCut "one-rail-cut";
    /// A vehicle closes no circuit somewhere.
    Stall "stall";
    /// An assumed value decides the verdict.
    ValueNotKnown "value-not-known";
    /// A dead short at the far end of a block is fed for ever.
    CoinTestFails "coin-test-fails";
    /// A wire may carry less than what can flow in it for ever.
    WireTooThin "wire-too-thin";
    /// Wires and rails take too much of the voltage.
    VoltDrop "volt-drop";
    /// What hangs on a supply may ask for more than it gives.
    SupplyTooSmall "supply-too-small";
    /// A supply gives up below a trip's threshold.
    SupplyGivesUpFirst "supply-gives-up-first";
    /// Heat and dry air may close a gap.
    GapMayClose "gap-may-close";
    /// Track is fed through rail joiners that may open.
    RestsOnJoiners "rests-on-joiners";
    /// A trip cannot act on the fault that it is there for.
    TripNeverActs "trip-never-acts";
    /// A guard nearer to the supply acts before one nearer to the rails.
    TripOutOfOrder "trip-out-of-order";
    /// Auto-reversers race each other at a cut, or come too late or not at all.
    ReversersRace "reversers-race";
    /// Points are trailed that are set for another road, and that shorts.
    PointsAgainst "points-against";
    /// A frog has the wrong polarity for the road that is set.
    FrogWiredWrong "frog-wired-wrong";
    /// Live points, thrown, join the poles of a driver because a rail beyond the frog is fed.
    FedBeyondFrog "fed-beyond-frog";
    /// Drivers are shorted with no train in some positions of the selectors.
    StandingShort "standing-short";
    /// Not every joint position of the selectors could be looked at.
    SearchNotExhausted "search-not-exhausted";
    /// Track that leads back onto itself the other way round without a gap in both rails.
    LoopUncut "loop-uncut";
    /// Such track with both rails cut in one place only.
    LoopOneCut "loop-one-cut";
    /// Such track with room for a reversing section.
    UnbalancedLoop "unbalanced-loop";
    /// The control inputs make a throttle run backwards: full on at zero.
    ThrottleBackwards "throttle-backwards";
    /// A train bridges both ends of a section, and what lies beyond them does not fit.
    SectionTooShort "section-too-short";
    /// Two vehicles at two cuts join together what neither joins alone.
    TwoTrains "two-trains";
    /// A vehicle can stand where a rail under it is fed by nothing.
    DeadSpot "dead-spot";
    /// Live points and their contact join the poles of a driver for the moment between their movements.
    PointsMidThrow "points-mid-throw";
    /// A wheel reaches from one rail to the other at the end of a frog.
    WheelBridgesFrog "wheel-bridges-frog";
    /// An open live point lies so near to its stock rail that the backs of wheels touch it.
    OpenPoint "open-point";
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl Serialize for Kind {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.word())
    }
}

/// Peak of the magnitude, signed mean, mean of the magnitude, RMS. A.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Current {
    /// Largest magnitude.
    pub peak: f64,
    /// Signed mean: what an averaging meter shows.
    pub mean: f64,
    /// Mean of the magnitude.
    pub mean_abs: f64,
    /// Root of the mean square: what a true-RMS meter shows.
    pub rms: f64,
}

/// A driver's setting in a situation.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SetState {
    /// What it is set to.
    pub state: SetWord,
    /// Throttle from 0 to 1.
    pub throttle: f64,
}

/// Which end of the vehicle leads from `blocks[0]` into `blocks[1]`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Facing {
    /// The front points to `blocks[1]`.
    AToB,
    /// The front points to `blocks[0]`.
    BToA,
}

/// Whether the vehicle moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Motion {
    /// Rolling over the cut.
    Moving,
    /// Standing on it.
    Standing,
}

/// Whether a trip acts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Default)]
#[serde(rename_all = "kebab-case")]
pub enum Trips {
    /// Never.
    #[default]
    No,
    /// In some passes.
    Sometimes,
    /// In every pass.
    Yes,
}

/// Rails joined by a vehicle.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Join {
    /// The rail, as seen from the start of the cut's run.
    pub side: SideWord,
    /// The nets that are joined.
    pub nets: Vec<NetId>,
    /// Contact resistance from each of them to the pickup, Ω.
    pub contact_ohm: Vec<f64>,
    /// Which group of joined pickups: joins of one group and side meet, those of different groups do not.
    #[serde(skip_serializing_if = "is_zero")]
    pub group: usize,
    /// In a train, the vehicles whose pickups the group is.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub vehicles: Vec<VehicleId>,
}

#[allow(clippy::trivially_copy_pass_by_ref)]
fn is_zero(number: &usize) -> bool {
    *number == 0
}

/// A rail, in reports.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum SideWord {
    Left,
    Right,
}

/// Which rails are cut, in reports.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum RailsWord {
    Both,
    Left,
    Right,
}

impl From<Rail> for SideWord {
    fn from(rail: Rail) -> Self {
        match rail {
            Rail::Left => SideWord::Left,
            Rail::Right => SideWord::Right,
        }
    }
}

/// A joint state of the drivers and its share of time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JointState {
    /// Share of time, 0 to 1.
    pub share: f64,
    /// State of each driver.
    pub drivers: BTreeMap<DriverId, StateWord>,
}

/// What one driver carries in a situation.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DriverFigures {
    /// The driver.
    pub id: DriverId,
    /// Current leaving output P.
    pub p: Current,
    /// Current leaving output M.
    pub m: Current,
    /// Current drawn from the positive pole.
    pub supply: Current,
    /// Current where its trip senses, if it has one.
    pub sensed: Option<Current>,
    /// Highest voltage of its positive pole over its negative pole, V.
    pub positive_pole_v: Option<f64>,
    /// Whether its trip acts.
    pub trips: Trips,
    /// Share of phases in which it acts.
    pub trips_share: f64,
    /// Time from the start of the straddle until it acts at the worst phase, s.
    pub trip_after_s: Option<f64>,
}

/// What one device of the feed chain carries in a situation.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DeviceFigures {
    /// The device.
    pub id: DeviceId,
    /// Current in the larger of its poles.
    pub current: Current,
    /// Whether it acts: opens, or exchanges its poles.
    pub trips: Trips,
    /// Share of phases in which it acts.
    pub trips_share: f64,
    /// Time from the start of the straddle until it acts at the worst phase, s.
    pub trip_after_s: Option<f64>,
}

/// What goes on once the drivers and devices whose trips are first have gone to what they do after a trip.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AfterFirst {
    /// Whether the conflict goes on.
    pub conflict: bool,
    /// Largest current in any leg of any driver then, A.
    pub peak_a: f64,
    /// Drivers whose trips then act.
    pub trips: Vec<DriverId>,
    /// Devices that then act.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub devices: Vec<DeviceId>,
}

/// A selector in a position.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct SelectorAt {
    /// The selector.
    #[serde(serialize_with = "as_text")]
    pub id: SelectorId,
    /// Its position, counted from 0.
    pub position: u32,
}

fn as_text<S: serde::Serializer>(id: &SelectorId, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(id)
}

fn all_as_text<S: serde::Serializer>(ids: &[SelectorId], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(ids.iter().map(ToString::to_string))
}

/// A situation at a cut: a vehicle over it, the drivers set in one way, and what flows.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Situation {
    /// Judgement.
    pub verdict: Verdict,
    /// (threshold − figure) / threshold of what decided; negative beyond it; null where there is no threshold.
    pub margin: Option<f64>,
    /// The vehicle; null only where the layout has no vehicle and the tool's own stand-in straddles.
    pub vehicle: Option<VehicleId>,
    /// The train that the vehicle is in, where it is the train that stands there: facing and position are then its own.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub train: Option<TrainId>,
    /// Its facing.
    pub facing: Facing,
    /// How far its front is past the cut, mm, at the start of the straddle that is judged.
    pub position_mm: f64,
    /// Moving or standing.
    pub motion: Motion,
    /// Speed when moving.
    pub speed_mm_s: Option<f64>,
    /// Share of time in conflict.
    pub share: f64,
    /// Longest unbroken conflict, s; null when it lasts as long as the vehicle stands.
    pub longest_s: Option<f64>,
    /// Least and largest share of time in conflict, where one clock holds a phase that nobody knows; else null.
    pub share_range: Option<[f64; 2]>,
    /// Time until the inductance of wires and rails lets 95 % of the resistive peak through, s: in a shorter conflict
    /// the peak is an upper bound. Null without a conflict.
    pub resistive_after_s: Option<f64>,
    /// Settings of the drivers.
    pub settings: BTreeMap<DriverId, SetState>,
    /// Positions of the selectors that matter there; empty where none do.
    pub selectors: Vec<SelectorAt>,
    /// Joined rails.
    pub joins: Vec<Join>,
    /// Joint states and their shares.
    pub states: Vec<JointState>,
    /// Currents with the vehicle's load removed, contacts at their low end.
    pub drivers: Vec<DriverFigures>,
    /// What the devices on the way from the drivers carry, likewise.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub devices: Vec<DeviceFigures>,
    /// Drivers beside the two sides that were held in their drive state, because too many take part for every joint state
    /// to be looked at: the figures are then not exhaustive.
    pub held: Vec<DriverId>,
    /// Drivers whose trip is first.
    pub first: Vec<DriverId>,
    /// Devices that act first, beside those drivers.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub first_devices: Vec<DeviceId>,
    /// Whether those devices are auto-reversers that end the conflict: the verdict is that of afterwards, the currents are
    /// those of before.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub resolved: bool,
    /// Auto-reversers that have acted before all of this, because they end a part of the conflict.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub exchanged: Vec<DeviceId>,
    /// What goes on after those have tripped; null where nothing trips.
    pub after_first: Option<AfterFirst>,
    /// The same with the vehicle's load.
    pub loaded: Option<Vec<DriverFigures>>,
}

impl Situation {
    /// Largest current in any leg of any driver, A.
    pub fn peak_a(&self) -> f64 {
        self.drivers.iter().map(|d| d.p.peak.max(d.m.peak)).fold(0.0, f64::max)
    }
}

/// A block, in reports.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BlockReport {
    /// Identity.
    pub id: BlockId,
    /// The user's name, or a made one.
    pub name: String,
    /// Drivers on it.
    pub drivers: Vec<DriverId>,
    /// Length of its track, mm.
    pub length_mm: f64,
}

/// One cell of the gap card: a setting on each side, and what happens.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CardCell {
    /// Setting of the first block's driver.
    pub a: SetWord,
    /// Setting of the second block's driver.
    pub b: SetWord,
    /// How the settings stand to each other.
    pub relation: Relation,
    /// The worst situation over all throttles.
    pub situation: Situation,
}

/// How one vehicle passes a cut.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PassReport {
    /// The vehicle; null for the tool's own stand-in.
    pub vehicle: Option<VehicleId>,
    /// The train, where it is a train that passes: the vehicle is one of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub train: Option<TrainId>,
    /// How far it rolls with its pickups on both sides, mm.
    pub straddle_mm: f64,
    /// Wheels that pick up on each side of the cut, left and right rail: the fewest that must touch for the joint to be.
    pub wheels: [Vec<u32>; 2],
    /// At its least speed.
    pub slow: PassAt,
    /// At its largest speed.
    pub fast: PassAt,
    /// Standing there.
    pub standing: PassAt,
}

/// Whether a trip acts in a pass.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PassAt {
    /// Speed, mm/s; null when standing.
    pub speed_mm_s: Option<f64>,
    /// Time over the cut, s; null when standing.
    pub time_s: Option<f64>,
    /// Whether a trip acts.
    pub trips: Trips,
    /// In which share of phases.
    pub trips_share: f64,
}

/// How the settings of the two sides of a cut stand to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Relation {
    /// They carry a train on through the gap.
    Agree,
    /// They do not.
    Disagree,
    /// One side is off or unpowered beside a live one.
    OneDead,
}

/// A cut, in reports.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CutReport {
    /// Identity.
    pub id: CutId,
    /// The user's name, or a made one.
    pub name: String,
    /// The block on the lower-distance side, then the other.
    pub blocks: [BlockId; 2],
    /// Rails cut.
    pub rails: RailsWord,
    /// The run it is in.
    pub run: RunId,
    /// Distance along it, mm.
    pub at_mm: f64,
    /// Worst over the settings that agree, any throttles.
    pub agree: Option<Situation>,
    /// Worst over the settings that disagree.
    pub disagree: Option<Situation>,
    /// Worst with one side dead.
    pub one_dead: Option<Situation>,
    /// Worst at the settings now.
    pub now: Situation,
    /// How each vehicle passes at the settings now.
    pub passes_now: Vec<PassReport>,
    /// How each vehicle passes at the worst of the agreeing settings.
    pub passes_agree: Vec<PassReport>,
    /// Every reachable pair of settings, the selectors as they stand now.
    pub card: Vec<CardCell>,
    /// Selectors that matter here and were left as they stand, because there are too many to try them all.
    #[serde(serialize_with = "all_as_text")]
    pub held_selectors: Vec<SelectorId>,
    /// Ways in which trains can stand there that were not looked at, because there are too many.
    #[serde(skip_serializing_if = "is_zero")]
    pub ways_left_out: usize,
}

/// How a driver's trip fails to see a fault.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Blind {
    /// More than the threshold passes where the trip does not look.
    LooksElsewhere {
        /// Peak of the larger leg, A.
        carried_a: f64,
        /// Peak where it senses, A.
        sensed_a: f64,
    },
    /// The supply gives up below the threshold.
    SupplyGivesUpFirst {
        /// Sustained limit of the supply, A.
        limit_a: f64,
    },
}

/// Something in a chain that guards against a fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum GuardId {
    /// A device.
    Device(DeviceId),
    /// The trip of a driver.
    Driver(DriverId),
    /// The sustained limit of a supply.
    Supply(SupplyId),
}

/// How auto-reversers fail at a cut.
#[derive(Debug, Clone, PartialEq)]
pub enum Reversing {
    /// One on each side: both act on one fault. When each has acted, s.
    Race([(DeviceId, Option<f64>); 2]),
    /// The current of the fault does not make it act.
    Unseen {
        /// The auto-reverser.
        device: DeviceId,
        /// Its threshold, A.
        threshold_a: f64,
        /// What it carries, A.
        carried_a: f64,
    },
    /// Something above it in its chain, or beside it, is there before it.
    TooLate {
        /// The auto-reverser.
        device: DeviceId,
        /// When it would have acted, s.
        after_s: Option<f64>,
        /// What acts before it.
        before: GuardId,
        /// When that acts, s.
        before_s: Option<f64>,
    },
}

/// What bounds a current that flows for ever.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    /// The trip's threshold.
    Trip,
    /// A breaker or a fuse between the driver and the wire.
    Guard,
    /// The supply's sustained limit.
    Limit,
    /// The resistance of a dead short at the feeders.
    Bolted,
}

/// A rating that a fault exceeds for ever.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Beyond {
    /// The driver bears so much, A.
    Driver(f64),
    /// The wires of a feed carry so much and bear so much, A.
    Wire(FeedId, f64, f64),
}

/// A dead short at the far end of a block that is fed for ever.
#[derive(Debug, Clone, PartialEq)]
pub struct CoinEvidence {
    /// The driver.
    pub driver: DriverId,
    /// Where the coin lies.
    pub run: RunId,
    /// Distance along the run, mm.
    pub at_mm: f64,
    /// Rail between it and the nearest feeders, on the two rails, mm.
    pub rail_mm: [f64; 2],
    /// The settings at which nothing ends it, the worst first.
    pub settings: Vec<SetState>,
    /// In the driver's larger leg, at the worst of them.
    pub leg: Current,
    /// Where its trip senses.
    pub sensed: Option<Current>,
    /// The trip's threshold, A.
    pub threshold_a: Option<f64>,
    /// Breakers and fuses on the way, and what each waits for, A.
    pub guards: Vec<(DeviceId, f64)>,
    /// What the supply gives, A.
    pub supply_a: f64,
    /// Whether the supply is at its limit, less what else it feeds.
    pub limited: bool,
    /// Ratings that are exceeded.
    pub beyond: Vec<Beyond>,
    /// Values whose ranges leave it open: the entity (`None`: the layout) and the field.
    pub measure: Vec<(Option<EntityId>, &'static str)>,
}

/// A stretch of a run as something passes it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Along {
    /// The run.
    pub run: RunId,
    /// Where the stretch starts, mm along the run.
    pub from_mm: f64,
    /// Where it ends, mm.
    pub to_mm: f64,
    /// How it is passed.
    pub way: Way,
}

/// A way once round that comes back on the other rail.
#[derive(Debug, Clone, PartialEq)]
pub struct Round {
    /// What it leads over, in order.
    pub along: Vec<Along>,
    /// Cuts in both rails that it passes, in order.
    pub cuts: Vec<CutId>,
    /// Cuts in one rail that it passes.
    pub one_rail: Vec<CutId>,
    /// Turntables over whose bridges it leads.
    pub bridges: Vec<SpecialId>,
    /// Its length, mm.
    pub length_mm: f64,
}

/// The longest of what rolls on the layout, in some respect. Neither train nor vehicle: the tool's own stand-in.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Longest {
    /// How long, mm.
    pub mm: f64,
    /// The train.
    pub train: Option<TrainId>,
    /// The vehicle, if it is one by itself.
    pub vehicle: Option<VehicleId>,
}

/// Two ends of a block that are nearest to each other for a train.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EndsApart {
    /// How far it is from one to the other, mm.
    pub mm: f64,
    /// Whether that is out of the block and back into it, across others.
    pub across: bool,
}

/// What can reverse a block against its neighbours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reversal {
    /// A turntable that exchanges the rails of its bridge by itself.
    Bridge(SpecialId),
    /// An auto-reverser.
    AutoReverser(DeviceId),
    /// A reversing switch of its own.
    Switch(DeviceId),
    /// A driver of its own.
    Driver(DriverId),
}

impl Reversal {
    /// What acts by itself comes before what is thrown, that before what is driven.
    pub fn rank(&self) -> u8 {
        match self {
            Reversal::Bridge(_) => 0,
            Reversal::AutoReverser(_) => 1,
            Reversal::Switch(_) => 2,
            Reversal::Driver(_) => 3,
        }
    }
}

/// Why a block cannot be a reversing section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Unfit {
    /// Trains bridge two of its ends at once.
    Short(EndsApart),
    /// It shares a rail with another block.
    Shares,
}

/// Which blocks can be reversing sections of some unbalanced loops that have to do with each other.
#[derive(Debug, Clone, PartialEq)]
pub struct LoopSections {
    /// The loops.
    pub rounds: Vec<Round>,
    /// Smallest sets of blocks that can be the sections, in order.
    pub sets: Vec<Vec<BlockId>>,
    /// No set is smaller.
    pub at_least: usize,
    /// Whether all smallest sets are listed.
    pub all: bool,
    /// Whether the search came to its end.
    pub exhaustive: bool,
    /// The set that can be reversed as the layout is wired: each block with what reverses it.
    pub reversed: Vec<(BlockId, Reversal)>,
    /// How far the ends of blocks in sets lie apart.
    pub apart: BTreeMap<BlockId, EndsApart>,
    /// Blocks that cannot be sections.
    pub unfit: Vec<(BlockId, Unfit)>,
    /// The most that can bridge cuts.
    pub longest: Longest,
    /// Whether any of it is fed by DC, and by DCC.
    pub fed_by: [bool; 2],
    /// If the loops are nothing but the half turns of one turntable: that.
    pub turntable: Option<SpecialId>,
}

/// Where two rails of special work come near to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Narrow {
    /// Beyond a frog, seen from the joint: treads reach across.
    BeyondFrog,
    /// Before it: the backs of wheels touch.
    BeforeFrog,
    /// An open point and its stock rail: the backs of wheels touch.
    OpenPoint,
}

/// What a finding rests on: typed numbers, no words.
#[derive(Debug, Clone, PartialEq)]
pub enum Evidence {
    /// A situation at a cut.
    Crossing {
        /// The situation.
        situation: Box<Situation>,
        /// How the settings stand to each other; `None` where one side has no driver.
        relation: Option<Relation>,
        /// Whether it is the situation set now.
        now: bool,
        /// Worst verdict with both rails joined, with only the left, with only the right.
        by_join: [Option<Verdict>; 3],
        /// Whether the conflict needs an idle part (otherwise both drive).
        idles: Vec<(DriverId, StateWord)>,
    },
    /// A pole lifted or fed.
    BackFeed {
        /// The situation.
        situation: Box<Situation>,
        /// How the settings stand to each other.
        relation: Option<Relation>,
        /// Supplies whose pole is lifted: from and to, V.
        lifted: Vec<(SupplyId, f64, f64)>,
        /// Supplies that take current back, A.
        sunk: Vec<(SupplyId, f64)>,
    },
    /// A pole charged at the moment of joining.
    Inrush {
        /// The supply.
        supply: SupplyId,
        /// From which voltage, V.
        from_v: f64,
        /// To which voltage, V.
        to_v: f64,
        /// Current at once, A.
        amps: f64,
        /// Time constant, s.
        tau_s: f64,
        /// Drivers that it trips.
        trips: Vec<DriverId>,
        /// How the settings stand to each other.
        relation: Relation,
    },
    /// Shares of drive: first side, second side, both together.
    Surge([f64; 3]),
    /// Drivers that conflict with no train on the track.
    Fight {
        /// What flows.
        situation: Box<Situation>,
        /// Whether they do so at the settings now.
        now: bool,
    },
    /// Current with no train in a set of positions (those of the finding).
    Standing {
        /// What flows.
        situation: Box<Situation>,
        /// Whether the selectors stand so now.
        now: bool,
        /// How many further sets of positions of the same drivers are not told one by one.
        more: usize,
    },
    /// One wheel on two rails that come too near to each other (in the position of the finding).
    OneWheel {
        /// What flows.
        situation: Box<Situation>,
        /// Where.
        narrow: Narrow,
        /// Whether the points stand so now.
        now: bool,
        /// Clear width between the two rails where they are nearest, mm.
        apart_mm: f64,
        /// Width that the wheel needs there to touch one of them only, mm.
        needs_mm: f64,
        /// How far it rolls with both, mm.
        stretch_mm: f64,
    },
    /// A search that hit its limit.
    NotExhausted,
    /// Drivers that feed one block at once when selectors stand as told.
    FightAt {
        /// What flows, if they conflict.
        situation: Option<Box<Situation>>,
        /// Devices that stand differently than now, and how.
        positions: Vec<(DeviceId, u32)>,
    },
    /// Values whose ranges leave the verdict open: the entity (`None`: the layout) and the field.
    Open {
        /// The situation.
        situation: Box<Situation>,
        /// What to measure.
        measure: Vec<(Option<EntityId>, &'static str)>,
    },
    /// A trip that does not see the fault.
    Blind {
        /// The driver.
        driver: DriverId,
        /// Its threshold, A.
        threshold_a: f64,
        /// How.
        blind: Blind,
    },
    /// Guards of one chain that act in the wrong order in a dead short of its blocks.
    OutOfOrder {
        /// The one nearer to the rails, which should be first.
        lower: GuardId,
        /// The one nearer to the supply.
        upper: GuardId,
        /// Current through the lower one in the short, A.
        amps: f64,
        /// When the lower one acts, s; `None` if it does not.
        lower_s: Option<f64>,
        /// When the upper one acts, s; `None` for a supply that holds its limit.
        upper_s: Option<f64>,
        /// Blocks that the upper one takes down.
        takes_down: Vec<BlockId>,
    },
    /// Auto-reversers that do not do their work at a cut.
    Reversers {
        /// The situation.
        situation: Box<Situation>,
        /// What fails.
        how: Reversing,
    },
    /// A dead short at the far end of a block.
    Coin(Box<CoinEvidence>),
    /// Wires that are too thin for what may flow in them for ever.
    Wire {
        /// The feeds whose wires they are, the thinnest first.
        feeds: Vec<FeedId>,
        /// What may flow for ever, A.
        amps: f64,
        /// What bounds that.
        bound: Bound,
        /// What the thinnest may carry, A.
        bears_a: f64,
        /// Whether the range of the bound leaves it open.
        open: bool,
    },
    /// Voltage that wires and rails take at the far end of a block.
    Drop {
        /// Where.
        run: RunId,
        /// Distance along the run, mm.
        at_mm: f64,
        /// Load, A.
        load_a: f64,
        /// Resistance of wires and rails there and back, Ω.
        wires_ohm: f64,
        /// The supply's open-circuit voltage, V.
        open_v: f64,
    },
    /// What the drivers on a supply can ask of it.
    Asked {
        /// The supply.
        supply: SupplyId,
        /// Its sustained limit, A.
        limit_a: f64,
        /// What its drivers can draw together, A: ratings, or trips where those are lower.
        asked_a: f64,
        /// What one train on each of them draws, A; `None` where no vehicle has a load.
        trains_a: Option<f64>,
    },
    /// A gap that may close.
    Closure {
        /// The rails in which it may.
        rails: Vec<SideWord>,
        /// Length of rail that moves towards the gap, m.
        free_m: f64,
        /// From which temperature, °C.
        from_c: f64,
        /// To which temperature, °C.
        to_c: f64,
        /// Growth of the rail, mm.
        rail_mm: f64,
        /// Movement of the benchwork, mm.
        benchwork_mm: f64,
        /// Width of the cut, mm.
        width_mm: f64,
    },
    /// Rail joiners that a block is fed through.
    Joiners {
        /// Joints, with the length of track that is dead once their joiners open, mm; the most first.
        dead: Vec<(JointId, f64)>,
        /// Joints whose opening leaves all track fed, but by so long a way that the coin test fails.
        coin: Vec<JointId>,
    },
    /// Directions in which a driver's throttle runs backwards.
    Backwards {
        /// The driver.
        driver: DriverId,
        /// When set forward.
        forward: bool,
        /// When set in reverse.
        reverse: bool,
    },
    /// A loop that nothing but more cuts can cure.
    Loop {
        /// The loop.
        round: Round,
        /// The most that can bridge cuts.
        longest: Longest,
    },
    /// Loops with room for reversing sections.
    Sections(Box<LoopSections>),
    /// A block whose ends are bridged at once.
    TooShort {
        /// How far its ends lie apart.
        apart: EndsApart,
        /// What bridges them.
        longest: Longest,
        /// Whether it is to be a reversing section; otherwise it is a short block that a vehicle stands over.
        reversing: bool,
    },
    /// A place on the track, and how much track it concerns, mm.
    Place {
        /// Run.
        run: RunId,
        /// Distance along it, mm.
        at_mm: f64,
        /// Length of track concerned, mm.
        length_mm: f64,
    },
}

/// One thing wrong or worth knowing, with its evidence. Words are made from it by [`crate::report::words()`].
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Kind.
    pub kind: Kind,
    /// How it counts.
    pub class: Class,
    /// Its weight.
    pub verdict: Verdict,
    /// Cuts concerned, the main one first.
    pub cuts: Vec<CutId>,
    /// Special work at which it is, if it is not at a cut.
    pub special: Option<SpecialId>,
    /// Blocks concerned.
    pub blocks: Vec<BlockId>,
    /// Selectors concerned, in the positions in which it is so.
    pub selectors: Vec<SelectorAt>,
    /// Drivers concerned.
    pub drivers: Vec<DriverId>,
    /// Vehicle concerned.
    pub vehicle: Option<VehicleId>,
    /// What it rests on.
    pub evidence: Evidence,
}

impl Finding {
    /// A finding that is about nothing yet: no cuts, no blocks, no drivers.
    pub fn bare(kind: Kind, class: Class, verdict: Verdict, evidence: Evidence) -> Finding {
        Finding {
            kind,
            class,
            verdict,
            cuts: Vec::new(),
            special: None,
            blocks: Vec::new(),
            selectors: Vec::new(),
            drivers: Vec::new(),
            vehicle: None,
            evidence,
        }
    }
}

/// The result of a check.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Report {
    /// The worst verdict over findings of class fault.
    pub verdict: Verdict,
    /// Blocks, by identity.
    pub blocks: Vec<BlockReport>,
    /// Cuts, by identity.
    pub cuts: Vec<CutReport>,
    /// Findings, worst first.
    pub findings: Vec<Finding>,
}
