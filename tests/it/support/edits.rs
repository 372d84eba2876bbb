//! Changes to whole layouts that the laws speak of: poles exchanged, figures scaled, islands added, throttles set.

use gapwright::layout::*;

use super::dice::Dice;
use super::{power, random, redrawn, renamed, stock};

/// Whether both outputs of every driver, and both poles of every device, are alike: what is exchanged is then the same.
pub fn poles_are_alike(layout: &Layout) -> bool {
    let half = |d: &Driver| matches!(d.drive, Drive::SplitHalfBridge { .. });
    let one_pole =
        |d: &Device| matches!(d.kind, DeviceKind::Resistor { .. } | DeviceKind::DiodePair { .. });
    !layout.drivers.values().any(half) && !layout.devices.values().any(one_pole)
}

/// Both wires of every feed exchanged, and every direction reversed: the same rails are positive.
pub fn poles_exchanged(layout: &Layout) -> Layout {
    let mut exchanged = layout.clone();
    for feed in exchanged.feeds.values_mut() {
        std::mem::swap(&mut feed.p, &mut feed.m);
    }
    let reversed = |setting: &mut Setting| {
        setting.direction = match setting.direction {
            Direction::Forward => Direction::Reverse,
            Direction::Reverse => Direction::Forward,
            other => other,
        };
    };
    for driver in exchanged.drivers.values_mut() {
        reversed(&mut driver.setting);
        if let Drive::PwmBridge {
            idle: Idle::ByInputs { table, forward, reverse, first_inverted, second_inverted },
            ..
        } = &mut driver.drive
        {
            // Set in reverse it must make the mirror image of each state that it made when set forward: the directions
            // change places, and so does what makes P high with what makes M high.
            std::mem::swap(forward, reverse);
            match table {
                InputTable::TwoInput => {
                    for lines in [forward, reverse] {
                        lines.pwm = match lines.pwm {
                            InputLine::First => InputLine::Second,
                            InputLine::Second => InputLine::First,
                        };
                    }
                    std::mem::swap(first_inverted, second_inverted);
                }
                InputTable::EnablePhase => *second_inverted = !*second_inverted,
            }
        }
        if let Some(trip) = &mut driver.trip {
            trip.senses = match trip.senses {
                Senses::LegP => Senses::LegM,
                Senses::LegM => Senses::LegP,
                Senses::HighSwitchP => Senses::HighSwitchM,
                Senses::HighSwitchM => Senses::HighSwitchP,
                Senses::LowSwitchP => Senses::LowSwitchM,
                Senses::LowSwitchM => Senses::LowSwitchP,
                other => other,
            };
        }
    }
    for lineup in exchanged.lineups.values_mut() {
        lineup.throttles.iter_mut().for_each(|throttle| reversed(&mut throttle.setting));
    }
    exchanged
}

/// Throttles set in another way, at random.
pub fn set(layout: &Layout, dice: &mut Dice) -> Layout {
    let mut other = layout.clone();
    for driver in other.drivers.values_mut() {
        if dice.percent(80) {
            driver.setting = power::setting(dice, &driver.drive);
        }
    }
    other
}

/// All throttles at zero; boosters stay on.
pub fn stopped(layout: &Layout) -> Layout {
    let mut other = layout.clone();
    for driver in other.drivers.values_mut() {
        if driver.setting.direction != Direction::On {
            driver.setting = Setting { direction: Direction::Stopped, throttle: 0.0 };
        }
    }
    other
}

/// How far away islands lie, mm, and what is added to their numbers.
const FAR_MM: f64 = 500_000.0;
const RAISED: u32 = 5000;

/// The layout with another one beside it that nothing joins to it.
pub fn with_island(layout: &Layout, island: u64) -> Layout {
    let mut island = random::layout(island);
    // What rolls there would roll here too.
    island.vehicles.clear();
    island.trains.clear();
    let far = redrawn::moved(&island, (FAR_MM, FAR_MM), 0.0);
    joined(layout, renamed::raised(&far, RAISED))
}

