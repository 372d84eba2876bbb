//! A diagnosis as a document.

use std::fmt;

use serde::ser::{Serialize, SerializeMap, Serializer};

use super::number::Number;
use super::{SCHEMA, shown_as};
use crate::diagnose::{
    Diagnosis, Hunt, Observation, Standing, Status, answer_words, question_words,
};
use crate::layout::Layout;
use crate::report::{observation_words, told};

/// A diagnosis of a gap as a document.
pub struct DiagnosisDocument<'a> {
    file: &'a str,
    layout: &'a Layout,
    hunt: &'a Hunt,
    observations: &'a [Observation],
    diagnosis: &'a Diagnosis,
}

/// A diagnosis of a gap as a document.
pub fn diagnosis_document<'a>(
    (file, layout): (&'a str, &'a Layout),
    hunt: &'a Hunt,
    observations: &'a [Observation],
    diagnosis: &'a Diagnosis,
) -> DiagnosisDocument<'a> {
    DiagnosisDocument { file, layout, hunt, observations, diagnosis }
}

impl fmt::Display for DiagnosisDocument<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        shown_as(self, f)
    }
}

/// A fault that may be the cause.
#[derive(serde::Serialize)]
struct Suspect {
    fault: String,
    says: String,
    share: Number,
    status: &'static str,
    against: Vec<usize>,
}

/// Faults that one repair ends.
#[derive(serde::Serialize)]
struct Class {
    repair: String,
    share: Number,
    suspects: Vec<Suspect>,
}

/// An answer, and whom it speaks for.
#[derive(serde::Serialize)]
struct Tells {
    answer: String,
    repair: String,
}

/// A test.
#[derive(serde::Serialize)]
struct Next {
    says: String,
    bits: Number,
    minutes: Number,
    tells: Vec<Tells>,
}

impl Serialize for DiagnosisDocument<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let DiagnosisDocument { file, layout, hunt, observations, diagnosis } = self;
        let names = hunt.names();
        let classes: Vec<Class> = told(diagnosis)
            .map(|class| Class {
                repair: class.repair.0.clone(),
                share: Number::of(class.share),
                suspects: class
                    .suspects
                    .iter()
                    .map(|suspect| Suspect {
                        fault: suspect.fault.key(),
                        says: suspect.fault.says(names),
                        share: Number::of(suspect.share),
                        status: status_word(suspect.status),
                        against: suspect.against.iter().map(|at| at + 1).collect(),
                    })
                    .collect(),
            })
            .collect();
        let next: Vec<Next> = diagnosis
            .next
            .iter()
            .map(|test| Next {
                says: question_words(names, hunt, &test.question),
                bits: Number::of(test.bits),
                minutes: Number::of(test.minutes),
                tells: test
                    .tells
                    .iter()
                    .map(|(answer, repair)| Tells {
                        answer: answer_words(names, answer),
                        repair: repair.0.clone(),
                    })
                    .collect(),
            })
            .collect();
        let saw: Vec<String> =
            observations.iter().map(|o| observation_words(names, hunt, o)).collect();
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("schema", &SCHEMA)?;
        map.serialize_entry("file", file)?;
        map.serialize_entry("layout", &layout.name)?;
        map.serialize_entry("gap", &hunt.reach.cut)?;
        map.serialize_entry("blocks", &hunt.reach.blocks)?;
        map.serialize_entry("saw", &saw)?;
        map.serialize_entry("standing", standing_word(diagnosis.standing))?;
        map.serialize_entry("contradicts", &diagnosis.contradicts)?;
        map.serialize_entry("classes", &classes)?;
        map.serialize_entry("outside", &Number::of(diagnosis.outside))?;
        map.serialize_entry("next", &next)?;
        map.end()
    }
}

fn status_word(status: Status) -> &'static str {
    match status {
        Status::Explains => "explains",
        Status::NotRuledOut => "not ruled out",
        Status::RuledOut => "ruled out",
    }
}

fn standing_word(standing: Standing) -> &'static str {
    match standing {
        Standing::Open => "open",
        Standing::Sure => "sure",
        Standing::NothingTells => "nothing tells",
        Standing::NothingExplains => "nothing explains",
    }
}
