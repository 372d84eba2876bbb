//! What stands on the drawing board: the entities of a layout, as the file holds them.
//!
//! Lengths are in mm of the model, times in s, electrical values in SI units unless the field's name says otherwise.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::chain::{Device, Origin};
use super::ids::{
    BondId, CutId, DeviceId, DriverId, FeedId, JointId, LabelId, LineupId, PictureId, RunId,
    SpecialId, SupplyId, TrainId, VehicleId,
};
use super::lineup::Lineup;
use super::picture::Picture;
use super::quantity::Quantity;
use super::special::{Bond, Special};
use super::trip_curve::TripPoints;

/// One of the two rails of a run, as seen from the run's start.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Rail {
    /// The left-hand rail.
    Left,
    /// The right-hand rail.
    Right,
}

impl Rail {
    /// Both rails, left first.
    pub const BOTH: [Rail; 2] = [Rail::Left, Rail::Right];

    /// The rail on the other side.
    pub fn other(self) -> Rail {
        match self {
            Rail::Left => Rail::Right,
            Rail::Right => Rail::Left,
        }
    }
}

/// Which rails a cut goes through, as seen from the run's start.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Rails {
    /// Both rails.
    Both,
    /// The left-hand rail only.
    Left,
    /// The right-hand rail only.
    Right,
}

impl Rails {
    /// Whether the given rail is among them.
    pub fn has(self, rail: Rail) -> bool {
        match self {
            Rails::Both => true,
            Rails::Left => rail == Rail::Left,
            Rails::Right => rail == Rail::Right,
        }
    }
}

/// How the rail joiners of a joint are secured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum Joiners {
    /// Pushed on: metal that may work loose or corrode open. The rails can slide in it.
    #[default]
    Plain,
    /// Soldered to both rails, which can then not slide.
    Soldered,
    /// Bridged by a wire that is soldered to both rails, which can still slide.
    Bonded,
}

/// A place where run ends meet, or where a run ends.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Joint {
    /// Identity.
    pub id: JointId,
    /// Position on the plan, mm to the right.
    pub x_mm: f64,
    /// Position on the plan, mm upwards.
    pub y_mm: f64,
    /// How its rail joiners are secured.
    #[serde(default, skip_serializing_if = "is_default")]
    pub joiners: Joiners,
}

/// The drawn shape of a run.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Shape {
    /// A straight line from joint to joint.
    #[default]
    Straight,
    /// A circular arc that turns by `bend_deg` between its ends; positive turns left. Magnitude above 0 and below 360.
    Arc {
        /// Total turn in degrees.
        bend_deg: f64,
    },
    /// A cubic Bézier curve through two control points on the plan, mm.
    Cubic {
        /// Control point near the start, `(x, y)`.
        c1: (f64, f64),
        /// Control point near the end, `(x, y)`.
        c2: (f64, f64),
    },
}

/// A stretch of track between two joints. It has a left and a right rail seen from its start, `from`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Run {
    /// Identity.
    pub id: RunId,
    /// Joint at which the run starts (distance 0).
    pub from: JointId,
    /// Joint at which it ends.
    pub to: JointId,
    /// Drawn shape.
    #[serde(default, skip_serializing_if = "is_default")]
    pub shape: Shape,
    /// Length measured on the real thing, mm; without it the drawn length counts. Distances along the run are in
    /// these mm, and the drawing stretches.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length_mm: Option<f64>,
}

/// How a cut is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Made {
    /// Sawn through the rail, left open.
    #[default]
    Open,
    /// Sawn and filled.
    Filled,
    /// An insulated joiner; stands at a joint.
    InsulatedJoiner,
}

/// A gap in one or both rails of a run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cut {
    /// Identity.
    pub id: CutId,
    /// A printable name; empty for none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// The run it is in.
    pub run: RunId,
    /// Distance along the run, mm, from 0 to the run's length. At 0 or at the length it stands at the joint.
    pub at_mm: f64,
    /// Which rails are cut.
    pub rails: Rails,
    /// Width of the opening along the rail, mm.
    #[serde(default = "default_cut_width_mm")]
    pub width_mm: f64,
    /// How much farther along the run the right rail is cut than the left, mm (negative: nearer). Only with both
    /// rails. The left rail is cut at `at_mm`.
    #[serde(default, skip_serializing_if = "is_default")]
    pub stagger_mm: f64,
    /// How it is made.
    #[serde(default, skip_serializing_if = "is_default")]
    pub made: Made,
    /// Temperature of the room when it was cut, °C, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cut_at_c: Option<f64>,
    /// Free words of the user.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub notes: String,
}

