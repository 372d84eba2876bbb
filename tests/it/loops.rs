//! Track that leads back onto itself the other way round: what is found, and what is not in a twin one edit away.
//!
//! Every run is 1000 mm long by measure, whatever is drawn. The engine's six axles stand 25 to 185 mm from its front, so
//! that 160 mm of it can bridge a cut.

use super::support::yards::*;
use gapwright::findings::{
    BlockId, Class, Evidence, Finding, Kind, LoopSections, Report, Reversal, TooShort, Unfit,
    Verdict, Way, check, words as words_of,
};
use gapwright::layout::{self, CutId, DriverId, Edit, EntityId, Layout, RunId, VehicleId};
use gapwright::report::Units;

fn of_kind(report: &Report, kind: Kind) -> Vec<&Finding> {
    report.findings.iter().filter(|f| f.kind == kind).collect()
}

#[track_caller]
fn the_one(report: &Report, kind: Kind, class: Class, verdict: Verdict) -> &Finding {
    let found = of_kind(report, kind);
    let all: Vec<_> = report.findings.iter().map(|f| (f.kind, f.class, f.verdict)).collect();
    assert_eq!(found.len(), 1, "{kind} in {all:?}");
    assert_eq!((found[0].class, found[0].verdict), (class, verdict), "{kind}");
    found[0]
}

#[track_caller]
fn none_of(report: &Report, kinds: &[Kind]) {
    for &kind in kinds {
        assert_eq!(of_kind(report, kind), Vec::<&Finding>::new());
    }
}

const LOOPS: &[Kind] =
    &[Kind::LoopUncut, Kind::LoopOneCut, Kind::UnbalancedLoop, Kind::SectionTooShort];

fn sections(finding: &Finding) -> &LoopSections {
    match &finding.evidence {
        Evidence::UnbalancedLoop(told) => told,
        other => panic!("{other:?}"),
    }
}

fn name<'r>(report: &'r Report, id: &BlockId) -> &'r str {
    &report.blocks.iter().find(|block| block.id == *id).unwrap().name
}

fn named(report: &Report, sets: &[Vec<BlockId>]) -> Vec<Vec<String>> {
    sets.iter().map(|set| set.iter().map(|id| name(report, id).to_owned()).collect()).collect()
}

fn words(report: &Report, layout: &Layout, finding: &Finding) -> String {
    let words = words_of(finding, report, layout, Units::Metric);
    format!("{}\n{}\n{}", words.says, words.why, words.advice.join("\n"))
}

fn without(layout: &Layout, id: EntityId) -> Layout {
    let mut twin = layout.clone();
    layout::apply(&mut twin, Edit::Delete(vec![id])).unwrap();
    twin
}

#[test]
fn a_return_loop_without_a_gap_is_a_standing_short() {
    let layout = return_loop(&[], ONE_DRIVER);
    let report = check(&layout);
    let finding = the_one(&report, Kind::LoopUncut, Class::Fault, Verdict::Short);
    assert_eq!((finding.blocks.len(), finding.drivers.len()), (1, 0));
    let Evidence::LoopUncut(e) = &finding.evidence else { panic!() };
    let round = &e.round;
    assert_eq!(round.length_mm, 2000.0);
    assert_eq!((&round.cuts[..], &round.one_rail[..]), (&[][..], &[][..]));
    let ways: Vec<(RunId, Way)> = round.along.iter().map(|a| (a.run, a.way)).collect();
    assert!(ways.contains(&(RunId(1), Way::AtEnd)), "{ways:?}");
    assert!(ways.iter().any(|w| w.0 == RunId(2)) && ways.iter().any(|w| w.0 == RunId(3)));
    assert!(words(&report, &layout, finding).contains("Cut both rails in two places"));
    // Without the turnout nothing leads back.
    none_of(&check(&without(&layout, EntityId::Run(RunId(3)))), LOOPS);
}

#[test]
fn without_a_feed_it_is_a_short_to_come() {
    let report = check(&return_loop(&[], ""));
    the_one(&report, Kind::LoopUncut, Class::Fault, Verdict::Caution);
}