/// The layout with a driver beside it that is shorted by a wire across its rails.
pub fn with_shorted_island(layout: &Layout) -> Layout {
    let text = r#"(version: 1,
        joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 500, y_mm: 0)],
        runs: [(id: "r1", from: "j1", to: "j2")],
        supplies: [(id: "s1", open_v: 14, source_ohm: 0.1)],
        drivers: [(id: "d1", supply: "s1", drive: PwmBridge(clock: (hz: 490), idle: BrakeLow), high_ohm: 0.15,
            low_ohm: 0.15, diode_v: 0.7, diode_ohm: 0.05, setting: (direction: Forward, throttle: 0.5))],
        feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 100, p: Right, m: Left)],
        bonds: [(id: "y1", from: (run: "r1", at_mm: 300, rail: Left), to: (run: "r1", at_mm: 300, rail: Right))])"#;
    let island = load(text).unwrap().layout;
    joined(layout, renamed::raised(&redrawn::moved(&island, (FAR_MM, FAR_MM), 0.0), RAISED))
}

/// Two layouts in one; what they name alike is told apart.
fn joined(layout: &Layout, mut island: Layout) -> Layout {
    let apart = |name: &mut String| {
        if !name.is_empty() {
            name.push_str(" (island)");
        }
    };
    for supply in island.supplies.values_mut() {
        supply.negative.iter_mut().for_each(|negative| apart(&mut negative.name));
    }
    for driver in island.drivers.values_mut() {
        match &mut driver.drive {
            Drive::PwmBridge { clock, .. } | Drive::SplitHalfBridge { clock, .. } => {
                clock.shared.iter_mut().for_each(apart);
            }
            Drive::DccBooster { station, .. } => apart(station),
            Drive::SmoothDc { .. } | Drive::Nothing => {}
        }
    }
    island.labels.values_mut().for_each(|label| apart(&mut label.name));
    island.specials.values_mut().for_each(|special| apart(&mut special.gang));
    island.devices.values_mut().for_each(|device| apart(&mut device.gang));
    let mut all = layout.clone();
    all.joints.extend(island.joints);
    all.runs.extend(island.runs);
    all.cuts.extend(island.cuts);
    all.labels.extend(island.labels);
    all.supplies.extend(island.supplies);
    all.drivers.extend(island.drivers);
    all.feeds.extend(island.feeds);
    all.specials.extend(island.specials);
    all.devices.extend(island.devices);
    all.bonds.extend(island.bonds);
    all.next_id = all.next_id.max(island.next_id);
    all
}

fn scale(quantity: &mut Quantity, times: f64) {
    *quantity = quantity.scaled(times);
}

/// All currents that anything is held against, so many times.
fn scale_amps(layout: &mut Layout, times: f64) {
    for limit in layout.supplies.values_mut().filter_map(|supply| supply.limit.as_mut()) {
        scale(&mut limit.amps, times);
    }
    for driver in layout.drivers.values_mut() {
        driver.rating_a.iter_mut().for_each(|amps| scale(amps, times));
        driver.trip.iter_mut().for_each(|trip| scale(&mut trip.amps, times));
    }
    for device in layout.devices.values_mut() {
        match &mut device.kind {
            DeviceKind::AutoReverser { amps, .. }
            | DeviceKind::Breaker { amps, .. }
            | DeviceKind::Fuse { amps, .. } => scale(amps, times),
            DeviceKind::CabSelector { .. }
            | DeviceKind::ReversingSwitch { .. }
            | DeviceKind::Resistor { .. }
            | DeviceKind::DiodePair { .. } => {}
        }
    }
    for vehicle in layout.vehicles.values_mut() {
        vehicle.wiring_a.iter_mut().for_each(|amps| scale(amps, times));
    }
}