/// Width of a cut when the file does not say, mm (a thin cutting disc; common practice, no source).
pub fn default_cut_width_mm() -> f64 {
    0.8
}

/// A name that the user gives to whatever block is at a place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Label {
    /// Identity.
    pub id: LabelId,
    /// The name.
    pub name: String,
    /// Run on which the place is.
    pub run: RunId,
    /// Distance along it, mm.
    pub at_mm: f64,
}

/// What a supply does when asked for more than its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum LimitKind {
    /// Holds the current at the limit.
    #[default]
    Constant,
    /// Gives less current the harder it is loaded.
    FoldBack,
    /// Switches off and tries again.
    Hiccup,
}

/// The sustained current limit of a supply.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limit {
    /// Sustained current, A.
    pub amps: Quantity,
    /// What it does there.
    #[serde(default)]
    pub kind: LimitKind,
}

/// A tie of a supply's negative pole to something shared: a board's ground, mains earth, a booster common.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SharedNegative {
    /// Name of what it is tied to; supplies that name the same thing are joined there.
    pub name: String,
    /// Resistance of the tie, Ω.
    #[serde(default = "default_tie_ohm")]
    pub ohm: Quantity,
}

/// Resistance of a tie when the file does not say, Ω (a short length of wire and a terminal; common practice, no source).
pub fn default_tie_ohm() -> Quantity {
    Quantity::assumed(0.02, 0.005, 0.1)
}

/// A power supply.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Supply {
    /// Identity.
    pub id: SupplyId,
    /// A printable name; empty for none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// Open-circuit voltage, V. Of each half, if it is split.
    pub open_v: Quantity,
    /// Source resistance, Ω. Of each half, if it is split.
    pub source_ohm: Quantity,
    /// Sustained current limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit: Option<Limit>,
    /// Bulk capacitance, F.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bulk_f: Option<Quantity>,
    /// Series resistance of the bulk capacitance, Ω.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bulk_ohm: Option<Quantity>,
    /// Whether it can take current back (a battery can, an ordinary regulated supply cannot).
    #[serde(default)]
    pub can_sink: bool,
    /// What its negative pole is tied to; without it the supply is isolated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub negative: Option<SharedNegative>,
    /// Highest voltage that may stand between its poles, V.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bearable_v: Option<Quantity>,
    /// A split supply has a midpoint between two equal halves.
    #[serde(default, skip_serializing_if = "is_default")]
    pub split: bool,
    /// Whether it is switched on now.
    #[serde(default = "yes")]
    pub powered: bool,
    /// Whether operators switch it off by itself while others stay on.
    #[serde(default, skip_serializing_if = "is_default")]
    pub separately_switched: bool,
    /// Free words of the user.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub notes: String,
}

/// What the outputs of a PWM bridge do in the off part of the period.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Idle {
    /// Both low switches on: the rails are clamped together.
    BrakeLow,
    /// Both high switches on: the rails are clamped together.
    BrakeHigh,
    /// All switches off: only the body diodes conduct.
    HighImpedance,
    /// The other drive state; the throttle is the difference of the two parts.
    Opposed,
    /// Not stated: it follows from how the bridge's control inputs are driven. See [`crate::drive::input_states`].
    ByInputs {
        /// The chip's truth table.
        table: InputTable,
        /// How the inputs are driven when set forward.
        forward: InputLines,
        /// How they are driven when set in reverse.
        reverse: InputLines,
        /// Whether the first input's line is inverted on its way.
        #[serde(default)]
        first_inverted: bool,
        /// Whether the second input's line is inverted on its way.
        #[serde(default)]
        second_inverted: bool,
    },
}

