//! A turnout with a toe (r1), a straight road (r2) and one to the right (r3), fed at the toe.
//!
//! One bridge drives everything unless told otherwise: 14 V behind 0.05 Ω, switches of 0.06 Ω, feeders of 0.35 Ω a leg.

use gapwright::layout::{Layout, load};

/// A toe of 1 m (r1), a straight road (r2) and one to the right (r3), both 1 m; the given frog and further fields of the
/// turnout, feeds and lists.
pub fn turnout(frog: &str, work: &str, feeds: &str, more: &str) -> Layout {
    load(&turnout_text(frog, work, feeds, more)).unwrap_or_else(|e| panic!("{e:?}")).layout
}

pub fn turnout_text(frog: &str, work: &str, feeds: &str, more: &str) -> String {
    format!(
        r#"(version: 1, rail_ohm_per_m: 0,
        joints: [(id: "j1", x_mm: -1000, y_mm: 0), (id: "j2", x_mm: 0, y_mm: 0), (id: "j3", x_mm: 1000, y_mm: 0),
            (id: "j4", x_mm: 980, y_mm: -200)],
        runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j2", to: "j3"), (id: "r3", from: "j2", to: "j4")],
        specials: [(id: "w1", work: Turnout(toe: (run: "r1", end: End), exits: [(run: "r2", end: Start),
            (run: "r3", end: Start)], frog: {frog}, frog_mm: 150){work})],
        supplies: [(id: "s1", open_v: 14, source_ohm: 0.05)],
        drivers: [(id: "d1", supply: "s1", drive: PwmBridge(clock: (hz: 490), idle: HighImpedance), high_ohm: 0.06,
            low_ohm: 0.06, diode_v: 0.7, diode_ohm: 0.05,
            trip: (amps: 3, senses: LargerLeg, kind: Instant(blanking_s: 0.00002)),
            setting: (direction: Forward, throttle: 0.5))],
        feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 500, p: Right, m: Left, ohm: 0.35){feeds}],
        vehicles: [(id: "v1", name: "long diesel", length_mm: 210, contact_ohm: (low: 0.03, high: 0.03),
            axles: [(at_mm: 25), (at_mm: 45), (at_mm: 65), (at_mm: 145), (at_mm: 165), (at_mm: 185)])]
        {more})"#
    )
}

/// A second feed of the same driver on the diverging road, the right way round.
pub const BEYOND: &str =
    r#", (id: "f2", driver: "d1", run: "r3", at_mm: 800, p: Right, m: Left, ohm: 0.35)"#;

pub const SWITCHED_WRONG: &str = r#", contact: (sources: [[(run: "r1", at_mm: 900, rail: Left),
    (run: "r1", at_mm: 900, rail: Right)]])"#;

/// A source, a high and a low switch, two legs of a feeder.
pub const THROUGH_OHM: f64 = 0.05 + 0.12 + 2.0 * 0.35;

/// The roads part by the angle whose tangent is 200 / 980, both straight: after `d` mm along either their centre lines are
/// 2 d sin(half of it) = 0.200 98 d apart. One gauge of 16.5 mm after 82.1 mm.
pub const PARTS: f64 = 0.200_98;
/// The inner rails begin 92 mm from the points, 1.99 mm apart; a wheel is 2.8 mm wide.
pub const SHORT_FROG: &str = "frog_mm: 82, frog_length_mm: 20";
/// They begin 102 mm from the points, 4 mm apart.
pub const LONG_FROG: &str = "frog_mm: 82, frog_length_mm: 40";

/// The turnout with a turnout of other measures.
pub fn narrow_turnout(frog: &str, measures: &str) -> Layout {
    narrow_turnout_with(frog, measures, "", "")
}

pub fn narrow_turnout_with(frog: &str, measures: &str, feeds: &str, more: &str) -> Layout {
    let text = turnout_text(frog, "", feeds, more).replace("frog_mm: 150", measures);
    load(&text).unwrap_or_else(|e| panic!("{e:?}")).layout
}

/// One block that is fed twice by one driver, once through a device.
pub fn reversed_feed(kind: &str) -> Layout {
    let text = r#", (id: "f2", driver: "x1", run: "r1", at_mm: 100, p: Right, m: Left, ohm: 0.35)"#;
    let device = format!(r#", devices: [(id: "x1", kind: {kind}, ohm: 0.02)]"#);
    turnout("Insulated", "", text, &device)
}

/// One bridge at half throttle, on a supply of its own.
pub const ONE_BRIDGE: &str = r#"supplies: [(id: "s1", open_v: 14, source_ohm: 0.05)],
    drivers: [(id: "d1", supply: "s1", drive: PwmBridge(clock: (hz: 490), idle: HighImpedance), high_ohm: 0.06,
        low_ohm: 0.06, diode_v: 0.7, diode_ohm: 0.05,
        trip: (amps: 3, senses: LargerLeg, kind: Instant(blanking_s: 0.00002)),
        setting: (direction: Forward, throttle: 0.5))],"#;
