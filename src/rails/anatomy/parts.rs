//! What special work adds to the rails: breaks, metal, switches, frogs and ways.

use crate::layout::{Rail, RunEnd, Spot, TrackEnd};
use crate::rails::positions::SelectorId;

/// A place in the metal of a rail.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Node {
    /// The very end of a rail of a run, at its joint.
    End(TrackEnd, Rail),
    /// Somewhere along it.
    At(Spot),
}

/// A break that special work has by its nature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Break {
    /// The rail and the place.
    pub spot: Spot,
}

/// Metal that some positions of a selector join.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Switch {
    /// The selector.
    pub selector: SelectorId,
    /// Bit *k*: joined in position *k*.
    pub mask: u64,
    /// What is joined.
    pub ends: [Node; 2],
}

/// A way through special work for trains.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Way {
    /// The run end at which one enters it, and the one at which one leaves.
    pub ends: [TrackEnd; 2],
    /// Bit *k*: in position *k* one who enters at the first end leaves at the second.
    pub mask: u64,
    /// Bit *k*: in position *k* the frogs are set for another road, so that one who takes this way goes against them.
    pub against: u64,
    /// Whether the rails of the two are metal through the joint where they are not broken by a frog: then reference
    /// directions go on as through a joint. A turntable's bridge only stands close to its roads.
    pub metal: bool,
    /// The frogs within this distance of the joint are not on this way, mm: the rails before and beyond go on.
    pub past_mm: f64,
}

/// Everything that special work adds to the rails.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Anatomy {
    /// Where rails are broken.
    pub breaks: Vec<Break>,
    /// Metal joined for good.
    pub fixed: Vec<[Node; 2]>,
    /// Metal joined by position.
    pub switches: Vec<Switch>,
    /// Frogs and what is one metal with them.
    pub frogs: Vec<Node>,
    /// Ways for trains. Who trails through points set against still goes on to the toe.
    pub ways: Vec<Way>,
}

/// Rail of a run on one hand of a traveller who comes along it towards the end.
pub fn hand_in(end: TrackEnd, hand: Rail) -> Rail {
    match end.end {
        RunEnd::End => hand,
        RunEnd::Start => hand.other(),
    }
}

/// Rail of a run on one hand of a traveller who leaves the end along the run.
pub fn hand_out(end: TrackEnd, hand: Rail) -> Rail {
    hand_in(end, hand).other()
}
