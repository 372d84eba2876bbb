//! From metal to nets and blocks.
//!
//! A *net* is a set of rail lengths joined by metal. A *block* is a stretch of track whose two rails are one pair of
//! nets; it is derived from the cuts, never declared. Feeders join nothing: two blocks on one bus stay two.
//!
//! Invariants of a [`Plan`]: the pieces of a run cover it from 0 to its length without overlap; every piece is in
//! exactly one block or is the stagger zone of one cut; blocks and nets are in the order of their identities.

mod grid;
mod ids;
mod plan;
mod polarity;
pub mod standing;

pub use grid::Grid;
pub use ids::{BlockId, NetId};
pub use plan::{Block, CutAt, Leg, Net, Piece, Plan, Within, cut_place_mm};
pub use polarity::{Polarity, polarity_now};
