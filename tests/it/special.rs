//! Special work in, findings out: live frogs fed from beyond, points trailed against, contacts wired the wrong way, cab
//! selectors, bridges.
//!
//! One bridge drives everything unless told otherwise: 14 V behind 0.05 Ω, switches of 0.06 Ω, feeders of 0.35 Ω a leg.

use approx::assert_abs_diff_eq;
use gapwright::findings::{
    Class, Evidence, Finding, FrogWiredWrong, Kind, Narrow, Verdict, WheelBetween, check,
};
use gapwright::layout::{Edit, EntityId, Layout, RunEnd, SpecialId, apply, load};

use super::support::yards::*;

fn peak_a(finding: &Finding) -> f64 {
    finding.situation().unwrap_or_else(|| panic!("{finding:?}")).peak_a()
}

fn wheel(finding: &Finding) -> &WheelBetween {
    match &finding.evidence {
        Evidence::WheelBridgesFrog(e) | Evidence::OpenPoint(e) => e,
        other => panic!("{other:?}"),
    }
}

fn frog(finding: &Finding) -> &FrogWiredWrong {
    match &finding.evidence {
        Evidence::FrogWiredWrong(e) => e,
        other => panic!("{other:?}"),
    }
}

fn of_kind(layout: &Layout, kind: Kind) -> Vec<Finding> {
    check(layout).findings.into_iter().filter(|f| f.kind == kind).collect()
}

#[test]
fn live_points_short_a_feed_beyond_them_when_thrown_and_only_then() {
    let layout = turnout("PowerRouting", "", BEYOND, "");
    let found = of_kind(&layout, Kind::FedBeyondFrog);
    let [one] = &found[..] else { panic!("{found:#?}") };
    assert_eq!((one.selectors().len(), one.selectors()[0].position), (1, 0));
    assert_eq!(one.special(), Some(SpecialId(1)));
    assert_abs_diff_eq!(peak_a(one), 14.0 / 0.695, epsilon = 1e-3);
    // Set for the road that is fed it is no short now, and is told all the same.
    let mut thrown = layout.clone();
    let throw = Edit::Throw { selector: EntityId::Special(SpecialId(1)), position: 1 };
    apply(&mut thrown, throw).unwrap();
    assert_eq!(of_kind(&thrown, Kind::FedBeyondFrog).len(), 1);
    // Cut in the inner rail beyond the frog is enough.
    let inner = r#", cuts: [(id: "c1", run: "r3", at_mm: 300, rails: Left)]"#;
    assert!(of_kind(&turnout("PowerRouting", "", BEYOND, inner), Kind::FedBeyondFrog).is_empty());
    let outer = r#", cuts: [(id: "c1", run: "r3", at_mm: 300, rails: Right)]"#;
    assert_eq!(of_kind(&turnout("PowerRouting", "", BEYOND, outer), Kind::FedBeyondFrog).len(), 1);
}

#[test]
fn power_routing_turnouts_frog_to_frog_need_a_cut_between_them() {
    // Common practice, no source: a crossover of two live turnouts between two tracks of one polarity. Its runs: r1 to r2
    // and r4 to r5 are the two tracks, r3 joins the diverging ends.
    let crossover = |cut: &str| {
        let text = format!(
            r#"(version: 1,
            joints: [(id: "j1", x_mm: -500, y_mm: 0), (id: "j2", x_mm: 0, y_mm: 0), (id: "j3", x_mm: 1500, y_mm: 0),
                (id: "j4", x_mm: 1500, y_mm: -60), (id: "j5", x_mm: 1000, y_mm: -60), (id: "j6", x_mm: -500, y_mm: -60)],
            runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j2", to: "j3"), (id: "r3", from: "j2", to: "j5"),
                (id: "r4", from: "j4", to: "j5"), (id: "r5", from: "j5", to: "j6")],
            specials: [(id: "w1", gang: "x", work: Turnout(toe: (run: "r1", end: End), exits: [(run: "r2", end: Start),
                (run: "r3", end: Start)], frog: PowerRouting, frog_mm: 150)),
                (id: "w2", gang: "x", work: Turnout(toe: (run: "r4", end: End), exits: [(run: "r5", end: Start),
                (run: "r3", end: End)], frog: PowerRouting, frog_mm: 150))],
            cuts: [{cut}],
            supplies: [(id: "s1", open_v: 14, source_ohm: 0.05)],
            drivers: [(id: "d1", supply: "s1", drive: PwmBridge(clock: (hz: 490), idle: HighImpedance), high_ohm: 0.06,
                low_ohm: 0.06, diode_v: 0.7, diode_ohm: 0.05, setting: (direction: Forward, throttle: 0.5))],
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 100, p: Right, m: Left, ohm: 0.35),
                (id: "f2", driver: "d1", run: "r4", at_mm: 100, p: Left, m: Right, ohm: 0.35)])"#
        );
        load(&text).unwrap_or_else(|e| panic!("{e:?}")).layout
    };
    let found = of_kind(&crossover(""), Kind::FedBeyondFrog);
    // Set straight it shorts; set to cross over it does not.
    let [one] = &found[..] else { panic!("{found:#?}") };
    assert_eq!(one.selectors().iter().map(|s| s.position).collect::<Vec<_>>(), [0]);
    let cut = r#"(id: "c1", run: "r3", at_mm: 500, rails: Both)"#;
    let found = check(&crossover(cut)).findings;
    assert!(!found.iter().any(|f| f.kind == Kind::FedBeyondFrog), "{found:#?}");
}

