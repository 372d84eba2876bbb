//! Findings as text for the command line, and as JSON. No computation.

mod cures;
mod json;
mod log;
mod plan;
mod tally;
mod text;

pub use crate::findings::units::{INCH_MM, Units, amps, fahrenheit, ms, percent, volts};
pub use cures::{cures_text, offer_line};
pub use json::{
    CureDocument, Document, PlanDocument, SCHEMA, cure_document, document, joined, plan_document,
};
pub use log::{event_words, fate_words, standing_words, urge_words};
pub use plan::{bound, counts, plan_text};
pub use tally::{Standing, Tally, counted};
pub use text::text;
