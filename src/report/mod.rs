//! Findings as text for the command line, and as JSON. No computation.

mod json;
mod log;
mod tally;
mod text;

pub use crate::findings::units::{INCH_MM, Units, amps, fahrenheit, ms, percent, volts};
pub use json::{Document, SCHEMA, document, joined};
pub use log::{event_words, fate_words, standing_words, urge_words};
pub use tally::{Standing, Tally, counted};
pub use text::text;
