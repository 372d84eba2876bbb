//! The edits that make a layout as it would be with a fault.

use super::Fault;
use crate::layout::{
    Bond, BondId, Contact, ContactRange, CutId, Device, DeviceKind, Drive, Driver, DriverId, Edit,
    Feed, Frog, Idle, InputLine, InputLines, InputTable, Layout, Load, Made, Quantity, Rail, Rails,
    SharedNegative, SpecialId, Spot, SupplyId, Vehicle, Wheel, Work, default_cut_width_mm,
    default_tie_ohm, length_mm, wire,
};

/// Resistance of a bad contact in a feeder, Ω, in each leg (common practice, no source).
const BAD_OHM: f64 = 2.0;
/// Resistance between the sides of a vehicle with a short in it, Ω (common practice, no source).
const SHORT_OHM: f64 = 0.05;
/// Factor by which dirt raises a contact resistance (common practice, no source).
const DIRT: f64 = 10.0;

impl Fault {
    /// The edits that make the layout as it would be with the fault, in order. `None` if the fault is no change there.
    pub fn edits(&self, layout: &Layout) -> Option<Vec<Edit>> {
        let edits = match self {
            Fault::AsDrawn => Vec::new(),
            Fault::WiresExchanged(id) => {
                layout.feeds.get(id)?;
                vec![Edit::Swap { feed: *id }]
            }
            Fault::FeedsExchanged(a, b) => {
                let (a, b) = (layout.feeds.get(a)?, layout.feeds.get(b)?);
                if a.driver == b.driver {
                    return None;
                }
                let (mut to_a, mut to_b) = (a.clone(), b.clone());
                std::mem::swap(&mut to_a.driver, &mut to_b.driver);
                vec![Edit::Replace(to_a.into()), Edit::Replace(to_b.into())]
            }
            Fault::FeedElsewhere { feed, run, at_mm } => {
                let feed = layout.feeds.get(feed)?.clone();
                vec![Edit::Replace(Feed { run: *run, at_mm: *at_mm, ..feed }.into())]
            }
            Fault::Idle { drivers, idle } => idles(layout, drivers, *idle)?,
            Fault::LineInverted { driver, line } => vec![inverted(layout, *driver, *line)?],
            Fault::Bridged { cut, rails, spots } => bridged(layout, *cut, *rails, *spots)?,
            Fault::JoinerOpen { run, at_end, rail, .. } => {
                let length_mm = length_mm(layout, layout.runs.get(run)?);
                vec![Edit::Cut {
                    run: *run,
                    at_mm: if *at_end { length_mm } else { 0.0 },
                    rails: if *rail == Rail::Left { Rails::Left } else { Rails::Right },
                    width_mm: default_cut_width_mm(),
                    stagger_mm: 0.0,
                    made: Made::InsulatedJoiner,
                }]
            }
            Fault::WireOpen { feed, is_p } => {
                let mut feed = layout.feeds.get(feed)?.clone();
                let wire = if *is_p { &mut feed.p } else { &mut feed.m };
                wire.take()?;
                match (feed.p, feed.m) {
                    (None, None) => vec![Edit::Delete(vec![feed.id.into()])],
                    _ => vec![Edit::Replace(feed.into())],
                }
            }
            Fault::WireResists(id) => {
                let mut feed = layout.feeds.get(id)?.clone();
                let ohm = wire::feed_leg_ohm(&feed).value;
                feed.ohm = Some(Quantity::given(ohm + BAD_OHM));
                vec![Edit::Replace(feed.into())]
            }
            Fault::WiresTouch { feeds: [a, b], rails } => {
                let (a, b) = (layout.feeds.get(a)?, layout.feeds.get(b)?);
                let spot = |feed: &Feed, rail| Spot { run: feed.run, at_mm: feed.at_mm, rail };
                vec![bond(spot(a, rails[0]), spot(b, rails[1]))]
            }
            Fault::NegativesTied(a, b) => tied(layout, *a, *b)?,
            Fault::SupplyOff(id) => {
                layout.supplies.get(id).filter(|supply| supply.powered)?;
                vec![Edit::Power { supply: *id, on: false }]
            }
            Fault::SupplyVolts(id) => {
                let mut supply = layout.supplies.get(id)?.clone();
                supply.open_v = Quantity::given(supply.open_v.value * 1.5);
                supply.bearable_v = None;
                vec![Edit::Replace(supply.into())]
            }
            Fault::SupplySinks(id) => {
                let mut supply = layout.supplies.get(id).filter(|s| !s.can_sink)?.clone();
                supply.can_sink = true;
                vec![Edit::Replace(supply.into())]
            }
            Fault::TripAt { driver, is_low } => {
                let mut driver = layout.drivers.get(driver)?.clone();
                let trip = driver.trip.as_mut()?;
                let factor = if *is_low { 0.5 } else { 2.0 };
                trip.amps = Quantity::given(trip.amps.value * factor);
                vec![Edit::Replace(driver.into())]
            }
            Fault::DccExchanged(id) | Fault::DccLate(id) | Fault::DccOtherStation(id) => {
                vec![self.booster(layout, *id)?]
            }
            Fault::ReverserSlow(id) | Fault::ReverserBlind(id) => {
                vec![self.reverser(layout.devices.get(id)?)?]
            }
            Fault::SwitchAt { device, position } => {
                layout.devices.get(device).filter(|d| d.position != *position)?;
                vec![Edit::Throw { selector: (*device).into(), position: *position }]
            }
            Fault::PointsAt { special, position } => {
                layout.specials.get(special).filter(|s| s.position != *position)?;
                vec![Edit::Throw { selector: (*special).into(), position: *position }]
            }
            Fault::ContactExchanged(id) | Fault::ContactDead(id) => self.contact(layout, *id)?,
            Fault::WheelsMetal(id) => {
                let mut vehicle = layout.vehicles.get(id)?.clone();
                let wheels = vehicle.axles.iter_mut().flat_map(|a| [&mut a.left, &mut a.right]);
                let mut any = false;
                for wheel in wheels.filter(|wheel| **wheel == Wheel::Insulated) {
                    *wheel = Wheel::Pickup;
                    any = true;
                }
                any.then(|| vec![Edit::Replace(vehicle.into())])?
            }
            Fault::PickupsJoined { train, after } => {
                let mut train = layout.trains.get(train)?.clone();
                let coupled = train.vehicles.get_mut(*after).filter(|c| !c.joined)?;
                coupled.joined = true;
                vec![Edit::Replace(train.into())]
            }
            Fault::VehicleShort(id) => {
                let mut vehicle = layout.vehicles.get(id)?.clone();
                vehicle.load = Load::Resistor { ohm: Quantity::given(SHORT_OHM) };
                vec![Edit::Replace(vehicle.into())]
            }
            Fault::VehicleDirty(id) => vec![dirty(layout.vehicles.get(id)?)],
            Fault::RailDirty => layout.vehicles.values().map(dirty).collect(),
        };
        Some(edits)
    }

