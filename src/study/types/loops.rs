//! Track that leads back onto itself the other way round: loops, and the blocks that can be their reversing sections.

use std::collections::BTreeMap;

use crate::layout::{CutId, DeviceId, DriverId, RunId, SpecialId, TrainId, VehicleId};
use crate::rails::BlockId;
use crate::rails::balance::Way;

/// A stretch of a run as something passes it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Along {
    /// The run.
    pub run: RunId,
    /// Where the stretch starts, mm along the run.
    pub from_mm: f64,
    /// Where it ends, mm.
    pub to_mm: f64,
    /// How it is passed.
    pub way: Way,
}

/// A way once round that comes back on the other rail.
#[derive(Debug, Clone, PartialEq)]
pub struct Round {
    /// What it leads over, in order.
    pub along: Vec<Along>,
    /// Blocks that it leads over, in order, each once.
    pub blocks: Vec<BlockId>,
    /// Cuts in both rails that it passes, in order.
    pub cuts: Vec<CutId>,
    /// Cuts in one rail that it passes.
    pub one_rail: Vec<CutId>,
    /// Turntables over whose bridges it leads.
    pub bridges: Vec<SpecialId>,
    /// Its length, mm.
    pub length_mm: f64,
}

/// The longest of what rolls on the layout, in some respect. Neither train nor vehicle: the tool's own stand-in.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Longest {
    /// How long, mm.
    pub mm: f64,
    /// The train.
    pub train: Option<TrainId>,
    /// The vehicle, if it is one by itself.
    pub vehicle: Option<VehicleId>,
}

/// Two ends of a block that are nearest to each other for a train.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EndsApart {
    /// How far it is from one to the other, mm.
    pub mm: f64,
    /// Whether that is out of the block and back into it, across others.
    pub across: bool,
}

/// What can reverse a block against its neighbours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reversal {
    /// A turntable that exchanges the rails of its bridge by itself.
    Bridge(SpecialId),
    /// An auto-reverser.
    AutoReverser(DeviceId),
    /// A reversing switch of its own.
    Switch(DeviceId),
    /// A driver of its own.
    Driver(DriverId),
}

impl Reversal {
    /// What acts by itself comes before what is thrown, that before what is driven.
    pub fn rank(&self) -> u8 {
        match self {
            Reversal::Bridge(_) => 0,
            Reversal::AutoReverser(_) => 1,
            Reversal::Switch(_) => 2,
            Reversal::Driver(_) => 3,
        }
    }
}

/// Why a block cannot be a reversing section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Unfit {
    /// Trains bridge two of its ends at once.
    Short(EndsApart),
    /// It shares a rail with another block.
    Shares,
}

/// Which blocks can be reversing sections of some unbalanced loops that have to do with each other.
#[derive(Debug, Clone, PartialEq)]
pub struct LoopSections {
    /// The loops.
    pub rounds: Vec<Round>,
    /// Smallest sets of blocks that can be the sections, in order.
    pub sets: Vec<Vec<BlockId>>,
    /// No set is smaller.
    pub at_least: usize,
    /// Whether all smallest sets are listed.
    pub all: bool,
    /// Whether the search came to its end.
    pub exhaustive: bool,
    /// The set that can be reversed as the layout is wired: each block with what reverses it.
    pub reversed: Vec<(BlockId, Reversal)>,
    /// How far the ends of blocks in sets lie apart.
    pub apart: BTreeMap<BlockId, EndsApart>,
    /// Blocks that cannot be sections.
    pub unfit: Vec<(BlockId, Unfit)>,
    /// The most that can bridge cuts.
    pub longest: Longest,
    /// Whether any of it is fed by DC, and by DCC.
    pub fed_by: [bool; 2],
    /// If the loops are nothing but the half turns of one turntable: that.
    pub turntable: Option<SpecialId>,
}