/// Truth table of a bridge's two control inputs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum InputTable {
    /// Two inputs: 00 high-impedance, 01 reverse, 10 forward, 11 brake-low (TI DRV8870 data sheet SLVSCY8, table
    /// "H-Bridge Control").
    TwoInput,
    /// Enable (first) and phase (second): enable 0 brake-high, enable 1 forward or reverse by phase 1 or 0 (TI DRV8873
    /// data sheet SLVSET1).
    EnablePhase,
}

/// One of the two control inputs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum InputLine {
    /// The first.
    First,
    /// The second.
    Second,
}

/// How the control inputs are driven: one carries the PWM, the other a level.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InputLines {
    /// The input that carries the PWM: high for the throttle's fraction of the period.
    pub pwm: InputLine,
    /// Whether the other input is high.
    pub other_high: bool,
}

/// The clock that a driver's PWM or DCC signal is made from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Clock {
    /// Nominal frequency, Hz.
    pub hz: f64,
    /// How far the real frequency may be off, as a fraction (0.01 is one per cent).
    #[serde(default = "default_tolerance")]
    pub tolerance: f64,
    /// Name of the clock if several drivers run from the same one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shared: Option<String>,
    /// Known phase on that shared clock, as a fraction of the period (0 to 1); without it the phase is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub phase: Option<f64>,
}

/// Frequency tolerance when the file does not say: one per cent (ceramic resonators; common practice, no source).
pub fn default_tolerance() -> f64 {
    0.01
}

/// What a driver does over time. See the module documentation of [`crate::drive`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Drive {
    /// An H-bridge that switches on and off.
    PwmBridge {
        /// PWM clock.
        clock: Clock,
        /// State in the off part.
        idle: Idle,
    },
    /// A smooth DC throttle: a voltage of throttle × open-circuit voltage behind a resistance.
    SmoothDc {
        /// Output resistance, Ω, besides the supply's source resistance.
        output_ohm: Quantity,
        /// Whether it can take current back.
        #[serde(default)]
        can_sink: bool,
        /// Whether it clamps its rails together at zero throttle; otherwise they are open.
        #[serde(default)]
        clamped_at_zero: bool,
    },
    /// A DCC booster.
    DccBooster {
        /// Name of the command station it follows.
        station: String,
        /// Swapped against the station's signal.
        #[serde(default, skip_serializing_if = "is_default")]
        swapped: bool,
        /// Delay against the station's signal, s.
        #[serde(default, skip_serializing_if = "is_default")]
        skew_s: f64,
        /// Whether stretched zeros are allowed (a conventional locomotive is run on DCC).
        #[serde(default, skip_serializing_if = "is_default")]
        stretched_zeros: bool,
        /// How long its half-bits are.
        #[serde(default, skip_serializing_if = "is_default")]
        half_bits: HalfBits,
    },
    /// One half-bridge on a split supply: output to the rail, midpoint to the common rail (the feed's `m`).
    SplitHalfBridge {
        /// PWM clock.
        clock: Clock,
        /// State in the off part: high-impedance or opposed.
        idle: Idle,
    },
    /// Nothing: the rails float.
    Nothing,
}

/// The half-bits of a DCC signal that decide a verdict: the shortest and the longest.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HalfBits {
    /// Shortest half of a "1", s.
    #[serde(default = "default_shortest_one_s", skip_serializing_if = "is_shortest_one")]
    pub shortest_one_s: f64,
    /// Longest half of a "0", s. Without it the standard's: see [`HalfBits::zero_s`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub longest_zero_s: Option<f64>,
}

impl Default for HalfBits {
    fn default() -> Self {
        Self { shortest_one_s: default_shortest_one_s(), longest_zero_s: None }
    }
}

impl HalfBits {
    /// Longest half of a "0", s: as stated, else 100 µs, or 9.9 ms where zeros may be stretched (NMRA Standard S-9.1).
    pub fn zero_s(self, stretched: bool) -> f64 {
        self.longest_zero_s.unwrap_or(if stretched { 9.9e-3 } else { 100e-6 })
    }
}

/// 55 µs: the shortest half of a "1" that a command station may send (NMRA Standard S-9.1).
pub fn default_shortest_one_s() -> f64 {
    55e-6
}

#[allow(clippy::trivially_copy_pass_by_ref)]
fn is_shortest_one(value: &f64) -> bool {
    *value == default_shortest_one_s()
}

