//! Sections, rings and dead frogs with trains of an engine and a lit carriage.
//!
//! The bridges here have 14 V behind 0.05 Ω, switches of 0.06 Ω and feeder legs of 0.35 Ω, the wheels 0.03 Ω.

use gapwright::layout::{self, Edit, Layout, Vehicle, VehicleId, Wheel};

/// An engine with pickups on two axles, 120 mm apart; a lit carriage with pickups at both its ends, 216 mm apart.
pub const ENGINE: &str = r#"(id: "v1", name: "engine", length_mm: 200, axles: [(at_mm: 40), (at_mm: 160)],
    contact_ohm: (low: 0.03, high: 0.03), speed: (from_mm_s: 50, to_mm_s: 200), load: Motor(ohm: 12, emf_v: 0))"#;
pub const CARRIAGE: &str = r#"(id: "v2", name: "carriage", length_mm: 280, axles: [(at_mm: 32), (at_mm: 248)],
    contact_ohm: (low: 0.03, high: 0.03), load: Resistor(ohm: 200))"#;

/// A driver on an isolated supply of its own: idle state, setting, and its trip.
pub fn driver(id: u32, idle: &str, setting: &str, trip: &str) -> [String; 2] {
    [
        format!(r#"(id: "s{id}", open_v: 14, source_ohm: 0.05)"#),
        format!(
            r#"(id: "d{id}", supply: "s{id}", drive: PwmBridge(clock: (hz: 490), idle: {idle}), high_ohm: 0.06,
            low_ohm: 0.06, diode_v: 0.7, diode_ohm: 0.05, {trip} setting: (direction: {setting}))"#
        ),
    ]
}

pub fn trip(amps: f64, more: &str) -> String {
    format!("trip: (amps: {amps}, senses: LargerLeg, kind: Instant(blanking_s: 0.001), {more}),")
}

/// A layout of some drivers, and the rest of the file.
pub fn with_drivers(drivers: &[[String; 2]], rest: &str) -> Layout {
    let list = |n: usize| drivers.iter().map(|d| d[n].clone()).collect::<Vec<_>>().join(",");
    let text = format!(
        "(version: 1, rail_ohm_per_m: 0, supplies: [{}], drivers: [{}], {rest})",
        list(0),
        list(1)
    );
    layout::load(&text).unwrap_or_else(|e| panic!("{e:?}\n{text}")).layout
}

/// Two metres with a cut in the middle, West and East, the engine and the carriage.
pub fn two_blocks(west: [String; 2], east: [String; 2], trains: &str) -> Layout {
    with_drivers(
        &[west, east],
        &format!(
            r#"joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 2000, y_mm: 0)],
            runs: [(id: "r1", from: "j1", to: "j2")], cuts: [(id: "c1", run: "r1", at_mm: 1000, rails: Both)],
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 100, p: Right, m: Left, ohm: 0.35),
                (id: "f2", driver: "d2", run: "r1", at_mm: 1900, p: Right, m: Left, ohm: 0.35)],
            vehicles: [{ENGINE}, {CARRIAGE}], trains: [{trains}]"#
        ),
    )
}

pub const FORWARD: &str = "Forward, throttle: 1";
pub const REVERSE: &str = "Reverse, throttle: 1";
pub const LOCAL: &str =
    r#"(id: "t1", name: "Evening local", vehicles: [(vehicle: "v1"), (vehicle: "v2")])"#;