/// All voltages so many times, and the currents that anything is held against with them.
pub fn volts_scaled(layout: &Layout, times: f64) -> Layout {
    let mut scaled = layout.clone();
    scale_amps(&mut scaled, times);
    for supply in scaled.supplies.values_mut() {
        scale(&mut supply.open_v, times);
        supply.bearable_v.iter_mut().for_each(|volts| scale(volts, times));
    }
    for driver in scaled.drivers.values_mut() {
        scale(&mut driver.diode_v, times);
        driver.wake_v.iter_mut().for_each(|volts| scale(volts, times));
    }
    for device in scaled.devices.values_mut() {
        if let DeviceKind::DiodePair { volts, .. } = &mut device.kind {
            scale(volts, times);
        }
    }
    for vehicle in scaled.vehicles.values_mut() {
        match &mut vehicle.load {
            Load::Motor { emf_v: volts, .. } | Load::Rectifier { volts, .. } => scale(volts, times),
            Load::Resistor { .. } | Load::Nothing => {}
        }
    }
    scaled
}

/// All resistances so many times, and the currents that anything is held against by so much less.
pub fn ohms_scaled(layout: &Layout, times: f64) -> Layout {
    let mut scaled = layout.clone();
    scale_amps(&mut scaled, 1.0 / times);
    scale(&mut scaled.rail_ohm_per_m, times);
    for supply in scaled.supplies.values_mut() {
        scale(&mut supply.source_ohm, times);
        supply.bulk_ohm.iter_mut().for_each(|ohm| scale(ohm, times));
        supply.negative.iter_mut().for_each(|negative| scale(&mut negative.ohm, times));
    }
    for driver in scaled.drivers.values_mut() {
        for ohm in [&mut driver.high_ohm, &mut driver.low_ohm, &mut driver.diode_ohm] {
            scale(ohm, times);
        }
        if let Drive::SmoothDc { output_ohm, .. } = &mut driver.drive {
            scale(output_ohm, times);
        }
    }
    for feed in scaled.feeds.values_mut() {
        feed.ohm.iter_mut().for_each(|ohm| scale(ohm, times));
    }
    for device in scaled.devices.values_mut() {
        scale(&mut device.ohm, times);
        if let DeviceKind::Resistor { ohm, .. } | DeviceKind::DiodePair { ohm, .. } =
            &mut device.kind
        {
            scale(ohm, times);
        }
    }
    for vehicle in scaled.vehicles.values_mut() {
        vehicle.contact_ohm.low *= times;
        vehicle.contact_ohm.high *= times;
        match &mut vehicle.load {
            Load::Resistor { ohm } | Load::Motor { ohm, .. } | Load::Rectifier { ohm, .. } => {
                scale(ohm, times);
            }
            Load::Nothing => {}
        }
    }
    scaled
}

/// Every feed with a resistance that is stated, no wire whose own limits would not scale, no capacitance (its time constant
/// grows with the resistances), and a vehicle of its own: the wheels of what stands in where there is none do not scale.
pub fn scalable(layout: &Layout) -> Layout {
    let mut plain = layout.clone();
    for feed in plain.feeds.values_mut() {
        feed.wire = None;
        feed.ohm.get_or_insert(Quantity::given(0.1));
    }
    for supply in plain.supplies.values_mut() {
        supply.bulk_f = None;
        supply.bulk_ohm = None;
    }
    if plain.vehicles.is_empty() {
        let id = VehicleId(plain.next_id);
        plain.next_id += 1;
        plain.vehicles.insert(id, stock::long_diesel(id));
    }
    plain
}

/// Whether a line of a report is about the island.
pub fn is_of_island(name: &str) -> bool {
    if name.contains("(island)") {
        return true;
    }
    // Numbers of the island begin at `RAISED`, and nothing here has so many.
    name.split(|c: char| !c.is_ascii_digit())
        .any(|digits| digits.parse().is_ok_and(|number: u32| number >= RAISED))
}
