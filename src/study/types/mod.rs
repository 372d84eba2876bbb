//! Verdicts, situations, loops and guards as typed numbers. Words are made in [`crate::findings`].

mod guard;
mod loops;
mod situation;
mod verdict;

pub use crate::drive::{Relation, SetWord, StateWord};
pub use crate::rails::balance::Way;
pub use crate::rails::{BlockId, NetId, SelectorId};
pub use guard::*;
pub use loops::*;
pub use situation::*;
pub use verdict::*;
