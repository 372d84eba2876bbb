//! Return loops and other plans of which every run is 1000 mm long by measure, whatever is drawn.
//!
//! The engine's six axles stand 25 to 185 mm from its front, so that 160 mm of it can bridge a cut.

use gapwright::layout::{self, Layout};

const STAGE_AND_TRIP: &str = "high_ohm: 0.06, low_ohm: 0.06, diode_v: 0.7, diode_ohm: 0.05, \
    trip: (amps: 3, senses: LargerLeg, kind: Instant(blanking_s: 0.00002))";
const BRIDGE: &str = "drive: PwmBridge(clock: (hz: 490), idle: HighImpedance), \
    setting: (direction: Forward, throttle: 0.5)";
const BOOSTER: &str = "drive: DccBooster(station: \"hall\"), setting: (direction: On)";

/// A layout from joints (name, x, y), runs (name, from, to) and further lists.
pub fn plan(joints: &[(u32, i32, i32)], runs: &[(u32, u32, u32)], more: &str) -> Layout {
    let joints: String =
        joints.iter().map(|(id, x, y)| format!("(id: \"j{id}\", x_mm: {x}, y_mm: {y}),")).collect();
    let runs: String = runs
        .iter()
        .map(|(id, from, to)| {
            // Drawn bent where a run from 3 to 2 would lie on one from 2 to 3.
            let bend = if (*from, *to) == (3, 2) { "shape: Arc(bend_deg: 40)," } else { "" };
            format!("(id: \"r{id}\", from: \"j{from}\", to: \"j{to}\", {bend} length_mm: 1000),")
        })
        .collect();
    let axles =
        "axles: [(at_mm: 25), (at_mm: 45), (at_mm: 65), (at_mm: 145), (at_mm: 165), (at_mm: 185)]";
    let mut more = more.to_owned();
    for (short, long) in [("$STAGE", STAGE_AND_TRIP), ("$BRIDGE", BRIDGE), ("$BOOSTER", BOOSTER)] {
        more = more.replace(short, long);
    }
    // <3> and <-3> are the start and the end of run 3.
    while let Some(at) = more.find('<') {
        let end = at + more[at..].find('>').unwrap();
        let number: i32 = more[at + 1..end].parse().unwrap();
        let side = if number > 0 { "Start" } else { "End" };
        more.replace_range(at..=end, &format!("(run: \"r{}\", end: {side})", number.abs()));
    }
    let vehicles = if more.contains("vehicles: [(id") {
        String::new()
    } else {
        format!("vehicles: [(id: \"v1\", name: \"engine\", length_mm: 210, {axles})],")
    };
    let text = format!(
        "(version: 1, rail_ohm_per_m: 0, joints: [{joints}], runs: [{runs}], \
         supplies: [(id: \"s1\", open_v: 14, source_ohm: 0.05), (id: \"s2\", open_v: 14, source_ohm: 0.05)], \
         {vehicles} {more})"
    );
    layout::load(&text).unwrap_or_else(|errors| panic!("{errors:?}\n{text}")).layout
}

/// Two bridges, the first on r1, the second on r3.
pub const TWO_DRIVERS: &str = r#"drivers: [(id: "d1", name: "main bridge", supply: "s1", $BRIDGE, $STAGE),
    (id: "d2", name: "loop bridge", supply: "s2", $BRIDGE, $STAGE)],
    feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 300, p: Right, m: Left, ohm: 0.2),
    (id: "f2", driver: "d2", run: "r3", at_mm: 100, p: Right, m: Left, ohm: 0.2)],"#;
/// One for both.
/// One driver with one feed.
pub const ONE_FEED: &str = r#"drivers: [(id: "d1", supply: "s1", $BRIDGE, $STAGE)],
    feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 300, p: Right, m: Left, ohm: 0.2)],"#;
pub const ONE_DRIVER: &str = r#"drivers: [(id: "d1", supply: "s1", $BRIDGE, $STAGE)],
    feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 300, p: Right, m: Left, ohm: 0.2),
    (id: "f2", driver: "d1", run: "r3", at_mm: 100, p: Right, m: Left, ohm: 0.2)],"#;
pub const NAMES: &str = r#"labels: [(id: "n1", name: "Main", run: "r1", at_mm: 500),
    (id: "n2", name: "Loop", run: "r3", at_mm: 100)],"#;

/// A return loop, r2 and r3, behind a turnout at the end of r1, with cuts at so many mm along runs.
pub fn return_loop(cuts: &[(u32, f64)], feeds: &str) -> Layout {
    plan(
        &[(1, -1000, 0), (2, 0, 0), (3, 900, 150)],
        &[(1, 1, 2), (2, 2, 3), (3, 3, 2)],
        &format!(
            r#"specials: [(id: "w1", work: Turnout(toe: <-1>, exits: [<2>, <-3>], frog_mm: 150))], {} {feeds}"#,
            cuts_text(cuts)
        ),
    )
}

pub fn cuts_text(cuts: &[(u32, f64)]) -> String {
    let cuts: String = cuts
        .iter()
        .enumerate()
        .map(|(at, (run, mm))| {
            format!("(id: \"c{}\", run: \"r{run}\", at_mm: {mm}, rails: Both),", at + 1)
        })
        .collect();
    format!("cuts: [{cuts}],")
}

/// 700 mm of r2 and 700 mm of r3 between them.
pub const TWO_CUTS: &[(u32, f64)] = &[(2, 300.0), (3, 700.0)];

/// Eight engines in a row.
pub const ORE_TRAIN: &str = r#"trains: [(id: "t1", name: "ore train", vehicles: [(vehicle: "v1"), (vehicle: "v1"), (vehicle: "v1"),
    (vehicle: "v1"), (vehicle: "v1"), (vehicle: "v1"), (vehicle: "v1"), (vehicle: "v1")])],"#;
