//! Identities of derived things. They follow from the track, not from labels, so an edit elsewhere leaves them alone.

use std::fmt;

use serde::Serialize;

use crate::layout::{Rail, RunId};

/// Index of a net in [`Plan::nets`](super::Plan::nets).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct PlanNet(pub usize);

/// Identity of a block: its smallest (run, start) piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct BlockId {
    /// The run with the lowest identity in the block.
    pub run: RunId,
    /// Which of that run's pieces, counted from its start.
    pub piece: u32,
}

impl fmt::Display for BlockId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "b{}.{}", self.run.0, self.piece)
    }
}

impl Serialize for BlockId {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// Identity of a net: its smallest (run, rail, segment).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct NetId {
    /// The run with the lowest identity in the net.
    pub run: RunId,
    /// The rail of that run.
    pub rail: Rail,
    /// Which segment of that rail, counted from the run's start.
    pub segment: u32,
}

impl fmt::Display for NetId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let rail = match self.rail {
            Rail::Left => 'l',
            Rail::Right => 'r',
        };
        write!(f, "{}{rail}.{}", self.run, self.segment)
    }
}

impl Serialize for NetId {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}