#[test]
fn one_rail_cut_leaves_the_other_to_join_both() {
    let feeds = format!(r#"cuts: [(id: "c1", run: "r2", at_mm: 500, rails: Left)], {ONE_DRIVER}"#);
    let layout = plan(
        &[(1, -1000, 0), (2, 0, 0), (3, 900, 150)],
        &[(1, 1, 2), (2, 2, 3), (3, 3, 2)],
        &format!(
            r#"specials: [(id: "w1", work: Turnout(toe: <-1>, exits: [<2>, <-3>], frog_mm: 150))], {feeds}"#
        ),
    );
    let report = check(&layout);
    let finding = the_one(&report, Kind::LoopUncut, Class::Fault, Verdict::Short);
    assert_eq!(finding.cuts(), [CutId(1)]);
}

#[test]
fn one_cut_cannot_be_cured_by_reversing_anything() {
    let layout = return_loop(&TWO_CUTS[..1], ONE_FEED);
    let report = check(&layout);
    let finding = the_one(&report, Kind::LoopOneCut, Class::Fault, Verdict::Short);
    assert_eq!((&finding.cuts()[..], finding.blocks.len()), (&[CutId(1)][..], 1));
    none_of(&report, &[Kind::LoopUncut, Kind::UnbalancedLoop]);
    let said = words(&report, &layout, finding);
    assert!(said.contains("no switch, auto-reverser or throttle cures it"), "{said}");
    assert!(said.contains("a second time"), "{said}");
    // A reversing switch does not help; a second cut does.
    let with_switch = return_loop(
        &TWO_CUTS[..1],
        &ONE_FEED
            .replace(
                "drivers:",
                "devices: [(id: \"x1\", kind: ReversingSwitch(from: \"d1\"))], drivers:",
            )
            .replace("driver: \"d1\"", "driver: \"x1\""),
    );
    the_one(&check(&with_switch), Kind::LoopOneCut, Class::Fault, Verdict::Short);
    none_of(&check(&return_loop(TWO_CUTS, ONE_DRIVER)), &[Kind::LoopOneCut, Kind::LoopUncut]);
}

#[test]
fn a_loop_with_a_driver_of_its_own_is_worth_a_note_and_a_rule_at_one_end() {
    let layout = return_loop(TWO_CUTS, &format!("{TWO_DRIVERS} {NAMES}"));
    let report = check(&layout);
    let finding = the_one(&report, Kind::UnbalancedLoop, Class::Note, Verdict::Clear);
    let told = sections(finding);
    assert_eq!(named(&report, &told.sets), [["Main"], ["Loop"]]);
    assert!(told.all && told.exhaustive);
    assert_eq!((told.at_least, told.fed_by), (1, [true, false]));
    // The shorter of the two; 700 + 700 mm of it lie between the cuts.
    let [(section, by)] = told.reversed[..] else { panic!() };
    assert_eq!((name(&report, &section), by), ("Loop", Reversal::Driver(DriverId(2))));
    assert_eq!((told.apart[&section].mm, told.apart[&section].across), (1400.0, false));
    assert_eq!((told.longest.mm, told.longest.vehicle), (160.0, Some(VehicleId(1))));
    let mut cuts = finding.cuts().clone();
    cuts.sort_unstable();
    assert_eq!(cuts, [CutId(1), CutId(2)]);
    // Set alike, one end opposes now and the other once one of them is turned: what the operator sees to, no fault.
    let opposed = of_kind(&report, Kind::OpposedPolarity);
    assert!(opposed.iter().all(|f| (f.class, f.verdict) == (Class::Rule, Verdict::Short)));
    let now = |f: &&Finding| matches!(&f.evidence, Evidence::OpposedPolarity(e) if e.now);
    // Each end can oppose: two rules, and what one does now.
    assert_eq!((opposed.len(), opposed.into_iter().filter(now).count()), (3, 1));
    assert_eq!(report.verdict, Verdict::Clear);
    let said = words(&report, &layout, finding);
    for line in ["match Loop to the line", "last metal wheels", "Reverse the line ahead"] {
        assert!(said.contains(line), "{said}");
    }
    none_of(&report, &[Kind::LoopOneCut, Kind::LoopUncut, Kind::SectionTooShort]);
}

#[test]
fn one_driver_for_both_without_a_switch_is_a_fault() {
    let layout = return_loop(TWO_CUTS, &format!("{ONE_DRIVER} {NAMES}"));
    let report = check(&layout);
    let finding = the_one(&report, Kind::UnbalancedLoop, Class::Fault, Verdict::Short);
    assert_eq!(sections(finding).reversed, []);
    // The plan forces it at one end, whatever is set.
    let opposed = of_kind(&report, Kind::OpposedPolarity);
    let faults: Vec<_> = opposed.into_iter().filter(|f| f.class == Class::Fault).collect();
    assert!(matches!(faults[..], [fault] if fault.now && fault.verdict == Verdict::Short));
    // With a reversing switch of the loop's own it is a rule.
    let twin = return_loop(
        TWO_CUTS,
        &format!("{ONE_DRIVER} {NAMES}")
            .replace("drivers:", "devices: [(id: \"x1\", name: \"loop switch\", kind: ReversingSwitch(from: \"d1\"))], drivers:")
            .replace("driver: \"d1\", run: \"r3\"", "driver: \"x1\", run: \"r3\""),
    );
    let report = check(&twin);
    let finding = the_one(&report, Kind::UnbalancedLoop, Class::Note, Verdict::Clear);
    assert!(words(&report, &twin, finding).contains("Loop (through loop switch) is"));
    // At one end as the switch stands, and at the other once it is thrown.
    let opposed = of_kind(&report, Kind::OpposedPolarity);
    let opposed: Vec<&Finding> = opposed.into_iter().filter(|f| !f.now).collect();
    let told: Vec<_> =
        opposed.iter().map(|f| (f.class, f.cuts().clone(), f.selectors().len())).collect();
    let [(Class::Rule, one, 1), (Class::Rule, other, 0)] = &told[..] else { panic!("{told:?}") };
    assert_ne!(one, other);
    // Reversed, it opposes at the other end, and the throttle's label says nothing of it.
    let mut thrown = twin.clone();
    thrown.devices.values_mut().for_each(|device| device.position = 1);
    let report = check(&thrown);
    let said: Vec<_> =
        report.findings.iter().map(|f| (f.kind, f.class, f.verdict, f.cuts().clone())).collect();
    assert!(report.findings.iter().all(|f| f.class != Class::Fault), "{said:?}");
}

#[test]
fn an_auto_reverser_is_the_section_on_dcc() {
    let feeds = r#"drivers: [(id: "d1", name: "booster", supply: "s1", $BOOSTER, $STAGE)],
        devices: [(id: "x1", name: "loop reverser", kind: AutoReverser(from: "d1", amps: 2, acts_after_s: 0.00001))],
        feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 300, p: Right, m: Left, ohm: 0.2),
        (id: "f2", driver: "x1", run: "r3", at_mm: 100, p: Right, m: Left, ohm: 0.2)],"#;
    let layout = return_loop(TWO_CUTS, &format!("{feeds} {NAMES}"));
    let report = check(&layout);
    let finding = the_one(&report, Kind::UnbalancedLoop, Class::Note, Verdict::Clear);
    assert!(matches!(sections(finding).reversed[..], [(_, Reversal::AutoReverser(_))]));
    assert_eq!(sections(finding).fed_by, [false, true]);
    assert_eq!(report.verdict, Verdict::Clear, "{:#?}", report.findings);
    let said = words(&report, &layout, finding);
    assert!(said.contains("flips by itself") && !said.contains("line ahead"), "{said}");
    // A second booster of the same station cannot be reversed against the first.
    let twin = return_loop(TWO_CUTS, &TWO_DRIVERS.replace("$BRIDGE", "$BOOSTER"));
    the_one(&check(&twin), Kind::UnbalancedLoop, Class::Fault, Verdict::Short);
}