/// Where a trip senses current.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Senses {
    /// In the lead from the supply's positive pole.
    SupplyLead,
    /// In the lead back to the supply's negative pole.
    GroundReturn,
    /// In the P output.
    LegP,
    /// In the M output.
    LegM,
    /// In whichever output carries more.
    LargerLeg,
    /// In the high switch of P.
    HighSwitchP,
    /// In the low switch of P.
    LowSwitchP,
    /// In the high switch of M.
    HighSwitchM,
    /// In the low switch of M.
    LowSwitchM,
}

/// How a trip decides.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum TripKind {
    /// Acts when the threshold is exceeded for longer than a blanking time, s.
    Instant {
        /// Blanking time, s.
        blanking_s: f64,
    },
    /// Looks every `every_s`; acts after `in_a_row` readings above the threshold.
    Sampled {
        /// Time between readings, s.
        every_s: f64,
        /// How many in a row.
        in_a_row: u32,
        /// Locked to the driver's own PWM: readings are taken once per period at this fraction of it, and `every_s`
        /// counts as the nearest whole number of periods. Without it the sampler runs free.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        locked_at: Option<f64>,
    },
    /// Compares a first-order average with the threshold.
    Averaged {
        /// Time constant, s.
        tau_s: f64,
    },
    /// Warms up: a fuse, a resettable fuse, bimetal.
    Thermal {
        /// Its time–current curve, from the least current at which it ever acts: between points straight in logarithms,
        /// beyond the last with constant I²t.
        points: TripPoints,
    },
    /// Limits the current to the threshold cycle by cycle and never trips.
    Chopping,
}

impl TripKind {
    /// Beyond which multiple of the trip's `amps` it acts if that lasts for ever (a chopping one: limits).
    pub fn acts_beyond(&self) -> f64 {
        match self {
            TripKind::Thermal { points } => points.first().map_or(1.0, |point| point.times),
            _ => 1.0,
        }
    }
}

/// What a tripped driver does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum AfterTrip {
    /// Its outputs go to high-impedance.
    #[default]
    HighImpedance,
    /// It brakes with both low switches: it stays a clamp.
    BrakeLow,
    /// It brakes with both high switches: it stays a clamp.
    BrakeHigh,
}

/// Overcurrent trip of a driver.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Trip {
    /// Threshold, A; of a thermal trip the current of which its points are multiples: its rating.
    pub amps: Quantity,
    /// Where it senses.
    pub senses: Senses,
    /// Whether only current in the usual direction counts (out of an output, out of the supply); otherwise the magnitude.
    #[serde(default, skip_serializing_if = "is_default")]
    pub signed: bool,
    /// How it decides.
    pub kind: TripKind,
    /// What it does then.
    #[serde(default)]
    pub then: AfterTrip,
    /// Time until it tries again, s; without it, it latches until someone resets it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub retry_s: Option<f64>,
}

/// Direction of a driver's setting, by the driver's own label.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Direction {
    /// P positive.
    Forward,
    /// M positive.
    Reverse,
    /// Throttle at zero: a PWM bridge stays in its idle state.
    Stopped,
    /// A DCC booster that is sending.
    On,
    /// Outputs at high-impedance.
    Off,
}

/// Direction and speed now on a throttle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Setting {
    /// Direction.
    pub direction: Direction,
    /// Throttle from 0 to 1; of no account when stopped, on or off.
    #[serde(default)]
    pub throttle: f64,
}

/// A driver: two half-bridges (or their like) between a supply and the rails, with outputs P and M.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Driver {
    /// Identity.
    pub id: DriverId,
    /// A printable name; empty for none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// The supply it draws from.
    pub supply: SupplyId,
    /// What it does over time.
    pub drive: Drive,
    /// On-resistance of a high switch, Ω.
    pub high_ohm: Quantity,
    /// On-resistance of a low switch, Ω.
    pub low_ohm: Quantity,
    /// Forward voltage of a body diode, V.
    pub diode_v: Quantity,
    /// Series resistance of a body diode, Ω.
    pub diode_ohm: Quantity,
    /// Continuous current rating, A.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rating_a: Option<Quantity>,
    /// Overcurrent trip.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trip: Option<Trip>,
    /// Lowest throttle at which anything moves, 0 to 1.
    #[serde(default, skip_serializing_if = "is_default")]
    pub lowest_throttle: f64,
    /// Voltage between its poles at which its controller wakes up, V.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wake_v: Option<Quantity>,
    /// Whether operators switch it off by itself while others stay on.
    #[serde(default, skip_serializing_if = "is_default")]
    pub separately_switched: bool,
    /// Setting now.
    pub setting: Setting,
    /// Free words of the user.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub notes: String,
}