#[test]
fn a_contact_wired_the_wrong_way_shorts_live_points_by_itself() {
    let wrong = turnout("PowerRoutingWithContact", SWITCHED_WRONG, "", "");
    let found = of_kind(&wrong, Kind::FrogWiredWrong);
    // With no train, in both positions; and under a train, which meets the same frog.
    let [one] = &found[..] else { panic!("{found:#?}") };
    assert!(matches!(frog(one), FrogWiredWrong::Standing(_)), "{one:#?}");
    assert_eq!(one.positions.len(), 2, "{one:#?}");
    let right = turnout("PowerRoutingWithContact", "", "", "");
    assert!(of_kind(&right, Kind::FrogWiredWrong).is_empty());
}

#[test]
fn a_cut_is_judged_in_every_position_of_a_reversing_switch() {
    // East of the gap the block is fed through a reversing switch: turned over, the rails oppose.
    let layout = |position: u32| {
        let more = format!(
            r#", cuts: [(id: "c1", run: "r1", at_mm: 600, rails: Both)],
            devices: [(id: "x1", kind: ReversingSwitch(from: "d1"), ohm: 0.02, position: {position})]"#
        );
        let east =
            r#", (id: "f2", driver: "x1", run: "r1", at_mm: 800, p: Right, m: Left, ohm: 0.35)"#;
        turnout("Insulated", "", east, &more)
    };
    let opposed = |position| of_kind(&layout(position), Kind::OpposedPolarity);
    // Now right: a rule about the other position.
    let [rule] = &opposed(0)[..] else { panic!("{:#?}", opposed(0)) };
    assert_eq!((rule.class, rule.selectors().len()), (Class::Rule, 1));
    assert_eq!(rule.selectors()[0].position, 1);
    // Now turned over: a fault as it is set and stands, beside the rule.
    let [fault, rule] = &opposed(1)[..] else { panic!("{:#?}", opposed(1)) };
    assert_eq!((fault.class, fault.now, fault.selectors().len()), (Class::Fault, true, 0));
    assert_eq!((rule.class, rule.now), (Class::Rule, false));
}

#[test]
fn a_cab_selector_gives_a_gap_two_drivers_in_turn() {
    // Two cabs with bridges that brake when idle. The block west of the gap is on cab 1 for good, the one east of it can
    // take either, or none.
    let more = r#", cuts: [(id: "c1", run: "r1", at_mm: 600, rails: Both)],
        devices: [(id: "x1", name: "East", kind: CabSelector(cabs: ["d1", "d2", None]), ohm: 0.02)]"#;
    let east = r#", (id: "f2", driver: "x1", run: "r1", at_mm: 800, p: Right, m: Left, ohm: 0.35)"#;
    let second = turnout_text("Insulated", "", east, more)
        .replace("supplies: [", r#"supplies: [(id: "s2", open_v: 14, source_ohm: 0.05),"#)
        .replace(
            "drivers: [",
            r#"drivers: [(id: "d2", supply: "s2", drive: PwmBridge(clock: (hz: 125), idle: BrakeLow), high_ohm: 0.06,
            low_ohm: 0.06, diode_v: 0.7, diode_ohm: 0.05, setting: (direction: Forward, throttle: 0.5)),"#,
        );
    let layout = load(&second).unwrap_or_else(|e| panic!("{e:?}")).layout;
    let report = check(&layout);
    // On one cab nothing fights. On the other its brake clamps what cab 1 drives, though the directions agree.
    let clamp: Vec<&Finding> =
        report.findings.iter().filter(|f| f.kind == Kind::IdleClamp).collect();
    let [clamp] = clamp[..] else { panic!("{:#?}", report.findings) };
    assert_eq!(clamp.class, Class::Fault);
    assert_eq!(clamp.selectors().iter().map(|s| s.position).collect::<Vec<_>>(), [1]);
    // Nobody drives it when it is off, and that is no fault.
    assert!(!report.findings.iter().any(|f| f.kind == Kind::Unfed), "{:#?}", report.findings);
    // The worst of the agreeing settings is that one, and says so.
    let agree = report.cuts[0].agree.as_ref().unwrap();
    assert_eq!(agree.verdict, Verdict::Short);
    assert_eq!(agree.selectors[0].position, 1);
    assert_eq!(report.cuts[0].now.selectors[0].position, 0);
}