/// Eight engines in a row: from the first axle of the first, 25 mm, to the last of the last, 7·210 + 185 mm.
#[test]
fn a_section_that_a_train_bridges_at_both_ends_is_too_short() {
    let layout = return_loop(TWO_CUTS, &format!("{TWO_DRIVERS} {NAMES} {ORE_TRAIN}"));
    let report = check(&layout);
    let finding = the_one(&report, Kind::SectionTooShort, Class::Fault, Verdict::Short);
    let Evidence::SectionTooShort(e) = &finding.evidence else { panic!() };
    let TooShort::Apart(e) = &**e else { panic!() };
    let (apart, longest) = (e.apart, e.longest);
    assert!(e.reversing);
    assert_eq!((apart.mm, longest.mm), (1400.0, 7.0 * 210.0 + 160.0));
    assert_eq!(name(&report, &finding.blocks[0]), "Loop");
    assert!(longest.train.is_some());
    let said = words(&report, &layout, finding);
    assert!(said.contains("1400 mm") && said.contains("ore train"), "{said}");
    // The main line's two ends are the same two cuts: across the loop they are no farther apart.
    let told = sections(the_one(&report, Kind::UnbalancedLoop, Class::Fault, Verdict::Short));
    assert_eq!(told.sets, Vec::<Vec<BlockId>>::new());
    let across: Vec<bool> = told
        .unfit
        .iter()
        .map(|(_, why)| matches!(why, Unfit::Short(ends) if ends.across && ends.mm == 1400.0))
        .collect();
    assert_eq!(across, [true, false]);
    // With the cuts 230 mm farther apart, and one more, it is long enough.
    let longer =
        return_loop(&[(2, 200.0), (3, 831.0)], &format!("{TWO_DRIVERS} {NAMES} {ORE_TRAIN}"));
    none_of(&check(&longer), &[Kind::SectionTooShort]);
    let just =
        return_loop(&[(2, 200.0), (3, 830.0)], &format!("{TWO_DRIVERS} {NAMES} {ORE_TRAIN}"));
    the_one(&check(&just), Kind::SectionTooShort, Class::Fault, Verdict::Short);
}

