//! Which shapes are balanced, and what their cycles and directions are.

use super::*;

const WYE: &str = "a> - <ab; ab> - b>; b> - <bc; bc> - c>; c> - <ca; ca> - a>";

/// A line with a loop at each end, laid as two sides: *top* runs east, *bottom* back west.
const DOGBONE: &str = "top1> - <top2; top2> - <east; east> - <bottom1; bottom1> - <bottom2;
    bottom2> - <west; west> - <top1";

/// On the eastward run along the top, points lead across onto the bottom, still eastward.
const CROSSOVER: &str = "top1> - <cross; cross> - bottom1>";

#[test]
fn a_simple_oval_is_balanced() {
    let oval = draw("north> - <east; east> - <south; south> | <west; west> - <north");
    assert!(is_balanced(&oval.track));
    assert_eq!(unbalanced(&oval.track), Unbalanced { cycles: vec![], shortest: true });
    assert_eq!(directions(&oval.track).of_link, [1; 4]);
}

#[test]
fn an_oval_is_balanced_whichever_way_its_runs_are_laid() {
    let oval = draw("north> - east>; <east - south>; <south | <west; west> - <north");
    assert!(is_balanced(&oval.track));
    assert_eq!(directions(&oval.track).of_stretch, [1, -1, -1, 1]);
    assert_eq!(directions(&oval.track).of_link, [1; 4]);
}

#[test]
fn a_passing_siding_is_balanced() {
    assert!(is_balanced(&draw("a> - <main; a> - <side; main> - <b; side> - <b").track));
}

#[test]
fn a_figure_of_eight_over_a_diamond_is_balanced() {
    let eight = draw("over> - <lobe; lobe> - <under; under> - <other; other> - <over");
    assert!(is_balanced(&eight.track));
}

#[test]
fn a_return_loop_is_joined_by_its_metal() {
    let drawn = draw("approach> - <loop; loop> - approach>");
    assert!(!is_balanced(&drawn.track));
    assert_eq!(drawn.cycles(), ["approach)! loop>!: 0"]);
    assert_eq!(unbalanced(&drawn.track).cycles[0].length_mm, 100.0);
    assert_eq!(directions(&drawn.track).of_link, [1, -1]);
}

#[test]
fn a_return_loop_with_one_cut_is_unbalanced_but_not_joined() {
    let drawn = draw("approach> - <loop; loop> | approach>");
    assert_eq!(drawn.cycles(), ["approach) loop>: 1"]);
    assert_eq!(directions(&drawn.track).of_link, [1, -1]);
}

#[test]
fn a_return_loop_with_two_cuts_turns_at_the_second() {
    let drawn = draw("approach> | <loop; loop> | approach>");
    assert_eq!(drawn.cycles(), ["approach) loop>: 2"]);
    assert_eq!(directions(&drawn.track).of_link, [1, -1]);
    // The number counts, not the order.
    let mut other = drawn.track.clone();
    other.links[0].kind = LinkKind::cut(7);
    assert_eq!(directions(&other).of_link, [-1, 1]);
}

#[test]
fn a_cut_in_one_rail_leaves_a_loop_joined() {
    assert_eq!(draw("approach> [ <loop; loop> - approach>").cycles(), ["approach)! loop>!: 0"]);
    // Twice the same rail: what lies between has one rail of its own, the rest is joined by the other.
    let twice = draw("approach> [ <loop; loop> [ <rest; rest> - approach>");
    assert_eq!(twice.cycles(), ["approach)! loop> rest>!: 0"]);
    // Once each: as a staggered cut. Only the zone between has the same net on both rails.
    let staggered = draw("approach> [ <zone; zone> ] <rest; rest> - approach>");
    assert_eq!(staggered.cycles(), ["approach) zone>! rest>: 0"]);
    // Seen from the other side, the rail that is cut has the other hand.
    let turned = draw("approach> [ <zone; rest> [ zone>; approach> - <rest");
    assert_eq!(turned.cycles(), ["approach) zone>! <rest: 0"]);
}

#[test]
fn a_wye_is_unbalanced() {
    let wye = draw(WYE);
    assert_eq!(wye.cycles(), ["a)! ab>! b)! bc>! c)! ca>!: 0"]);
    assert_eq!(unbalanced(&wye.track).cycles[0].length_mm, 300.0);
}

#[test]
fn a_dogbone_is_balanced_until_a_crossover_joins_its_sides() {
    assert!(is_balanced(&draw(DOGBONE).track));
    let crossed = draw(&format!("{DOGBONE}; {CROSSOVER}"));
    assert_eq!(
        crossed.cycles(),
        [
            "top1)! top2>! east>! bottom1>! <cross!: 0",
            "top1>! cross>! bottom1)! bottom2>! west>!: 0"
        ]
    );
}

#[test]
fn a_turntable_that_can_make_half_a_turn_is_unbalanced() {
    let half_turn = draw("road> o <bridge; road> o bridge>");
    assert_eq!(half_turn.cycles(), ["road) bridge>: 2"]);
    assert!(is_balanced(&draw("road> o <bridge; bridge> o <beyond").track));
    let roads = draw("a> o <bridge; a> o bridge>; b> o <bridge; b> o bridge>");
    assert_eq!(roads.cycles().len(), 2);
}

#[test]
fn a_stretch_that_ends_in_itself() {
    assert!(is_balanced(&draw("a> - <a").track));
    assert_eq!(draw("a> - a>").cycles(), ["a)!: 0"]);
    assert_eq!(draw("a> | a>").cycles(), ["a): 1"]);
}

#[test]
fn an_uncut_loop_is_found_beside_a_shorter_way_that_is_cut() {
    // The short way through the loop has two cuts, the long one none.
    let drawn = draw(
        "approach> - <loop; loop> - approach>; approach> | <short; short> | <half;
         loop> - <half",
    );
    assert!(drawn.cycles().iter().any(|c| c.ends_with(": 0")), "{:?}", drawn.cycles());
}

#[test]
fn links_to_nowhere_are_left_out() {
    let mut drawn = draw("approach> | <loop; loop> | approach>");
    let end = drawn.track.links[0];
    drawn.track.links.insert(0, Link { ends: [(7, true), (0, true)], ..end });
    assert_eq!(drawn.cycles(), ["approach) loop>: 2"]);
    assert_eq!(directions(&drawn.track).of_link, [1, 1, -1]);
    assert_eq!(drawn.sets(&Conditions::default()), [["approach"], ["loop"]]);
    assert_eq!(unbalanced(&drawn.track).cycles[0].parted_at, [1, 2]);
}

#[test]
fn lengths_that_are_none_count_as_nothing() {
    let mut drawn = draw("approach> | <loop; loop> | approach>");
    for length in [f64::NAN, f64::INFINITY, -5.0] {
        drawn.track.stretches[1].length_mm = length;
        assert_eq!(unbalanced(&drawn.track).cycles[0].length_mm, 0.0);
    }
}
