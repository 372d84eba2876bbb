//! The layout file: good files come back as they were, bad ones are explained at the exact place.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;

use gapwright::layout::{LoadError, load, read_path, save, write_path};

#[path = "layout_files/limits.rs"]
mod limits;
#[path = "layout_files/saving.rs"]
mod saving;

/// A good file in which every kind of thing stands.
const GOOD: &str = r#"(
    version: 1,
    name: "Brook End",
    scale: 87,
    gauge_mm: 16.5,
    rail_ohm_per_m: 0.1,
    climate: (coldest_c: 12, hottest_c: 31, benchwork_mm_per_m: 0.3),
    joints: [
        (id: "j1", x_mm: 0, y_mm: 0),
        (id: "j2", x_mm: 1000, y_mm: 0, joiners: Soldered),
        (id: "j3", x_mm: 1500, y_mm: 500),
        (id: "j4", x_mm: 3000, y_mm: 500),
        (id: "j5", x_mm: 4000, y_mm: 500),
    ],
    runs: [
        (id: "r6", from: "j1", to: "j2"),
        (id: "r7", from: "j2", to: "j3", shape: Arc(bend_deg: 90)),
        (id: "r8", from: "j3", to: "j4", shape: Cubic(c1: (1600, 800), c2: (2500, 500)), length_mm: 2000),
    ],
    cuts: [
        (id: "c9", run: "r6", at_mm: 500, rails: Both, width_mm: 0.8, stagger_mm: 10, cut_at_c: 21),
        (id: "c10", run: "r8", at_mm: 0, rails: Left, made: InsulatedJoiner),
    ],
    labels: [(id: "n11", name: "Yard", run: "r7", at_mm: 100)],
    supplies: [
        (id: "s12", open_v: (value: 14, source: Assumed, from: 13, to: 15), source_ohm: 0.05,
            limit: (amps: 5), bulk_f: 0.001, bulk_ohm: 0.05, negative: (name: "board", ohm: 0.02), bearable_v: 24),
        (id: "s13", open_v: 12, source_ohm: 0.1, split: true),
    ],
    drivers: [
        (id: "d14", supply: "s12", drive: PwmBridge(clock: (hz: 490, tolerance: 0.02, shared: "board", phase: 0.5), idle: BrakeLow),
            high_ohm: 0.15, low_ohm: 0.16, diode_v: 0.7, diode_ohm: 0.05, rating_a: 2, wake_v: 5, lowest_throttle: 0.1,
            trip: (amps: 3, senses: LargerLeg, kind: Instant(blanking_s: 0), retry_s: 1),
            setting: (direction: Forward, throttle: 0.4)),
        (id: "d15", supply: "s12", drive: DccBooster(station: "main", skew_s: 0.000005,
            half_bits: (shortest_one_s: 0.000058, longest_zero_s: 0.0002)), high_ohm: 0.15, low_ohm: 0.15, diode_v: 0.7, diode_ohm: 0.05, trip: (amps: 4, senses: LegP, kind: Sampled(every_s: 0.01, in_a_row: 3)),
            setting: (direction: On)),
        (id: "d16", supply: "s13", drive: SplitHalfBridge(clock: (hz: 20000), idle: Opposed), high_ohm: 0.15, low_ohm: 0.15,
            diode_v: 0.7, diode_ohm: 0.05, trip: (amps: 2, senses: LegP, kind: Averaged(tau_s: 0.03)), setting: (direction: Stopped)),
        (id: "d17", supply: "s12", drive: SmoothDc(output_ohm: 0.5), high_ohm: 0.15, low_ohm: 0.15,
            diode_v: 0.7, diode_ohm: 0.05, setting: (direction: Off)),
        (id: "d21", supply: "s12", drive: PwmBridge(clock: (hz: 31000), idle: HighImpedance), high_ohm: 0.15, low_ohm: 0.15,
            diode_v: 0.7, diode_ohm: 0.05, trip: (amps: 2, senses: GroundReturn, kind: Sampled(every_s: 0.02, in_a_row: 2, locked_at: 0.5)),
            setting: (direction: Reverse, throttle: 0.2)),
    ],
    feeds: [
        (id: "f18", driver: "d14", run: "r6", at_mm: 100, p: Right, m: Left, wire: (size: Awg(18), length_m: 2, rating_a: 4)),
        (id: "f19", driver: "d17", run: "r7", at_mm: 100, p: Left, wire: (size: Mm2(0.75), length_m: 2), ohm: 0.2),
    ],
    vehicles: [
        (id: "v20", name: "Thistle railcar", length_mm: 150, axles: [(at_mm: 40), (at_mm: 110, left: Metal)],
            load: Motor(ohm: 20, emf_v: 6), contact_ohm: (low: 0.02, high: 0.5),
            speed: (from_mm_s: 30, to_mm_s: 400), patch_mm: 0.5, wiring_a: 1),
    ],
)
"#;

