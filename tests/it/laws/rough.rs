//! Rough random layouts: four runs in a row, with figures of any size.

use gapwright::layout::{
    self, AfterTrip, Axle, Clock, ContactRange, CutId, Direction, Drive, Driver, DriverId, Feed,
    FeedId, HalfBits, Idle, Joint, JointId, Label, LabelId, Layout, Limit, LimitKind, Load, Made,
    Quantity, Rail, Rails, Run, RunId, Senses, Setting, Shape, SharedNegative, SpeedRange, Supply,
    SupplyId, Trip, TripKind, TripPoints, Vehicle, VehicleId, Wheel,
};
use proptest::prelude::*;

pub fn q(value: f64) -> Quantity {
    Quantity::given(value)
}

fn idles() -> impl Strategy<Value = Idle> {
    prop_oneof![
        Just(Idle::BrakeLow),
        Just(Idle::BrakeHigh),
        Just(Idle::HighImpedance),
        Just(Idle::Opposed)
    ]
}

fn clocks() -> impl Strategy<Value = Clock> {
    let hz = prop_oneof![Just(490.0), Just(125.0), Just(500.0), Just(250.0)];
    (hz, any::<bool>(), prop::option::of(0.0..1.0_f64)).prop_map(|(hz, shared, phase)| Clock {
        hz,
        tolerance: 0.01,
        shared: shared.then(|| "board".to_owned()),
        phase: phase.filter(|_| shared),
    })
}

fn drives() -> impl Strategy<Value = Drive> {
    prop_oneof![
        6 => (clocks(), idles()).prop_map(|(clock, idle)| Drive::PwmBridge { clock, idle }),
        3 => (0.01..5.0_f64, any::<bool>(), any::<bool>()).prop_map(|(ohm, can_sink, clamped)| {
            Drive::SmoothDc { output_ohm: q(ohm), can_sink, clamped_at_zero: clamped }
        }),
        2 => (any::<bool>(), any::<bool>(), prop_oneof![Just(0.0), Just(4e-6)], any::<bool>()).prop_map(
            |(yard, swapped, skew_s, stretched_zeros)| Drive::DccBooster {
                station: if yard { "yard".into() } else { "harbour".into() },
                swapped,
                skew_s,
                stretched_zeros,
                half_bits: HalfBits::default(),
            }
        ),
        1 => Just(Drive::Nothing),
    ]
}

fn trips() -> impl Strategy<Value = Trip> {
    let kinds = prop_oneof![
        (0.0..0.001_f64).prop_map(|blanking_s| TripKind::Instant { blanking_s }),
        (0.0001..0.01_f64, 1..4_u32).prop_map(|(every_s, in_a_row)| TripKind::Sampled {
            every_s,
            in_a_row,
            locked_at: None
        }),
        (0.001..0.2_f64).prop_map(|tau_s| TripKind::Averaged { tau_s }),
        Just(TripKind::Thermal { points: TripPoints::quick_acting() }),
        Just(TripKind::Chopping),
    ];
    let senses = prop_oneof![
        Just(Senses::SupplyLead),
        Just(Senses::GroundReturn),
        Just(Senses::LegP),
        Just(Senses::LargerLeg),
        Just(Senses::LowSwitchM)
    ];
    let then = prop_oneof![
        Just(AfterTrip::HighImpedance),
        Just(AfterTrip::BrakeLow),
        Just(AfterTrip::BrakeHigh)
    ];
    (0.5..6.0_f64, senses, any::<bool>(), kinds, then).prop_map(
        |(amps, senses, signed, kind, then)| Trip {
            amps: q(amps),
            senses,
            signed,
            kind,
            then,
            retry_s: None,
        },
    )
}