#[test]
fn a_block_that_an_engine_stands_over_end_to_end_is_worth_a_note() {
    let straight = |second_mm: f64| {
        plan(
            &[(1, 0, 0), (2, 1000, 0)],
            &[(1, 1, 2)],
            &format!(
                r#"{} drivers: [(id: "d1", supply: "s1", $BRIDGE, $STAGE)],
                feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 100, p: Right, m: Left, ohm: 0.2),
                (id: "f2", driver: "d1", run: "r1", at_mm: 450, p: Right, m: Left, ohm: 0.2),
                (id: "f3", driver: "d1", run: "r1", at_mm: 900, p: Right, m: Left, ohm: 0.2)],"#,
                cuts_text(&[(1, 400.0), (1, second_mm)])
            ),
        )
    };
    let report = check(&straight(559.0));
    let finding = the_one(&report, Kind::SectionTooShort, Class::Note, Verdict::Caution);
    assert_eq!(finding.cuts(), [CutId(1), CutId(2)]);
    none_of(&check(&straight(560.0)), LOOPS);
}

#[test]
fn a_section_is_too_short_only_once_and_a_train_over_both_its_ends_is_not_told_as_something_else() {
    let text = format!("{TWO_DRIVERS} {NAMES} {ORE_TRAIN}");
    let report = check(&return_loop(TWO_CUTS, &text));
    the_one(&report, Kind::SectionTooShort, Class::Fault, Verdict::Short);
    // Through the section's rails the train joins the two rails of the main line: neither a wrong feed, nor an idle state
    // that clamps.
    none_of(&report, &[Kind::SwappedFeed, Kind::IdleClamp]);
    // Another 140 mm of the loop are a block of their own on the main bridge: an engine stands over both its ends, which is
    // told beside; the section is still told once.
    let piece = text.replace(
        "feeds: [",
        "feeds: [(id: \"f3\", driver: \"d1\", run: \"r2\", at_mm: 200, p: Right, m: Left, ohm: 0.2),",
    );
    let cuts = [TWO_CUTS[0], TWO_CUTS[1], (2, 160.0)];
    let report = check(&return_loop(&cuts, &piece));
    let told: Vec<_> = of_kind(&report, Kind::SectionTooShort)
        .into_iter()
        .map(|f| (f.class, f.cuts().clone(), name(&report, &f.blocks[0]).to_owned()))
        .collect();
    assert_eq!(told.len(), 2, "{told:?}");
    assert_eq!(told[0], (Class::Fault, vec![CutId(1), CutId(2)], "Loop".to_owned()));
    let mut beside = told[1].1.clone();
    beside.sort_unstable();
    assert_eq!((told[1].0, beside), (Class::Note, vec![CutId(1), CutId(3)]));
}

