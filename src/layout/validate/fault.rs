//! A fault: where it is, what is wrong, what would be right, what to do.

use crate::layout::model::EntityId;
use crate::layout::words::{capital, kind_word};

/// One thing that makes no sense.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// The entity in which it lies; `None`: the layout as a whole.
    pub entity: Option<EntityId>,
    /// The field in the entity, as a path such as `trip.amps.from` or `axles[2].at_mm`; empty: the entity itself.
    pub field: String,
    /// What is wrong.
    pub says: String,
    /// What would be right.
    pub expected: String,
    /// What to do.
    pub hint: String,
}

impl Fault {
    /// Where it lies, in words.
    pub fn place(&self) -> String {
        match (self.entity, self.field.as_str()) {
            (None, "") => "the layout".into(),
            (None, field) => format!("the layout, {field}"),
            (Some(id), "") => format!("{} {id}", kind_word(id)),
            (Some(id), field) => format!("{} {id}, {field}", kind_word(id)),
        }
    }

    /// The whole fault as a sentence or three. An entity that is `new` has no identity yet that a person could know.
    pub fn for_a_person(&self, new: bool) -> String {
        let whose = match self.entity {
            None => "The layout".into(),
            Some(id) if new => format!("The new {}", kind_word(id)),
            Some(id) => capital(&format!("{} {id}", kind_word(id))),
        };
        let field = in_words(&self.field);
        let comma = if field.is_empty() { "" } else { ", " };
        format!(
            "{whose}{comma}{field}: {} (expected {}). {}.",
            self.says,
            self.expected,
            capital(&self.hint)
        )
    }
}

/// A field's path for someone who does not see the file: `trip.amps.value` as "trip, amps".
fn in_words(path: &str) -> String {
    const UNITS: [&str; 11] =
        ["_mm_per_m", "_um_per_m_k", "_mm_s", "_mm", "_ohm", "_v", "_a", "_s", "_f", "_m", "_c"];
    let mut words: Vec<String> = Vec::new();
    for part in path.split(['.', '[']).filter(|part| !part.is_empty() && *part != "value") {
        match part.strip_suffix(']').and_then(|index| index.parse::<usize>().ok()) {
            Some(index) => words.push(format!("number {}", index + 1)),
            None => {
                let bare = UNITS.iter().find_map(|unit| part.strip_suffix(unit)).unwrap_or(part);
                words.push(if bare == "at" { "place".into() } else { bare.replace('_', " ") });
            }
        }
    }
    words.join(", ")
}