/// Marks in a bad file the place at which its fault must be reported.
const MARK: char = '§';

/// Takes the mark out; returns the text and the mark's line and column.
fn marked(text: &str) -> (String, (usize, usize)) {
    let (before, _) = text.split_once(MARK).unwrap_or_else(|| panic!("no mark in {text}"));
    let line = before.matches('\n').count() + 1;
    let column = before.rsplit('\n').next().unwrap().chars().count() + 1;
    (text.replace(MARK, ""), (line, column))
}

/// The faults of [`GOOD`] with `from` replaced by `to`, which holds the mark; and the mark's place.
fn faults_after(from: &str, to: &str) -> (Vec<LoadError>, (usize, usize)) {
    assert_eq!(GOOD.matches(from).count(), 1, "{from:?} must stand in the good file once");
    let (text, place) = marked(&GOOD.replace(from, to));
    (load(&text).map(|_| ()).expect_err(to), place)
}

#[test]
fn the_good_file_is_good_and_comes_back() {
    let loaded = load(GOOD).unwrap_or_else(|e| panic!("{e:?}"));
    assert!(!loaded.had_comments);
    assert_eq!(loaded.layout.next_id, 22);
    let text = save(&loaded.layout);
    let again = load(&text).unwrap();
    assert_eq!(again.layout, loaded.layout);
    assert_eq!(save(&again.layout), text);
    assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
}

