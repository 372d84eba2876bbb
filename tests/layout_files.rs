//! Tests of the layout file: good files come back as they were, bad ones are explained at their place.
#![allow(clippy::unwrap_used)]

use gapwright::layout::*;

const BAD: &[&str] = &[
    "(version: 1, nam: \"x\")",
    "(version: 1,\n runs: [\n  (id: \"r1\", from: \"j1\"),\n ])",
    "(version: 1,\n runs: [\n  (id: \"x1\", from: \"j1\", to: \"j2\"),\n ])",
    "(version: 1,\n runs: [\n  (id: 5, from: \"j1\", to: \"j2\"),\n ])",
    "(version: 1,\n scale: \"a\")",
    "(version: 1,\n scale: 87 gauge_mm: 5)",
    "(version: 1,\n runs: [\n  (id: \"r1\", from: \"j1\", to: \"j2\", shape: Straigt),\n ])",
    "(version: 1,\n runs: [\n  (id: \"r1\", from: \"j1\", to: \"j2\", shape: Arc(bend: 4)),\n ])",
    "(version: 1,\n runs: [\n  (id: \"r1\", from: \"j1\", to: \"j2\", shape: Arc()),\n ])",
    "(version: 1,\n runs: [\n  (id: \"r1\", from: \"j1\", to: \"j2\"),\n )",
    "(version: 1,\n rail_ohm_per_m: (value: 1, from: 2))",
    "(version: 1,\n rail_ohm_per_m: (value: 1, source: Guessed))",
    "(version: 1,\n rail_ohm_per_m: (valu: 1))",
    "(version: 1,\n rail_ohm_per_m: \"a\")",
    "(version: 1,\n rail_ohm_per_m: (source: Measured))",
    "(version: 1, name: \"abc",
    "(version: 1, /* abc",
    "(version: 1, name: \"a\", name: \"b\")",
    "(version: 1) x",
    "(version: \"1\")",
    "(version: 1, next_id: -4)",
    "(version: 1, next_id: 4.5)",
    "(version: 1, name: \"a\\q\")",
    "(version: 1, joints: (a: 1))",
    "(version: 1, joints: [(id: \"j1\", x_mm: 1, y_mm: 2]])",
    "(version: 1, joints: [(\"j1\", 1, 2)])",
    "(version: 1, joints: {\"a\": 1})",
    "(version: 1, labels: [(id: \"n1\", name: \"a\", run: \"r1\", at_mm: true)])",
    "(version: 1, supplies: [(id: \"s1\", open_v: 14, source_ohm: 1, powered: 1)])",
    "(version: 1, runs: [(id: \"r1\", from: \"j1\", to: \"j2\", shape: Cubic(c1: (1, 2), c2: (1)))])",
    "(version: 1, runs: [(id: \"r1\", from: \"j1\", to: \"j2\", length_mm: None)], cuts: [(id: \"c1\", run: \"r1\", at_mm: 1e, rails: Both)])",
];

#[test]
fn show() {
    for bad in BAD {
        println!("{bad}");
        println!(
            "   {:?}",
            load(bad).map_err(|e| e.iter().map(|e| e.to_string()).collect::<Vec<_>>())
        );
    }
    let good = r#"(version: 1, name: "a \"q\" // b", joints: [(id: "j1", x_mm: -0.0, y_mm: 0), (id: "j2", x_mm: 1000, y_mm: 0)],
      runs: [(id: "r3", from: "j1", to: "j2", length_mm: 1e3)], 
      supplies: [(id: "s4", open_v: 14, source_ohm: (value: 0.3, source: Assumed, from: 0.05, to: 0.5), limit: (amps: 3), negative: (name: "board"))],
      drivers: [(id: "d5", supply: "s4", drive: PwmBridge(clock: (hz: 490), idle: BrakeLow), high_ohm: 0.15, low_ohm: 0.15, diode_v: 0.7, diode_ohm: 0.05, trip: (amps: 3, senses: LargerLeg, kind: Instant(blanking_s: 0)), setting: (direction: Forward, throttle: 0.4))],
      feeds: [(id: "f1", driver: "d5", run: "r3", at_mm: 100, p: Right, m: Left, wire: (size: Awg(18), length_m: 2))],
      vehicles: [(id: "v9", name: "x", length_mm: 100, axles: [(at_mm: 10), (at_mm: 90, left: Metal)], load: Motor(ohm: 10, emf_v: 5))])"#;
    let l = load(good).unwrap_or_else(|e| panic!("{e:?}"));
    println!("{}", save(&l.layout));
    assert_eq!(load(&save(&l.layout)).unwrap().layout, l.layout);
}

#[test]
fn edits() {
    let mut l = Layout::default();
    let mut h = History::default();
    let made = h
        .do_edit(
            &mut l,
            Edit::Lay {
                from: End::New(0.0, 0.0),
                to: End::New(1000.0, 0.0),
                shape: Shape::Straight,
                length_mm: None,
            },
        )
        .unwrap();
    assert_eq!(made.len(), 3);
    let EntityId::Run(run) = made[2] else { panic!() };
    h.do_edit(
        &mut l,
        Edit::Cut {
            run,
            at_mm: 600.0,
            rails: Rails::Both,
            width_mm: 0.8,
            stagger_mm: 0.0,
            made: Made::Open,
        },
    )
    .unwrap();
    let before = save(&l);
    h.do_edit(&mut l, Edit::Split { run, at_mm: 500.0 }).unwrap();
    let after = save(&l);
    println!("{after}");
    h.undo(&mut l).unwrap();
    assert_eq!(before, save(&l));
    h.redo(&mut l).unwrap();
    assert_eq!(after, save(&l));
    println!(
        "{}",
        h.do_edit(
            &mut l,
            Edit::Cut {
                run,
                at_mm: 600.0,
                rails: Rails::Both,
                width_mm: 0.8,
                stagger_mm: 0.0,
                made: Made::Open
            }
        )
        .unwrap_err()
    );
}
