//! Where to cut and what to feed, from wishes: which stretches are to be controlled apart.
//!
//! The track is divided at every *site*, a place where a rail may be cut; what is one metal between sites is a *cell*. Each
//! cell gets a label: the pole of a stretch, or a frog. Where neighbours have different labels the rail is cut, so the
//! fewest cuts are a minimum multiway cut of the graph of cells (`label`). Whether the plan is sound is asked of the
//! check. Source: Dahlhaus, Johnson, Papadimitriou, Seymour, Yannakakis 1994 (multiway cut); elimination is non-serial
//! dynamic programming (Bertelè and Brioschi 1972, from memory).
//!
//! Track that comes back on itself with its rails exchanged gets reversing sections (`section`, `sections`), each a stretch
//! of its own that is labelled like one.
//!
//! Not planned: turntables and traversers.

mod audit;
mod cells;
mod feeders;
mod finish;
mod holds;
mod label;
mod plan;
mod section;
mod sections;
mod wish;

pub use audit::{Audited, audit};
pub use finish::{Finished, finished, finished_with};
pub use plan::{Planned, plan};
pub use sections::{Reversing, Turned};
pub use wish::{At, Hand, Hold, Longest, NoPlan, Stretch, Wishes, wishes_of, wishes_text};
