//! Two blocks of a straight run, a gap in both rails between them, a bridge with its own isolated supply on each.
//!
//! A fixture names only what differs from [`PLAIN`]. Its values are chosen so that a loop through both bridges over both
//! rails has 0.05 + 4·0.06 + 4·0.35 + 2·0.02 = 1.73 Ω: one source, four switches, four feeder legs, two joined rails of
//! 2·(0.03 Ω / 3 wheels) each.

use std::collections::BTreeMap;

use gapwright::layout::{
    self, CutId, Direction, Drive, DriverId, Edit, Idle, Layout, Setting, SupplyId, VehicleId,
};

/// Two high-impedance bridges, same direction: sound.
pub const PLAIN: &str = r#"
(id: "j1", x_mm: 0, y_mm: 0)
(id: "j2", x_mm: 2000, y_mm: 0)
(id: "r1", from: "j1", to: "j2")
(id: "c1", run: "r1", at_mm: 1000, rails: Both)
(id: "n1", name: "West", run: "r1", at_mm: 300)
(id: "n2", name: "East", run: "r1", at_mm: 1700)
(id: "s1", open_v: 14, source_ohm: 0.05)
(id: "s2", open_v: 14, source_ohm: 0.05)
(id: "d1", supply: "s1", $PWM(490, HighImpedance), $STAGE, $TRIP, $F(0.4))
(id: "d2", supply: "s2", $PWM(125, HighImpedance), $STAGE, $TRIP, $F(0.8))
(id: "f1", driver: "d1", run: "r1", at_mm: 300, p: Right, m: Left, ohm: 0.35)
(id: "f2", driver: "d2", run: "r1", at_mm: 1700, p: Right, m: Left, ohm: 0.35)
(id: "v1", name: "long diesel", length_mm: 210, $SIX, $CONTACT)
"#;

const SHORTHANDS: &[(&str, &str)] = &[
    ("$STAGE", "high_ohm: 0.06, low_ohm: 0.06, diode_v: 0.7, diode_ohm: 0.05"),
    ("$TRIP", "trip: (amps: 3, senses: LargerLeg, kind: Instant(blanking_s: 0.00002))"),
    (
        "$SIX",
        "axles: [(at_mm: 25), (at_mm: 45), (at_mm: 65), (at_mm: 145), (at_mm: 165), (at_mm: 185)]",
    ),
    ("$CONTACT", "contact_ohm: (low: 0.03, high: 0.03)"),
    ("$DCC", "drive: DccBooster(station: \"yard\")"),
];

fn expand(line: &str) -> String {
    let mut line = line.to_owned();
    for (short, long) in SHORTHANDS {
        line = line.replace(short, long);
    }
    while let Some(at) = line.find("$PWM(") {
        let end = at + line[at..].find(')').unwrap();
        let (hz, idle) = line[at + 5..end].split_once(", ").unwrap();
        let drive = format!("drive: PwmBridge(clock: (hz: {hz}), idle: {idle})");
        line.replace_range(at..=end, &drive);
    }
    for (short, word) in [("$F(", "Forward"), ("$R(", "Reverse")] {
        while let Some(at) = line.find(short) {
            let end = at + line[at..].find(')').unwrap();
            let throttle = line[at + 3..end].to_owned();
            let setting = format!("setting: (direction: {word}, throttle: {throttle})");
            line.replace_range(at..=end, &setting);
        }
    }
    line
}

/// [`PLAIN`] with entities in the file's own notation put in the place of those of the same identity, or added; `-f2`
/// takes one away.
pub fn yard(changes: &str) -> Layout {
    load_yard(changes).unwrap_or_else(|e| panic!("{e:?}")).layout
}

/// The same where it may not load.
pub fn load_yard(changes: &str) -> Result<layout::Loaded, Vec<layout::LoadError>> {
    let mut lines: BTreeMap<String, String> = BTreeMap::new();
    for line in PLAIN.lines().chain(changes.lines()).map(str::trim).filter(|l| !l.is_empty()) {
        if let Some(gone) = line.strip_prefix('-') {
            lines.remove(gone).unwrap();
        } else {
            let id = line.split('"').nth(1).unwrap();
            lines.insert(id.to_owned(), expand(line));
        }
    }
    let list = |letter: char| -> String {
        lines
            .iter()
            .filter(|(id, _)| id.starts_with(letter))
            .map(|(_, line)| format!("    {line},\n"))
            .collect()
    };
    let text = format!(
        "(version: 1, rail_ohm_per_m: 0,\n joints: [\n{}],\n runs: [\n{}],\n cuts: [\n{}],\n labels: [\n{}],\n \
         supplies: [\n{}],\n drivers: [\n{}],\n devices: [\n{}],\n feeds: [\n{}],\n vehicles: [\n{}])",
        list('j'),
        list('r'),
        list('c'),
        list('n'),
        list('s'),
        list('d'),
        list('x'),
        list('f'),
        list('v')
    );
    layout::load(&text)
}

pub fn edited(layout: &Layout, edit: Edit) -> Layout {
    let mut twin = layout.clone();
    layout::apply(&mut twin, edit).unwrap();
    twin
}

pub const D1: DriverId = DriverId(1);
pub const D2: DriverId = DriverId(2);
pub const C1: CutId = CutId(1);

pub fn with_driver(
    layout: &Layout,
    id: DriverId,
    change: impl FnOnce(&mut layout::Driver),
) -> Layout {
    let mut driver = layout.drivers[&id].clone();
    change(&mut driver);
    edited(layout, Edit::Replace(driver.into()))
}

pub fn with_supply(layout: &Layout, id: u32, change: impl FnOnce(&mut layout::Supply)) -> Layout {
    let mut supply = layout.supplies[&SupplyId(id)].clone();
    change(&mut supply);
    edited(layout, Edit::Replace(supply.into()))
}

pub fn with_vehicle(layout: &Layout, change: impl FnOnce(&mut layout::Vehicle)) -> Layout {
    let mut vehicle = layout.vehicles[&VehicleId(1)].clone();
    change(&mut vehicle);
    edited(layout, Edit::Replace(vehicle.into()))
}

pub fn idle(layout: &Layout, id: DriverId, new: Idle) -> Layout {
    with_driver(layout, id, |driver| match &mut driver.drive {
        Drive::PwmBridge { idle, .. } | Drive::SplitHalfBridge { idle, .. } => *idle = new,
        _ => panic!("{id} has no idle state"),
    })
}

pub fn set(layout: &Layout, id: DriverId, direction: Direction, throttle: f64) -> Layout {
    edited(layout, Edit::Set { driver: id, setting: Setting { direction, throttle } })
}

/// Two boosters of one station, in phase.
pub fn boosters() -> Layout {
    yard(
        r#"
        (id: "d1", supply: "s1", $DCC, $STAGE, $TRIP, setting: (direction: On))
        (id: "d2", supply: "s2", $DCC, $STAGE, $TRIP, setting: (direction: On))"#,
    )
}

pub fn brake_low_pair() -> Layout {
    yard(
        r#"
        (id: "d1", supply: "s1", $PWM(490, BrakeLow), $STAGE, $TRIP, $F(0.4))
        (id: "d2", supply: "s2", $PWM(125, HighImpedance), $STAGE, $TRIP, $F(0.8))"#,
    )
}