    fn booster(&self, layout: &Layout, id: DriverId) -> Option<Edit> {
        let mut driver = layout.drivers.get(&id)?.clone();
        let Drive::DccBooster { station, swapped, skew_s, .. } = &mut driver.drive else {
            return None;
        };
        match self {
            Fault::DccExchanged(_) => *swapped = !*swapped,
            Fault::DccLate(_) => *skew_s += 20e-6,
            _ => station.push_str(" (its own)"),
        }
        Some(Edit::Replace(driver.into()))
    }

    fn reverser(&self, device: &Device) -> Option<Edit> {
        let mut device = device.clone();
        let DeviceKind::AutoReverser { amps, acts_after_s, .. } = &mut device.kind else {
            return None;
        };
        match self {
            Fault::ReverserSlow(_) => *acts_after_s *= 50.0,
            _ => *amps = Quantity::given(amps.value * 5.0),
        }
        Some(Edit::Replace(device.into()))
    }

    fn contact(&self, layout: &Layout, id: SpecialId) -> Option<Vec<Edit>> {
        let mut special = layout.specials.get(&id)?.clone();
        let frog = special.work.frog().filter(|frog| frog.has_contact())?;
        let positions = special.work.positions();
        if let Fault::ContactDead(_) = self {
            let dead = match frog {
                Frog::PowerRoutingWithContact => Frog::PowerRouting,
                _ => Frog::Insulated,
            };
            set_frog(&mut special.work, dead);
            special.contact = Contact::default();
            return Some(vec![Edit::Replace(special.into())]);
        }
        // A contact in the position of the other road takes the other road's polarity.
        if positions != 2 || special.contact.position.is_some() {
            return None;
        }
        special.contact.position = Some(1 - special.position.min(1));
        Some(vec![Edit::Replace(special.into())])
    }
}

