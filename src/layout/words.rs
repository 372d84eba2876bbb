//! Words for kinds and lengths.

use crate::layout::model::EntityId;

/// The word for the kind of thing that an identity is of.
pub fn kind_word(id: EntityId) -> &'static str {
    match id {
        EntityId::Joint(_) => "joint",
        EntityId::Run(_) => "run",
        EntityId::Cut(_) => "cut",
        EntityId::Label(_) => "label",
        EntityId::Supply(_) => "supply",
        EntityId::Driver(_) => "driver",
        EntityId::Feed(_) => "feed",
        EntityId::Vehicle(_) => "vehicle",
        EntityId::Special(_) => "special work",
        EntityId::Device(_) => "device",
        EntityId::Bond(_) => "bond",
        EntityId::Train(_) => "train",
        EntityId::Lineup(_) => "lineup",
        EntityId::Picture(_) => "picture",
        EntityId::Decision(_) => "decision",
    }
}

/// A length in words, mm to a thousandth.
pub fn mm(mm: f64) -> String {
    format!("{} mm", number(mm))
}

pub(super) fn number(value: f64) -> String {
    if value != 0.0 && value.is_finite() && (value.abs() < 1e-3 || value.abs() >= 1e9) {
        format!("{value:e}")
    } else {
        format!("{}", (value * 1e3).round() / 1e3)
    }
}

pub(crate) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// "a, b and c".
pub(crate) fn and(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
