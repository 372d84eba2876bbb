//! Small layouts in the file's own notation, for the tests beside the rules and for those from the outside.
//!
//! The unit tests of the crate take them in too (`findings/mod.rs`), so that a rule's tests stand beside it.
// No program of tests uses all of them.
#![allow(dead_code, clippy::unwrap_used)]

mod chain;
mod loops;
mod reports;
mod straight;
mod trains;
mod turnout;
mod wiring;

pub use chain::*;
pub use loops::*;
pub use reports::*;
pub use straight::*;
pub use trains::*;
pub use turnout::*;
pub use wiring::*;
