//! Jobs: changes to a layout as a builder does them, with their edits, their words and their cost.
//!
//! A job is a value. [`Job::edits`] gives the edits of the layout that do it, [`Job::words`] the line for a builder,
//! [`Job::work`] its cost. Whether a job cures anything is proved elsewhere.

mod edits;
mod inputs;
mod words;
mod work;

pub use edits::{new_device, new_reverser};
pub use inputs::coasting_inputs;
pub use words::{Names, also, is_plain};
pub use work::{Needs, Work, work};

use crate::layout::{
    CutId, Direction, DriverId, FeedId, Idle, JointId, LabelId, Origin, Rail, Rails, RunId, Senses,
    SpecialId, SupplyId, WireSize,
};

/// One change to a layout, as a builder does it.
#[derive(Debug, Clone, PartialEq)]
#[allow(missing_docs)]
pub enum Job {
    /// Turns a throttle's direction.
    Turn { driver: DriverId, direction: Direction },
    /// Sets a bridge's idle state to high-impedance.
    Coast(DriverId),
    /// Drives a bridge's control inputs in another way.
    DriveInputs { driver: DriverId, idle: Idle },
    /// Exchanges the phase of a booster.
    ExchangePhase(DriverId),
    /// Takes away what delays the signal of a booster.
    TakeDelayAway(DriverId),
    /// Lets a booster repeat the signal of a command station.
    FollowStation { driver: DriverId, station: String },
    /// Runs drivers from one PWM clock, in phase.
    OneClock(Vec<DriverId>),
    /// Sets a trip's threshold, A.
    TripAt { driver: DriverId, amps: f64 },
    /// Lets a trip sense elsewhere, in both directions.
    Sense { driver: DriverId, senses: Senses },
    /// Exchanges the two wires of a feed.
    ExchangeWires(FeedId),
    /// Takes a feed away.
    TakeFeedAway(FeedId),
    /// Joins the missing wire of a feed to a rail.
    CompleteFeed(FeedId),
    /// Adds a feed from a source. `p` is the rail that takes P.
    AddFeed { from: Origin, run: RunId, at_mm: f64, p: Rail },
    /// Adds a feed through a new reversing switch, or through a new auto-reverser. `p` is the rail that takes P.
    AddReversedFeed { from: Origin, run: RunId, at_mm: f64, p: Rail, automatic: bool },
    /// Adds a feed through a new cab selector that takes any of several sources. `p` is the rail that takes P.
    AddSelectedFeed { cabs: Vec<Origin>, run: RunId, at_mm: f64, p: Rail },
    /// Adds a feed through a new switch that takes the current away. `p` is the rail that takes P.
    AddSwitchedFeed { from: Origin, run: RunId, at_mm: f64, p: Rail },
    /// Puts a reversing switch, or an auto-reverser, between feeds and their one source.
    Reverse { feeds: Vec<FeedId>, automatic: bool },
    /// Adds one wire from a source to one rail: from its P output, or from M.
    AddWire { from: Origin, run: RunId, at_mm: f64, rail: Rail, is_p: bool },
    /// Adds a driver with a supply of its own: like another one, or a bridge that coasts when idle.
    AddDriver { name: String, like: Option<DriverId> },
    /// Puts one cab selector between feeds of a block and all their sources.
    SelectCab(Vec<FeedId>),
    /// Gives a feed thicker wires.
    Thicken { feed: FeedId, size: WireSize },
    /// Opens the tie of a supply's negative pole.
    OpenTie(SupplyId),
    /// Switches a supply on and off together with the others.
    SwitchTogether(SupplyId),
    /// Switches a driver on and off together with the others.
    DriverTogether(DriverId),
    /// Sets a supply to a voltage, or replaces it by one of that voltage, V.
    SetVolts { supply: SupplyId, volts: f64 },
    /// Gives a driver an isolated supply of its own, of the same values.
    OwnSupply(DriverId),
    /// Puts a resistor before a supply's bulk capacitance, Ω in all.
    LimitInrush { supply: SupplyId, ohm: f64 },
    /// Replaces a supply by one of a higher sustained limit, A.
    BiggerSupply { supply: SupplyId, amps: f64 },
    /// Cuts the other rail of a cut too.
    CutBoth(CutId),
    /// Cuts rails.
    AddCut { run: RunId, at_mm: f64, rails: Rails },
    /// Bridges a cut and makes it anew at another distance along its run, mm.
    MoveCut { cut: CutId, at_mm: f64 },
    /// Bridges a cut.
    BridgeCut(CutId),
    /// Widens a cut, mm.
    Widen { cut: CutId, width_mm: f64 },
    /// Fills a cut with something that does not conduct.
    Fill(CutId),
    /// Wires the contact of frogs so that it takes the polarity of the road that is set.
    WireContact(SpecialId),
    /// Couples the contact of frogs to the points.
    CoupleContact(SpecialId),
    /// Lets the contact of frogs break before the points move and make after they have moved.
    BreakBefore(SpecialId),
    /// Opens points wider, mm.
    OpenWider { special: SpecialId, open_mm: f64 },
    /// Bonds or solders the rail joiners of a joint.
    Bond(JointId),
    /// Takes a block name away.
    TakeNameAway(LabelId),
}