#[test]
fn half_a_turn_of_a_bridge_with_a_feed_of_its_own_opposes_its_road() {
    let layout = |exchange: &str| {
        let text = format!(
            r#"(version: 1,
            joints: [(id: "j1", x_mm: -600, y_mm: 0), (id: "j2", x_mm: -151, y_mm: 0), (id: "j3", x_mm: -150, y_mm: 0),
                (id: "j4", x_mm: 150, y_mm: 0)],
            runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j3", to: "j4")],
            specials: [(id: "w1", work: Turntable(bridge: "r2", roads: [(run: "r1", end: End)]{exchange}))],
            {ONE_BRIDGE}
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 100, p: Right, m: Left, ohm: 0.35),
                (id: "f2", driver: "d1", run: "r2", at_mm: 100, p: Right, m: Left, ohm: 0.35)])"#
        );
        load(&text).unwrap_or_else(|e| panic!("{e:?}")).layout
    };
    let at_bridge = |layout: &Layout| -> Vec<(Kind, Class, Vec<u32>)> {
        check(layout)
            .findings
            .into_iter()
            .filter(|f| f.special().is_some() && f.verdict.is_fault())
            .map(|f| (f.kind, f.class, f.selectors().iter().map(|s| s.position).collect()))
            .collect()
    };
    assert_eq!(at_bridge(&layout("")), [(Kind::OpposedPolarity, Class::Rule, vec![1])]);
    assert_eq!(at_bridge(&layout(", exchange_deg: 90")), []);
}

#[test]
fn live_points_and_their_contact_meet_in_mid_throw_whichever_moves_first() {
    let moment = |contact: &str| -> Vec<(Vec<u32>, f64)> {
        of_kind(&turnout("PowerRoutingWithContact", contact, "", ""), Kind::PointsMidThrow)
            .iter()
            .map(|f| (f.selectors().iter().map(|s| s.position).collect(), peak_a(f)))
            .collect()
    };
    for contact in ["", ", contact: (before_points: true)"] {
        let found = moment(contact);
        let [(positions, peak)] = &found[..] else { panic!("{contact}: {found:?}") };
        assert_ne!(positions[0], positions[1], "points and contact disagree");
        assert_abs_diff_eq!(*peak, 14.0 / THROUGH_OHM, epsilon = 1e-3);
    }
    assert_eq!(moment(", contact: (open_between: true)"), []);
    // Wired the wrong way it shorts before and after, and is told so; in between it is right.
    assert_eq!(moment(SWITCHED_WRONG), []);
    // A frog that is cut off takes no part in where the points lie.
    for frog in ["Switched", "PowerRouting", "Insulated"] {
        assert!(of_kind(&turnout(frog, "", "", ""), Kind::PointsMidThrow).is_empty(), "{frog}");
    }
}

