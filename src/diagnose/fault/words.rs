//! Faults and their repairs in words.

use super::{Fault, Repair, hand, line_word};
use crate::job::Names;
use crate::layout::{EntityId, Idle, Rails, and, capital};

impl Fault {
    /// The fault as a sentence without its full stop.
    pub fn says(&self, names: Names) -> String {
        let thing = |id: EntityId| names.thing(id);
        match self {
            Fault::AsDrawn => "The layout is as drawn".into(),
            Fault::WiresExchanged(id) => {
                format!("The two wires of {} are exchanged", thing((*id).into()))
            }
            Fault::FeedsExchanged(a, b) => format!(
                "{} and {} each end where the other should",
                capital(&thing((*a).into())),
                thing((*b).into())
            ),
            Fault::FeedElsewhere { feed, .. } => {
                format!("{} ends on the other side of the gap", capital(&thing((*feed).into())))
            }
            Fault::Idle { drivers, idle } => {
                let who: Vec<String> = drivers.iter().map(|&id| thing(id.into())).collect();
                let verb = if who.len() == 1 { "" } else { "s" };
                let does = match idle {
                    Idle::BrakeLow | Idle::ByInputs { .. } => "braking with both low switches on",
                    Idle::BrakeHigh => "braking with both high switches on",
                    Idle::HighImpedance => "coasting, with all switches off",
                    Idle::Opposed => "driving the other way",
                };
                format!("{}: idle state{verb} {does}", capital(&and(&who)))
            }
            Fault::LineInverted { driver, line } => format!(
                "The {} control line of {} is inverted",
                line_word(*line),
                thing((*driver).into())
            ),
            Fault::Bridged { cut, rails, .. } => {
                let rails = match rails {
                    Rails::Both => "both rails",
                    Rails::Left => "the left rail",
                    Rails::Right => "the right rail",
                };
                format!("{} is closed in {rails}", capital(&thing((*cut).into())))
            }
            Fault::JoinerOpen { joint, rail, .. } => {
                format!("The joiner of the {} rail at joint {joint} does not conduct", hand(*rail))
            }
            Fault::WireOpen { feed, is_p } => format!(
                "The {} wire of {} is open",
                if *is_p { "P" } else { "M" },
                thing((*feed).into())
            ),
            Fault::WireResists(id) => {
                format!("{} has a bad contact", capital(&thing((*id).into())))
            }
            Fault::WiresTouch { feeds: [a, b], .. } => {
                format!("A wire of {} touches one of {}", thing((*a).into()), thing((*b).into()))
            }
            Fault::NegativesTied(a, b) => format!(
                "The negative poles of {} and {} are joined",
                thing((*a).into()),
                thing((*b).into())
            ),
            Fault::SupplyOff(id) => format!("{} is off", capital(&thing((*id).into()))),
            Fault::SupplyVolts(id) => {
                format!("{} gives more voltage than stated", capital(&thing((*id).into())))
            }
            Fault::SupplySinks(id) => {
                format!("{} takes current back", capital(&thing((*id).into())))
            }
            Fault::TripAt { driver, is_low } => format!(
                "The trip of {} acts at {} its stated current",
                thing((*driver).into()),
                if *is_low { "half" } else { "twice" }
            ),
            Fault::DccExchanged(id) => {
                format!("The phase of {} is exchanged", thing((*id).into()))
            }
            Fault::DccLate(id) => {
                format!("{} is late behind its station", capital(&thing((*id).into())))
            }
            Fault::DccOtherStation(id) => {
                format!("{} follows another command station", capital(&thing((*id).into())))
            }
            Fault::ReverserSlow(id) => format!("{} acts late", capital(&thing((*id).into()))),
            Fault::ReverserBlind(id) => {
                format!("{} does not see the short", capital(&thing((*id).into())))
            }
            Fault::SwitchAt { device, position } => {
                format!("{} stands in position {}", capital(&thing((*device).into())), position + 1)
            }
            Fault::PointsAt { special, .. } => {
                format!("{}: the points lie for another road", capital(&thing((*special).into())))
            }
            Fault::ContactExchanged(id) => format!(
                "The frog contact of {} takes the polarity of the other road",
                thing((*id).into())
            ),
            Fault::ContactDead(id) => {
                format!("The frog contact of {} does not conduct", thing((*id).into()))
            }
            Fault::WheelsMetal(id) => {
                format!("Wheels of {} that should be insulated conduct", thing((*id).into()))
            }
            Fault::PickupsJoined { train, .. } => {
                format!("Pickups of {} are joined across a coupling", thing((*train).into()))
            }
            Fault::VehicleShort(id) => {
                format!("Something joins the left and the right wheels of {}", thing((*id).into()))
            }
            Fault::VehicleDirty(id) => {
                format!("The wheels of {} are dirty", thing((*id).into()))
            }
            Fault::RailDirty => "The rails at this gap are dirty".into(),
        }
    }

