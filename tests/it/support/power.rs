//! Random supplies, drivers, trips and devices. Limits are odd numbers, so that none is met to the last digit.

use gapwright::layout::*;

use super::dice::Dice;
use super::track::Ground;

fn q(value: f64) -> Quantity {
    Quantity::given(value)
}

/// A value that is given, or now and then assumed within a range.
fn loose(dice: &mut Dice, value: f64, percent: usize) -> Quantity {
    if dice.percent(percent) {
        Quantity::assumed(value, value * 0.7, value * 1.4)
    } else {
        q(value)
    }
}

/// What the drivers of a layout have in common.
#[derive(Debug, Clone, Copy)]
pub struct House {
    /// Kind of drive that most have: 0 PWM bridge, 1 smooth DC, 2 DCC booster, 3 half-bridge.
    kind: usize,
    /// How many of a hundred have that kind.
    same: usize,
    /// Idle state of most.
    idle: Idle,
    /// How many of a hundred values are assumed.
    assumed: usize,
    /// How many of a hundred supplies are tied to one negative.
    tied: usize,
    /// How many of a hundred drivers hang on the first supply.
    shared: usize,
}

impl House {
    /// Random habits.
    pub fn of(dice: &mut Dice) -> House {
        House {
            kind: *dice.pick(&[0, 0, 0, 0, 1, 1, 2, 2, 3]),
            same: *dice.pick(&[100, 100, 80]),
            idle: idle(dice),
            assumed: *dice.pick(&[0, 0, 0, 10]),
            tied: *dice.pick(&[0, 0, 30, 100]),
            shared: *dice.pick(&[0, 0, 50, 100]),
        }
    }
}

fn idle(dice: &mut Dice) -> Idle {
    match dice.below(10) {
        0..3 => Idle::BrakeLow,
        3..5 => Idle::BrakeHigh,
        5..8 => Idle::HighImpedance,
        8 => Idle::Opposed,
        _ => {
            let line = |dice: &mut Dice| InputLines {
                pwm: *dice.pick(&[InputLine::First, InputLine::Second]),
                other_high: dice.percent(50),
            };
            Idle::ByInputs {
                table: *dice.pick(&[InputTable::TwoInput, InputTable::EnablePhase]),
                forward: line(dice),
                reverse: line(dice),
                first_inverted: dice.percent(20),
                second_inverted: dice.percent(20),
            }
        }
    }
}

fn clock(dice: &mut Dice) -> Clock {
    let shared = dice.percent(25);
    Clock {
        hz: *dice.pick(&[490.0, 490.0, 125.0, 20_000.0, 250.0]),
        tolerance: *dice.pick(&[0.01, 0.0, 0.001]),
        shared: shared.then(|| "board clock".to_owned()),
        phase: (shared && dice.percent(50)).then(|| *dice.pick(&[0.0, 0.5, 0.2])),
    }
}

fn supply(dice: &mut Dice, house: &House, id: SupplyId, split: bool) -> Supply {
    let volts = *dice.pick(&[14.0, 14.0, 12.0, 16.0, 18.0]);
    Supply {
        id,
        name: format!("Supply {}", id.0),
        open_v: loose(dice, volts, house.assumed),
        source_ohm: loose(dice, 0.1, house.assumed),
        limit: dice.percent(40).then(|| Limit {
            amps: q(*dice.pick(&[2.15, 5.35, 8.2])),
            kind: *dice.pick(&[LimitKind::Constant, LimitKind::FoldBack, LimitKind::Hiccup]),
        }),
        bulk_f: dice.percent(30).then(|| q(0.001)),
        bulk_ohm: dice.percent(15).then(|| q(0.05)),
        can_sink: dice.percent(25),
        negative: dice
            .percent(house.tied)
            .then(|| SharedNegative { name: "board".into(), ohm: q(*dice.pick(&[0.02, 0.05])) }),
        bearable_v: dice.percent(30).then(|| q(*dice.pick(&[volts, 15.0, 18.0, 24.0]))),
        split,
        powered: !dice.percent(7),
        separately_switched: dice.percent(10),
        notes: String::new(),
    }
}

