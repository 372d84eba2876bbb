//! Which blocks to make reversing sections.

use super::*;

fn none() -> Conditions {
    Conditions::default()
}

/// A line with a return loop at each end, cut off.
const TWO_LOOPS: &str = "main> | <east; east> | main>; <main | <west; west> | <main";

#[test]
fn either_side_of_two_cuts_can_reverse() {
    let drawn = draw("approach> | <loop; loop> | approach>");
    assert_eq!(drawn.sets(&none()), [["approach"], ["loop"]]);
    assert_eq!(drawn.sets(&conditions(&drawn, &["loop"], &[])), [["approach"]]);
}

#[test]
fn blocks_that_cannot_reverse_and_close_a_loop_are_shown() {
    let drawn = draw("approach> | <loop; loop> | approach>");
    let barred = conditions(&drawn, &["loop", "approach"], &[]);
    let found = reversing_sections(&drawn.track, &barred, &Budget::default());
    let [group] = &found.groups[..] else { panic!("{found:?}") };
    assert!(group.sets.is_empty() && group.exhaustive);
    assert_eq!(drawn.cycle(group.stuck.as_ref().unwrap()), "approach) loop>: 2");
}

#[test]
fn no_section_cures_a_loop_with_one_cut_or_none() {
    for kind in ["-", "|"] {
        let drawn = draw(&format!("approach> - <loop; loop> {kind} approach>"));
        let found = reversing_sections(&drawn.track, &none(), &Budget::default());
        assert_eq!(found.against_themselves, [drawn.block("loop")].into());
        assert!(found.groups.is_empty());
    }
}

#[test]
fn a_balanced_track_needs_none() {
    let oval = draw("north> | <south; south> | <north");
    assert_eq!(reversing_sections(&oval.track, &none(), &Budget::default()), Sections::default());
}

#[test]
fn one_block_can_serve_two_loops() {
    let drawn = draw(TWO_LOOPS);
    assert_eq!(drawn.sets(&none()), [["main"]]);
    assert_eq!(drawn.sets(&conditions(&drawn, &["main"], &[])), [["east", "west"]]);
}

#[test]
fn the_next_size_is_searched_when_no_smallest_set_passes() {
    // The loop is cut in three. Main alone serves both loops; without it each needs its own.
    let drawn = draw("main> | <e1; e1> | <e2; e2> | main>; <main | <west; west> | <main");
    assert_eq!(drawn.sets(&conditions(&drawn, &["main"], &[])), [["e1", "west"], ["e2", "west"]]);
    assert_eq!(drawn.sets(&conditions(&drawn, &["main"], &[["e1", "west"]])), [["e2", "west"]]);
}

#[test]
fn pairs_kept_apart_can_leave_nothing() {
    let drawn = draw(TWO_LOOPS);
    let found = reversing_sections(
        &drawn.track,
        &conditions(&drawn, &["main"], &[["west", "east"]]),
        &Budget::default(),
    );
    let [group] = &found.groups[..] else { panic!("{found:?}") };
    assert!(group.sets.is_empty() && group.exhaustive && group.stuck.is_none());
}

#[test]
fn a_larger_set_is_found_where_the_smaller_ones_fail_only_for_their_pairs() {
    // Three blocks, each of which meets each other both ways round: any two must reverse.
    let drawn = draw("a> | <b; a> | b>; b> | <c; b> | c>; c> | <a; c> | a>");
    assert_eq!(drawn.sets(&none()), [["a", "b"], ["a", "c"], ["b", "c"]]);
    assert_eq!(drawn.sets(&conditions(&drawn, &[], &[["a", "b"], ["c", "b"]])), [["a", "c"]]);
}

#[test]
fn pairs_kept_apart_join_groups() {
    let text = "a> | <la; la> | a>; b> | <lb; lb> | b>";
    let drawn = draw(text);
    let found = reversing_sections(&drawn.track, &none(), &Budget::default());
    assert_eq!(found.groups.len(), 2);
    let apart = conditions(&drawn, &["a"], &[["la", "lb"]]);
    assert_eq!(drawn.sets(&apart), [["la", "b"]]);
}

#[test]
fn a_block_that_shares_a_rail_on_its_cycle_cannot_reverse() {
    let drawn = draw("approach> | <loop; loop> [ <rest; rest> | approach>");
    let found = reversing_sections(&drawn.track, &none(), &Budget::default());
    assert_eq!(
        found.sharing,
        [(drawn.block("loop"), vec![1]), (drawn.block("rest"), vec![1])].into()
    );
    assert_eq!(drawn.sets(&none()), [["approach"]]);
    // Beyond the cycle it may share what it likes.
    let beside = draw("approach> | <loop; loop> | approach>; loop> [ <siding");
    assert_eq!(beside.sets(&none()), [["approach"], ["loop"]]);
}

#[test]
fn a_loop_cut_in_both_rails_at_one_end_only_is_stuck() {
    let drawn = draw("approach> | <loop; loop> ] approach>");
    let found = reversing_sections(&drawn.track, &none(), &Budget::default());
    let stuck = found.groups[0].stuck.as_ref().unwrap();
    assert_eq!(stuck.parted_at, [0]);
    assert!(found.groups[0].sets.is_empty());
}

#[test]
fn the_bridge_of_a_turntable_reverses_for_all_its_roads() {
    let drawn = draw("a> o <bridge; a> o bridge>; b> o <bridge; b> o bridge>");
    assert_eq!(drawn.sets(&none()), [["bridge"]]);
}

#[test]
fn the_cross_of_a_dogbone_or_each_side() {
    let drawn = draw(
        "top1> | <top2; top2> | <bottom1; bottom1> | <bottom2; bottom2> | <top1;
         top1> | <cross; cross> | bottom1>",
    );
    assert_eq!(drawn.sets(&none()), [["top1"], ["bottom1"], ["cross"]]);
}

#[test]
fn neighbours_are_blocks_with_a_link_between() {
    let drawn = draw("a> | <b; b> - <c; c> | a>; d> | <c");
    let [a, b, d] = ["a", "b", "d"].map(|n| drawn.block(n));
    assert_eq!(neighbours(&drawn.track), [[a, b], [b, d]]);
}

#[test]
fn a_small_budget_says_so() {
    let drawn = draw(TWO_LOOPS);
    let found = reversing_sections(
        &drawn.track,
        &conditions(&drawn, &["main"], &[]),
        &Budget { steps: 40, sets: 10 },
    );
    let [group] = &found.groups[..] else { panic!("{found:?}") };
    assert!(!group.exhaustive && !group.all);
    assert_eq!(group.sets.len(), 1, "a set is known all the same");
    let few = reversing_sections(
        &draw("approach> | <loop; loop> | approach>").track,
        &none(),
        &Budget { sets: 1, ..Budget::default() },
    );
    assert!(few.groups[0].exhaustive && !few.groups[0].all);
    assert_eq!(few.groups[0].sets.len(), 1);
}