fn supplies(id: u32) -> impl Strategy<Value = Supply> {
    (
        9.0..20.0_f64,
        0.02..2.0_f64,
        any::<bool>(),
        any::<bool>(),
        prop::option::of(1.0..5.0_f64),
        prop::option::of(0.0001..0.01_f64),
        prop::option::of(12.0..25.0_f64),
        prop::bool::weighted(0.85),
    )
        .prop_map(move |(open, ohm, can_sink, tied, limit, bulk, bearable, powered)| Supply {
            id: SupplyId(id),
            name: String::new(),
            open_v: q(open),
            source_ohm: q(ohm),
            limit: limit.map(|amps| Limit { amps: q(amps), kind: LimitKind::default() }),
            bulk_f: bulk.map(q),
            bulk_ohm: None,
            can_sink,
            negative: tied.then(|| SharedNegative { name: "board".into(), ohm: q(0.02) }),
            bearable_v: bearable.map(q),
            split: false,
            powered,
            separately_switched: false,
            notes: String::new(),
        })
}

fn drivers(id: u32) -> impl Strategy<Value = Driver> {
    (
        1..=3_u32,
        drives(),
        prop::option::weighted(0.7, trips()),
        prop::option::of(0.5..5.0_f64),
        0..4_u8,
        0.0..=1.0_f64,
        prop::option::of(3.0..14.0_f64),
    )
        .prop_map(move |(supply, drive, trip, rating, way, throttle, wake)| {
            let dcc = matches!(drive, Drive::DccBooster { .. });
            let direction = match (way, dcc) {
                (0, _) => Direction::Off,
                (_, true) => Direction::On,
                (1, _) => Direction::Stopped,
                (2, _) => Direction::Forward,
                _ => Direction::Reverse,
            };
            Driver {
                id: DriverId(id),
                name: String::new(),
                supply: SupplyId(supply),
                drive,
                high_ohm: q(0.06),
                low_ohm: q(0.06),
                diode_v: q(0.7),
                diode_ohm: q(0.05),
                rating_a: rating.map(q),
                trip,
                lowest_throttle: 0.0,
                wake_v: wake.map(q),
                separately_switched: false,
                setting: Setting { direction, throttle },
                notes: String::new(),
            }
        })
}

fn vehicles(id: u32) -> impl Strategy<Value = Vehicle> {
    let wheel = || prop_oneof![6 => Just(Wheel::Pickup), 1 => Just(Wheel::Metal), 2 => Just(Wheel::Insulated)];
    let load = prop_oneof![
        Just(Load::Nothing),
        (2.0..50.0_f64).prop_map(|ohm| Load::Resistor { ohm: q(ohm) }),
        (2.0..50.0_f64, 0.0..8.0_f64)
            .prop_map(|(ohm, emf)| Load::Motor { ohm: q(ohm), emf_v: q(emf) }),
        (2.0..50.0_f64, 8.0..14.0_f64)
            .prop_map(|(ohm, volts)| Load::Rectifier { ohm: q(ohm), volts: q(volts) }),
    ];
    (
        prop::collection::vec((5.0..60.0_f64, wheel(), wheel()), 1..5),
        load,
        0.02..0.1_f64,
        prop::option::of(0.5..3.0_f64),
    )
        .prop_map(move |(axles, load, low, wiring)| {
            let mut at_mm = 0.0;
            let axles: Vec<Axle> = axles
                .into_iter()
                .map(|(gap, left, right)| {
                    at_mm += gap;
                    Axle { at_mm, left, right }
                })
                .collect();
            Vehicle {
                id: VehicleId(id),
                name: String::new(),
                length_mm: at_mm + 10.0,
                axles,
                load,
                contact_ohm: ContactRange { low, high: low * 10.0 },
                speed: SpeedRange::default(),
                patch_mm: 0.5,
                wiring_a: wiring.map(q),
                pickups_joined: true,
                tread_mm: 2.8,
                notes: String::new(),
            }
        })
}

#[derive(Debug, Clone)]
struct Gap {
    at: f64,
    rails: u8,
    stagger: f64,
}

/// A layout that shows itself as its file.
#[derive(Clone)]
pub struct Drawn(pub Layout);

impl std::fmt::Debug for Drawn {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&layout::save(&self.0))
    }
}

