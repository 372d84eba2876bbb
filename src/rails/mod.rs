//! From metal to nets and blocks.
//!
//! A *net* is a set of rail lengths joined by metal. A *block* is a stretch of track whose two rails are one pair of
//! nets; it is derived from the cuts, never declared. Feeders join nothing: two blocks on one bus stay two.
//!
//! [`Metal`] is what holds in every position of the selectors, [`Feeders`] what is soldered to it, a [`Plan`] both with the
//! selectors in given positions.
//!
//! Invariants of a [`Plan`]: the pieces of a run cover it from 0 to its length without overlap; every piece is in
//! exactly one block, or is the stagger zone of one cut or inside special work; blocks and nets are in the order of their identities.

pub mod anatomy;
pub mod balance;
mod feeders;
mod grid;
mod ids;
mod lengths;
mod metal;
mod parts;
mod paths;
mod plan;
mod polarity;
mod positions;
pub mod selectors;
pub mod standing;
mod wires;

pub use feeders::{FeedEnd, Feeders};
pub use grid::Grid;
pub use ids::{BlockId, NetId, PlanNet};
pub use lengths::{Far, Lengths};
pub use metal::{Metal, Switch};
pub use parts::{Beyond, Block, CutAt, Leg, Net, Piece, Within, cut_place_mm};
pub use paths::{Paths, meet_behind};
pub use plan::Plan;
pub use polarity::{Polarity, polarity_now};
pub use positions::{Positions, SelectorId, leader};
pub use wires::{LooseLeg, LooseWires};
