//! Faults: what could differ between the layout as drawn and the layout as it is.
//!
//! A fault is a change of the layout, and the check itself says what it does. None knows a symptom.

mod edits;
mod words;

use crate::layout::{
    CutId, DeviceId, DriverId, FeedId, Idle, InputLine, JointId, Rail, Rails, RunId, SpecialId,
    Spot, SupplyId, TrainId, VehicleId,
};

/// One way in which the layout may not be as drawn.
#[derive(Debug, Clone, PartialEq)]
#[allow(missing_docs)]
pub enum Fault {
    /// Nothing differs: what the check finds on the layout as drawn is the cause.
    AsDrawn,
    /// The two wires of a feed are exchanged.
    WiresExchanged(FeedId),
    /// Two feeds end where the other should.
    FeedsExchanged(FeedId, FeedId),
    /// A feed ends on the other side of the gap.
    FeedElsewhere { feed: FeedId, run: RunId, at_mm: f64 },
    /// Bridges do something else in the off part of their PWM: one of them, or all of one kind for one reason.
    Idle { drivers: Vec<DriverId>, idle: Idle },
    /// A control line of a bridge is inverted.
    LineInverted { driver: DriverId, line: InputLine },
    /// A gap is closed in one rail, or in both.
    /// `spots` are places on the left and the right rail before the gap, and after it.
    Bridged { cut: CutId, rails: Rails, spots: [[Spot; 2]; 2] },
    /// A rail joiner does not conduct. `run` ends at the joint, `at_end` says with which end.
    JoinerOpen { joint: JointId, run: RunId, at_end: bool, rail: Rail },
    /// A wire of a feed is open.
    WireOpen { feed: FeedId, is_p: bool },
    /// The wires of a feed have a bad contact, of 2 Ω a leg.
    WireResists(FeedId),
    /// Wires of two feeds touch, on the way to two rails.
    WiresTouch { feeds: [FeedId; 2], rails: [Rail; 2] },
    /// The negative poles of two supplies are joined.
    NegativesTied(SupplyId, SupplyId),
    /// A supply is off.
    SupplyOff(SupplyId),
    /// A supply gives half as much again.
    SupplyVolts(SupplyId),
    /// A supply takes current back.
    SupplySinks(SupplyId),
    /// A trip acts at half of its threshold, or at twice.
    TripAt { driver: DriverId, is_low: bool },
    /// The phase of a booster is exchanged.
    DccExchanged(DriverId),
    /// A booster is 20 µs late.
    DccLate(DriverId),
    /// A booster follows a command station of its own.
    DccOtherStation(DriverId),
    /// An auto-reverser takes fifty times as long.
    ReverserSlow(DeviceId),
    /// An auto-reverser acts only at five times its current.
    ReverserBlind(DeviceId),
    /// A switch of the feed chain stands elsewhere.
    SwitchAt { device: DeviceId, position: u32 },
    /// Points lie otherwise.
    PointsAt { special: SpecialId, position: u32 },
    /// The contact of a frog takes the polarity of the other road.
    ContactExchanged(SpecialId),
    /// The contact of a frog does not conduct.
    ContactDead(SpecialId),
    /// All wheels of a vehicle pick up.
    WheelsMetal(VehicleId),
    /// Pickups are joined across a coupling of a train.
    PickupsJoined { train: TrainId, after: usize },
    /// Something joins left and right inside a vehicle.
    VehicleShort(VehicleId),
    /// The wheels of a vehicle are dirty: contacts ten times as high.
    VehicleDirty(VehicleId),
    /// The rails at the gap are dirty: so for everything that comes.
    RailDirty,
}

/// The one change that ends a fault: faults with one repair are one class.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Repair(pub String);