/// Four runs in a row, a line or a ring, some laid backwards, with a gap on some of them.
pub fn layouts() -> impl Strategy<Value = Drawn> {
    let gap = (0.0..=1.0_f64, 0..6_u8, -60.0..60.0_f64).prop_map(|(at, rails, stagger)| Gap {
        at,
        rails,
        stagger,
    });
    let runs = prop::collection::vec(
        (40.0..600.0_f64, any::<bool>(), prop::option::weighted(0.8, gap)),
        4,
    );
    let feeds =
        prop::collection::vec((1..=3_u32, 0..4_usize, 0.0..=1.0_f64, any::<bool>(), 0..8_u8), 0..6);
    (
        any::<bool>(),
        runs,
        (supplies(1), supplies(2), supplies(3)),
        (drivers(1), drivers(2), drivers(3)),
        feeds,
        prop::collection::vec(vehicles(0), 0..3),
    )
        .prop_map(|(ring, runs, supplies, drivers, feeds, vehicles)| {
            let mut layout = Layout { rail_ohm_per_m: q(0.1), ..Layout::default() };
            let places = [(0.0, 0.0), (700.0, 0.0), (700.0, 700.0), (0.0, 700.0), (0.0, 100.0)];
            for (at, (x_mm, y_mm)) in places.into_iter().enumerate() {
                if ring && at == 4 {
                    continue;
                }
                let id = JointId(at as u32 + 1);
                layout.joints.insert(id, Joint { id, x_mm, y_mm, joiners: Default::default() });
            }
            for (at, (length, turned, gap)) in runs.iter().enumerate() {
                let (mut from, mut to) =
                    (at as u32 + 1, if ring { (at as u32 + 1) % 4 + 1 } else { at as u32 + 2 });
                if *turned {
                    std::mem::swap(&mut from, &mut to);
                }
                let id = RunId(at as u32 + 1);
                layout.runs.insert(
                    id,
                    Run {
                        id,
                        from: JointId(from),
                        to: JointId(to),
                        shape: Shape::Straight,
                        length_mm: Some(*length),
                    },
                );
                let Some(gap) = gap else { continue };
                let rails = match gap.rails {
                    0 => Rails::Left,
                    1 => Rails::Right,
                    _ => Rails::Both,
                };
                // Ends of runs are likely places.
                let place = if gap.at < 0.1 {
                    0.0
                } else if gap.at > 0.9 {
                    *length
                } else {
                    gap.at * length
                };
                let right = (place + gap.stagger).clamp(0.0, *length);
                let stagger_mm =
                    if rails == Rails::Both && gap.rails > 3 { right - place } else { 0.0 };
                let id = CutId(at as u32 + 1);
                layout.cuts.insert(
                    id,
                    layout::Cut {
                        id,
                        name: String::new(),
                        run: RunId(at as u32 + 1),
                        at_mm: place,
                        rails,
                        width_mm: 0.8,
                        stagger_mm,
                        made: Made::Open,
                        cut_at_c: None,
                        notes: String::new(),
                    },
                );
            }
            for supply in [supplies.0, supplies.1, supplies.2] {
                layout.supplies.insert(supply.id, supply);
            }
            for driver in [drivers.0, drivers.1, drivers.2] {
                layout.drivers.insert(driver.id, driver);
            }
            for (at, (driver, run, place, normal, legs)) in feeds.into_iter().enumerate() {
                let id = FeedId(at as u32 + 1);
                let (p, m) =
                    if normal { (Rail::Right, Rail::Left) } else { (Rail::Left, Rail::Right) };
                let feed = Feed {
                    id,
                    driver: DriverId(driver).into(),
                    run: RunId(run as u32 + 1),
                    at_mm: place * runs[run].0,
                    p: (legs != 0).then_some(p),
                    m: (legs != 1).then_some(m),
                    wire: None,
                    ohm: Some(q(0.2)),
                };
                layout.feeds.insert(id, feed);
            }
            for (at, vehicle) in vehicles.into_iter().enumerate() {
                let id = VehicleId(at as u32 + 1);
                layout.vehicles.insert(id, Vehicle { id, ..vehicle });
            }
            layout.labels.insert(
                LabelId(1),
                Label { id: LabelId(1), name: "Home".into(), run: RunId(1), at_mm: 1.0 },
            );
            layout.next_id = 100;
            Drawn(layout)
        })
        .prop_filter("two gaps would take the same metal, or ids repeat", |drawn| {
            layout::load(&layout::save(&drawn.0)).is_ok()
        })
}
