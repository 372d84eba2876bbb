//! What the check says: verdicts, situations, findings, all as typed numbers. Words are made in [`crate::report`].
//!
//! Nothing here computes: what is told was worked out before.

mod as_json;
mod evidence;
mod finding;
mod kind;
mod loops;
mod report;
mod situation;
mod verdict;

pub use crate::drive::{SetWord, StateWord};
pub use crate::rails::balance::Way;
pub use crate::rails::{BlockId, NetId, SelectorId};
pub use evidence::*;
pub use finding::*;
pub use kind::*;
pub use loops::*;
pub use report::*;
pub use situation::*;
pub use verdict::*;
