//! Budgets: where the check looks at no more than a stated number of things, the report says how many it left out, and where.
//! Each is tried on a layout just beyond its budget, and on one just below.

use crate::support::crowded;
use gapwright::findings::{Kind, check, words};
use gapwright::layout::{CutId, Layout};
use gapwright::report::{self, Units};

/// What the report says of pairs of drivers that were not tried.
fn pairs_left_out(layout: &Layout) -> Vec<String> {
    let report = check(layout);
    let found = report.findings.iter().filter(|f| f.kind == Kind::SearchNotExhausted);
    found.map(|f| words(f, &report, layout, Units::Metric).says).collect()
}

#[test]
fn all_pairs_of_twelve_drivers_on_one_rail_are_tried_and_not_of_thirteen() {
    assert!(pairs_left_out(&crowded::drivers_on_one_block(12)).is_empty());
    let said = pairs_left_out(&crowded::drivers_on_one_block(13));
    // 78 pairs, of which 66 are tried.
    assert_eq!(said.len(), 1);
    assert!(said[0].contains("driver d12"), "{said:?}");
    assert!(said[0].contains("12 pairs of them were not tried"), "{said:?}");
}

/// Cuts of a layout where the report says that something was left out, each with how much.
fn ways_left_out(layout: &Layout) -> Vec<(CutId, usize)> {
    let report = check(layout);
    let cuts = report.cuts.iter().filter(|cut| cut.ways_left_out > 0);
    let found: Vec<_> = cuts.map(|cut| (cut.id, cut.ways_left_out)).collect();
    let text = report::text("layout", layout, &report, Units::Metric);
    assert_eq!(text.matches("not exhaustive: ").count(), found.len(), "{text}");
    found
}

#[test]
fn the_causes_of_what_an_engine_joins_are_searched_over_three_blocks_and_not_all_over_four() {
    assert!(ways_left_out(&crowded::short_blocks(3)).is_empty());
    // Only over the cut in the middle does it join all four drivers in so many ways that the search is broken off.
    assert_eq!(ways_left_out(&crowded::short_blocks(4)), [(CutId(1), 6)]);
}