/// A triangle of runs 4, 5, 6 with a leg at each corner, and cuts.
fn wye(cuts: &[(u32, f64)], more: &str) -> Layout {
    plan(
        &[(1, -800, -400), (2, 1800, -400), (3, 500, 1700), (4, 0, 0), (5, 1000, 0), (6, 500, 800)],
        &[(1, 1, 4), (2, 2, 5), (3, 3, 6), (4, 4, 5), (5, 5, 6), (6, 6, 4)],
        &format!(
            r#"specials: [(id: "w1", work: Turnout(toe: <-1>, exits: [<4>, <-6>], frog_mm: 150)),
            (id: "w2", work: Turnout(toe: <-2>, exits: [<5>, <-4>], frog_mm: 150)),
            (id: "w3", work: Turnout(toe: <-3>, exits: [<6>, <-5>], frog_mm: 150))], {} {more}"#,
            cuts_text(cuts)
        ),
    )
}

#[test]
fn a_wye_needs_one_leg_that_can_be_reversed() {
    the_one(&check(&wye(&[], "")), Kind::LoopUncut, Class::Fault, Verdict::Caution);
    // The tail at the third corner, cut off on both sides of the triangle.
    let cuts = [(5, 600.0), (6, 400.0)];
    let layout = wye(
        &cuts,
        &format!(
            "{TWO_DRIVERS} labels: [(id: \"n1\", name: \"Main\", run: \"r1\", at_mm: 500), (id: \"n2\", name: \"Tail\", run: \"r3\", at_mm: 100)],"
        ),
    );
    let report = check(&layout);
    let told = sections(the_one(&report, Kind::UnbalancedLoop, Class::Note, Verdict::Clear));
    assert_eq!(named(&report, &told.sets), [["Main"], ["Tail"]]);
    // A train cannot turn within the tail: no two of its ends are on one way. From outside it is 600 mm of one side,
    // 1000 mm of the second and 600 mm of the third, but only by turning back at a corner: no way either.
    assert!(told.apart.is_empty(), "{:?}", told.apart);
    assert_eq!(told.rounds[0].length_mm, 3000.0);
    // Without one of the cuts nothing can be reversed.
    let twin = without(&layout, EntityId::Cut(CutId(2)));
    the_one(&check(&twin), Kind::LoopOneCut, Class::Fault, Verdict::Short);
}

/// A ring folded into two parallel sides, r1 r2 eastwards and r4 r5 westwards, with bulbs r3 and r6, and a crossover r7
/// between the sides.
fn dogbone(crossover: bool, cuts: &[(u32, f64)], more: &str) -> Layout {
    let mut runs = vec![(1, 1, 2), (2, 2, 3), (3, 3, 4), (4, 4, 5), (5, 5, 6), (6, 6, 1)];
    let mut specials = String::new();
    if crossover {
        runs.push((7, 2, 5));
        specials = r#"specials: [(id: "w1", gang: "crossover", work: Turnout(toe: <-1>, exits: [<2>, <7>], frog_mm: 120)),
            (id: "w2", gang: "crossover", work: Turnout(toe: <-4>, exits: [<5>, <-7>], frog_mm: 120))],"#
            .into();
    }
    plan(
        &[(1, -1000, 0), (2, 0, 0), (3, 1500, 0), (4, 1500, 60), (5, 400, 60), (6, -1000, 60)],
        &runs,
        &format!("{specials} {} {more}", cuts_text(cuts)),
    )
}

