//! The polarity of frogs and of the rails beyond them, drawn and read back: beyond the frog each inner rail has the
//! polarity of the toe rail of the same hand. Diverging to the right and set straight, the frog is at the polarity of
//! the toe's right-hand rail, set to diverge at that of its left; to the left mirrored (common practice, no source).

use gapwright::layout::{Layout, Rail, RunId, SpecialId, load};
use gapwright::rails::{Plan, Positions, SelectorId};

/// A layout of runs from a joint at the origin: `(end x, end y, laid towards the joint)` for r1, r2, …, turned about.
pub fn star(runs: &[(f64, f64, bool)], turned_deg: f64, work: &str) -> Layout {
    let (sine, cosine) = turned_deg.to_radians().sin_cos();
    let mut joints = String::from(r#"(id: "j99", x_mm: 0, y_mm: 0),"#);
    let mut laid = String::new();
    for (at, &(x, y, inwards)) in runs.iter().enumerate() {
        let n = at + 1;
        let (x, y) = (x * cosine - y * sine, x * sine + y * cosine);
        joints += &format!(r#"(id: "j{n}", x_mm: {x}, y_mm: {y}),"#);
        let (from, to) =
            if inwards { (format!("j{n}"), "j99".into()) } else { ("j99".into(), format!("j{n}")) };
        laid += &format!(r#"(id: "r{n}", from: "{from}", to: "{to}"),"#);
    }
    let mut work = work.to_owned();
    for (at, &(_, _, inwards)) in runs.iter().enumerate() {
        let end = if inwards { "End" } else { "Start" };
        work =
            work.replace(&format!("<{}>", at + 1), &format!(r#"(run: "r{}", end: {end})"#, at + 1));
    }
    let text = format!("(version: 1, joints: [{joints}], runs: [{laid}], specials: [{work}])");
    load(&text).unwrap_or_else(|errors| panic!("{errors:?}\n{text}")).layout
}

/// Net of the rail on one hand of somebody who leaves the joint along a run (`out`) or comes to it, so far from it.
pub fn net(
    layout: &Layout,
    plan: &Plan,
    run: u32,
    out: bool,
    hand: Rail,
    from_joint_mm: f64,
) -> usize {
    let run = &layout.runs[&RunId(run)];
    let starts_here = run.from.0 == 99;
    let rail = if starts_here == out { hand } else { hand.other() };
    let length = gapwright::layout::length_mm(layout, run);
    let at_mm = if starts_here { from_joint_mm } else { length - from_joint_mm };
    plan.net_of_metal[plan.metal.net_at(run.id, rail, at_mm).unwrap()]
}

fn set(layout: &Layout, plan: &Plan, position: u32) -> Plan {
    let mut positions = Positions::default();
    positions.throw(layout, SelectorId::Points(SpecialId(50)), position);
    plan.at(layout, positions)
}

const FROGS: [&str; 4] = ["Insulated", "PowerRouting", "PowerRoutingWithContact", "Switched"];
const FROG_MM: f64 = 150.0;

#[test]
fn beyond_the_frog_each_rail_is_that_of_the_toe_on_its_hand() {
    let (left, right) = (Rail::Left, Rail::Right);
    let mut seen = 0;
    for laid in 0..8u8 {
        for turned_deg in [0.0, 37.0, 90.0, 181.0, 300.0] {
            for frog in FROGS {
                for diverges_right in [true, false] {
                    for straight_first in [true, false] {
                        let y = if diverges_right { -80.0 } else { 80.0 };
                        let runs = [
                            (-400.0, 0.0, laid & 1 > 0),
                            (400.0, 0.0, laid & 2 > 0),
                            (400.0, y, laid & 4 > 0),
                        ];
                        let exits = if straight_first { "<2>, <3>" } else { "<3>, <2>" };
                        let work = format!(
                            "(id: \"w50\", work: Turnout(toe: <1>, exits: [{exits}], frog: {frog}, frog_mm: {FROG_MM}))"
                        );
                        let layout = star(&runs, turned_deg, &work);
                        let plan = Plan::derive(&layout);
                        for straight in [true, false] {
                            let position = u32::from(straight != straight_first);
                            let plan = set(&layout, &plan, position);
                            let toe = |hand| net(&layout, &plan, 1, false, hand, 300.0);
                            let road = if straight { 2 } else { 3 };
                            for hand in [left, right] {
                                let beyond = net(&layout, &plan, road, true, hand, 300.0);
                                assert_eq!(
                                    beyond,
                                    toe(hand),
                                    "{frog} {diverges_right} {straight} {hand:?}"
                                );
                            }
                            // The rule, in its own words.
                            let expected = match (diverges_right, straight) {
                                (true, true) | (false, false) => toe(right),
                                (true, false) | (false, true) => toe(left),
                            };
                            let inner = if diverges_right { right } else { left };
                            let at_frog = net(&layout, &plan, 2, true, inner, FROG_MM);
                            if frog == "Insulated" {
                                assert!(at_frog != toe(left) && at_frog != toe(right));
                            } else {
                                assert_eq!(at_frog, expected, "{frog} {diverges_right} {straight}");
                            }
                            assert_ne!(toe(left), toe(right));
                            seen += 1;
                        }
                    }
                }
            }
        }
    }
    assert_eq!(seen, 8 * 5 * 4 * 2 * 2 * 2);
}

#[test]
fn a_road_against_which_one_metal_is_set_is_dead_and_live_beyond_bonded_frogs() {
    for frog in FROGS {
        let work = format!(
            "(id: \"w50\", work: Turnout(toe: <1>, exits: [<2>, <3>], frog: {frog}, frog_mm: 150))"
        );
        let runs = [(-400.0, 0.0, true), (400.0, 0.0, false), (400.0, -80.0, false)];
        let layout = star(&runs, 0.0, &work);
        let plan = set(&layout, &Plan::derive(&layout), 0);
        let rails = Rail::BOTH.map(|hand| net(&layout, &plan, 3, true, hand, 300.0));
        assert_eq!(rails[0] == rails[1], frog.starts_with("Power"), "{frog}");
    }
}

#[test]
fn three_way_turnouts_follow_the_same_rule_on_every_road() {
    for laid in 0..16u8 {
        for frog in FROGS {
            let ways = [60.0, 0.0, -60.0];
            let mut runs = vec![(-400.0, 0.0, laid & 1 > 0)];
            runs.extend((0..3).map(|k| (400.0, ways[k], laid & 2 << k > 0)));
            let work = format!(
                "(id: \"w50\", work: Turnout(toe: <1>, exits: [<3>, <2>, <4>], frog: {frog}, frog_mm: 200))"
            );
            let layout = star(&runs, 20.0, &work);
            let plan = Plan::derive(&layout);
            for (position, road) in [3, 2, 4].into_iter().enumerate() {
                let plan = set(&layout, &plan, position as u32);
                for hand in Rail::BOTH {
                    let toe = net(&layout, &plan, 1, false, hand, 300.0);
                    assert_eq!(
                        net(&layout, &plan, road, true, hand, 350.0),
                        toe,
                        "{frog} road {road}"
                    );
                    if frog != "Insulated" {
                        // All along the road, over every frog on it.
                        for from_joint_mm in [1.0, 60.0, 120.0, 150.0, 200.0, 250.0] {
                            let here = net(&layout, &plan, road, true, hand, from_joint_mm);
                            assert_eq!(here, toe, "{frog} road {road} at {from_joint_mm}");
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn roads_that_cross_keep_their_rails_through_every_frog() {
    let cases = [
        ("Diamond", "Insulated", vec![(1, 3), (2, 4)]),
        ("Diamond", "Switched", vec![(1, 3), (2, 4)]),
        ("Slip", "Insulated", vec![(1, 3), (2, 4), (1, 4)]),
        ("Slip", "Switched", vec![(1, 3), (2, 4), (1, 4)]),
        ("Double", "Switched", vec![(1, 3), (2, 4), (1, 4), (2, 3)]),
        ("Double", "Insulated", vec![(1, 3), (2, 4), (1, 4), (2, 3)]),
    ];
    for laid in 0..16u8 {
        for mirrored in [false, true] {
            for (kind, frog, ways) in &cases {
                let y = if mirrored { -50.0 } else { 50.0 };
                let runs = [
                    (-400.0, y, laid & 1 > 0),
                    (-400.0, -y, laid & 2 > 0),
                    (400.0, -y, laid & 4 > 0),
                    (400.0, y, laid & 8 > 0),
                ];
                let (word, more) = match *kind {
                    "Double" => ("Slip", ", double: true"),
                    word => (word, ""),
                };
                let work = format!(
                    "(id: \"w50\", work: {word}(roads: ((<1>, <3>), (<2>, <4>)){more}, frog: {frog}, frog_mm: 80))"
                );
                let layout = star(&runs, 65.0, &work);
                let plan = Plan::derive(&layout);
                for (position, &(from, to)) in ways.iter().enumerate() {
                    let position =
                        if *kind == "Diamond" && *frog == "Insulated" { 0 } else { position };
                    let plan = set(&layout, &plan, position as u32);
                    for hand in Rail::BOTH {
                        let first = net(&layout, &plan, from, false, hand, 300.0);
                        assert_eq!(
                            net(&layout, &plan, to, true, hand, 300.0),
                            first,
                            "{kind} {frog}"
                        );
                        if *frog == "Switched" {
                            for mm in [75.0, 85.0, 40.0] {
                                assert_eq!(
                                    net(&layout, &plan, from, false, hand, mm),
                                    first,
                                    "{kind} {mm}"
                                );
                                assert_eq!(
                                    net(&layout, &plan, to, true, hand, mm),
                                    first,
                                    "{kind} {mm}"
                                );
                            }
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn half_a_turn_of_a_bridge_exchanges_its_rails_at_a_road() {
    let text = |position: u32, exchange: &str| {
        format!(
            r#"(version: 1, joints: [(id: "j1", x_mm: -600, y_mm: 0), (id: "j2", x_mm: -151, y_mm: 0),
            (id: "j3", x_mm: -150, y_mm: 0), (id: "j4", x_mm: 150, y_mm: 0), (id: "j5", x_mm: 151, y_mm: 0),
            (id: "j6", x_mm: 600, y_mm: 0)],
            runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j3", to: "j4"), (id: "r3", from: "j5", to: "j6")],
            supplies: [(id: "s1", open_v: 14, source_ohm: 0.1)],
            drivers: [(id: "d1", supply: "s1", drive: PwmBridge(clock: (hz: 490), idle: BrakeLow), high_ohm: 0.1,
                low_ohm: 0.1, diode_v: 0.7, diode_ohm: 0.1, setting: (direction: Forward))],
            feeds: [(id: "f1", driver: "d1", run: "r2", at_mm: 100, p: Right, m: Left)],
            specials: [(id: "w1", work: Turntable(bridge: "r2", roads: [(run: "r1", end: End), (run: "r3", end: Start)]
                {exchange}), position: {position})])"#
        )
    };
    let p_is_right_of_someone_going_east = |position: u32, exchange: &str| {
        let layout = load(&text(position, exchange)).unwrap_or_else(|e| panic!("{e:?}")).layout;
        let plan = Plan::derive(&layout);
        let on = plan.beyond(RunId(1), true).unwrap();
        assert_eq!(on.run, RunId(2));
        assert_eq!(
            plan.beyond(RunId(3), false).unwrap().run,
            RunId(2),
            "the other end stands at the road opposite"
        );
        let rail = if on.at_start { Rail::Right } else { Rail::Left };
        let net = plan.net_of_metal[plan.metal.net_at(RunId(2), rail, 100.0).unwrap()];
        plan.nets[net].legs[0].is_p
    };
    // Its start in the west, and its start in the east.
    assert!(p_is_right_of_someone_going_east(0, ""));
    assert!(!p_is_right_of_someone_going_east(1, ""));
    assert!(!p_is_right_of_someone_going_east(2, ""));
    // Exchanged behind the feed while it heads west, it is right either way.
    for position in 0..4 {
        assert!(p_is_right_of_someone_going_east(position, ", exchange_deg: 90"), "{position}");
    }
}