/// Twenty-four blocks of half a metre, each on a coasting bridge of its own, and a train of the engine and twenty lit
/// carriages, longer than eleven of them.
pub fn many_short_blocks() -> Layout {
    let blocks = 24;
    let coasts = |id| driver(id, "HighImpedance", FORWARD, &trip(3.0, ""));
    let drivers: Vec<_> = (1..=blocks).map(coasts).collect();
    let cuts: Vec<String> = (1..blocks)
        .map(|k| format!(r#"(id: "c{k}", run: "r1", at_mm: {}, rails: Both)"#, k * 500))
        .collect();
    let feeds: Vec<String> = (1..=blocks)
        .map(|k| {
            let at_mm = k * 500 - 250;
            format!(r#"(id: "f{k}", driver: "d{k}", run: "r1", at_mm: {at_mm}, p: Right, m: Left, ohm: 0.35)"#)
        })
        .collect();
    let vehicles = r#"(vehicle: "v1"), "#.to_owned() + &r#"(vehicle: "v2"), "#.repeat(20);
    with_drivers(
        &drivers,
        &format!(
            r#"joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 12000, y_mm: 0)],
            runs: [(id: "r1", from: "j1", to: "j2")], cuts: [{}], feeds: [{}],
            vehicles: [{ENGINE}, {CARRIAGE}], trains: [(id: "t1", vehicles: [{vehicles}])]"#,
            cuts.join(","),
            feeds.join(",")
        ),
    )
}

/// A section between two gaps; the same driver feeds what lies before and beyond, beyond with exchanged rails. The train
/// bridges gaps up to 448 − 40 = 408 mm apart.
pub fn section(length_mm: f64) -> Layout {
    let coasts = |id| driver(id, "HighImpedance", FORWARD, &trip(3.0, ""));
    with_drivers(
        &[coasts(1), coasts(2)],
        &format!(
            r#"joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 3000, y_mm: 0)],
            runs: [(id: "r1", from: "j1", to: "j2")], cuts: [(id: "c1", run: "r1", at_mm: 1000, rails: Both),
                (id: "c2", run: "r1", at_mm: {}, rails: Both)],
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 100, p: Right, m: Left, ohm: 0.35),
                (id: "f2", driver: "d2", run: "r1", at_mm: 1100, p: Right, m: Left, ohm: 0.35),
                (id: "f3", driver: "d1", run: "r1", at_mm: 2900, p: Left, m: Right, ohm: 0.35)],
            vehicles: [{ENGINE}, {CARRIAGE}], trains: [{LOCAL}]"#,
            1000.0 + length_mm
        ),
    )
}

/// A ring of two blocks with two gaps, set against each other, and an engine that picks up the right rail in front and
/// the left rail behind: it never joins both.
pub fn two_gaps() -> Layout {
    let bridge = |id, setting| driver(id, "HighImpedance", setting, &trip(3.0, ""));
    with_drivers(
        &[bridge(1, FORWARD), bridge(2, REVERSE)],
        r#"joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 2000, y_mm: 0)],
        runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j2", to: "j1", shape: Arc(bend_deg: 180))],
        cuts: [(id: "c1", run: "r1", at_mm: 1000, rails: Both), (id: "c2", run: "r2", at_mm: 1500, rails: Both)],
        feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 500, p: Right, m: Left, ohm: 0.35),
            (id: "f2", driver: "d2", run: "r1", at_mm: 1500, p: Right, m: Left, ohm: 0.35)],
        vehicles: [(id: "v1", name: "split engine", length_mm: 200, axles: [(at_mm: 30, left: Metal),
            (at_mm: 60, left: Metal), (at_mm: 140, right: Metal), (at_mm: 170, right: Metal)],
            contact_ohm: (low: 0.03, high: 0.03), patch_mm: 0, load: Motor(ohm: 12, emf_v: 5))]"#,
    )
}

/// The same with pickups on every wheel.
pub fn two_gaps_all_pickups() -> Layout {
    let mut layout = two_gaps();
    change_vehicle(&mut layout, VehicleId(1), |v| {
        for axle in &mut v.axles {
            (axle.left, axle.right) = (Wheel::Pickup, Wheel::Pickup);
        }
    });
    layout
}

/// A turnout with a dead frog, 40 mm long, and a railcar whose two axles are so far apart.
pub fn dead_frog(base_mm: f64) -> Layout {
    with_drivers(
        &[driver(1, "HighImpedance", FORWARD, &trip(3.0, ""))],
        &format!(
            r#"joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 1000, y_mm: 0),
                (id: "j3", x_mm: 2000, y_mm: 0), (id: "j4", x_mm: 2000, y_mm: -200)],
            runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j2", to: "j3"), (id: "r3", from: "j2", to: "j4")],
            specials: [(id: "w1", work: Turnout(toe: (run: "r1", end: End), exits: [(run: "r2", end: Start),
                (run: "r3", end: Start)], frog: Insulated, frog_mm: 150, frog_length_mm: 40))],
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 100, p: Right, m: Left, ohm: 0.35)],
            vehicles: [(id: "v1", length_mm: 150, axles: [(at_mm: 40), (at_mm: {})], load: Motor(ohm: 12, emf_v: 5))]"#,
            40.0 + base_mm
        ),
    )
}

pub fn change_vehicle(layout: &mut Layout, id: VehicleId, change: impl FnOnce(&mut Vehicle)) {
    let mut vehicle = layout.vehicles[&id].clone();
    change(&mut vehicle);
    layout::apply(layout, Edit::Replace(vehicle.into())).unwrap();
}
