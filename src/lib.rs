//! Gapwright works out what a train shorts when it stands over a gap between two powered blocks of a model railroad.

// The layouts for tests name the crate as tests from the outside do.
#[cfg(test)]
extern crate self as gapwright;

#[cfg(feature = "window")]
pub mod app;
pub mod circuit;
pub mod compare;
pub mod cure;
pub mod diagnose;
pub mod drawing;
pub mod drive;
pub mod findings;
pub mod job;
pub mod layout;
pub mod papers;
pub mod planning;
pub mod rails;
pub mod report;
pub mod signal;
pub mod straddle;
pub mod study;
pub mod track;
pub mod units;