fn trip(dice: &mut Dice, house: &House) -> Trip {
    let kind = match dice.below(10) {
        0..4 => TripKind::Instant { blanking_s: *dice.pick(&[0.0, 1e-5, 1e-3, 0.1]) },
        4 | 5 => TripKind::Sampled {
            every_s: *dice.pick(&[1e-3, 0.01]),
            in_a_row: *dice.pick(&[1, 3]),
            locked_at: None,
        },
        6 | 7 => TripKind::Averaged { tau_s: *dice.pick(&[0.01, 0.05, 0.2]) },
        8 => TripKind::Thermal { points: TripPoints::quick_acting() },
        _ => TripKind::Chopping,
    };
    let retry = kind != TripKind::Chopping && dice.percent(40);
    Trip {
        amps: {
            let amps = *dice.pick(&[1.05, 2.1, 3.17, 5.2, 21.0]);
            loose(dice, amps, house.assumed)
        },
        senses: *dice.pick(&[
            Senses::LargerLeg,
            Senses::LargerLeg,
            Senses::LargerLeg,
            Senses::SupplyLead,
            Senses::GroundReturn,
            Senses::LegP,
            Senses::LegM,
            Senses::HighSwitchP,
            Senses::LowSwitchM,
        ]),
        signed: dice.percent(15),
        kind,
        then: *dice.pick(&[
            AfterTrip::HighImpedance,
            AfterTrip::HighImpedance,
            AfterTrip::BrakeLow,
            AfterTrip::BrakeHigh,
        ]),
        retry_s: retry.then_some(1.0),
    }
}

fn drive(dice: &mut Dice, house: &House) -> Drive {
    let kind = if dice.percent(house.same) { house.kind } else { dice.below(5) };
    match kind {
        0 => {
            let idle = if dice.percent(70) { house.idle } else { idle(dice) };
            Drive::PwmBridge { clock: clock(dice), idle }
        }
        1 => Drive::SmoothDc {
            output_ohm: loose(dice, 0.5, house.assumed),
            can_sink: dice.percent(30),
            clamped_at_zero: dice.percent(30),
        },
        2 => Drive::DccBooster {
            station: if dice.percent(90) { "harbour".into() } else { "yard".into() },
            swapped: dice.percent(15),
            skew_s: *dice.pick(&[0.0, 0.0, 0.0, 4e-6]),
            stretched_zeros: dice.percent(10),
            half_bits: HalfBits::default(),
        },
        3 => Drive::SplitHalfBridge {
            clock: clock(dice),
            idle: *dice.pick(&[Idle::HighImpedance, Idle::Opposed]),
        },
        _ => Drive::Nothing,
    }
}

/// A setting that a drive can have.
pub fn setting(dice: &mut Dice, drive: &Drive) -> Setting {
    let direction = match (drive, dice.below(10)) {
        (_, 0) => Direction::Off,
        (Drive::DccBooster { .. }, _) => Direction::On,
        (_, 1) => Direction::Stopped,
        (_, 2..5) => Direction::Reverse,
        _ => Direction::Forward,
    };
    Setting { direction, throttle: *dice.pick(&[0.0, 0.3, 0.4, 0.5, 0.8, 1.0]) }
}

