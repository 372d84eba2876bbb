//! Layouts on which a check once went wrong, each with what is right. Their files are in `tests/cases`.

use std::collections::BTreeSet;
use std::path::Path;

use gapwright::findings::{CardCell, Class, CutReport, Finding, Kind, SetWord, Verdict, check};
use gapwright::layout::{self, Edit, EntityId, Layout, applied};
use gapwright::report::{self, Units};

use crate::laws::harness::same;
use crate::support::normal::{Normal, Reading};
use crate::support::{crowded, edits, redrawn, yards};

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/cases");

fn text(case: &str) -> String {
    std::fs::read_to_string(Path::new(FOLDER).join(format!("{case}.gapwright"))).unwrap()
}

fn layout(case: &str) -> Layout {
    layout::load(&text(case)).unwrap_or_else(|e| panic!("{case}: {e:?}")).layout
}

/// Why a file is no layout.
fn refused(case: &str) -> String {
    let errors = layout::load(&text(case)).unwrap_err();
    errors.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

#[track_caller]
fn alike(one: &Normal, other: &Normal) {
    same(one, other).unwrap_or_else(|wrong| panic!("{wrong}"));
}

/// A terminus far away, shorted in some of its positions, changes nothing at a gap that it is not joined to.
#[test]
fn an_island_says_nothing_about_a_gap_here() {
    let reading = Reading { block_ids: true, ..Reading::default() };
    let here = Normal::read(&layout("island-a"), &reading).only(|name| name != "verdict");
    let there = Normal::read(&layout("island-b"), &reading);
    alike(&here, &there.only(|name| name != "verdict" && !edits::is_of_island(name)));
}

/// The same of a layout of which half the feeders are missing.
#[test]
fn an_island_beside_half_fed_blocks_says_nothing_about_a_gap_here() {
    let with = layout("island-min");
    let runs = with.runs.keys().filter(|run| run.0 >= 5000).map(|&id| EntityId::from(id));
    let mut alone = with.clone();
    applied(&mut alone, Edit::Delete(runs.collect())).unwrap();
    let reading = Reading { block_ids: true, ..Reading::default() };
    let of_island = |name: &str| name == "verdict" || edits::is_of_island(name);
    let here = Normal::read(&alone, &reading).only(|name| !of_island(name));
    alike(&here, &Normal::read(&with, &reading).only(|name| !of_island(name)));
}

/// A trip that sees one direction only is blind whichever way its driver is wired.
#[test]
fn a_trip_that_is_blind_in_one_direction_is_found_in_both() {
    let (a, b) = (layout("trip-blind-a"), layout("trip-blind-b-poles-exchanged"));
    for layout in [&a, &b] {
        let report = check(layout);
        let blind = report.findings.iter().find(|f| f.kind == Kind::TripNeverActs).unwrap();
        assert_eq!(blind.drivers.iter().map(ToString::to_string).collect::<Vec<_>>(), ["d3"]);
    }
    let reading = Reading { reversed: true, ..Reading::default() };
    alike(&Normal::of(&a), &Normal::read(&b, &reading));
}

/// A bridge on control inputs that is stopped is parked in either of two states.
#[test]
fn both_parking_states_of_a_stopped_bridge_count() {
    let (a, b) = (layout("stopped-a"), layout("stopped-b-poles-exchanged"));
    let reading = Reading { reversed: true, ..Reading::default() };
    alike(&Normal::of(&a), &Normal::read(&b, &reading));
}

/// A bond exactly on a cut has no side: it is refused, with a hint.
#[test]
fn a_bond_on_a_cut_is_refused() {
    for case in ["bond-on-cut-a", "bond-on-cut-b"] {
        let refused = refused(case);
        assert!(refused.contains("y5"), "{case}: {refused}");
        assert!(refused.contains("cut c6"), "{case}: {refused}");
    }
}

/// A sampling period that no clock has is refused, not computed with.
#[test]
fn a_sampling_period_of_nothing_is_refused() {
    let refused = refused("sampled-tiny");
    assert!(refused.contains("every_s"), "{refused}");
}

/// Names cannot steer a terminal nor look like findings.
#[test]
fn names_reach_no_terminal_raw() {
    let layout = layout("escape-names");
    let report = check(&layout);
    let text = report::text("escape-names", &layout, &report, Units::Metric);
    let raw = |c: char| {
        let steers = matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
        steers || (c.is_control() && c != '\n')
    };
    assert_eq!(text.chars().find(|&c| raw(c)), None, "{text:?}");
    assert!(!text.lines().any(|line| line.starts_with("SHORT  fake finding")), "{text}");
}

/// All cuts of that layout removed: four drivers feed one block, and five names stand on it.
#[test]
fn a_block_that_is_shorted_is_not_said_to_have_no_driver() {
    let layout = layout("newcomer-without-cuts");
    let report = check(&layout);
    let fed: BTreeSet<_> =
        report.blocks.iter().filter(|b| b.drivers.len() > 3).map(|b| b.id).collect();
    for finding in report.findings.iter().filter(|f| f.kind == Kind::Unfed) {
        assert!(finding.blocks.iter().all(|block| !fed.contains(block)), "{finding:?}");
    }
    let merged = report.findings.iter().find(|f| f.kind == Kind::BlocksMerged).unwrap();
    let words = gapwright::findings::words(merged, &report, &layout, Units::Metric);
    assert!(words.says.contains("5 names"), "{}", words.says);
}

/// The same track with every run drawn from its other end has the same two trains that short together.
#[test]
fn two_trains_short_whichever_way_runs_are_drawn() {
    let (a, b) = (layout("two-trains-a"), layout("two-trains-b-runs-reversed"));
    alike(&Normal::of(&a), &Normal::of(&b));
    let gaps = yards::two_gaps();
    let turned = redrawn::runs_turned(&gaps, |_| true);
    for layout in [&gaps, &turned] {
        assert!(check(layout).findings.iter().any(|f| f.kind == Kind::TwoTrains));
    }
    alike(&Normal::of(&gaps), &Normal::of(&turned));
}

/// Kind, class, verdict and number of places of every finding.
fn outline(layout: &Layout) -> Vec<String> {
    let report = check(layout);
    let line = |f: &Finding| {
        format!("{:?} {} {} at {} places", f.class, f.kind, f.verdict, f.places.len())
    };
    let mut lines: Vec<String> = report.findings.iter().map(line).collect();
    lines.sort();
    lines
}

/// Two drivers feed one block: both are paired with the neighbour, whichever has the lower number.
#[test]
fn two_drivers_of_one_block_are_found_by_any_number() {
    assert_eq!(outline(&layout("rename-two-drivers-a")), outline(&layout("rename-two-drivers-b")));
}

/// The same wiring is of the same kind under other numbers.
#[test]
fn a_kind_does_not_depend_on_numbers() {
    assert_eq!(outline(&layout("rename-kind-a")), outline(&layout("rename-kind-b")));
}

/// The directions that a rule asks for are those at which the gap's own card is clear, and what is set against itself now
/// is named.
#[test]
fn a_reversing_section_is_told_the_directions_of_its_card() {
    let layout = layout("newcomer-reversing-section");
    let report = check(&layout);
    let rules: Vec<&Finding> = report
        .findings
        .iter()
        .filter(|f| f.kind == Kind::OpposedPolarity && f.class == Class::Rule)
        .collect();
    let mut compared = 0;
    for rule in rules {
        let says = gapwright::findings::words(rule, &report, &layout, Units::Metric).says;
        let asked =
            match (says.contains("the same direction"), says.contains("opposite directions")) {
                (true, false) => [SetWord::Forward, SetWord::Forward],
                (false, true) => [SetWord::Forward, SetWord::Reverse],
                _ => continue,
            };
        for cut in report.cuts.iter().filter(|cut| rule.cuts().contains(&cut.id)) {
            let asked = |cell: &&CardCell| [cell.a, cell.b] == asked;
            let Some(cell) = cut.card.iter().find(asked) else { continue };
            assert!(
                cell.situation.verdict < Verdict::Short,
                "{says}: {:?}",
                cell.situation.verdict
            );
            compared += 1;
        }
    }
    assert!(compared > 0);
    let against = |cut: &&CutReport| cut.now.verdict >= Verdict::Short;
    for cut in report.cuts.iter().filter(against) {
        let says = |f: &Finding| f.now && f.cuts() == [cut.id] && f.verdict == cut.now.verdict;
        assert!(report.findings.iter().any(says), "{}", cut.id);
    }
}

fn ends(layout: &Layout) {
    assert_eq!(check(layout).cuts.len(), layout.cuts.len());
}

/// What once took half a minute and half a gigabyte, in a size that suits a test; `grown_cases_end` has the sizes of then.
#[test]
fn crowded_layouts_are_checked_to_the_end() {
    ends(&crowded::device_chain(200));
    ends(&crowded::drivers_on_one_block(5));
    ends(&crowded::short_blocks(4));
    ends(&crowded::one_rail_cuts(4));
    ends(&crowded::self_loops(20));
    ends(&crowded::turnouts_in_one_gang(12));
    ends(&crowded::ladder(12));
}

/// The same in full size.
#[test]
#[ignore = "minutes: run it with --release"]
fn grown_cases_end() {
    let timed = |name: &str, layout: &Layout| {
        let start = std::time::Instant::now();
        ends(layout);
        println!("{name}: {:?}", start.elapsed());
    };
    timed("device chain", &crowded::device_chain(2000));
    timed("drivers on one block", &crowded::drivers_on_one_block(60));
    timed("short blocks", &crowded::short_blocks(20));
    timed("one-rail cuts", &crowded::one_rail_cuts(25));
    timed("self-loops", &crowded::self_loops(200));
    timed("turnouts in one gang", &crowded::turnouts_in_one_gang(250));
    timed("ladder", &crowded::ladder(300));
    timed("train over 12 blocks", &layout("train-3x10-12-blocks"));
}
