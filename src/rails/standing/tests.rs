#![allow(clippy::unwrap_used)]

use super::*;

/// Two nodes, and the positions of a selector in which they are joined, if not by fixed metal.
type Edge = ([usize; 2], Option<(usize, u64)>);

fn metal(nodes: usize, positions: &[u32], edges: &[Edge]) -> Switched {
    let edges = edges.iter().map(|&(ends, when)| SwitchedEdge { ends, when }).collect();
    Switched { nodes, positions: positions.to_vec(), edges }
}

fn sets(switched: &Switched, joins: &[[usize; 2]]) -> Vec<SetOfNeeds> {
    let found = joined(switched, joins, Budget::default());
    assert!(found.exhaustive);
    found.sets
}

fn at(selector: usize, position: u32) -> Option<(usize, u64)> {
    Some((selector, 1 << position))
}

#[test]
fn fixed_metal_needs_nothing() {
    let switched = metal(3, &[2], &[([0, 1], None), ([1, 2], None), ([0, 2], at(0, 1))]);
    assert_eq!(sets(&switched, &[[0, 2]]), [vec![]]);
    assert_eq!(sets(&switched, &[]), [vec![]]);
    assert_eq!(sets(&switched, &[[1, 1]]), [vec![]]);
}

#[test]
fn metal_that_joins_in_every_position_is_fixed() {
    let switched = metal(2, &[3], &[([0, 1], Some((0, 0b111)))]);
    assert_eq!(sets(&switched, &[[0, 1]]), [vec![]]);
}

#[test]
fn a_selector_cannot_stand_in_two_positions_far_apart_on_a_way() {
    // Neighbours on this way agree, each with the next; the first and the last do not.
    let switched = metal(4, &[2, 2], &[([0, 1], at(0, 0)), ([1, 2], at(1, 0)), ([2, 3], at(0, 1))]);
    assert_eq!(sets(&switched, &[[0, 3]]), Vec::<SetOfNeeds>::new());
}

#[test]
fn a_net_seen_in_other_positions_is_not_done_with() {
    // The near way to net 1 sets the selector so that nothing leads on; the longer way does not.
    let switched = metal(
        4,
        &[2, 2, 2],
        &[([0, 1], at(0, 0)), ([0, 2], at(1, 0)), ([2, 1], at(2, 0)), ([1, 3], at(0, 1))],
    );
    let needs = vec![(0, 0b10), (1, 0b01), (2, 0b01)];
    assert_eq!(sets(&switched, &[[0, 3]]), std::slice::from_ref(&needs));
    // And found so by the other search, too.
    let stage = Prepared::stages;
    let prepared = prepare(&switched, &[0, 1, 2, 3]);
    let links = prepared.pieces.links(prepared.net[0], prepared.net[3]).unwrap();
    let (found, all) = dive(&stage(&prepared, &links), &prepared.full, &mut Steps { left: 1000 });
    assert!(all);
    assert_eq!(found.into_vec(), [Needs::from(needs)]);
}

#[test]
fn two_pairs_may_use_one_net_and_must_agree() {
    // Both ways lead over net 2 and the one contact behind it.
    let switched = metal(
        4,
        &[2, 2],
        &[([0, 2], at(0, 0)), ([1, 2], at(0, 0)), ([1, 2], at(0, 1)), ([2, 3], at(1, 1))],
    );
    assert_eq!(sets(&switched, &[[0, 3], [1, 3]]), [vec![(0, 1), (1, 2)]]);
    let against = metal(3, &[2], &[([0, 2], at(0, 0)), ([1, 2], at(0, 1))]);
    assert_eq!(sets(&against, &[[0, 2], [1, 2]]), Vec::<SetOfNeeds>::new());
}

#[test]
fn positions_that_serve_alike_are_told_together() {
    // A three-way turnout: one edge joins left and middle, the next middle and right.
    let switched = metal(
        3,
        &[3, 2],
        &[([0, 1], Some((0, 0b011))), ([1, 2], Some((0, 0b110))), ([0, 2], at(1, 0))],
    );
    assert_eq!(sets(&switched, &[[0, 1]]), [vec![(0, 0b011)], vec![(0, 0b110), (1, 0b01)]]);
    assert_eq!(sets(&switched, &[[0, 2]]), [vec![(0, 0b010)], vec![(1, 0b01)]]);
}

/// Common practice, no source: power-routing turnouts frog to frog need a cut between them.
#[test]
fn power_routing_turnouts_frog_to_frog_short_when_they_differ() {
    // Stock rails 0 and 1 run along the siding's outer rails and the main's; the frogs are 2 and 3.
    let mut edges =
        vec![([2, 0], at(0, 0)), ([2, 1], at(0, 1)), ([3, 0], at(1, 0)), ([3, 1], at(1, 1))];
    assert_eq!(sets(&metal(4, &[2, 2], &edges), &[[0, 1]]), Vec::<SetOfNeeds>::new());
    edges.push(([2, 3], None));
    let differ = [vec![(0, 1), (1, 2)], vec![(0, 2), (1, 1)]];
    assert_eq!(sets(&metal(4, &[2, 2], &edges), &[[0, 1]]), differ);
    // Ganged, they never do.
    let ganged: Vec<_> = edges.iter().map(|&(ends, when)| (ends, when.map(|w| (0, w.1)))).collect();
    assert_eq!(sets(&metal(4, &[2], &ganged), &[[0, 1]]), Vec::<SetOfNeeds>::new());
}

