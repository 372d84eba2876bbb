//! Which faults are thought of at a gap, and how likely each is before anything is seen.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use serde::{Deserialize, Serialize};

use super::fault::Fault;
use super::reach::Reach;
use crate::layout::{
    DeviceKind, Drive, DriverId, Idle, InputLine, Layout, Rail, Rails, Spot, Wheel,
};

/// What is known of the past of the gap.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Past {
    /// Nothing.
    #[default]
    Unknown,
    /// It never worked.
    NeverWorked,
    /// It worked, and nothing was changed since.
    Worked,
}

/// Origin of a fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
enum Nature {
    /// It was built so.
    Wiring,
    /// It came with time.
    Drift,
    /// Somebody set it so.
    Setting,
}

/// A line of the list of rates.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
struct Rate {
    rate: f64,
    nature: Nature,
    minutes: f64,
}

/// The list of rates: one place for all judgement.
fn rates() -> &'static BTreeMap<String, Rate> {
    static RATES: OnceLock<BTreeMap<String, Rate>> = OnceLock::new();
    RATES.get_or_init(|| ron::from_str(include_str!("rates.ron")).unwrap_or_default())
}

/// Factor by which the known past moves a rate.
const MOVED: f64 = 3.0;

/// Rate of a fault before anything is seen, per mille. `shows`: true if the layout as drawn shows anything at the
/// gap.
pub fn weight(fault: &Fault, past: Past, shows: bool) -> f64 {
    let kind = if shows && *fault == Fault::AsDrawn { "as-drawn-shows" } else { fault.kind() };
    let Some(rate) = rates().get(kind) else { return 0.0 };
    let factor = match (rate.nature, past) {
        (Nature::Drift, Past::Worked) | (Nature::Wiring, Past::NeverWorked) => MOVED,
        (Nature::Drift, Past::NeverWorked) | (Nature::Wiring, Past::Worked) => 1.0 / MOVED,
        (Nature::Setting, _) | (_, Past::Unknown) => 1.0,
    };
    rate.rate * factor
}

/// Minutes of the cheapest look that confirms a fault.
pub fn minutes(fault: &Fault) -> f64 {
    rates().get(fault.kind()).map_or(2.0, |rate| rate.minutes)
}

/// The faults that can have to do with a gap, the layout as drawn first.
pub fn faults(layout: &Layout, reach: &Reach) -> Vec<Fault> {
    let mut faults = vec![Fault::AsDrawn];
    feeds(reach, &mut faults);
    drivers(layout, reach, &mut faults);
    supplies(reach, &mut faults);
    for rails in [Rails::Both, Rails::Left, Rails::Right] {
        faults.push(Fault::Bridged { cut: reach.cut, rails, spots: reach.spots });
    }
    for &(joint, run, at_end) in &reach.joints {
        let open = |rail| Fault::JoinerOpen { joint, run, at_end, rail };
        faults.extend(Rail::BOTH.map(open));
    }
    for &id in &reach.devices {
        let Some(device) = layout.devices.get(&id) else { continue };
        if matches!(device.kind, DeviceKind::AutoReverser { .. }) {
            faults.extend([Fault::ReverserSlow(id), Fault::ReverserBlind(id)]);
        }
        let positions = device.kind.positions().min(6);
        faults.extend((0..positions).map(|position| Fault::SwitchAt { device: id, position }));
    }
    for &id in &reach.specials {
        let positions = layout.specials.get(&id).map_or(0, |s| s.work.positions()).min(3);
        faults.extend((0..positions).map(|position| Fault::PointsAt { special: id, position }));
        faults.extend([Fault::ContactExchanged(id), Fault::ContactDead(id)]);
    }
    rolling(layout, &mut faults);
    faults.push(Fault::RailDirty);
    faults
}

