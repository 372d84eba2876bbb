//! What a driver does over time: its kinds, idle states and schedules.
//!
//! Every kind of drive comes down to a [`Schedule`]: parts of a period, each with a state of the outputs. A smooth
//! throttle is a schedule of one part with a level; DCC is two halves. Nothing here knows track or currents.

mod inputs;
mod schedule;
mod words;

pub use inputs::{input_states, runs_backwards};
pub use schedule::{Beside, Part, Schedule, corners, schedule};
pub use words::{SetWord, StateWord, direction_sign, reachable};
