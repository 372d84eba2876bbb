//! Which block and which polarity each stretch of rail has, for drawing.

use std::collections::{BTreeMap, BTreeSet};

use crate::layout::{Rail, RunId};
use crate::rails::{Plan, Polarity, Within};

/// A stretch of a run that lies in one block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlockStretch {
    /// From, mm along the run.
    pub from_mm: f64,
    /// To, mm along the run.
    pub to_mm: f64,
    /// Which block, counted from 0 in the order of the report; none between the two gaps of a staggered cut.
    pub block: Option<usize>,
}

/// A stretch of one rail between cuts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RailStretch {
    /// From, mm along the run.
    pub from_mm: f64,
    /// To, mm along the run.
    pub to_mm: f64,
    /// The net that it is part of.
    net: usize,
    /// What it is at now.
    pub polarity: Polarity,
}

/// Blocks and polarity of one run.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RunNets {
    /// Blocks along it.
    pub blocks: Vec<BlockStretch>,
    /// Left rail, right rail.
    pub rails: [Vec<RailStretch>; 2],
}

impl RunNets {
    /// The block at a distance along the run, mm.
    pub fn block_at(&self, at_mm: f64) -> Option<usize> {
        let within = |stretch: &&BlockStretch| stretch.from_mm <= at_mm && at_mm <= stretch.to_mm;
        self.blocks.iter().filter(within).find_map(|stretch| stretch.block)
    }
}

/// Blocks and polarity of every run, by run.
pub fn run_nets(plan: &Plan, polarity: &[Polarity]) -> BTreeMap<RunId, RunNets> {
    let breaks: BTreeSet<(RunId, Rail, u64)> = plan
        .metal
        .breaks
        .iter()
        .map(|(_, spot)| (spot.run, spot.rail, spot.at_mm.to_bits()))
        .collect();
    let mut nets: BTreeMap<RunId, RunNets> = BTreeMap::new();
    for piece in &plan.pieces {
        let run = nets.entry(piece.run).or_default();
        let (from_mm, to_mm) = (piece.from_mm, piece.to_mm);
        let block = match piece.within {
            Within::Block(n) => Some(n),
            Within::StaggerZone(_) | Within::Special(_) => None,
        };
        run.blocks.push(BlockStretch { from_mm, to_mm, block });
        for ((rail, net), which) in run.rails.iter_mut().zip(piece.nets).zip(Rail::BOTH) {
            let broken = breaks.contains(&(piece.run, which, from_mm.to_bits()));
            match rail.last_mut() {
                // A cut in the other rail only does not break this one.
                Some(last) if last.net == net && !broken => last.to_mm = to_mm,
                _ => {
                    let polarity = polarity.get(net).copied().unwrap_or_default();
                    rail.push(RailStretch { from_mm, to_mm, net, polarity });
                }
            }
        }
    }
    nets
}