/// One bad file per rule: what is replaced, by what, and a piece of what must be said.
const MEANING: &[(&str, &str, &str)] = &[
    // Identities and references.
    (r#"(id: "j5", x"#, r#"(id: §"j1", x"#, "used twice"),
    (r#"(id: "j5", x"#, r#"(id: §"j1000000001", x"#, "too large"),
    (r#"(id: "r6", from: "j1""#, r#"(id: "r6", from: §"j77""#, "no joint j77"),
    (r#"from: "j3", to: "j4""#, r#"from: "j3", to: §"j44""#, "no joint j44"),
    (r#"(id: "c9", run: "r6""#, r#"(id: "c9", run: §"r1""#, "no run r1"),
    (r#"name: "Yard", run: "r7""#, r#"name: "Yard", run: §"r1""#, "no run r1"),
    (r#""d17", supply: "s12""#, r#""d17", supply: §"s1""#, "no supply s1"),
    (r#"driver: "d14""#, r#"driver: §"d1""#, "no driver d1"),
    (r#"driver: "d17", run: "r7""#, r#"driver: "d17", run: §"r1""#, "no run r1"),
    ("scale: 87,", "scale: 87, next_id: §21,", "21 is in use"),
    ("scale: 87,", "scale: 87, next_id: §4000000000,", "too large"),
    // The whole.
    ("scale: 87,", "scale: §0,", "is 0"),
    ("scale: 87,", "scale: §NaN,", "not a number"),
    ("gauge_mm: 16.5", "gauge_mm: §-16.5", "-16.5"),
    ("gauge_mm: 16.5", "gauge_mm: §inf", "infinite"),
    ("rail_ohm_per_m: 0.1", "rail_ohm_per_m: §-0.1", "-0.1"),
    ("rail_ohm_per_m: 0.1", "rail_ohm_per_m: §1e-7", "1e-7"),
    // Joints and runs.
    ("x_mm: 4000,", "x_mm: §NaN,", "not a number"),
    ("x_mm: 4000,", "x_mm: §-1e9,", "-1e9"),
    (r#"from: "j3", to: "j4""#, r#"from: §"j2", to: "j4""#, "j2 already joins run r6 and run r7"),
    (
        r#""r6", from: "j1", to: "j2")"#,
        r#""r6", from: "j1", to: §"j1")"#,
        "starts and ends at joint j1",
    ),
    ("bend_deg: 90", "bend_deg: §0", "turns by 0°"),
    ("bend_deg: 90", "bend_deg: §-360", "turns by -360°"),
    ("bend_deg: 90", "bend_deg: §NaN", "not a finite number"),
    ("c1: (1600, 800)", "c1: (1600, §inf)", "infinite"),
    ("c2: (2500, 500)", "c2: (§NaN, 500)", "not a number"),
    ("length_mm: 2000", "length_mm: §-2000", "-2000"),
    ("length_mm: 2000", "length_mm: §0", "is 0 mm"),
    // The room.
    ("coldest_c: 12", "coldest_c: §32", "the coldest is 32 °C and the hottest 31 °C"),
    ("coldest_c: 12", "coldest_c: §-51", "-51 °C"),
    ("hottest_c: 31", "hottest_c: §NaN", "not a number"),
    ("hottest_c: 31", "hottest_c: 31, rail_um_per_m_k: §-1", "-1 µm per m and K"),
    ("benchwork_mm_per_m: 0.3", "benchwork_mm_per_m: §inf", "infinite"),
    // Cuts.
    ("cut_at_c: 21", "cut_at_c: §101", "101 °C"),
    ("cut_at_c: 21", "cut_at_c: §NaN", "not a number"),
    ("at_mm: 500", "at_mm: §1000.5", "1000.5"),
    ("at_mm: 500", "at_mm: §-0.5", "-0.5"),
    ("at_mm: 500", "at_mm: §NaN", "not a number"),
    ("width_mm: 0.8", "width_mm: §0", "is 0 mm"),
    ("width_mm: 0.8", "width_mm: §0.009", "0.009 mm"),
    ("width_mm: 0.8", "width_mm: §51", "51"),
    ("stagger_mm: 10", "stagger_mm: §500.5", "cut at 1000.5 mm"),
    ("stagger_mm: 10", "stagger_mm: §-501", "cut at -1 mm"),
    ("stagger_mm: 10", "stagger_mm: §NaN", "not a number"),
    (
        "rails: Both, width_mm: 0.8, stagger_mm: 10",
        "rails: Left, width_mm: 0.8, stagger_mm: §10",
        "only one rail",
    ),
    ("at_mm: 0, rails: Left", "at_mm: §30, rails: Left", "insulated joiner cannot stand at 30 mm"),
    ("at_mm: 0, rails: Left, made", "at_mm: 0, rails: Both, stagger_mm: §5, made", "both rails"),
    (
        r#"(id: "c10","#,
        r#"(id: "c22", run: "r6", at_mm: §510.5, rails: Right), (id: "c10","#,
        "same piece of the right rail as cut c9",
    ),
    (
        r#"(id: "c10","#,
        r#"(id: "c22", run: "r7", at_mm: §785.2, rails: Left), (id: "c10","#,
        "same piece of the left rail as cut c10",
    ),
    // Labels.
    (r#"name: "Yard""#, r#"name: §" ""#, "name is empty"),
    (r#"run: "r7", at_mm: 100)]"#, r#"run: "r7", at_mm: §800)]"#, "800 mm"),
    // Supplies.
    ("open_v: 12", "open_v: §0", "is 0 V"),
    ("open_v: 12", "open_v: §5e-324", "5e-324 V"),
    ("open_v: 12", "open_v: §101", "101"),
    ("(value: 14, source", "(value: §15.5, source", "outside its range"),
    ("from: 13, to: 15", "from: §16, to: 15", "range starts at 16"),
    ("from: 13, to: 15", "from: §-1, to: 15", "-1"),
    ("from: 13, to: 15", "from: 13, to: §inf", "infinite"),
    ("source_ohm: 0.05", "source_ohm: §0", "is 0 Ω"),
    ("source_ohm: 0.05", "source_ohm: §0.0009", "Ω"),
    ("limit: (amps: 5)", "limit: (amps: §0)", "is 0 A"),
    ("bulk_f: 0.001", "bulk_f: §-0.001", "F"),
    ("bulk_ohm: 0.05", "bulk_ohm: §0", "is 0 Ω"),
    (r#"negative: (name: "board""#, r#"negative: (name: §"""#, "name is empty"),
    ("ohm: 0.02)", "ohm: §0)", "is 0 Ω"),
    ("bearable_v: 24", "bearable_v: §0", "is 0 V"),
    // Drivers.
    ("hz: 490", "hz: §0.5", "0.5 Hz"),
    ("hz: 490", "hz: §NaN", "not a number"),
    ("hz: 20000", "hz: §2e6", "2000000 Hz"),
    ("tolerance: 0.02", "tolerance: §0.6", "0.6"),
    (r#"shared: "board", phase: 0.5"#, "phase: §0.5", "no shared clock"),
    ("phase: 0.5", "phase: §1.5", "1.5"),
    (r#"shared: "board""#, r#"shared: §"""#, "name is empty"),
    ("idle: Opposed", "idle: §BrakeLow", "cannot brake"),
    (r#""d16", supply: "s13""#, r#""d16", supply: §"s12""#, "not split"),
    (r#""d17", supply: "s12""#, r#""d17", supply: §"s13""#, "is split"),
    ("output_ohm: 0.5", "output_ohm: §0", "is 0 Ω"),
    (r#"station: "main""#, r#"station: §"""#, "name is empty"),
    ("skew_s: 0.000005", "skew_s: §0.01", "0.01 s"),
    ("shortest_one_s: 0.000058", "shortest_one_s: §0.000009", "9e-6 s"),
    ("longest_zero_s: 0.0002", "longest_zero_s: §1", "is 1 s"),
    ("longest_zero_s: 0.0002", "longest_zero_s: §0.00005", "shorter than the shortest"),
    ("0.000058, longest_zero_s: 0.0002", "§0.00011", "shorter than the shortest"),
    ("high_ohm: 0.15, low_ohm: 0.16", "high_ohm: §0, low_ohm: 0.16", "is 0 Ω"),
    ("low_ohm: 0.16", "low_ohm: §-1", "-1"),
    ("diode_v: 0.7, diode_ohm: 0.05, rating", "diode_v: §5.5, diode_ohm: 0.05, rating", "5.5"),
    ("diode_ohm: 0.05, rating", "diode_ohm: §0, rating", "is 0 Ω"),
    ("rating_a: 2", "rating_a: §0", "is 0 A"),
    ("wake_v: 5", "wake_v: §-5", "-5"),
    ("lowest_throttle: 0.1", "lowest_throttle: §1.1", "1.1"),
    ("amps: 3,", "amps: §0,", "is 0 A"),
    ("amps: 3,", "amps: §0.0009,", "A"),
    ("amps: 3,", "amps: (value: 3, source: Assumed, from: §0, to: 4),", "is 0 A"),
    ("blanking_s: 0)", "blanking_s: §-1)", "-1"),
    ("blanking_s: 0)", "blanking_s: §1e-300)", "1e-300 s"),
    ("retry_s: 1", "retry_s: §0", "is 0 s"),
    ("every_s: 0.01", "every_s: §0", "is 0 s"),
    ("every_s: 0.01", "every_s: §5e-324", "5e-324 s"),
    ("every_s: 0.01", "every_s: §9e-10", "9e-10 s"),
    ("in_a_row: 3", "in_a_row: §0", "is 0"),
    ("in_a_row: 3", "in_a_row: §17", "17"),
    ("locked_at: 0.5", "locked_at: §-0.5", "-0.5"),
    ("in_a_row: 3)", "in_a_row: 3, locked_at: §0.5)", "no PWM"),
    ("tau_s: 0.03", "tau_s: §0", "is 0 s"),
    ("tau_s: 0.03", "tau_s: §1e-12", "1e-12 s"),
    ("direction: Off", "direction: §On", "DCC boosters only"),
    ("direction: On", "direction: §Forward", "no direction"),
    ("throttle: 0.4)", "throttle: §-0.4)", "-0.4"),
    ("throttle: 0.4)", "throttle: §NaN)", "not a number"),
    // Feeds.
    (r#"at_mm: 100, p: Right, m: Left"#, r#"at_mm: §1001, p: Right, m: Left"#, "1001"),
    (
        r#"(id: "f19", driver: "d17", run: "r7", at_mm: 100, p: Left,"#,
        r#"§(id: "f19", driver: "d17", run: "r7", at_mm: 100,"#,
        "no rail",
    ),
    ("p: Right, m: Left", "p: Right, m: §Right", "same rail"),
    ("Awg(18)", "Awg(§41)", "41"),
    ("Mm2(0.75)", "Mm2(§0)", "is 0 mm²"),
    ("rating_a: 4", "rating_a: §0", "is 0 A"),
    ("size: Awg(18), length_m: 2", "size: Awg(18), length_m: §-2", "-2"),
    ("ohm: 0.2)", "ohm: §0.0)", "is 0 Ω"),
    // Vehicles.
    ("length_mm: 150", "length_mm: §0", "is 0 mm"),
    ("[(at_mm: 40), (at_mm: 110, left: Metal)]", "§[]", "no wheelsets"),
    ("at_mm: 110, left", "at_mm: §160, left", "160"),
    ("at_mm: 110, left", "at_mm: §-1, left", "-1"),
    ("at_mm: 110, left", "at_mm: §40, left", "follows one at 40 mm"),
    ("load: Motor(ohm: 20", "load: Motor(ohm: §0", "is 0 Ω"),
    ("emf_v: 6", "emf_v: §-6", "-6"),
    ("load: Motor(ohm: 20, emf_v: 6)", "load: Resistor(ohm: §0)", "is 0 Ω"),
    ("load: Motor(ohm: 20, emf_v: 6)", "load: Rectifier(ohm: 1, volts: §200)", "200"),
    ("low: 0.02, high", "low: §0, high", "is 0 Ω"),
    ("low: 0.02, high", "low: §0.6, high", "above the largest"),
    ("high: 0.5", "high: §inf", "infinite"),
    ("from_mm_s: 30", "from_mm_s: §0", "is 0 mm/s"),
    ("from_mm_s: 30", "from_mm_s: §0.009", "0.009 mm/s"),
    ("from_mm_s: 30", "from_mm_s: §500", "above the largest"),
    ("to_mm_s: 400", "to_mm_s: §NaN", "not a number"),
    ("patch_mm: 0.5", "patch_mm: §-1", "-1"),
    ("wiring_a: 1", "wiring_a: §0", "is 0 A"),
];

#[test]
fn every_rule_places_its_fault_exactly() {
    let mut wrong = Vec::new();
    for (from, to, says) in MEANING {
        let (faults, place) = faults_after(from, to);
        let fine = faults.len() == 1
            && (faults[0].line, faults[0].column) == place
            && faults[0].says.contains(says)
            && ![&faults[0].expected, &faults[0].hint, &faults[0].place]
                .iter()
                .any(|s| s.is_empty());
        if !fine {
            wrong.push(format!("{to}: expected at {place:?}, got {faults:#?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_run_without_length_is_refused() {
    let to = r#"(id: "j5", x_mm: 4000, y_mm: 500), (id: "j6", x_mm: 4000, y_mm: 500)"#;
    let text = GOOD.replace(r#"(id: "j5", x_mm: 4000, y_mm: 500)"#, to);
    for shape in
        ["", ", shape: §Arc(bend_deg: 30)", ", shape: §Cubic(c1: (4000, 500), c2: (4000, 500))"]
    {
        let run = format!("runs: [§(id: \"r5\", from: \"j5\", to: \"j6\"{shape}),");
        let run = if shape.is_empty() { run } else { run.replacen(MARK, "", 1) };
        let (text, place) = marked(&text.replace("runs: [", &run));
        let faults = load(&text).unwrap_err();
        assert_eq!(faults.len(), 1, "{faults:#?}");
        assert_eq!((faults[0].line, faults[0].column), place, "{}", faults[0]);
        assert!(faults[0].says.contains("drawn 0 mm long"), "{}", faults[0]);
    }
}

/// Faults of notation and type.
const NOTATION: &[(&str, &str, &str)] = &[
    ("name: \"Brook", "§nam: \"Brook", "no field `nam`"),
    ("name: \"Brook", "name: §Brook", "found `Brook`"),
    ("x_mm: 4000, y_mm: 500", "x_mm: 4000, §z_mm: 500", "no field `z_mm`"),
    (r#"(id: "r6", from: "j1", to: "j2")"#, r#"§(id: "r6", from: "j1")"#, "`to` is missing"),
    ("shape: Arc(bend_deg: 90)", "shape: §Arc()", "`bend_deg` is missing"),
    ("shape: Arc(bend_deg: 90)", "shape: §Ark(bend_deg: 90)", "`Ark` is not among"),
    (r#"(id: "c9""#, r#"(id: §"9""#, r#"found "9""#),
    (r#"(id: "c9""#, r#"(id: §"c09""#, r#"found "c09""#),
    (r#"(id: "c9""#, r#"(id: §9"#, "found `9`"),
    ("scale: 87,", "scale: §\"87\",", "found \"87\""),
    ("scale: 87,\n    gauge", "scale: 87\n    §gauge", "found `gauge_mm`"),
    ("scale: 87,", "scale: 87, §scale: 87,", "given twice"),
    ("scale: 87,", "scale: 87, next_id: §-3,", "found `-3`"),
    ("scale: 87,", "scale: 87, next_id: §2.5,", "found `2.5`"),
    ("Awg(18)", "Awg(§18.5)", "found `18.5`"),
    ("split: true", "split: §1", "found `1`"),
    ("c1: (1600, 800)", "c1: §(1600)", "1 item"),
    (
        "rail_ohm_per_m: 0.1",
        "rail_ohm_per_m: §(value: 0.1, from: 0, to: 1)",
        "only a value with source: Assumed",
    ),
    (
        "rail_ohm_per_m: 0.1",
        "rail_ohm_per_m: §(value: 0.1, source: Assumed, from: 0)",
        "`to` is missing",
    ),
    ("rail_ohm_per_m: 0.1", "rail_ohm_per_m: (value: 0.1, source: §Guessed)", "`Guessed`"),
    ("rail_ohm_per_m: 0.1", "rail_ohm_per_m: §\"0.1\"", "\"0.1\""),
    ("joints: [", "joints: §(", "found `(`"),
    (
        "Left, wire: (size: Mm2(0.75), length_m: 2), ohm: 0.2),\n    ]",
        "Left),\n    §)",
        "is not closed yet",
    ),
    ("\"Yard\"", "§\"Yard", ""),
    ("version: 1", "version: §2", "version 2"),
    ("version: 1", "version: §\"1\"", "found \"1\""),
    ("    version: 1,\n", "", "does not say its version"),
    ("scale: 87,", "scale: 87, §/* /* */", "never ends"),
    (
        "patch_mm: 0.5, wiring_a: 1),\n    ],\n)",
        "patch_mm: 0.5, wiring_a: 1),\n    ],\n) §x",
        "after the end",
    ),
];

#[test]
fn faults_of_notation_and_type_are_placed_exactly() {
    let mut wrong = Vec::new();
    for (from, to, says) in NOTATION {
        let to = if to.is_empty() { "" } else { to };
        let (faults, place) = if to.is_empty() {
            let (text, place) = marked(&GOOD.replace(from, to).replacen('(', "§(", 1));
            (load(&text).unwrap_err(), place)
        } else if to.starts_with("§\"Yard") {
            // An open string swallows the rest of the file up to the next quote.
            let (text, _) = marked(&GOOD.replace(from, to));
            assert_eq!(load(&text).unwrap_err().len(), 1);
            continue;
        } else {
            faults_after(from, to)
        };
        let fine = faults.len() == 1
            && (faults[0].line, faults[0].column) == place
            && faults[0].says.contains(says)
            && !faults[0].expected.is_empty();
        if !fine {
            wrong.push(format!("{to}: expected at {place:?}, got {faults:#?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn ends_that_are_missing_are_placed_where_they_begin() {
    for (text, says) in [
        ("", "is empty"),
        ("// nothing but this", "is empty"),
        ("§hello", "no layout"),
        ("§[1, 2]", "no layout"),
        ("§y\ny\ny\n", "no layout"),
        ("§\0\0\0\0", "no layout"),
        ("(version: 1, name: §\"Brook", "string that starts here"),
        ("(version: 1, joints: §[", "never closed"),
        ("§(version: 1, joints: []", "never closed"),
        ("§(version: 1", "never closed"),
        ("(version: 1, joints: [§(id: \"j1\", x_mm: 0", "never closed"),
        ("(version: 1, §/* joints", "comment"),
    ] {
        let marked_text = if text.contains(MARK) { text.to_owned() } else { format!("§{text}") };
        let (text, place) = marked(&marked_text);
        let faults = load(&text).unwrap_err();
        assert_eq!(faults.len(), 1);
        assert_eq!((faults[0].line, faults[0].column), place, "{text}: {}", faults[0]);
        assert!(faults[0].says.contains(says), "{text}: {}", faults[0]);
    }
}

#[test]
fn unknown_fields_get_the_nearest_name() {
    let (faults, _) = faults_after("gauge_mm: 16.5", "§gage_mm: 16.5");
    assert_eq!(faults[0].hint, "did you mean `gauge_mm`?");
    let (faults, _) = faults_after("idle: BrakeLow", "idle: §Brakelow");
    assert_eq!(faults[0].hint, "did you mean `BrakeLow`?");
    assert!(faults[0].to_string().starts_with("line 31, column "), "{}", faults[0]);
}

#[test]
fn all_faults_of_meaning_are_reported_in_the_order_of_the_file() {
    let text = GOOD
        .replace("scale: 87", "scale: -1")
        .replace("hz: 490", "hz: inf")
        .replace("amps: 3,", "amps: -3,")
        .replace(r#"driver: "d14""#, r#"driver: "d99""#)
        .replace("at_mm: 110", "at_mm: 4000");
    let faults = load(&text).unwrap_err();
    let says: Vec<&str> = faults.iter().map(|f| f.place.as_str()).collect();
    assert_eq!(
        says,
        [
            "the layout, scale",
            "driver d14, drive.clock.hz",
            "driver d14, trip.amps.value",
            "feed f18, driver",
            "vehicle v20, axles[1].at_mm",
        ]
    );
    let places: BTreeSet<_> = faults.iter().map(|f| (f.line, f.column)).collect();
    assert_eq!(places.len(), faults.len());
}

#[test]
fn a_twice_used_id_does_not_hide_the_second_ones_other_faults() {
    let text =
        GOOD.replace(r#"(id: "c10", run: "r8", at_mm: 0"#, r#"(id: "c9", run: "r99", at_mm: 0"#);
    let faults = load(&text).unwrap_err();
    assert_eq!(faults.len(), 2, "{faults:#?}");
    assert!(faults[0].says.contains("used twice") && faults[1].says.contains("no run r99"));
}

#[test]
fn columns_count_characters_and_comments_do_not_confuse_them() {
    let (text, place) = marked(
        "\u{feff}// Größe (\n(version: 1, name: \"Öster\u{200d}🚂(\", /* ( /* [ */ \" */ notes: r#\"a \" (\"#, scale: §-1)",
    );
    let faults = load(&text).unwrap_err();
    assert_eq!((faults[0].line, faults[0].column), place);
    let (text, place) = marked("(version: 1,\r\n\tscale: 87,\r\n\tgauge_mm:\t§0)");
    let faults = load(&text).unwrap_err();
    assert_eq!((faults[0].line, faults[0].column), place);
}

#[test]
fn comments_are_noticed() {
    assert!(load("(version: 1) // end").unwrap().had_comments);
    assert!(load("/* a */ (version: 1)").unwrap().had_comments);
    assert!(!load("(version: 1, notes: \"// no /* comment\")").unwrap().had_comments);
    assert_eq!(load("(version: 1, notes: \"kept\")").unwrap().layout.notes, "kept");
}

#[test]
fn optional_values_may_be_plain_or_said_to_be_some_or_none() {
    let plain = load(GOOD).unwrap().layout;
    let some = GOOD
        .replace("length_mm: 2000", "length_mm: Some(2000)")
        .replace("p: Left,", "p: Some(Left), m: None,");
    assert_eq!(load(&some).unwrap().layout, plain);
    let (faults, place) = faults_after("length_mm: 2000", "length_mm: Some(§-2000)");
    assert_eq!((faults[0].line, faults[0].column), place);
}

#[test]
fn any_words_come_back_as_they_were() {
    for words in [
        "\"",
        "\\",
        "\\\"",
        "a\nb\r\tc\0",
        "(,[:{ // /* */",
        "r#\"x\"#",
        "'",
        "\u{7f}\u{202e}é🚂",
        "\\u{41}",
    ] {
        let mut layout = load(GOOD).unwrap().layout;
        layout.name = words.to_owned();
        layout.notes = words.repeat(60);
        for vehicle in layout.vehicles.values_mut() {
            vehicle.notes = words.repeat(20);
        }
        let loaded = load(&save(&layout)).unwrap();
        assert_eq!(loaded.layout, layout);
        assert!(!loaded.had_comments);
    }
}

#[test]
fn equal_layouts_give_equal_texts() {
    let plus = load("(version: 1, joints: [(id: \"j1\", x_mm: 0.0, y_mm: 0)])").unwrap().layout;
    let minus = load("(version: 1, joints: [(id: \"j1\", x_mm: -0.0, y_mm: -0)])").unwrap().layout;
    assert_eq!(plus, minus);
    assert_eq!(save(&plus), save(&minus));
}

#[test]
fn a_file_is_written_whole_or_not_at_all() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("brook end.gapwright");
    let layout = load(GOOD).unwrap().layout;
    write_path(&layout, &path).unwrap();
    assert_eq!(read_path(&path).unwrap().layout, layout);
    let mut other = layout.clone();
    other.name = "Brook End, second try".into();
    write_path(&other, &path).unwrap();
    assert_eq!(read_path(&path).unwrap().layout, other);
    // The file, and the one before it.
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 2);

    assert!(write_path(&layout, &folder.path().join("no such folder/x.gapwright")).is_err());
    // A folder in the way cannot be replaced, and nothing is left behind.
    assert!(write_path(&layout, folder.path()).is_err());
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 2);
    assert_eq!(read_path(&path).unwrap().layout, other);

    let mut rights = std::fs::metadata(&path).unwrap().permissions();
    rights.set_readonly(true);
    std::fs::set_permissions(&path, rights).unwrap();
    assert!(write_path(&layout, &path).is_err());
    assert_eq!(read_path(&path).unwrap().layout, other);
    std::fs::remove_file(&path).unwrap();

    std::fs::write(&path, [0xff, 0xfe, 0x00]).unwrap();
    assert!(read_path(&path).is_err());
    assert!(read_path(&folder.path().join("absent")).is_err());
}

/// The pieces of the documentation that are marked with a language.
fn documented(language: &str) -> Vec<&'static str> {
    include_str!("../docs/layout-file.md")
        .split("```")
        .skip(1)
        .step_by(2)
        .filter_map(|piece| piece.strip_prefix(language))
        .collect()
}

#[test]
fn the_documented_layout_loads() {
    let [example] = documented("ron\n")[..] else { panic!("one example") };
    let loaded = load(example).unwrap_or_else(|e| panic!("{e:?}"));
    assert!(loaded.had_comments);
    let layout = loaded.layout;
    let counts =
        [layout.cuts.len(), layout.drivers.len(), layout.feeds.len(), layout.vehicles.len()];
    assert_eq!(counts, [1, 2, 2, 1]);
}

#[test]
fn the_documented_fault_is_what_is_said() {
    let example = documented("ron\n")[0].replace("at_mm: 1000, rails", "at_mm: 2100, rails");
    let faults = load(&example).unwrap_err();
    let said = faults[0].to_string();
    let [documented] = documented("text\n")[..] else { panic!("one fault") };
    assert_eq!(said, documented.trim());
}

#[test]
fn every_field_that_is_saved_is_documented() {
    let docs = include_str!("../docs/layout-file.md");
    let text = save(&load(GOOD).unwrap().layout);
    let mut fields = BTreeSet::new();
    for (i, _) in text.match_indices(": ") {
        let name = text[..i].rsplit(|c: char| !c.is_alphanumeric() && c != '_').next().unwrap();
        fields.insert(name);
    }
    assert!(fields.len() > 60, "{fields:?}");
    for field in fields {
        assert!(
            docs.contains(&format!("`{field}`")) || docs.contains(&format!("{field}: ")),
            "{field}"
        );
    }
}
