//! Findings into words (given units), text for the command line, and JSON. No computation.

mod json;
mod log;
mod text;
mod units;
pub mod words;

pub use json::{SCHEMA, document};
pub use log::{event_words, fate_words, urge_words};
pub use text::{cuts_clear, summary, text};
pub use units::{amps, mm, ms, percent, volts};
pub use words::{Words, words};
