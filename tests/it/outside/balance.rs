//! Polarity balance against petgraph's components of single rails, and against brute force.
//!
//! The graph of rails knows nothing of signs: two nodes to a stretch, its left and its right rail, and two edges to a
//! link, between the rails that meet.

use std::collections::BTreeSet;

use super::large::{Chance, club};
use gapwright::rails::balance::{
    Budget, Conditions, Cycle, Link, LinkKind, Stretch, Track, Way, directions, is_balanced,
    neighbours, reversing_sections, unbalanced,
};
use petgraph::unionfind::UnionFind;
use proptest::prelude::*;

/// Any links between so many stretches, each of which is a block by itself.
fn track(stretches: usize, links: usize) -> impl Strategy<Value = Track> {
    let kind = prop_oneof![
        3 => Just(LinkKind::Metal),
        4 => (0u32..20).prop_map(LinkKind::cut),
        2 => (0u32..20, any::<bool>())
            .prop_map(|(id, left)| LinkKind::Cut { id, rails: [left, !left] }),
        1 => Just(LinkKind::Gap),
    ];
    (1..=stretches).prop_flat_map(move |count| {
        let end = (0..count, any::<bool>());
        let link = ([end.clone(), end], kind.clone()).prop_map(|(ends, kind)| Link { ends, kind });
        let lengths = prop::collection::vec(1u32..5, count);
        (lengths, prop::collection::vec(link, 0..=links)).prop_map(|(lengths, links)| Track {
            stretches: (lengths.into_iter().enumerate())
                .map(|(block, length)| Stretch { length_mm: f64::from(length), block })
                .collect(),
            links,
        })
    })
}

/// Rails joined over these links: all of them, or only where no cut interrupts. Rail `2 s` is the left one of stretch `s`.
fn rails(track: &Track, links: impl Iterator<Item = usize>, as_if_uncut: bool) -> UnionFind<usize> {
    let mut joined = UnionFind::new(2 * track.stretches.len());
    for k in links {
        let Link { ends: [(a, at_start), (b, bt_start)], kind } = track.links[k];
        let cut = kind.interrupts();
        for (hand, cut) in cut.into_iter().enumerate() {
            let beyond = if at_start == bt_start { 1 - hand } else { hand };
            if as_if_uncut || !cut {
                joined.union(2 * a + hand, 2 * b + beyond);
            }
        }
    }
    joined
}

fn opposites_meet(track: &Track, joined: &UnionFind<usize>) -> bool {
    (0..track.stretches.len()).any(|s| joined.equiv(2 * s, 2 * s + 1))
}

/// All cycles, as sets of links, with their length: over the ends of stretches, none passed twice.
fn all_cycles(track: &Track) -> BTreeSet<(u64, BTreeSet<usize>)> {
    let mut found = BTreeSet::new();
    // A link and its stretches' ends; the lowest link of a cycle is passed first, from its first end.
    for first in 0..track.links.len() {
        let [from, to] = track.links[first].ends;
        let mut walk = Walk { track, first, goal: from, found: &mut found };
        if from == to {
            walk.found.insert((0, BTreeSet::from([first])));
        } else {
            walk.on(to, 0, &mut vec![from, to], &mut vec![first]);
        }
    }
    found
}

struct Walk<'a> {
    track: &'a Track,
    first: usize,
    goal: (usize, bool),
    found: &'a mut BTreeSet<(u64, BTreeSet<usize>)>,
}

impl Walk<'_> {
    fn on(
        &mut self,
        at: (usize, bool),
        length: u64,
        ends: &mut Vec<(usize, bool)>,
        links: &mut Vec<usize>,
    ) {
        let along = (at.0, !at.1);
        let own = self.track.stretches[at.0].length_mm as u64;
        if along == self.goal {
            self.found.insert((length + own, links.iter().copied().collect()));
        } else if !ends.contains(&along) {
            ends.push(along);
            self.over_links(along, length + own, ends, links);
            ends.pop();
        }
        self.over_links(at, length, ends, links);
    }

    fn over_links(
        &mut self,
        at: (usize, bool),
        length: u64,
        ends: &mut Vec<(usize, bool)>,
        links: &mut Vec<usize>,
    ) {
        for k in self.first + 1..self.track.links.len() {
            let [a, b] = self.track.links[k].ends;
            if links.contains(&k) || a == b || (a != at && b != at) {
                continue;
            }
            let next = if a == at { b } else { a };
            links.push(k);
            if next == self.goal {
                self.found.insert((length, links.iter().copied().collect()));
            } else if !ends.contains(&next) {
                ends.push(next);
                self.on(next, length, ends, links);
                ends.pop();
            }
            links.pop();
        }
    }
}

