//! The look of each block: a colour and a dash that stay with the block while one draws and cuts.

use std::collections::{BTreeMap, BTreeSet};

use super::nets::RunNets;
use crate::layout::{JointId, Layout, RunId};

/// Number of distinct looks: seven colours with four dashes.
const LOOKS: usize = 28;

/// Nets of all runs.
type Nets = BTreeMap<RunId, RunNets>;

/// The look of each block, by its place among the blocks of the report.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct BlockLooks(Vec<usize>);

impl BlockLooks {
    /// The look of the `n`-th block: an index into colours and dashes.
    pub fn of(&self, n: usize) -> usize {
        self.0.get(n).copied().unwrap_or(n)
    }

    /// Assigns looks. A block keeps the look of the earlier block that it shares most track with; of two blocks that
    /// were one, the one with more of that track keeps it. A new look is the least used that no neighbour has.
    pub fn assign(layout: &Layout, nets: &Nets, blocks: usize, before: (&Nets, &Self)) -> Self {
        let mut looks: Vec<Option<usize>> = vec![None; blocks];
        let mut taken: BTreeSet<usize> = BTreeSet::new();
        for (look, block) in inherited(nets, before) {
            if looks.get(block).is_some_and(Option::is_none) && taken.insert(look) {
                looks[block] = Some(look);
            }
        }
        let neighbours = neighbours(layout, nets);
        let mut used = [0_usize; LOOKS];
        looks.iter().flatten().for_each(|look| used[look % LOOKS] += 1);
        for block in 0..blocks {
            if looks[block].is_some() {
                continue;
            }
            let beside = neighbours.get(&block).into_iter().flatten();
            let beside: BTreeSet<usize> = beside
                .filter_map(|n| looks.get(*n).copied().flatten())
                .map(|l| l % LOOKS)
                .collect();
            let free = (0..LOOKS).filter(|look| !beside.contains(look));
            let look = free.min_by_key(|look| (used[*look], *look)).unwrap_or(block % LOOKS);
            used[look] += 1;
            looks[block] = Some(look);
        }
        Self(looks.into_iter().enumerate().map(|(n, look)| look.unwrap_or(n)).collect())
    }
}

/// Earlier looks with the blocks that could keep them, the one with most of the track first.
fn inherited(nets: &Nets, (before, looks): (&Nets, &BlockLooks)) -> Vec<(usize, usize)> {
    let mut shared: BTreeMap<(usize, usize), f64> = BTreeMap::new();
    for (run, now) in nets {
        let Some(then) = before.get(run) else { continue };
        for stretch in &now.blocks {
            let Some(block) = stretch.block else { continue };
            for old in &then.blocks {
                let Some(was) = old.block else { continue };
                let long = stretch.to_mm.min(old.to_mm) - stretch.from_mm.max(old.from_mm);
                if long > 0.0 {
                    *shared.entry((looks.of(was), block)).or_default() += long;
                }
            }
        }
    }
    let mut shared: Vec<_> = shared.into_iter().collect();
    shared.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    shared.into_iter().map(|(pair, _)| pair).collect()
}

/// Blocks that meet at a cut.
fn neighbours(layout: &Layout, nets: &Nets) -> BTreeMap<usize, BTreeSet<usize>> {
    let mut beside: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
    let mut at_joint: BTreeMap<JointId, BTreeSet<usize>> = BTreeMap::new();
    let mut meet = |a: usize, b: usize| {
        if a != b {
            beside.entry(a).or_default().insert(b);
            beside.entry(b).or_default().insert(a);
        }
    };
    for (id, nets) in nets {
        let blocks: Vec<usize> = nets.blocks.iter().filter_map(|stretch| stretch.block).collect();
        blocks.windows(2).for_each(|pair| meet(pair[0], pair[1]));
        let Some(run) = layout.runs.get(id) else { continue };
        for (joint, block) in [(run.from, blocks.first()), (run.to, blocks.last())] {
            at_joint.entry(joint).or_default().extend(block);
        }
    }
    for blocks in at_joint.values() {
        for a in blocks {
            blocks.iter().for_each(|b| meet(*a, *b));
        }
    }
    beside
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::derived::Derived;
    use crate::layout::load;

    /// A line of four runs, cut 200 mm beyond the starts of these.
    fn line(cut: &[u32]) -> String {
        let cuts: Vec<String> = cut
            .iter()
            .map(|run| format!(r#"(id: "c{run}", run: "r{run}", at_mm: 200, rails: Both)"#))
            .collect();
        let joints: Vec<String> =
            (1..=5).map(|n| format!(r#"(id: "j{n}", x_mm: {}, y_mm: 0)"#, n * 1000)).collect();
        let runs: Vec<String> =
            (1..=4).map(|n| format!(r#"(id: "r{n}", from: "j{n}", to: "j{}")"#, n + 1)).collect();
        format!(
            "(version: 1, scale: 87, gauge_mm: 16.5, joints: [{}], runs: [{}], cuts: [{}])",
            joints.join(", "),
            runs.join(", "),
            cuts.join(", ")
        )
    }

    fn derived(cut: &[u32], before: &Derived) -> Derived {
        let layout = load(&line(cut)).unwrap_or_else(|e| panic!("{e:?}")).layout;
        Derived::after(&layout, before)
    }

    fn look(derived: &Derived, run: u32) -> usize {
        let block = derived.nets[&RunId(run)].block_at(500.0).unwrap_or_else(|| panic!("no block"));
        derived.looks.of(block)
    }

    #[test]
    fn a_cut_leaves_the_looks_of_all_other_blocks() {
        let first = derived(&[3, 4], &Derived::default());
        let before = [look(&first, 1), look(&first, 3), look(&first, 4)];
        assert!(before[0] != before[1] && before[1] != before[2]);
        // The new block lies before the others in the order of the report.
        let then = derived(&[2, 3, 4], &first);
        assert_eq!([look(&then, 3), look(&then, 4)], before[1..]);
        assert!(look(&then, 1) == before[0] || look(&then, 2) == before[0]);
        assert_ne!(look(&then, 1), look(&then, 2));
        assert_ne!(look(&then, 2), look(&then, 3));
        // Bridged again, the long part has its look back.
        let again = derived(&[3, 4], &then);
        assert_eq!(look(&again, 4), before[2]);
    }
}
