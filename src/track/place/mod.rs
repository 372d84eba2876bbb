//! Placing special work: each function builds one edit that splits runs, lays roads and adds the special work.
//!
//! The edit is tried out on a draft first, because identities of what it makes are used further on in it. Whether the
//! result is valid is for [`crate::layout::apply`] to say, which takes all of it or nothing.

mod bridges;
mod crossings;
mod deletion;
mod draft;
mod formation;
mod frog;
mod lay;
mod reshape;
mod turnouts;

pub use bridges::{Ground, TraverserWish, TurntableWish, buffer, traverser, turntable};
pub use crossings::{CrossingKind, CrossingWish, crossing, crossing_of, crossover};
pub use deletion::deletion;
pub use draft::Placed;
pub use formation::{
    LoopWish, MOST_TRACKS, SidingWish, Throat, YardWish, loop_length_mm, reversing_loop, siding,
    siding_length_mm, twin_crossover, usual_radii_mm, yard,
};
pub use frog::frog_mm;
pub use lay::{lay, parting};
pub use reshape::{Leaving, leaving, reshaped};
pub use turnouts::{Parting, Site, TurnoutWish, turnout};

#[cfg(test)]
mod tests;