/// Cross-section of a wire.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum WireSize {
    /// American Wire Gauge number.
    Awg(u32),
    /// Cross-section in mm².
    Mm2(f64),
}

/// The pair of wires of a feed, one per leg.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wire {
    /// Size.
    pub size: WireSize,
    /// Length of one leg, m.
    pub length_m: f64,
    /// Current that it may carry indefinitely, A. Without it, see [`super::wire::may_carry_a`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rating_a: Option<Quantity>,
}

/// Feeders from a driver to the rails at a place on a run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Feed {
    /// Identity.
    pub id: FeedId,
    /// The driver, or the device through which it comes.
    pub driver: Origin,
    /// The run whose rails it goes to.
    pub run: RunId,
    /// Distance along it, mm.
    pub at_mm: f64,
    /// Rail to which P goes, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub p: Option<Rail>,
    /// Rail to which M goes, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub m: Option<Rail>,
    /// The wires; their resistance follows from size and length.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wire: Option<Wire>,
    /// Resistance of one leg, Ω; overrides the wire's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ohm: Option<Quantity>,
}

/// What one wheel does electrically.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum Wheel {
    /// Metal, and wired to the vehicle's pickups of its side.
    #[default]
    Pickup,
    /// Metal, but insulated from everything else.
    Metal,
    /// Does not conduct.
    Insulated,
}

/// A wheelset.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Axle {
    /// Distance from the front coupler, mm.
    pub at_mm: f64,
    /// Wheel on the left, seen from the vehicle's rear towards its front.
    #[serde(default)]
    pub left: Wheel,
    /// Wheel on the right.
    #[serde(default)]
    pub right: Wheel,
}

/// What a vehicle draws between its left and its right pickups.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Load {
    /// Nothing.
    #[default]
    Nothing,
    /// A resistance, Ω (lamps).
    Resistor {
        /// Resistance, Ω.
        ohm: Quantity,
    },
    /// A motor: winding resistance and a back-EMF that opposes the driving voltage; `emf_v` is its magnitude.
    Motor {
        /// Winding resistance, Ω.
        ohm: Quantity,
        /// Back-EMF, V.
        emf_v: Quantity,
    },
    /// A bridge rectifier into a capacitor that holds a voltage (a decoder).
    Rectifier {
        /// Resistance in series, Ω.
        ohm: Quantity,
        /// Voltage of the capacitor plus two diode drops, V.
        volts: Quantity,
    },
}

/// Least and largest speed at which a vehicle passes gaps, mm/s.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SpeedRange {
    /// Least.
    pub from_mm_s: f64,
    /// Largest.
    pub to_mm_s: f64,
}

impl Default for SpeedRange {
    /// 30 to 400 mm/s: walking pace to main-line speed at 1:87 (common practice, no source).
    fn default() -> Self {
        Self { from_mm_s: 30.0, to_mm_s: 400.0 }
    }
}

/// A vehicle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Vehicle {
    /// Identity.
    pub id: VehicleId,
    /// A printable name; empty for none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// Length over couplers, mm.
    pub length_mm: f64,
    /// Wheelsets, front to rear.
    pub axles: Vec<Axle>,
    /// What it draws.
    #[serde(default)]
    pub load: Load,
    /// Contact resistance of one wheel on the rail, Ω: clean to dirty.
    #[serde(default = "default_contact_ohm")]
    pub contact_ohm: ContactRange,
    /// Speeds at which it passes gaps.
    #[serde(default)]
    pub speed: SpeedRange,
    /// Length of the contact patch of a wheel, mm.
    #[serde(default = "default_patch_mm")]
    pub patch_mm: f64,
    /// Current that its pickup wiring bears, A.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wiring_a: Option<Quantity>,
    /// Whether all pickups of one side are joined. Otherwise every wheelset feeds a load of its own, and the vehicle
    /// joins nothing that one wheel does not.
    #[serde(default = "yes", skip_serializing_if = "is_yes")]
    pub pickups_joined: bool,
    /// Width of a wheel's tread, mm.
    #[serde(default = "default_tread_mm")]
    pub tread_mm: f64,
    /// Free words of the user.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub notes: String,
}