#[test]
fn a_wheel_bridges_the_rails_beyond_a_frog_that_is_too_short() {
    // One wheel, two contacts of 0.03 Ω.
    let wheel_a = 14.0 / (THROUGH_OHM + 0.06);
    for frog in ["Insulated", "Switched"] {
        let found = of_kind(&narrow_turnout(frog, SHORT_FROG), Kind::WheelBridgesFrog);
        let [one] = &found[..] else { panic!("{found:#?}") };
        let e = wheel(one);
        assert_eq!((e.narrow, e.needs_mm), (Narrow::BeyondFrog, 2.8));
        assert_abs_diff_eq!(e.apart_mm, PARTS * 92.0 - 16.5, epsilon = 1e-2);
        assert_abs_diff_eq!(e.stretch_mm, (16.5 + 2.8) / PARTS - 92.0, epsilon = 0.5);
        assert_abs_diff_eq!(peak_a(one), wheel_a, epsilon = 1e-3);
    }
    // Narrower wheels pass; so do wheels on rails beyond that nothing feeds.
    let text = turnout_text("Insulated", "", "", "")
        .replace("frog_mm: 150", SHORT_FROG)
        .replace("length_mm: 210,", "length_mm: 210, tread_mm: 1.9,");
    let layout = load(&text).unwrap_or_else(|e| panic!("{e:?}")).layout;
    assert!(of_kind(&layout, Kind::WheelBridgesFrog).is_empty());
    let dead = narrow_turnout("Insulated", &format!("{SHORT_FROG}, exits_bonded: false"));
    assert!(of_kind(&dead, Kind::WheelBridgesFrog).is_empty());
    // One metal has no such gap, and where the frog is not drawn at the crossing nothing is said.
    assert!(
        of_kind(&narrow_turnout("PowerRouting", SHORT_FROG), Kind::WheelBridgesFrog).is_empty()
    );
    assert!(of_kind(&turnout("Insulated", "", "", ""), Kind::WheelBridgesFrog).is_empty());
}

#[test]
fn the_back_of_a_wheel_touches_both_rails_before_a_frog_that_ends_too_late() {
    // The rails into the frog end 77 mm from the points, 16.5 - 15.48 = 1.02 mm apart; beyond it they are 3.5 mm apart
    // for nobody's tread: the middle lies farther out than where they cross.
    let layout = narrow_turnout("Insulated", "frog_mm: 90, frog_length_mm: 26");
    let found = of_kind(&layout, Kind::WheelBridgesFrog);
    let [one] = &found[..] else { panic!("{found:#?}") };
    let e = wheel(one);
    assert_eq!(e.narrow, Narrow::BeforeFrog);
    assert_abs_diff_eq!(e.apart_mm, 16.5 - PARTS * 77.0, epsilon = 1e-2);
    assert_abs_diff_eq!(e.needs_mm, 16.5 - 14.4 - 0.76, epsilon = 1e-9);
}

#[test]
fn an_open_live_point_too_near_to_its_stock_rail_is_touched_by_wheels() {
    let found = |frog: &str, open_mm: f64| {
        of_kind(
            &narrow_turnout(frog, &format!("frog_mm: 150, open_mm: {open_mm}")),
            Kind::OpenPoint,
        )
    };
    for frog in ["PowerRouting", "PowerRoutingWithContact"] {
        let tight = found(frog, 1.3);
        let [one] = &tight[..] else { panic!("{tight:#?}") };
        assert_abs_diff_eq!(peak_a(one), 14.0 / (THROUGH_OHM + 0.06), epsilon = 1e-3);
        assert!(found(frog, 1.4).is_empty(), "{frog}");
    }
    // Bonded to its own stock rail, the open point has the polarity of the rail beside it.
    assert!(found("Insulated", 0.5).is_empty() && found("Switched", 0.5).is_empty());
}

#[test]
fn a_diamond_is_narrow_at_its_end_frogs() {
    // Two straight roads that cross at the angle of the turnout above: the end frogs lie 82.1 mm from the middle.
    let diamond = |measures: &str| {
        let text = format!(
            r#"(version: 1, rail_ohm_per_m: 0,
            joints: [(id: "j1", x_mm: -1000, y_mm: 0), (id: "j2", x_mm: 0, y_mm: 0), (id: "j3", x_mm: 1000, y_mm: 0),
                (id: "j4", x_mm: -980, y_mm: 200), (id: "j5", x_mm: 980, y_mm: -200)],
            runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j2", to: "j3"), (id: "r3", from: "j4", to: "j2"),
                (id: "r4", from: "j2", to: "j5")],
            specials: [(id: "w1", work: Diamond(roads: (((run: "r1", end: End), (run: "r2", end: Start)),
                ((run: "r3", end: End), (run: "r4", end: Start))), {measures}))],
            {ONE_BRIDGE}
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 100, p: Right, m: Left, ohm: 0.35),
                (id: "f2", driver: "d1", run: "r3", at_mm: 100, p: Right, m: Left, ohm: 0.35)])"#
        );
        of_kind(&load(&text).unwrap_or_else(|e| panic!("{e:?}")).layout, Kind::WheelBridgesFrog)
    };
    let found = diamond(SHORT_FROG);
    let [one] = &found[..] else { panic!("{found:#?}") };
    let e = wheel(one);
    assert_eq!(e.narrow, Narrow::BeyondFrog);
    assert_abs_diff_eq!(e.apart_mm, PARTS * 92.0 - 16.5, epsilon = 1e-2);
    assert!(diamond(LONG_FROG).is_empty());
}

