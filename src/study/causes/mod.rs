//! What causes a conflict, proved by the change that removes it.
//!
//! A conflict is a set of [`Instant`]s: joint states of the drivers, each with what joins the rails. A
//! [`Counterfactual`] is a change made to the numeric case. The causes of a set of instants are the smallest set of
//! counterfactuals that leaves all of them without conflict and makes no standing short. Labels, signs and kinds of
//! drive only decide which counterfactuals are tried.

mod counterfactual;
mod instant;
mod lab;
mod search;
#[cfg(test)]
mod tests;

pub use counterfactual::{Cause, Counterfactual};
pub use instant::Instant;
pub use lab::{LIFT_V, Lab};
pub use search::{Explained, explain};