fn driver(dice: &mut Dice, house: &House, id: DriverId, drive: Drive, on: SupplyId) -> Driver {
    Driver {
        id,
        name: format!("Driver {}", id.0),
        supply: on,
        high_ohm: loose(dice, 0.15, house.assumed),
        low_ohm: loose(dice, 0.15, house.assumed),
        diode_v: q(0.7),
        diode_ohm: q(0.05),
        rating_a: dice.percent(40).then(|| q(*dice.pick(&[0.97, 1.93, 4.85]))),
        trip: dice.percent(80).then(|| trip(dice, house)),
        lowest_throttle: *dice.pick(&[0.0, 0.1]),
        wake_v: dice.percent(20).then(|| q(*dice.pick(&[4.0, 7.0, 11.0]))),
        separately_switched: dice.percent(10),
        setting: setting(dice, &drive),
        drive,
        notes: String::new(),
    }
}

/// Adds so many drivers with their supplies.
pub fn drivers(ground: &mut Ground, dice: &mut Dice, house: &House, count: usize) {
    let mut first: [Option<SupplyId>; 2] = [None; 2];
    for _ in 0..count {
        let drive = drive(dice, house);
        let split = matches!(drive, Drive::SplitHalfBridge { .. });
        let known = first[usize::from(split)].filter(|_| dice.percent(house.shared));
        let on = known.unwrap_or_else(|| {
            let id = SupplyId(ground.fresh());
            ground.layout.supplies.insert(id, supply(dice, house, id, split));
            first[usize::from(split)].get_or_insert(id);
            id
        });
        let id = DriverId(ground.fresh());
        ground.layout.drivers.insert(id, driver(dice, house, id, drive, on));
    }
}

fn device(dice: &mut Dice, ground: &Ground, from: Origin) -> DeviceKind {
    let dcc = |origin: Origin| {
        let driver = origin.driver().and_then(|id| ground.layout.drivers.get(&id));
        driver.is_some_and(|d| matches!(d.drive, Drive::DccBooster { .. }))
    };
    let amps = q(*dice.pick(&[1.07, 2.03, 4.1]));
    match dice.below(10) {
        0..3 => {
            let others: Vec<DriverId> = ground.layout.drivers.keys().copied().collect();
            let mut cabs = vec![Some(from)];
            cabs.push(Some((*dice.pick(&others)).into()));
            if dice.percent(50) {
                cabs.push(None);
            }
            DeviceKind::CabSelector { cabs }
        }
        3..5 => DeviceKind::ReversingSwitch { from, centre_off: dice.percent(30) },
        5 | 6 if dcc(from) || dice.percent(20) => {
            DeviceKind::AutoReverser { from, amps, acts_after_s: *dice.pick(&[5e-4, 5e-3]) }
        }
        7 => DeviceKind::Fuse {
            from,
            amps,
            trip: TripKind::Thermal { points: TripPoints::quick_acting() },
        },
        8 if dice.percent(50) => DeviceKind::Resistor { from, ohm: q(5.0) },
        8 => DeviceKind::DiodePair { from, volts: q(0.7), ohm: q(0.05) },
        _ => DeviceKind::Breaker {
            from,
            amps,
            trip: TripKind::Instant { blanking_s: *dice.pick(&[1e-4, 5e-3]) },
            retry_s: dice.percent(50).then_some(2.0),
        },
    }
}

/// What blocks can be fed from: the drivers, and what devices there are behind them.
pub fn origins(ground: &mut Ground, dice: &mut Dice) -> Vec<Origin> {
    let mut origins: Vec<Origin> = ground.layout.drivers.keys().map(|&id| id.into()).collect();
    if dice.percent(60) {
        return origins;
    }
    for _ in 0..1 + dice.below(2) {
        let at = dice.below(origins.len());
        let kind = device(dice, ground, origins[at]);
        let id = DeviceId(ground.fresh());
        let position = dice.below(kind.positions() as usize) as u32;
        let ohm = q(0.02);
        let (name, gang, notes) = (format!("Device {}", id.0), String::new(), String::new());
        let device = Device { id, name, kind, ohm, position, gang, notes };
        ground.layout.devices.insert(id, device);
        if dice.percent(50) {
            origins[at] = id.into();
        } else {
            origins.push(id.into());
        }
    }
    origins
}
