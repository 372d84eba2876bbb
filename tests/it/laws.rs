//! Laws of the check that hold for every layout: each tried on the samples and on random layouts.
//!
//! A law that does not hold names the seed of the layout and what the two reports say; `support::random::layout` makes the
//! layout again.

mod causes;
pub mod harness;
mod locality;
mod reports;
mod rough;
mod scaling;
mod settings;
mod silence;
mod small;
mod symmetry;
mod worst;
