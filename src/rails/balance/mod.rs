//! Polarity balance: whether the two rails stay apart wherever the track leads, and where it must be reversed.
//!
//! The rails are taken *as if uncut*: each goes on into its continuation of the same hand through every joint, cut,
//! turnout exit and aligned road. Track that leads back onto itself the other way round (a return loop, a wye, a
//! crossover between the two sides of a dogbone) joins a rail to its own opposite: an *unbalanced cycle*. Cuts then
//! decide what it is: a standing short, a loop that nothing can cure but a second cut, or a place for a *reversing
//! section*.
//!
//! In terms of graphs this is Harary's balance of signed graphs (F. Harary, "On the notion of balance of a signed
//! graph", 1953): stretches are vertices, links are edges, and a link turns (−1) when it joins two starts or two ends.
//!
//! Invariants: nothing here knows of layouts, voltages or trains. A link that names a stretch that is not there is left
//! out, with sign +1. The same input gives the same output, in the same order.

mod basis;
mod cycle;
mod directions;
mod graph;
mod hitting;
mod sections;
#[cfg(test)]
mod tests;

pub use cycle::{Cycle, Passing, Step, Way};
pub use directions::{Directions, directions};
pub use sections::{Budget, Conditions, Group, Sections, neighbours, reversing_sections};

use graph::{Joined, Parity};

/// Track as stretches and the links between their ends.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Track {
    /// Stretches of track between the places where something can change.
    pub stretches: Vec<Stretch>,
    /// Where the rails go on from one end of a stretch into another.
    pub links: Vec<Link>,
}

/// A stretch of track. Its start and its end are whatever the caller calls so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Length, mm. Anything but a positive number counts as nothing.
    pub length_mm: f64,
    /// Number of the block that it is part of: any number that is the same for all stretches of the block.
    pub block: usize,
}

/// The rails going on from one stretch into another, same hand to same hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Link {
    /// The two ends that meet: index of the stretch, and whether it is its start.
    pub ends: [(usize, bool); 2],
    /// How the rails go on.
    pub kind: LinkKind,
}

/// How the rails go on at a link.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LinkKind {
    /// Both rails in metal: a joint, an exit of a turnout, or wires that bond both rails of one stretch to those of another.
    Metal,
    /// A cut.
    Cut {
        /// Its number. Of the cuts of a loop, the one with the highest number is where the reference direction turns.
        id: u32,
        /// Whether it interrupts the left and the right rail, as seen along the stretch of the link's first end from that
        /// stretch's start to its end.
        rails: [bool; 2],
    },
    /// An end of a turntable or traverser: always open in both rails.
    Gap,
}

impl LinkKind {
    /// A cut in both rails.
    pub fn cut(id: u32) -> Self {
        LinkKind::Cut { id, rails: [true; 2] }
    }

    /// Which rails it interrupts: left, right, as seen along the stretch of the link's first end.
    pub fn interrupts(self) -> [bool; 2] {
        match self {
            LinkKind::Metal => [false; 2],
            LinkKind::Cut { rails, .. } => rails,
            LinkKind::Gap => [true; 2],
        }
    }

    /// Whether it interrupts both rails.
    pub fn parts(self) -> bool {
        self.interrupts() == [true; 2]
    }
}

impl Link {
    /// Whether it joins two starts or two ends, so that what is left on one side is right on the other.
    pub fn turns(&self) -> bool {
        self.ends[0].1 == self.ends[1].1
    }
}

impl Track {
    /// Links that name stretches that are there, with their indices.
    fn sound_links(&self) -> impl Iterator<Item = (usize, &Link)> {
        let there = self.stretches.len();
        self.links.iter().enumerate().filter(move |(_, l)| l.ends.iter().all(|e| e.0 < there))
    }
}

/// Unbalanced cycles of a track.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Unbalanced {
    /// Independent unbalanced cycles; empty just when the track is balanced. See [`unbalanced`].
    pub cycles: Vec<Cycle>,
    /// Whether they are the shortest that there are. Not so on tracks too large to look for them; what else
    /// [`unbalanced`] promises holds all the same.
    pub shortest: bool,
}

/// Independent unbalanced cycles: those of a smallest basis of all cycles, counting first the places where both rails are
/// cut, then those where one is, then the length.
///
/// So every unbalanced cycle of the track is made up of an odd number of these, and of balanced ones. If any loop has no
/// cut in both rails, one such is among them; if any has just one, one with at most one is.
pub fn unbalanced(track: &Track) -> Unbalanced {
    basis::unbalanced(track)
}

/// Whether no rail leads to its own opposite.
pub fn is_balanced(track: &Track) -> bool {
    let mut joined = Parity::new(track.stretches.len());
    track.sound_links().all(|(_, link)| {
        let [(a, _), (b, _)] = link.ends;
        joined.join(a, b, link.turns()) != Joined::Against
    })
}
