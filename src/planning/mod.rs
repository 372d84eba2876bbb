//! Where to cut and what to feed, from wishes: which stretches are to be controlled apart.
//!
//! The track is divided at every *site*, a place where a rail may be cut; what is one metal between sites is a *cell*. Each
//! cell gets a label: the pole of a stretch, or a frog. Where neighbours have different labels the rail is cut, so the
//! fewest cuts are a minimum multiway cut of the graph of cells (`label`). Whether the plan is sound is asked of the
//! check. Source: Dahlhaus, Johnson, Papadimitriou, Seymour, Yannakakis 1994 (multiway cut); elimination is non-serial
//! dynamic programming (Bertelè and Brioschi 1972, from memory).
//!
//! Not planned: reversing sections (track must be balanced), holds, turntables and traversers.

mod cells;
mod finish;
mod label;
mod plan;
mod wish;

pub use finish::{Finished, finished};
pub use plan::{Planned, plan};
pub use wish::{Hand, NoPlan, Stretch, Wishes, wishes_of, wishes_text};