/// A ladder of power-routing turnouts: every frog joins the one before, or the common stock rail. Nothing shorts, though
/// without regard to positions everything is joined.
#[test]
fn a_long_ladder_is_free_of_shorts() {
    let rungs = 200;
    let edges: Vec<_> = (0..rungs)
        .flat_map(|k| {
            let before = if k == 0 { 0 } else { k + 1 };
            [([k + 2, before], at(k, 0)), ([k + 2, 1], at(k, 1))]
        })
        .collect();
    let switched = metal(rungs + 2, &vec![2; rungs], &edges);
    assert_eq!(sets(&switched, &[[0, 1]]), Vec::<SetOfNeeds>::new());
}

/// Many forks in a row: the ways cannot be listed, but some can be had.
#[test]
fn what_cannot_be_listed_is_said_not_to_be() {
    let forks = 40;
    let edges: Vec<_> = (0..forks)
        .flat_map(|k| [([k, k + 1], at(2 * k, 0)), ([k, k + 1], at(2 * k + 1, 0))])
        .collect();
    let switched = metal(forks + 1, &vec![2; 2 * forks], &edges);
    let budget = Budget { steps: 200_000 };
    let found = joined(&switched, &[[0, forks]], budget);
    assert!(!found.exhaustive);
    assert!(found.steps <= budget.steps);
    assert!(!found.sets.is_empty());
    assert!(found.sets.iter().all(|set| set.len() == forks));
}

#[test]
fn a_pair_that_nothing_joins_settles_it_however_many_ways_the_others_have() {
    let forks = 40;
    let mut edges: Vec<_> = (0..forks)
        .flat_map(|k| [([k, k + 1], at(2 * k, 0)), ([k, k + 1], at(2 * k + 1, 0))])
        .collect();
    // Beyond the forks, three nets joined among themselves, to be entered in one position and left in the other.
    let (s, far) = (2 * forks, forks + 4);
    for k in 1..4 {
        edges.push(([forks, forks + k], at(s, 0)));
        edges.push(([forks + k, far], at(s, 1)));
        edges.push(([forks + k, forks + 1 + k % 3], at(s + k, 0)));
    }
    let switched = metal(far + 1, &vec![2; s + 4], &edges);
    let every: Vec<usize> = (0..=far).collect();
    let found = prepare(&switched, &every).joined(&[[0, far]], Budget { steps: 10_000 });
    assert_eq!((found.sets.len(), found.exhaustive), (0, true));
}

#[test]
fn what_is_not_there_joins_nothing() {
    let switched = metal(
        2,
        &[2, 0],
        &[
            ([0, 7], None),
            ([0, 1], at(9, 0)),
            ([0, 1], at(1, 0)),
            ([0, 1], at(0, 5)),
            ([1, 1], at(0, 0)),
        ],
    );
    assert_eq!(sets(&switched, &[[0, 1]]), Vec::<SetOfNeeds>::new());
    assert_eq!(sets(&switched, &[[0, 7]]), Vec::<SetOfNeeds>::new());
    let none = joined(&switched, &[[0, 1]], Budget { steps: 0 });
    assert_eq!(none.sets, Vec::<SetOfNeeds>::new());
}

#[test]
fn more_than_sixty_four_positions_are_never_all() {
    let switched = metal(2, &[100], &[([0, 1], Some((0, u64::MAX)))]);
    assert_eq!(sets(&switched, &[[0, 1]]), [vec![(0, u64::MAX)]]);
}

#[test]
fn other_ends_than_those_prepared_for_are_answered_too() {
    let switched = metal(4, &[2, 2], &[([0, 1], at(0, 0)), ([1, 2], at(1, 0)), ([2, 3], None)]);
    let mut prepared = prepare(&switched, &[0, 3]);
    assert_eq!(prepared.joined(&[[0, 1]], Budget::default()).sets, [vec![(0, 1)]]);
    assert_eq!(prepared.joined(&[[0, 3]], Budget::default()).sets, [vec![(0, 1), (1, 1)]]);
}

/// Blocks on cab selectors, each with two power-routing turnouts frog to frog in it. A cab's two poles are joined
/// through any block that is set to it and whose turnouts differ; two cabs are never joined.
#[test]
fn cab_selectors_join_a_cab_to_its_own_blocks_only() {
    let (cabs, blocks) = (12, 20);
    let (mut positions, mut edges) = (Vec::new(), Vec::new());
    for block in 0..blocks {
        let left = 2 * cabs + 3 * block;
        let (right, frogs, selector) = (left + 1, left + 2, 3 * block);
        positions.extend([cabs as u32, 2, 2]);
        for cab in 0..cabs {
            edges.push(([left, 2 * cab], at(selector, cab as u32)));
            edges.push(([right, 2 * cab + 1], at(selector, cab as u32)));
        }
        for turnout in [selector + 1, selector + 2] {
            edges.push(([frogs, right], at(turnout, 0)));
            edges.push(([frogs, left], at(turnout, 1)));
        }
    }
    let switched = metal(2 * cabs + 3 * blocks, &positions, &edges);
    let ends: Vec<usize> = (0..2 * cabs).collect();
    let mut prepared = prepare(&switched, &ends);
    for cab in 0..cabs {
        let own = prepared.joined(&[[2 * cab, 2 * cab + 1]], Budget::default());
        let mut expected: Vec<SetOfNeeds> = (0..blocks)
            .flat_map(|block| [(1, 2), (2, 1)].map(|turned| (3 * block, turned)))
            .map(|(s, turned)| vec![(s, 1 << cab), (s + 1, turned.0), (s + 2, turned.1)])
            .collect();
        expected.sort();
        assert_eq!((own.sets, own.exhaustive), (expected, true));
        let other = (cab + 1) % cabs;
        let two = prepared
            .joined(&[[2 * cab, 2 * other], [2 * cab + 1, 2 * other + 1]], Budget::default());
        assert_eq!((two.sets, two.exhaustive), (Vec::new(), true));
    }
}
