//! Parts of a derived plan: nets, pieces, blocks, cuts, and the ways on beyond runs.

use super::ids::{BlockId, NetId};
use crate::layout::{Cut, CutId, DriverId, FeedId, LabelId, Rail, RunId, SpecialId};

/// A net: its identity and the feed legs that end on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Net {
    /// Identity.
    pub id: NetId,
    /// Feed legs on it, by feed.
    pub legs: Vec<Leg>,
}

/// One leg of a feed, on a net.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leg {
    /// The feed.
    pub feed: FeedId,
    /// The driver.
    pub driver: DriverId,
    /// Whether it is the P output (otherwise M).
    pub is_p: bool,
    /// Whether that is so because its poles are exchanged on the way, by a switch or a bridge.
    pub exchanged: bool,
    /// Run on which the leg is soldered.
    pub run: RunId,
    /// Distance along that run, mm.
    pub at_mm: f64,
}

/// What a piece of track is part of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Within {
    /// The block with this index in [`Plan::blocks`](super::Plan::blocks).
    Block(usize),
    /// The stretch between the two rails' gaps of one staggered cut.
    StaggerZone(CutId),
    /// Track inside special work whose one rail is a frog or moves with the points.
    Special(SpecialId),
}

/// A piece of a run between neighbouring cut places.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// The run.
    pub run: RunId,
    /// Where it starts, mm along the run.
    pub from_mm: f64,
    /// Where it ends, mm.
    pub to_mm: f64,
    /// Net of the left and of the right rail (seen from the run's start): indices in [`Plan::nets`](super::Plan::nets).
    pub nets: [usize; 2],
    /// What it is part of.
    pub within: Within,
}

impl Piece {
    /// Length, mm.
    pub fn length_mm(&self) -> f64 {
        self.to_mm - self.from_mm
    }
}

/// A block.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Identity.
    pub id: BlockId,
    /// Its two nets, the left rail's of its first piece first: indices in [`Plan::nets`](super::Plan::nets).
    pub nets: [usize; 2],
    /// Its pieces: indices in [`Plan::pieces`](super::Plan::pieces).
    pub pieces: Vec<usize>,
    /// Length of its track, mm.
    pub length_mm: f64,
    /// Names that the user gave to places in it.
    pub labels: Vec<LabelId>,
    /// Special work whose frog is one metal with one of its rails: it is live or dead by position.
    pub follows: Vec<SpecialId>,
    /// Drivers with one output on one of its rails and the other output on the other: those that drive it.
    pub drivers: Vec<DriverId>,
    /// Other drivers with an output on a rail of it: on one rail only, or the same output on both.
    pub half_drivers: Vec<DriverId>,
}

/// A cut in the derived plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CutAt {
    /// The piece that ends where the cut begins (index in [`Plan::pieces`](super::Plan::pieces)).
    pub before: usize,
    /// The piece that starts where the cut ends.
    pub after: usize,
    /// Block before.
    pub block_before: usize,
    /// Block after.
    pub block_after: usize,
    /// Whether the reference directions of the two sides agree (+1) or the closing cut of an unbalanced cycle
    /// reverses them (−1). Plain track cannot reverse them.
    pub sign: i8,
}

/// The way on beyond a run's end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beyond {
    /// The next run.
    pub run: RunId,
    /// Whether one enters it at its start.
    pub at_start: bool,
    /// The special work that one passes there.
    pub special: Option<SpecialId>,
    /// The rails within so many mm of the joint are not on this way: those before and beyond go on in their stead.
    pub past_mm: f64,
    /// Whether the points are set for another road: one trails through them.
    pub against: bool,
}

/// Where a cut goes through one rail, mm along its run; `None` if that rail is whole.
pub fn cut_place_mm(cut: &Cut, rail: Rail) -> Option<f64> {
    let place = match rail {
        Rail::Left => cut.at_mm,
        Rail::Right => cut.at_mm + cut.stagger_mm,
    };
    cut.rails.has(rail).then_some(place)
}