impl Fault {
    /// Its name in the list of rates.
    pub fn kind(&self) -> &'static str {
        match self {
            Fault::AsDrawn => "as-drawn",
            Fault::WiresExchanged(_) => "wires-exchanged",
            Fault::FeedsExchanged(..) => "feeds-exchanged",
            Fault::FeedElsewhere { .. } => "feed-elsewhere",
            Fault::Idle { idle: Idle::BrakeHigh, .. } => "idle-high",
            Fault::Idle { idle: Idle::HighImpedance, .. } => "idle-coasts",
            Fault::Idle { idle: Idle::Opposed, .. } => "idle-opposed",
            Fault::Idle { idle: Idle::BrakeLow | Idle::ByInputs { .. }, .. } => "idle-low",
            Fault::LineInverted { .. } => "line-inverted",
            Fault::Bridged { .. } => "gap-bridged",
            Fault::JoinerOpen { .. } => "joiner-open",
            Fault::WireOpen { .. } => "wire-open",
            Fault::WireResists(_) => "wire-resists",
            Fault::WiresTouch { .. } => "wires-touch",
            Fault::NegativesTied(..) => "negatives-tied",
            Fault::SupplyOff(_) => "supply-off",
            Fault::SupplyVolts(_) => "supply-volts",
            Fault::SupplySinks(_) => "supply-sinks",
            Fault::TripAt { is_low: true, .. } => "trip-low",
            Fault::TripAt { is_low: false, .. } => "trip-high",
            Fault::DccExchanged(_) => "dcc-exchanged",
            Fault::DccLate(_) => "dcc-late",
            Fault::DccOtherStation(_) => "dcc-other-station",
            Fault::ReverserSlow(_) => "reverser-slow",
            Fault::ReverserBlind(_) => "reverser-blind",
            Fault::SwitchAt { .. } => "switch-at",
            Fault::PointsAt { .. } => "points-at",
            Fault::ContactExchanged(_) => "contact-exchanged",
            Fault::ContactDead(_) => "contact-dead",
            Fault::WheelsMetal(_) => "wheels-metal",
            Fault::PickupsJoined { .. } => "pickups-joined",
            Fault::VehicleShort(_) => "vehicle-short",
            Fault::VehicleDirty(_) => "vehicle-dirty",
            Fault::RailDirty => "rail-dirty",
        }
    }

    /// Its name in files and in JSON: its kind and what it is about.
    pub fn key(&self) -> String {
        let about = match self {
            Fault::AsDrawn | Fault::RailDirty => String::new(),
            Fault::WiresExchanged(id) | Fault::WireResists(id) => id.to_string(),
            Fault::FeedsExchanged(a, b) => format!("{a} {b}"),
            Fault::FeedElsewhere { feed, .. } => feed.to_string(),
            Fault::Idle { drivers, .. } => {
                drivers.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
            }
            Fault::LineInverted { driver, line } => format!("{driver} {}", line_word(*line)),
            Fault::Bridged { cut, rails, .. } => match rails {
                Rails::Both => cut.to_string(),
                Rails::Left => format!("{cut} left"),
                Rails::Right => format!("{cut} right"),
            },
            Fault::JoinerOpen { joint, rail, .. } => format!("{joint} {}", hand(*rail)),
            Fault::WireOpen { feed, is_p } => format!("{feed} {}", if *is_p { "P" } else { "M" }),
            Fault::WiresTouch { feeds: [a, b], rails: [left, right] } => {
                format!("{a} {} {b} {}", hand(*left), hand(*right))
            }
            Fault::NegativesTied(a, b) => format!("{a} {b}"),
            Fault::SupplyOff(id) | Fault::SupplyVolts(id) | Fault::SupplySinks(id) => {
                id.to_string()
            }
            Fault::TripAt { driver, .. } => driver.to_string(),
            Fault::DccExchanged(id) | Fault::DccLate(id) | Fault::DccOtherStation(id) => {
                id.to_string()
            }
            Fault::ReverserSlow(id) | Fault::ReverserBlind(id) => id.to_string(),
            Fault::SwitchAt { device, position } => format!("{device} {position}"),
            Fault::PointsAt { special, position } => format!("{special} {position}"),
            Fault::ContactExchanged(id) | Fault::ContactDead(id) => id.to_string(),
            Fault::WheelsMetal(id) | Fault::VehicleShort(id) | Fault::VehicleDirty(id) => {
                id.to_string()
            }
            Fault::PickupsJoined { train, after } => format!("{train} {after}"),
        };
        format!("{} {about}", self.kind()).trim_end().to_owned()
    }
}

fn line_word(line: InputLine) -> &'static str {
    match line {
        InputLine::First => "first",
        InputLine::Second => "second",
    }
}

fn hand(rail: Rail) -> &'static str {
    match rail {
        Rail::Left => "left",
        Rail::Right => "right",
    }
}