/// The edit that gives bridges an idle state. `None` if one of them is no bridge, or has it.
fn idles(layout: &Layout, drivers: &[DriverId], to: Idle) -> Option<Vec<Edit>> {
    let mut edits = Vec::new();
    for id in drivers {
        let mut driver = layout.drivers.get(id)?.clone();
        match &mut driver.drive {
            Drive::PwmBridge { idle, .. } | Drive::SplitHalfBridge { idle, .. } if *idle != to => {
                *idle = to;
            }
            _ => return None,
        }
        edits.push(Edit::Replace(driver.into()));
    }
    (!edits.is_empty()).then_some(edits)
}

/// The edit that inverts a control line. A bridge that is only said to coast is taken to have its PWM on the one input and
/// the other one low (TI DRV8870, SLVSCY8). `None` where the lines are not known.
fn inverted(layout: &Layout, id: DriverId, line: InputLine) -> Option<Edit> {
    let mut driver: Driver = layout.drivers.get(&id)?.clone();
    let Drive::PwmBridge { idle, .. } = &mut driver.drive else { return None };
    if *idle == Idle::HighImpedance {
        let low = |pwm| InputLines { pwm, other_high: false };
        *idle = Idle::ByInputs {
            table: InputTable::TwoInput,
            forward: low(InputLine::First),
            reverse: low(InputLine::Second),
            first_inverted: false,
            second_inverted: false,
        };
    }
    let Idle::ByInputs { first_inverted, second_inverted, .. } = idle else { return None };
    match line {
        InputLine::First => *first_inverted = !*first_inverted,
        InputLine::Second => *second_inverted = !*second_inverted,
    }
    Some(Edit::Replace(driver.into()))
}

/// A wire between two places.
fn bond(from: Spot, to: Spot) -> Edit {
    Edit::Add(Bond { id: BondId(0), from, to }.into())
}

/// Bonds over a gap from places before it to places after it. `None` if it has no gap in one of the rails.
fn bridged(layout: &Layout, id: CutId, rails: Rails, spots: [[Spot; 2]; 2]) -> Option<Vec<Edit>> {
    let cut = layout.cuts.get(&id)?;
    let [before, after] = spots;
    let wanted = Rail::BOTH.into_iter().zip(before.into_iter().zip(after));
    let wanted = wanted.filter(|(rail, _)| rails.has(*rail));
    wanted.map(|(rail, (before, after))| cut.rails.has(rail).then(|| bond(before, after))).collect()
}

/// The edit that ties two negative poles together. `None` if they are tied.
fn tied(layout: &Layout, a: SupplyId, b: SupplyId) -> Option<Vec<Edit>> {
    let (mut a, mut b) = (layout.supplies.get(&a)?.clone(), layout.supplies.get(&b)?.clone());
    let name = match (&a.negative, &b.negative) {
        (Some(of_a), Some(of_b)) if of_a.name == of_b.name => return None,
        (Some(tie), _) | (None, Some(tie)) => tie.name.clone(),
        (None, None) => format!("{} and {}", a.id, b.id),
    };
    let tie = SharedNegative { name, ohm: default_tie_ohm() };
    a.negative = Some(tie.clone());
    b.negative = Some(tie);
    Some(vec![Edit::Replace(a.into()), Edit::Replace(b.into())])
}

/// A vehicle with dirty wheels.
fn dirty(vehicle: &Vehicle) -> Edit {
    let ContactRange { low, high } = vehicle.contact_ohm;
    let contact_ohm = ContactRange { low: low * DIRT, high: high * DIRT };
    Edit::Replace(Vehicle { contact_ohm, ..vehicle.clone() }.into())
}

fn set_frog(work: &mut Work, to: Frog) {
    match work {
        Work::Turnout { frog, .. } | Work::Diamond { frog, .. } | Work::Slip { frog, .. } => {
            *frog = to;
        }
        Work::Turntable { .. } | Work::Traverser { .. } | Work::Buffer { .. } => {}
    }
}
