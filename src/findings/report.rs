//! The result of a check: blocks, cuts and findings.
//!
//! Lists are in the order of identities; findings come worst first.

use serde::Serialize;

use super::finding::Finding;
use crate::drive::SetWord;
use crate::layout::{CutId, DriverId, RunId, SupplyId};
use crate::rails::{BlockId, SelectorId};
use crate::study::{Current, PassReport, Relation, SelectorAt, Situation, Verdict};

/// The result of a check.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Report {
    /// The worst verdict over findings of class fault.
    pub verdict: Verdict,
    /// Blocks, by identity.
    pub blocks: Vec<BlockReport>,
    /// Supplies, by identity.
    pub supplies: Vec<SupplyReport>,
    /// Cuts, by identity.
    pub cuts: Vec<CutReport>,
    /// Findings, worst first.
    pub findings: Vec<Finding>,
}

/// A block, in reports.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockReport {
    /// Identity.
    pub id: BlockId,
    /// The user's name, or a made one.
    pub name: String,
    /// Drivers on it.
    pub drivers: Vec<DriverId>,
    /// Length of its track, mm.
    pub length_mm: f64,
}

/// A supply, in reports.
#[derive(Debug, Clone, PartialEq)]
pub struct SupplyReport {
    /// Identity.
    pub id: SupplyId,
    /// Current from its positive pole with no train on the track, as everything is set now; `None` if it was not computed.
    pub load: Option<Current>,
}

/// A cut, in reports.
#[derive(Debug, Clone, PartialEq)]
pub struct CutReport {
    /// Identity.
    pub id: CutId,
    /// The user's name, or a made one.
    pub name: String,
    /// The block on the lower-distance side, then the other.
    pub blocks: [BlockId; 2],
    /// Rails cut.
    pub rails: RailsWord,
    /// The run it is in.
    pub run: RunId,
    /// Distance along it, mm.
    pub at_mm: f64,
    /// Worst over the settings that agree, any throttles.
    pub agree: Option<Situation>,
    /// Worst over the settings that disagree.
    pub disagree: Option<Situation>,
    /// Worst with one side dead.
    pub one_dead: Option<Situation>,
    /// Worst at the settings now.
    pub now: Situation,
    /// How each vehicle passes at the settings now.
    pub passes_now: Vec<PassReport>,
    /// How each vehicle passes at the worst of the agreeing settings.
    pub passes_agree: Vec<PassReport>,
    /// Every reachable pair of settings, the selectors as they stand now.
    pub card: Vec<CardCell>,
    /// Selectors that matter here and were left as they stand, because there are too many to try them all.
    pub held_selectors: Vec<SelectorId>,
    /// Sets of positions that were not judged here, because a driver of this place is then shorted with no train.
    pub shorted_positions: Vec<Vec<SelectorAt>>,
    /// Ways in which trains can stand there, and pairs of drivers, that were not looked at or only in part, because there
    /// are too many.
    pub ways_left_out: usize,
}

/// Which rails are cut, in reports.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum RailsWord {
    Both,
    Left,
    Right,
}

/// One cell of the gap card: a setting on each side, and what happens.
#[derive(Debug, Clone, PartialEq)]
pub struct CardCell {
    /// Setting of the first block's driver.
    pub a: SetWord,
    /// Setting of the second block's driver.
    pub b: SetWord,
    /// How the settings stand to each other.
    pub relation: Relation,
    /// The worst situation over all throttles.
    pub situation: Situation,
}
