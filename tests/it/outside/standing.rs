//! Which positions join what, against brute force: petgraph walks the graph in every joint position of the selectors, on
//! random small graphs.
//!
//! The graphs come from a generator of fixed seeds, so that their number is what it says.

use gapwright::rails::standing::{Budget, SetOfNeeds, Switched, SwitchedEdge, joined, prepare};
use petgraph::algo::has_path_connecting;
use petgraph::graph::{NodeIndex, UnGraph};
use petgraph::visit::EdgeFiltered;

/// Graphs of each seed. There are four seeds.
const GRAPHS: usize = 26_000;

/// Splitmix64 (Steele, Lea, Flood 2014).
struct Dice(u64);

impl Dice {
    fn any(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, end: usize) -> usize {
        (self.any() % end as u64) as usize
    }
}

fn throw(dice: &mut Dice) -> (Switched, Vec<[usize; 2]>) {
    let nodes = 5 + dice.below(5);
    let positions: Vec<u32> = (0..2 + dice.below(4)).map(|_| 2 + dice.below(3) as u32).collect();
    let edges = (0..nodes - 1 + dice.below(nodes + 3))
        .map(|_| {
            let ends = [dice.below(nodes), dice.below(nodes)];
            let selector = dice.below(positions.len());
            let when = match dice.below(10) {
                0 => None,
                1..=6 => Some((selector, 1 << dice.below(positions[selector] as usize))),
                _ => Some((selector, dice.any() & ((1 << positions[selector]) - 1))),
            };
            SwitchedEdge { ends, when }
        })
        .collect();
    let joins = (0..1 + dice.below(3).saturating_sub(1))
        .map(|_| {
            let from = dice.below(nodes);
            [from, (from + 1 + dice.below(nodes - 1)) % nodes]
        })
        .collect();
    (Switched { nodes, positions, edges }, joins)
}

/// Whether edges that join in all positions of the masks join every pair.
fn joins_all(
    graph: &UnGraph<(), Option<(usize, u64)>>,
    joins: &[[usize; 2]],
    masks: &[u64],
) -> bool {
    let throughout = EdgeFiltered::from_fn(graph, |edge| {
        edge.weight().is_none_or(|(selector, mask)| masks[selector] & !mask == 0)
    });
    joins.iter().all(|pair| {
        let [a, b] = pair.map(NodeIndex::new);
        has_path_connecting(&throughout, a, b, None)
    })
}

/// Calls with one choice of each selector after another.
fn every_choice(counts: &[u64], mut each: impl FnMut(&[u64])) {
    let mut choice = vec![0; counts.len()];
    loop {
        each(&choice);
        let Some(k) = (0..counts.len()).find(|&k| choice[k] + 1 < counts[k]) else { return };
        choice[k] += 1;
        choice[..k].fill(0);
    }
}

/// The positions that a set leaves to each selector.
fn masks(set: &SetOfNeeds, full: &[u64]) -> Vec<u64> {
    let mut masks = full.to_vec();
    for &(selector, mask) in set {
        masks[selector] = mask;
    }
    masks
}

fn within(inner: &[u64], outer: &[u64]) -> bool {
    inner.iter().zip(outer).all(|(inner, outer)| inner & !outer == 0)
}

#[derive(Default, Debug)]
struct Tally {
    joined: usize,
    several: usize,
    cut_short: usize,
}

fn hold(seed: u64) -> Tally {
    let mut dice = Dice(seed);
    let mut tally = Tally::default();
    for number in 0..GRAPHS {
        let (switched, joins) = throw(&mut dice);
        let told = || format!("graph {number} of seed {seed}: {switched:?}, joins {joins:?}");
        let mut graph = UnGraph::new_undirected();
        for _ in 0..switched.nodes {
            graph.add_node(());
        }
        for edge in &switched.edges {
            let [a, b] = edge.ends.map(NodeIndex::new);
            graph.add_edge(a, b, edge.when);
        }
        let full: Vec<u64> = switched.positions.iter().map(|&n| (1 << n) - 1).collect();
        let found = joined(&switched, &joins, Budget::default());
        assert!(found.exhaustive, "{}", told());
        let sets: Vec<Vec<u64>> = found.sets.iter().map(|set| masks(set, &full)).collect();
        tally.joined += usize::from(!sets.is_empty());
        tally.several += usize::from(sets.len() > 1);

        // In every joint position: no miss, no invention.
        let positions: Vec<u64> = switched.positions.iter().map(|&n| u64::from(n)).collect();
        every_choice(&positions, |at| {
            let at: Vec<u64> = at.iter().map(|&position| 1 << position).collect();
            let met = sets.iter().any(|set| within(&at, set));
            assert_eq!(met, joins_all(&graph, &joins, &at), "{at:?} {found:?} {}", told());
        });

        // Each by metal that stays the same, and with nothing that it could do without.
        for set in &sets {
            assert!(joins_all(&graph, &joins, set), "{set:?} {}", told());
            for (k, mask) in set.iter().enumerate() {
                for bit in (0..4).map(|p| 1 << p).filter(|bit| full[k] & !mask & bit != 0) {
                    let mut looser = set.clone();
                    looser[k] |= bit;
                    assert!(!joins_all(&graph, &joins, &looser), "{looser:?} {found:?} {}", told());
                }
            }
        }

        // No such set is missed, where all there could be can be gone through.
        if full.iter().product::<u64>() <= 400 {
            every_choice(&full, |less_one| {
                let masks: Vec<u64> = less_one.iter().map(|mask| mask + 1).collect();
                if joins_all(&graph, &joins, &masks) {
                    assert!(sets.iter().any(|set| within(&masks, set)), "{masks:?} {}", told());
                }
            });
        }

        // Cut short, it tells some of the same, and says so.
        let steps = dice.below(120) as u64;
        let part = joined(&switched, &joins, Budget { steps });
        assert!(part.sets.iter().all(|set| found.sets.contains(set)), "{part:?} {}", told());
        assert!(!part.exhaustive || part.sets == found.sets, "{part:?} {found:?} {}", told());
        tally.cut_short += usize::from(!part.exhaustive);

        // One preparation for all nodes gives the same, however often it is asked.
        let every: Vec<usize> = (0..switched.nodes).collect();
        let mut prepared = prepare(&switched, &every);
        for _ in 0..2 {
            let again = prepared.joined(&joins, Budget::default());
            assert_eq!(again.sets, found.sets, "{}", told());
            assert!(again.exhaustive, "{}", told());
        }
    }
    tally
}

/// Runs a seed, and sees to it that its graphs were worth it.
fn hold_all(seed: u64) {
    let tally = hold(seed);
    println!("{tally:?}");
    let share = |count: usize| count as f64 / GRAPHS as f64;
    assert!((0.2..0.9).contains(&share(tally.joined)), "{tally:?}");
    assert!(share(tally.several) > 0.2, "{tally:?}");
    assert!(share(tally.cut_short) > 0.05, "{tally:?}");
}

#[test]
fn standing_joins_are_those_of_brute_force_1() {
    hold_all(1);
}

#[test]
fn standing_joins_are_those_of_brute_force_2() {
    hold_all(2);
}

#[test]
fn standing_joins_are_those_of_brute_force_3() {
    hold_all(3);
}

#[test]
fn standing_joins_are_those_of_brute_force_4() {
    hold_all(4);
}
