//! The whole check on generated chains of blocks, so that its growth with the number of cuts can be read off.
//!
//! Run with `cargo bench --no-default-features --bench check`.
//!
//! Every block has a driver and a supply of its own; idle states, clocks, throttles and wires are mixed, so that no two
//! cuts are the same case and nothing is gained by remembering. Three vehicles run over all of it.

use gapwright::findings::Checker;
use gapwright::layout::{
    Axle, Clock, Cut, CutId, Device, DeviceId, DeviceKind, Direction, Drive, Driver, DriverId,
    Edit, End, Feed, FeedId, Frog, Idle, Joint, JointId, Layout, Load, Made, Quantity, Rail, Rails,
    Run, RunEnd, RunId, Senses, Setting, Shape, Special, SpecialId, Supply, SupplyId, TrackEnd,
    Trip, TripKind, Vehicle, VehicleId, Wire, WireSize, Work, apply,
};
use gapwright::study::{Memo, Study};

fn main() {
    divan::main();
}

/// Length of a block, mm.
const BLOCK_MM: f64 = 1800.0;

/// A straight line of blocks with a cut in both rails between one and the next.
fn chain(cuts: u32) -> Layout {
    let mut layout = Layout { name: format!("Chain of {cuts} cuts"), ..Layout::default() };
    for at in 0..=cuts + 1 {
        let joint = Joint {
            id: JointId(at),
            x_mm: f64::from(at) * BLOCK_MM,
            y_mm: 0.0,
            joiners: Default::default(),
        };
        layout.joints.insert(joint.id, joint);
    }
    for at in 0..=cuts {
        let id = RunId(at);
        let run = Run {
            id,
            from: JointId(at),
            to: JointId(at + 1),
            shape: Shape::Straight,
            length_mm: None,
        };
        layout.runs.insert(id, run);
        if at > 0 {
            let cut = Cut {
                id: CutId(at),
                name: String::new(),
                run: id,
                at_mm: 0.0,
                rails: Rails::Both,
                width_mm: 0.8,
                stagger_mm: 0.0,
                made: Made::InsulatedJoiner,
                cut_at_c: None,
                notes: String::new(),
            };
            layout.cuts.insert(cut.id, cut);
        }
        layout.supplies.insert(SupplyId(at), supply(at));
        layout.drivers.insert(DriverId(at), driver(at));
        let feed = Feed {
            id: FeedId(at),
            driver: DriverId(at).into(),
            run: id,
            at_mm: 200.0 + f64::from(at * 37 % 1400),
            p: Some(Rail::Right),
            m: Some(Rail::Left),
            wire: Some(Wire {
                size: WireSize::Mm2(0.75),
                length_m: 1.0 + f64::from(at) * 0.01,
                rating_a: None,
            }),
            ohm: None,
        };
        layout.feeds.insert(feed.id, feed);
    }
    let axles = |at: &[f64]| -> Vec<Axle> {
        at.iter()
            .map(|&at_mm| Axle { at_mm, left: Default::default(), right: Default::default() })
            .collect()
    };
    for (number, length_mm, wheels) in [
        (0, 210.0, &[25.0, 45.0, 65.0, 145.0, 165.0, 185.0][..]),
        (1, 110.0, &[28.0, 82.0]),
        (2, 96.0, &[24.0, 48.0, 72.0]),
    ] {
        let vehicle = Vehicle {
            id: VehicleId(number),
            name: String::new(),
            length_mm,
            axles: axles(wheels),
            load: Load::Motor { ohm: Quantity::given(15.0), emf_v: Quantity::given(5.0) },
            contact_ohm: gapwright::layout::default_contact_ohm(),
            speed: Default::default(),
            patch_mm: gapwright::layout::default_patch_mm(),
            wiring_a: None,
            pickups_joined: true,
            tread_mm: 2.8,
            notes: String::new(),
        };
        layout.vehicles.insert(vehicle.id, vehicle);
    }
    layout.next_id = cuts + 2;
    layout
}

fn supply(at: u32) -> Supply {
    Supply {
        id: SupplyId(at),
        name: String::new(),
        open_v: Quantity::given(14.0),
        source_ohm: Quantity::assumed(0.1, 0.05, 0.2),
        limit: None,
        bulk_f: Some(Quantity::given(0.001)),
        bulk_ohm: Some(Quantity::given(0.1)),
        can_sink: false,
        negative: None,
        bearable_v: None,
        split: false,
        powered: true,
        separately_switched: false,
        notes: String::new(),
    }
}