fn turns(track: &Track, links: &BTreeSet<usize>) -> bool {
    links.iter().filter(|&&k| track.links[k].turns()).count() % 2 == 1
}

fn parted(track: &Track, links: &BTreeSet<usize>) -> usize {
    links.iter().filter(|&&k| track.links[k].kind.parts()).count()
}

/// That the cycle is one: each link leads from where one step is left to where the next is entered.
fn hangs_together(track: &Track, cycle: &Cycle) -> Result<(), TestCaseError> {
    prop_assert_eq!(cycle.steps.len(), cycle.links.len());
    for (k, passing) in cycle.links.iter().enumerate() {
        let (here, next) = (&cycle.steps[k], &cycle.steps[(k + 1) % cycle.steps.len()]);
        let [first, second] = track.links[passing.link].ends;
        let (from, to) = if passing.from_first { (first, second) } else { (second, first) };
        let left_at_start = matches!(here.way, Way::Backward | Way::AtStart);
        let entered_at_start = matches!(next.way, Way::Forward | Way::AtStart);
        prop_assert_eq!(from, (here.stretch, left_at_start));
        prop_assert_eq!(to, (next.stretch, entered_at_start));
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn unbalanced_just_when_a_rail_leads_to_its_opposite(track in track(14, 22)) {
        let all = rails(&track, 0..track.links.len(), true);
        let unbalanced_rails = opposites_meet(&track, &all);
        prop_assert_eq!(is_balanced(&track), !unbalanced_rails);
        let found = unbalanced(&track);
        prop_assert_eq!(found.cycles.is_empty(), !unbalanced_rails);
        prop_assert!(found.shortest);
        // The directions say so too: no link reverses them just when the track is balanced, and elsewhere they go on.
        let directions = directions(&track);
        prop_assert_eq!(directions.of_link.contains(&-1), unbalanced_rails);
        for (link, sign) in track.links.iter().zip(&directions.of_link) {
            let [(a, at_start), (b, bt_start)] = link.ends;
            let goes_on = (directions.of_stretch[a] == directions.of_stretch[b]) == (at_start != bt_start);
            prop_assert_eq!(goes_on, *sign == 1);
        }
        // Metal is unbalanced by itself just when one of its links reverses.
        let metal = |&k: &usize| track.links[k].kind == LinkKind::Metal;
        let joined = rails(&track, (0..track.links.len()).filter(metal), true);
        let reversed = (0..track.links.len()).filter(metal).any(|k| directions.of_link[k] == -1);
        prop_assert_eq!(opposites_meet(&track, &joined), reversed);
    }

    #[test]
    fn each_cycle_turns_round_and_hangs_together(track in track(14, 22)) {
        let directions = directions(&track);
        for cycle in unbalanced(&track).cycles {
            hangs_together(&track, &cycle)?;
            let links: BTreeSet<usize> = cycle.links.iter().map(|p| p.link).collect();
            prop_assert_eq!(links.len(), cycle.links.len(), "no link is passed twice");
            prop_assert!(turns(&track, &links));
            let product: i8 = links.iter().map(|&k| directions.of_link[k]).product();
            prop_assert_eq!(product, -1);
            prop_assert_eq!(cycle.parted_at.len(), parted(&track, &links));
            // What its metal joins, as petgraph has it. Where a cycle touches both ends of a stretch, the stretch itself
            // joins more.
            let stretches: BTreeSet<usize> = cycle.steps.iter().map(|s| s.stretch).collect();
            if stretches.len() == cycle.steps.len() {
                let joined = rails(&track, links.iter().copied(), false);
                for step in &cycle.steps {
                    prop_assert_eq!(step.joined, joined.equiv(2 * step.stretch, 2 * step.stretch + 1));
                }
            }
        }
    }

    #[test]
    fn the_least_cut_and_then_shortest_cycle_is_found(track in track(6, 9)) {
        let all = all_cycles(&track);
        let unbalanced_ones = || all.iter().filter(|(_, links)| turns(&track, links));
        let cost = |length: u64, links: &BTreeSet<usize>| {
            let one = links.iter().filter(|&&k| {
                let [one, other] = track.links[k].kind.interrupts();
                one != other
            });
            (parted(&track, links), one.count(), length)
        };
        let found = unbalanced(&track).cycles;
        let least = unbalanced_ones().map(|(length, links)| cost(*length, links)).min();
        let first = found.first().map(|c| {
            cost(c.length_mm as u64, &c.links.iter().map(|p| p.link).collect())
        });
        prop_assert_eq!(first, least);
        for c in &found {
            let links: BTreeSet<usize> = c.links.iter().map(|p| p.link).collect();
            prop_assert!(all.contains(&(c.length_mm as u64, links)));
        }
        for most in 0..3 {
            let any = unbalanced_ones().any(|(_, links)| parted(&track, links) <= most);
            prop_assert_eq!(found.iter().any(|c| c.parted_at.len() <= most), any);
        }
    }
}

/// Blocks of one or two stretches each, cuts and gaps between them.
fn blocks() -> impl Strategy<Value = (Track, Conditions)> {
    let kind = prop_oneof![
        8 => Just(LinkKind::cut(0)),
        1 => any::<bool>().prop_map(|left| LinkKind::Cut { id: 0, rails: [left, !left] }),
        1 => Just(LinkKind::Gap),
    ];
    (2usize..=8).prop_flat_map(move |count| {
        let end = (0..count, any::<bool>());
        let link = ([end.clone(), end], kind.clone()).prop_map(|(ends, kind)| Link { ends, kind });
        let twins = prop::collection::vec((any::<bool>(), [any::<bool>(), any::<bool>()]), count);
        let barred = prop::collection::btree_set(0..count, 0..=1);
        let apart = (any::<bool>(), prop::collection::vec([0..count, 0..count], 0..3));
        let links = prop::collection::vec(link, 0..=13);
        (Just(count), twins, links, barred, apart).prop_map(
            |(count, twins, mut links, barred, (all_neighbours, apart))| {
                let length_mm = 1.0;
                let mut stretches: Vec<Stretch> =
                    (0..count).map(|block| Stretch { length_mm, block }).collect();
                for (block, (twin, [here, there])) in twins.into_iter().enumerate() {
                    if twin {
                        // Every other link of the block moves to its second stretch.
                        let second = stretches.len();
                        stretches.push(Stretch { length_mm, block });
                        let ends = links.iter_mut().flat_map(|l| &mut l.ends);
                        ends.filter(|e| e.0 == block).step_by(2).for_each(|e| e.0 = second);
                        let ends = [(block, here), (second, there)];
                        links.push(Link { ends, kind: LinkKind::Metal });
                    }
                }
                let track = Track { stretches, links };
                let apart = if all_neighbours { neighbours(&track) } else { apart };
                (track, Conditions { barred, apart })
            },
        )
    })
}

/// Whether what is left without some blocks is balanced. What a block does against itself is left out: nothing cures it.
fn cured(track: &Track, without: &dyn Fn(usize) -> bool) -> bool {
    let block = |s: usize| track.stretches[s].block;
    let left = (0..track.links.len()).filter(|&k| {
        let Link { ends: [(a, _), (b, _)], kind } = track.links[k];
        let own = block(a) == block(b) && kind != LinkKind::Metal;
        !own && !without(block(a)) && !without(block(b))
    });
    !opposites_meet(track, &rails(track, left, true))
}

/// Links between blocks that lie on an unbalanced cycle of different blocks.
fn on_unbalanced(track: &Track) -> BTreeSet<usize> {
    let block = |s: usize| track.stretches[s].block;
    let between = Track {
        stretches: track.stretches.clone(),
        links: (track.links.iter())
            .map(|l| {
                if block(l.ends[0].0) == block(l.ends[1].0) && l.kind != LinkKind::Metal {
                    // A cut within a block counts for nothing: it is laid aside as an end of its own.
                    Link { ends: [l.ends[0], l.ends[0]], kind: l.kind }
                } else {
                    *l
                }
            })
            .collect(),
    };
    let mut found = BTreeSet::new();
    for (_, links) in all_cycles(&between) {
        // Cycles of blocks: no block is entered twice.
        let mut entered = vec![0; track.stretches.len()];
        let across: Vec<usize> = links
            .iter()
            .copied()
            .filter(|&k| {
                let [(a, _), (b, _)] = between.links[k].ends;
                block(a) != block(b)
            })
            .collect();
        for &k in &across {
            between.links[k].ends.iter().for_each(|e| entered[block(e.0)] += 1);
        }
        if turns(&between, &links) && entered.iter().all(|&n| n <= 2) && across.len() > 1 {
            found.extend(across);
        }
    }
    found
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12_000))]

    #[test]
    fn smallest_reversing_sets_are_those_of_brute_force((track, conditions) in blocks()) {
        let block = |s: usize| track.stretches[s].block;
        let count = 1 + (0..track.stretches.len()).map(block).max().unwrap();
        let on = on_unbalanced(&track);
        let shares = |b: usize| on.iter().any(|&k| {
            let link = &track.links[k];
            !link.kind.parts() && link.ends.iter().any(|e| block(e.0) == b)
        });
        let used: BTreeSet<usize> =
            on.iter().flat_map(|&k| track.links[k].ends.map(|e| block(e.0))).collect();
        let can_be: Vec<usize> = used.iter().copied()
            .filter(|b| !conditions.barred.contains(b) && !shares(*b)).collect();
        let mut best: Vec<Vec<usize>> = Vec::new();
        for mask in 0u32..1 << can_be.len() {
            let set: Vec<usize> =
                can_be.iter().enumerate().filter(|(k, _)| mask >> k & 1 == 1).map(|(_, &b)| b).collect();
            let fits = conditions.apart.iter()
                .all(|[a, b]| a == b || !(set.contains(a) && set.contains(b)));
            if fits && cured(&track, &|b| set.contains(&b)) {
                match best.first().map_or(usize::MAX, Vec::len) {
                    size if set.len() < size => best = vec![set],
                    size if set.len() == size => best.push(set),
                    _ => {}
                }
            }
        }
        best.sort();

        let found = reversing_sections(&track, &conditions, &Budget { sets: 1000, ..Budget::default() });
        let mut ours: Vec<Vec<usize>> = vec![Vec::new()];
        for group in &found.groups {
            prop_assert!(group.exhaustive && group.all);
            prop_assert!(group.sets.iter().all(|set| set.len() == group.at_least));
            ours = ours.iter()
                .flat_map(|so_far| group.sets.iter().map(move |set| [&so_far[..], set].concat()))
                .collect();
        }
        ours.iter_mut().for_each(|set| set.sort_unstable());
        ours.sort();
        prop_assert_eq!(ours, best);
        let sharing: BTreeSet<usize> = (0..count).filter(|&b| shares(b)).collect();
        prop_assert_eq!(found.sharing.keys().copied().collect::<BTreeSet<_>>(), sharing);
        for group in &found.groups {
            if let Some(stuck) = &group.stuck {
                hangs_together(&track, stuck)?;
                prop_assert!(group.sets.is_empty());
                prop_assert!(stuck.steps.iter().all(|s| !can_be.contains(&block(s.stretch))));
            }
        }
    }
}