/// Contact resistance per wheel varies as the train rolls: low for the peak, high for "does it trip at all".
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ContactRange {
    /// Least, Ω.
    pub low: f64,
    /// Largest, Ω.
    pub high: f64,
}

/// 0.02 to 0.5 Ω (common practice, no source).
pub fn default_contact_ohm() -> ContactRange {
    ContactRange { low: 0.02, high: 0.5 }
}

/// 0.5 mm (common practice, no source).
pub fn default_patch_mm() -> f64 {
    0.5
}

/// 2.8 mm: the wheels of 1:87 with a wide tread (common practice, no source).
pub fn default_tread_mm() -> f64 {
    2.8
}

/// A vehicle's place in a train.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Coupled {
    /// The vehicle. Several alike may stand for one description.
    pub vehicle: VehicleId,
    /// Whether its rear leads.
    #[serde(default, skip_serializing_if = "is_default")]
    pub turned: bool,
    /// Whether its pickups are joined, side by side, to those of the next vehicle across the coupler. Of no account at
    /// the rear of the train, and where the pickups of either vehicle are not joined among themselves.
    #[serde(default, skip_serializing_if = "is_default")]
    pub joined: bool,
}

/// Vehicles coupled in order. It runs at the speeds of its first vehicle that has a motor or a decoder, else of its
/// first vehicle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Train {
    /// Identity.
    pub id: TrainId,
    /// A printable name; empty for none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// Its vehicles, front to rear.
    pub vehicles: Vec<Coupled>,
    /// Free words of the user.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub notes: String,
}

/// Resistance of one rail, Ω per m, when the file does not say: nickel silver at about 6 % IACS (from memory) and a
/// section of 1.5 to 4 mm².
pub fn default_rail_ohm_per_m() -> Quantity {
    Quantity::assumed(0.1, 0.07, 0.2)
}

/// The room that the layout stands in, and what it does to rails and benchwork.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Climate {
    /// Lowest temperature, °C.
    #[serde(default = "default_coldest_c")]
    pub coldest_c: f64,
    /// Highest temperature, °C.
    #[serde(default = "default_hottest_c")]
    pub hottest_c: f64,
    /// Thermal growth of the rail, µm per m and K.
    #[serde(default = "default_rail_um_per_m_k")]
    pub rail_um_per_m_k: f64,
    /// How much the benchwork shrinks between the dampest and the driest air, mm per m.
    #[serde(default = "default_benchwork_mm_per_m")]
    pub benchwork_mm_per_m: f64,
}

impl Default for Climate {
    fn default() -> Self {
        Self {
            coldest_c: default_coldest_c(),
            hottest_c: default_hottest_c(),
            rail_um_per_m_k: default_rail_um_per_m_k(),
            benchwork_mm_per_m: default_benchwork_mm_per_m(),
        }
    }
}

/// 15 °C: a room in winter (common practice, no source).
pub fn default_coldest_c() -> f64 {
    15.0
}

/// 28 °C: a room in summer (common practice, no source).
pub fn default_hottest_c() -> f64 {
    28.0
}

/// Nickel silver C75200: 16.2 µm/m·K (from memory).
pub fn default_rail_um_per_m_k() -> f64 {
    16.2
}

/// 0.1 mm per m: framed softwood along the grain (common practice, no source).
pub fn default_benchwork_mm_per_m() -> f64 {
    0.1
}

/// A layout: everything that is drawn, cut, fed and set. A `Layout` that came out of [`super::load`] or of
/// [`super::edit::apply`] is valid: every reference leads somewhere and every value makes sense.
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
            next_id: 1,
        }
    }
}

fn yes() -> bool {
    true
}

#[allow(clippy::trivially_copy_pass_by_ref)]
fn is_yes(value: &bool) -> bool {
    *value
}

pub(super) fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}