fn driver(at: u32) -> Driver {
    let idles =
        [Idle::HighImpedance, Idle::BrakeLow, Idle::HighImpedance, Idle::BrakeHigh, Idle::Opposed];
    let hz = [490.0, 125.0, 980.0][at as usize % 3];
    Driver {
        id: DriverId(at),
        name: String::new(),
        supply: SupplyId(at),
        drive: Drive::PwmBridge {
            clock: Clock { hz, tolerance: 0.01, shared: None, phase: None },
            idle: idles[at as usize % idles.len()],
        },
        high_ohm: Quantity::assumed(0.15, 0.1, 0.2),
        low_ohm: Quantity::assumed(0.15, 0.1, 0.2),
        diode_v: Quantity::given(0.7),
        diode_ohm: Quantity::given(0.05),
        rating_a: None,
        trip: Some(Trip {
            amps: Quantity::given(3.0),
            senses: Senses::LargerLeg,
            signed: false,
            kind: if at.is_multiple_of(2) {
                TripKind::Instant { blanking_s: 20e-6 }
            } else {
                TripKind::Averaged { tau_s: 0.05 }
            },
            then: Default::default(),
            retry_s: None,
        }),
        lowest_throttle: 0.0,
        wake_v: None,
        separately_switched: false,
        setting: Setting { direction: Direction::Forward, throttle: 0.2 + f64::from(at % 7) * 0.1 },
        notes: String::new(),
    }
}

/// The whole check, nothing remembered.
#[divan::bench(args = [10, 100, 1000])]
fn whole(bencher: divan::Bencher, cuts: u32) {
    let layout = chain(cuts);
    bencher.bench_local(|| Checker::default().check(divan::black_box(&layout)));
}

/// The check after one throttle in the middle was moved, everything else remembered.
#[divan::bench(args = [10, 100, 1000])]
fn after_one_edit(bencher: divan::Bencher, cuts: u32) {
    let mut layout = chain(cuts);
    let mut checker = Checker::default();
    checker.check(&layout);
    let mut throttle = 0.3;
    bencher.bench_local(|| {
        // Never the same throttle twice.
        throttle = if throttle > 0.8 { 0.3 } else { throttle + 0.000_1 };
        if let Some(driver) = layout.drivers.get_mut(&DriverId(cuts / 2)) {
            driver.setting.throttle = throttle;
        }
        checker.check(divan::black_box(&layout))
    });
}

/// A what-if: the study after one throttle in the middle was moved, everything else kept.
#[divan::bench(args = [10, 100, 1000])]
fn what_if_throttle(bencher: divan::Bencher, cuts: u32) {
    let study = Study::of(&chain(cuts), &Memo::default());
    let mut throttle = 0.3;
    bencher.bench_local(|| {
        throttle = if throttle > 0.8 { 0.3 } else { throttle + 0.000_1 };
        let setting = Setting { direction: Direction::Forward, throttle };
        study.with(&Edit::Set { driver: DriverId(cuts / 2), setting }).is_ok()
    });
}

/// The club's layout, as it stands among the samples.
fn club() -> Layout {
    let text =
        std::fs::read_to_string("sample-layouts/club.gapwright").expect("the sample is there");
    gapwright::layout::load(&text).expect("the sample is a layout").layout
}

/// The whole check of the club's layout, nothing remembered.
#[divan::bench]
fn club_whole(bencher: divan::Bencher) {
    let layout = club();
    bencher.bench_local(|| Checker::default().check(divan::black_box(&layout)));
}

/// Throttles of the club's layout moved one after the other, never twice to the same place.
fn throttles(layout: &Layout) -> impl FnMut() -> (DriverId, Setting) + use<> {
    let drivers: Vec<DriverId> = layout.drivers.keys().copied().collect();
    let mut moves = 0_u32;
    move || {
        moves += 1;
        let throttle = 0.3 + f64::from(moves) * 1e-5;
        let setting = Setting { direction: Direction::Forward, throttle };
        (drivers[moves as usize % drivers.len()], setting)
    }
}

/// The check of the club's layout after one throttle was moved, everything else remembered.
#[divan::bench]
fn club_after_one_throttle(bencher: divan::Bencher) {
    let mut layout = club();
    let mut checker = Checker::default();
    checker.check(&layout);
    let mut throttle = throttles(&layout);
    bencher.bench_local(|| {
        let (driver, setting) = throttle();
        if let Some(driver) = layout.drivers.get_mut(&driver) {
            driver.setting = setting;
        }
        checker.check(divan::black_box(&layout))
    });
}