#[test]
fn turnouts_as_they_are_laid_have_frogs_and_points_that_wheels_pass() {
    use gapwright::layout::Frog;
    use gapwright::layout::place::{Parting, Site, TurnoutWish, turnout};
    for gauge_mm in [9.0, 16.5, 32.0] {
        let text = format!(
            r#"(version: 1, gauge_mm: {gauge_mm},
            joints: [(id: "j1", x_mm: -1000, y_mm: 0), (id: "j2", x_mm: 0, y_mm: 0)],
            runs: [(id: "r1", from: "j1", to: "j2")],
            supplies: [(id: "s1", open_v: 14, source_ohm: 0.05)],
            drivers: [(id: "d1", supply: "s1", drive: PwmBridge(clock: (hz: 490), idle: HighImpedance), high_ohm: 0.06,
                low_ohm: 0.06, diode_v: 0.7, diode_ohm: 0.05, setting: (direction: Forward, throttle: 0.5))],
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 500, p: Right, m: Left, ohm: 0.35)])"#
        );
        let layout = load(&text).unwrap_or_else(|e| panic!("{e:?}")).layout;
        for parting in [Parting::Left, Parting::Right, Parting::Wye, Parting::ThreeWay] {
            for frog in [Frog::Insulated, Frog::Switched, Frog::PowerRouting] {
                for turn_deg in [9.5, 15.0, 25.0] {
                    let length_mm = 30.0 * gauge_mm;
                    let wish = TurnoutWish { parting, frog, turn_deg, length_mm, through_deg: 0.0 };
                    let site = Site {
                        run: gapwright::layout::RunId(1),
                        at_mm: 1000.0,
                        towards: RunEnd::End,
                    };
                    let laid = turnout(&layout, site, &wish).unwrap();
                    let found = check(&laid.layout).findings;
                    let narrow = found
                        .iter()
                        .filter(|f| matches!(f.kind, Kind::WheelBridgesFrog | Kind::OpenPoint))
                        .collect::<Vec<_>>();
                    assert!(
                        narrow.is_empty(),
                        "{gauge_mm} {parting:?} {frog:?} {turn_deg}: {narrow:#?}"
                    );
                }
            }
        }
    }
}

#[test]
fn special_work_by_itself_is_clear() {
    for frog in ["Insulated", "PowerRouting", "PowerRoutingWithContact", "Switched"] {
        let report = check(&turnout(frog, "", "", ""));
        assert_eq!(report.verdict, Verdict::Clear, "{frog}: {:#?}", report.findings);
    }
}

#[test]
fn a_contact_that_stands_apart_now_is_judged_as_it_stands() {
    // Points for the straight road, the contact still for the other: what is set now must be judged, at the special work
    // and at a cut near it, and not only what would be if the contact followed.
    let apart = ", contact: (position: 1)";
    let wrong = of_kind(&turnout("Switched", apart, "", ""), Kind::FrogWiredWrong);
    let [one] = &wrong[..] else { panic!("{wrong:#?}") };
    let FrogWiredWrong::Train(e) = frog(one) else { panic!("{one:#?}") };
    assert_eq!((one.class, one.verdict, e.now), (Class::Fault, Verdict::Short, true));
    // The gap is 50 mm before the points, and the block beyond it is theirs.
    let cut = r#", cuts: [(id: "c1", run: "r1", at_mm: 950, rails: Both)]"#;
    let report = check(&turnout("Switched", apart, "", cut));
    assert_eq!(report.cuts.len(), 1);
    // One metal with a contact that stands apart is a short with no train.
    let standing =
        of_kind(&turnout("PowerRoutingWithContact", apart, "", ""), Kind::FrogWiredWrong);
    let [one] = &standing[..] else { panic!("{standing:#?}") };
    assert!(matches!(frog(one), FrogWiredWrong::Standing(e) if e.now), "{one:#?}");
}