#[test]
fn a_crossover_between_the_sides_of_a_dogbone_is_a_hidden_return_loop() {
    none_of(&check(&dogbone(false, &[], "")), LOOPS);
    let report = check(&dogbone(true, &[], ""));
    assert!(!of_kind(&report, Kind::LoopUncut).is_empty());
    // One way leads round each bulb: both need a section. The bulbs themselves, or what lies between.
    let cuts = [(2, 500.0), (4, 500.0), (1, 500.0), (5, 500.0)];
    let report = check(&dogbone(true, &cuts, ""));
    let finding = the_one(&report, Kind::UnbalancedLoop, Class::Fault, Verdict::Caution);
    let told = sections(finding);
    // The block of the crossover lies on both loops; the bulbs would do only together.
    assert_eq!((told.at_least, told.sets.len()), (1, 1));
    assert_eq!(told.rounds.len(), 2);
    none_of(&report, &[Kind::LoopUncut, Kind::LoopOneCut]);
}

#[test]
fn two_tracks_with_crossovers_both_ways_are_balanced() {
    let layout = plan(
        &[
            (1, 0, 0),
            (2, 500, 0),
            (3, 2000, 0),
            (4, 2500, 0),
            (5, 0, 60),
            (6, 900, 60),
            (7, 1600, 60),
            (8, 2500, 60),
        ],
        &[(1, 1, 2), (2, 2, 3), (3, 3, 4), (4, 5, 6), (5, 6, 7), (6, 7, 8), (7, 2, 6), (8, 7, 3)],
        r#"specials: [(id: "w1", work: Turnout(toe: <-1>, exits: [<2>, <7>], frog_mm: 120)),
            (id: "w2", work: Turnout(toe: <5>, exits: [<-4>, <-7>], frog_mm: 120)),
            (id: "w3", work: Turnout(toe: <-5>, exits: [<6>, <8>], frog_mm: 120)),
            (id: "w4", work: Turnout(toe: <3>, exits: [<-2>, <-8>], frog_mm: 120))],
            drivers: [(id: "d1", supply: "s1", $BRIDGE, $STAGE)],
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 300, p: Right, m: Left, ohm: 0.2)],"#,
    );
    none_of(&check(&layout), LOOPS);
    assert_eq!(check(&layout).verdict, Verdict::Clear);
}

/// A turntable with a road on each side, all on one driver.
fn turntable(exchange: &str, roads: &str) -> Layout {
    plan(
        &[(1, -1000, 0), (2, -151, 0), (3, -150, 0), (4, 150, 0), (5, 100, 112), (6, 600, 700)],
        &[(1, 1, 2), (2, 3, 4), (3, 5, 6)],
        &format!(
            r#"specials: [(id: "w1", name: "Shed turntable", work: Turntable(bridge: "r2", roads: [{roads}] {exchange}))],
            drivers: [(id: "d1", supply: "s1", $BRIDGE, $STAGE)],
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 300, p: Right, m: Left, ohm: 0.2),
            (id: "f2", driver: "d1", run: "r2", at_mm: 300, p: Right, m: Left, ohm: 0.2),
            (id: "f3", driver: "d1", run: "r3", at_mm: 300, p: Right, m: Left, ohm: 0.2)],
            labels: [(id: "n1", name: "Lead", run: "r1", at_mm: 300), (id: "n2", name: "Bridge", run: "r2", at_mm: 300),
            (id: "n3", name: "Shed", run: "r3", at_mm: 300)],"#
        ),
    )
}

#[test]
fn half_a_turn_of_a_bridge_makes_it_a_reversing_section() {
    let layout = turntable("", "<-1>, <3>");
    let report = check(&layout);
    let finding = the_one(&report, Kind::UnbalancedLoop, Class::Fault, Verdict::Short);
    let told = sections(finding);
    assert_eq!(named(&report, &told.sets), [["Bridge"]]);
    assert!(told.turntable.is_some());
    let said = words(&report, &layout, finding);
    assert!(said.contains("Shed turntable: half a turn exchanges the bridge's rails"), "{said}");
    let twin = turntable(", exchange_deg: 90", "<-1>, <3>");
    let report = check(&twin);
    let finding = the_one(&report, Kind::UnbalancedLoop, Class::Note, Verdict::Clear);
    assert!(matches!(sections(finding).reversed[..], [(_, Reversal::Bridge(_))]));
    assert!(words(&report, &twin, finding).contains("exchanged by the turntable itself"));
}