/// A what-if on the club's layout: its study after one throttle was moved, without the rules.
#[divan::bench]
fn club_what_if_throttle(bencher: divan::Bencher) {
    let layout = club();
    let study = Study::of(&layout, &Memo::default());
    let mut throttle = throttles(&layout);
    bencher.bench_local(|| {
        let (driver, setting) = throttle();
        study.with(&Edit::Set { driver, setting }).is_ok()
    });
}

/// The chain with a stub turned out of the middle of every block, by turnouts with all kinds of frogs; every third stub
/// is cut off and fed by its neighbour's driver through a switch.
fn with_turnouts(cuts: u32) -> Layout {
    let mut layout = chain(cuts);
    let frogs =
        [Frog::Insulated, Frog::Switched, Frog::PowerRouting, Frog::PowerRoutingWithContact];
    for at in 0..=cuts {
        let run = RunId(at);
        if apply(&mut layout, Edit::Split { run, at_mm: BLOCK_MM / 2.0 }).is_err() {
            continue;
        }
        let middle = JointId(layout.next_id - 2);
        let rest = RunId(layout.next_id - 1);
        let x_mm = layout.joints[&middle].x_mm;
        let (end, shape) = (End::New(x_mm + 600.0, 150.0), Shape::Straight);
        let stub = RunId(layout.next_id + 1);
        let end_of = |run, end| TrackEnd { run, end };
        let work = Work::Turnout {
            toe: end_of(run, RunEnd::End),
            exits: vec![end_of(rest, RunEnd::Start), end_of(stub, RunEnd::Start)],
            frog: frogs[at as usize % 4],
            frog_mm: 120.0,
            frog_length_mm: 20.0,
            closures_bonded: true,
            exits_bonded: true,
            open_mm: 2.0,
        };
        let special = Special {
            id: SpecialId(0),
            name: String::new(),
            work,
            position: 0,
            contact: Default::default(),
            gang: String::new(),
            notes: String::new(),
        };
        let lay = Edit::Lay { from: End::At(middle), to: end, shape, length_mm: None };
        let both = Edit::Batch(vec![lay, Edit::Add(special.into())]);
        if apply(&mut layout, both).is_err() || at % 3 > 0 {
            continue;
        }
        let cut = Edit::Cut {
            run: stub,
            at_mm: 250.0,
            rails: Rails::Both,
            width_mm: 0.8,
            stagger_mm: 0.0,
            made: Made::Open,
        };
        let device = Device {
            id: DeviceId(0),
            name: String::new(),
            kind: DeviceKind::ReversingSwitch { from: DriverId(at).into(), centre_off: true },
            ohm: gapwright::layout::default_device_ohm(),
            position: 0,
            gang: String::new(),
            notes: String::new(),
        };
        let through = DeviceId(layout.next_id + 1);
        let feed = Edit::Feed {
            driver: through.into(),
            run: stub,
            at_mm: 400.0,
            p: Some(Rail::Right),
            m: Some(Rail::Left),
            wire: None,
            ohm: None,
        };
        let fed = Edit::Batch(vec![cut, Edit::Add(device.into()), feed]);
        assert!(apply(&mut layout, fed).is_ok());
    }
    layout
}

/// The whole check of a line of so many blocks, each with a turnout, nothing remembered.
#[divan::bench(args = [10, 40])]
fn turnouts(bencher: divan::Bencher, blocks: u32) {
    let layout = with_turnouts(blocks);
    bencher.bench_local(|| Checker::default().check(divan::black_box(&layout)));
}

/// The same after one turnout was thrown.
#[divan::bench(args = [10, 40])]
fn turnouts_after_one_throw(bencher: divan::Bencher, blocks: u32) {
    let mut layout = with_turnouts(blocks);
    let mut checker = Checker::default();
    checker.check(&layout);
    let first = *layout.specials.keys().next().expect("the layout has turnouts");
    bencher.bench_local(|| {
        let position = 1 - layout.specials[&first].position;
        let throw = Edit::Throw { selector: first.into(), position };
        apply(&mut layout, throw).expect("a turnout has two positions");
        checker.check(divan::black_box(&layout))
    });
}