    /// The repair that ends it.
    pub fn repair(&self, names: Names) -> Repair {
        let thing = |id: EntityId| names.thing(id);
        Repair(match self {
            Fault::AsDrawn => "Cure what the check finds at this gap.".into(),
            Fault::WiresExchanged(id) => {
                format!("Exchange the two wires of {}.", thing((*id).into()))
            }
            Fault::FeedsExchanged(a, b) => {
                format!("Exchange {} and {}.", thing((*a).into()), thing((*b).into()))
            }
            Fault::FeedElsewhere { feed, .. } => {
                format!("Move {} to the block that it is drawn on.", thing((*feed).into()))
            }
            Fault::Idle { drivers, .. } => {
                let who: Vec<String> = drivers.iter().map(|&id| thing(id.into())).collect();
                format!("Set {} to the idle state that is drawn.", and(&who))
            }
            Fault::LineInverted { driver, line } => format!(
                "Invert the {} control line of {} back.",
                line_word(*line),
                thing((*driver).into())
            ),
            Fault::Bridged { cut, .. } => format!("Clear {}.", thing((*cut).into())),
            Fault::JoinerOpen { joint, .. } => format!("Bond the joint {joint} with a wire."),
            Fault::WireOpen { feed, .. } | Fault::WireResists(feed) => {
                format!("Mend {}.", thing((*feed).into()))
            }
            Fault::WiresTouch { feeds: [a, b], .. } => {
                format!("Part the wires of {} and {}.", thing((*a).into()), thing((*b).into()))
            }
            Fault::NegativesTied(a, b) => format!(
                "Find and open what joins the negatives of {} and {}; never lift a protective earth.",
                thing((*a).into()),
                thing((*b).into())
            ),
            Fault::SupplyOff(id) => format!("Switch {} on.", thing((*id).into())),
            Fault::SupplyVolts(id) => {
                format!("Set {} to its stated voltage.", thing((*id).into()))
            }
            Fault::SupplySinks(id) => {
                format!("State that {} takes current back, and cure that.", thing((*id).into()))
            }
            Fault::TripAt { driver, .. } => {
                format!("Set the trip of {} to its stated current.", thing((*driver).into()))
            }
            Fault::DccExchanged(id) => format!("Exchange the phase of {}.", thing((*id).into())),
            Fault::DccLate(id) => {
                format!("Take away what delays the signal of {}.", thing((*id).into()))
            }
            Fault::DccOtherStation(id) => {
                format!("Let {} follow the same command station.", thing((*id).into()))
            }
            Fault::ReverserSlow(id) | Fault::ReverserBlind(id) => {
                format!("Replace {}, or set it anew.", thing((*id).into()))
            }
            Fault::SwitchAt { device, .. } => {
                format!("Put {} where it is drawn.", thing((*device).into()))
            }
            Fault::PointsAt { special, .. } => {
                format!("Throw the points of {} as drawn.", thing((*special).into()))
            }
            Fault::ContactExchanged(id) | Fault::ContactDead(id) => {
                format!("Mend the frog contact of {}.", thing((*id).into()))
            }
            Fault::WheelsMetal(id) => {
                format!("Insulate the wheels of {} that should be.", thing((*id).into()))
            }
            Fault::PickupsJoined { train, .. } => {
                format!("Part the pickups of {} at the coupling.", thing((*train).into()))
            }
            Fault::VehicleShort(id) => format!("Mend {}.", thing((*id).into())),
            Fault::VehicleDirty(id) => format!("Clean the wheels of {}.", thing((*id).into())),
            Fault::RailDirty => "Clean the rails at this gap.".into(),
        })
    }
}