#[test]
fn a_layout_of_200_turnouts_is_searched_to_the_end() {
    for seed in 1..=8 {
        let track = club(seed);
        let cycles = unbalanced(&track);
        assert!(cycles.shortest);
        assert!(cycles.cycles.len() >= 60, "{} cycles", cycles.cycles.len());
        let free = Conditions::default();
        let apart = Conditions { apart: neighbours(&track), ..Conditions::default() };
        for conditions in [free, apart] {
            let found = reversing_sections(&track, &conditions, &Budget::default());
            assert!(
                found
                    .groups
                    .iter()
                    .all(|g| g.exhaustive && g.sets.iter().all(|s| s.len() == g.at_least))
            );
            // The first choice of each group cures it, as petgraph sees it.
            let chosen: BTreeSet<usize> =
                found.groups.iter().flat_map(|g| &g.sets[0]).copied().collect();
            assert!(cured(&track, &|block| chosen.contains(&block)));
            assert!(conditions.apart.iter().all(|pair| !pair.iter().all(|b| chosen.contains(b))));
        }
    }
}

#[test]
fn a_search_that_does_not_end_says_so() {
    // Blocks that meet any others any way round: nothing that was ever built.
    let mut chance = Chance(5);
    let stretches = (0..400).map(|block| Stretch { length_mm: 1.0, block }).collect();
    let mut end = || (chance.below(400), chance.below(2) == 0);
    let links = (0..900).map(|id| Link { ends: [end(), end()], kind: LinkKind::cut(id) }).collect();
    let track = Track { stretches, links };
    let found =
        reversing_sections(&track, &Conditions::default(), &Budget { steps: 4_000_000, sets: 10 });
    let group = found.groups.iter().max_by_key(|g| g.blocks.len()).unwrap();
    assert!(!group.exhaustive && !group.all);
    // What is listed cures it all the same, and is not smaller than what was ruled out.
    assert!(group.sets[0].len() >= group.at_least);
    let chosen: BTreeSet<usize> = found.groups.iter().flat_map(|g| &g.sets[0]).copied().collect();
    assert!(cured(&track, &|block| chosen.contains(&block)));
}
