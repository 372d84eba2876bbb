//! Findings as text for the command line, and as JSON. No computation.

mod compare;
mod cures;
mod diagnosis;
mod json;
mod log;
mod plan;
mod tally;
mod text;

pub use crate::findings::units::{INCH_MM, Units, amps, fahrenheit, ms, percent, times, volts};
pub use compare::compare_text;
pub use cures::{cures_text, offer_line};
pub use diagnosis::{
    alike_words, cautions_of, diagnosis_text, observation_words, standing_words as diagnosis_words,
    status_words, tells_words, told, whole_percent,
};
pub use json::{
    CompareDocument, CureDocument, DiagnosisDocument, Document, PlanDocument, SCHEMA,
    audit_document, compare_document, cure_document, diagnosis_document, document, joined,
    plan_document,
};
pub use log::{event_words, fate_words, standing_words, urge_words};
pub use plan::{audit_text, bound, counts, plan_text, sequences, together};
pub use tally::{Standing, Tally, counted};
pub(crate) use text::left_out;
pub use text::text;
