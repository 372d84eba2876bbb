//! Which block and which polarity each stretch of rail has, for drawing.

use std::collections::BTreeMap;

use crate::layout::{Layout, RunId};

/// A stretch of a run that lies in one block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlockStretch {
    /// From, mm along the run.
    pub from_mm: f64,
    /// To, mm along the run.
    pub to_mm: f64,
    /// Which block, counted from 0 in the order of the report.
    pub block: Option<usize>,
}

/// What a rail is at now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Polarity {
    /// No driver drives it, or it is stopped.
    #[default]
    Dead,
    /// Positive.
    Positive,
    /// Negative.
    Negative,
    /// Alternating (DCC).
    Alternating,
}

/// A stretch of one rail between cuts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RailStretch {
    /// From, mm along the run.
    pub from_mm: f64,
    /// To, mm along the run.
    pub to_mm: f64,
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

/// Blocks and polarity of every run.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PlanNets {
    /// By run.
    pub runs: BTreeMap<RunId, RunNets>,
    /// A printable name of each block.
    pub names: Vec<String>,
}

impl PlanNets {
    /// Works them out.
    pub fn of(layout: &Layout) -> Self {
        let mut nets = Self::default();
        for (id, run) in &layout.runs {
            let length = crate::layout::geometry::length_mm(layout, run);
            let stretch = RailStretch { from_mm: 0.0, to_mm: length, polarity: Polarity::Dead };
            nets.runs.insert(
                *id,
                RunNets {
                    blocks: vec![BlockStretch { from_mm: 0.0, to_mm: length, block: None }],
                    rails: [vec![stretch], vec![stretch]],
                },
            );
        }
        nets
    }
}