fn feeds(reach: &Reach, faults: &mut Vec<Fault>) {
    for (at, &feed) in reach.feeds.iter().enumerate() {
        faults.push(Fault::WiresExchanged(feed));
        faults.extend([true, false].map(|is_p| Fault::WireOpen { feed, is_p }));
        faults.push(Fault::WireResists(feed));
        if let Some(side) = reach.feed_side(feed) {
            let Spot { run, at_mm, .. } = reach.spots[1 - side][0];
            faults.push(Fault::FeedElsewhere { feed, run, at_mm });
        }
        for &other in &reach.feeds[at + 1..] {
            faults.push(Fault::FeedsExchanged(feed, other));
            for left in Rail::BOTH {
                for right in Rail::BOTH {
                    let (feeds, rails) = ([feed, other], [left, right]);
                    faults.push(Fault::WiresTouch { feeds, rails });
                }
            }
        }
    }
}

fn drivers(layout: &Layout, reach: &Reach, faults: &mut Vec<Fault>) {
    let states = [Idle::BrakeLow, Idle::BrakeHigh, Idle::Opposed, Idle::HighImpedance];
    let bridge = |id: &DriverId| match layout.drivers.get(id).map(|d| &d.drive) {
        Some(Drive::PwmBridge { idle, .. }) => Some(*idle),
        _ => None,
    };
    for id in &reach.drivers {
        let Some(driver) = layout.drivers.get(id) else { continue };
        if let Some(now) = bridge(id) {
            for idle in states.into_iter().filter(|idle| *idle != now) {
                faults.push(Fault::Idle { drivers: vec![*id], idle });
            }
            for line in [InputLine::First, InputLine::Second] {
                faults.push(Fault::LineInverted { driver: *id, line });
            }
        }
        if let Drive::DccBooster { .. } = driver.drive {
            let of = [Fault::DccExchanged, Fault::DccLate, Fault::DccOtherStation];
            faults.extend(of.map(|fault| fault(*id)));
        }
        if driver.trip.is_some() {
            faults.extend([true, false].map(|is_low| Fault::TripAt { driver: *id, is_low }));
        }
    }
    // All bridges that are said to do the same do something else, for one reason: how their chips are driven.
    let mut alike: Vec<(Idle, Vec<DriverId>)> = Vec::new();
    for (id, now) in reach.drivers.iter().filter_map(|id| Some((*id, bridge(id)?))) {
        match alike.iter_mut().find(|known| known.0 == now) {
            Some(known) => known.1.push(id),
            None => alike.push((now, vec![id])),
        }
    }
    for (now, drivers) in alike.into_iter().filter(|(_, drivers)| drivers.len() > 1) {
        for idle in states.into_iter().filter(|idle| *idle != now) {
            faults.push(Fault::Idle { drivers: drivers.clone(), idle });
        }
    }
}

fn supplies(reach: &Reach, faults: &mut Vec<Fault>) {
    for (at, &id) in reach.supplies.iter().enumerate() {
        let of = [Fault::SupplyOff, Fault::SupplyVolts, Fault::SupplySinks];
        faults.extend(of.map(|fault| fault(id)));
        let others = &reach.supplies[at + 1..];
        faults.extend(others.iter().map(|&other| Fault::NegativesTied(id, other)));
    }
}

fn rolling(layout: &Layout, faults: &mut Vec<Fault>) {
    for vehicle in layout.vehicles.values() {
        let insulated = |wheel: &Wheel| *wheel == Wheel::Insulated;
        if vehicle.axles.iter().any(|axle| insulated(&axle.left) || insulated(&axle.right)) {
            faults.push(Fault::WheelsMetal(vehicle.id));
        }
        faults.extend([Fault::VehicleShort(vehicle.id), Fault::VehicleDirty(vehicle.id)]);
    }
    for train in layout.trains.values() {
        let couplings = 0..train.vehicles.len().saturating_sub(1);
        faults.extend(couplings.map(|after| Fault::PickupsJoined { train: train.id, after }));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_list_of_rates_is_read() {
        assert!(rates().len() > 30);
        assert_eq!(weight(&Fault::RailDirty, Past::Unknown, false), 50.0);
        assert_eq!(weight(&Fault::RailDirty, Past::Worked, false), 150.0);
    }
}
