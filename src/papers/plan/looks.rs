//! The look of each block on paper: dash and width, so that neighbours differ in black and white.

use std::collections::{BTreeMap, BTreeSet};

use super::super::Facts;
use crate::drawing::{Ink, Stroke};

/// Dashes and the gaps between them, mm.
const DASHES: [&[f64]; 8] = [
    &[],
    &[3.0, 1.2],
    &[1.0, 1.0],
    &[5.0, 1.0, 1.0, 1.0],
    &[0.5, 0.9],
    &[5.0, 1.0, 1.0, 1.0, 1.0, 1.0],
    &[2.0, 0.8, 0.5, 0.8],
    &[8.0, 1.8],
];
/// Widths, mm.
const WIDTHS: [f64; 2] = [0.55, 1.1];

/// The look of each block, by its place in the plan.
pub struct Looks(Vec<usize>);

impl Looks {
    /// Gives each block the least used look that no neighbour has.
    pub fn of(facts: &Facts) -> Looks {
        let plan = &facts.view.plan;
        let mut beside: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
        for cut in plan.cuts.values() {
            beside.entry(cut.block_before).or_default().insert(cut.block_after);
            beside.entry(cut.block_after).or_default().insert(cut.block_before);
        }
        let all = DASHES.len() * WIDTHS.len();
        let mut used = vec![0_usize; all];
        let mut looks: Vec<usize> = Vec::with_capacity(plan.blocks.len());
        for block in 0..plan.blocks.len() {
            let taken: BTreeSet<usize> = beside
                .get(&block)
                .into_iter()
                .flatten()
                .filter_map(|other| looks.get(*other).copied())
                .collect();
            let free = (0..all).filter(|look| !taken.contains(look));
            let look = free.min_by_key(|look| (used[*look], *look)).unwrap_or(block % all);
            used[look] += 1;
            looks.push(look);
        }
        Looks(looks)
    }

    /// Number of blocks.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// The look of a block.
    pub fn stroke(&self, block: usize) -> Stroke {
        let look = self.0.get(block).copied().unwrap_or(0);
        Stroke {
            width_mm: WIDTHS[look / DASHES.len() % WIDTHS.len()],
            ink: Ink::BLACK,
            dash: DASHES[look % DASHES.len()].to_vec(),
        }
    }
}
