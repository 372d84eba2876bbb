//! Collecting faults: what a number may be, and the questions that are asked of fields of any entity.
//!
//! Every fault belongs to the entity that was named last.

use super::about::About;
use super::fault::Fault;
use super::limits::{FARTHEST_MM, LARGEST_NUMBER, LONGEST_NAME, MOST_FAULTS};
use crate::layout::model::wire::LEAST_OHM;
use crate::layout::model::{EntityId, Layout, Origin, RunId};
use crate::layout::words::{kind_word, mm, number};
use crate::track::curve::END_TOLERANCE_MM;
use crate::units::{Quantity, Source};

/// What a number may be.
#[derive(Clone, Copy)]
pub(super) enum May {
    /// From the first to the second, both included.
    Be(f64, f64),
    /// Zero, or from the first to the second, both included.
    BeZeroOr(f64, f64),
}

impl May {
    fn allows(self, value: f64) -> bool {
        match self {
            May::Be(from, to) => from <= value && value <= to,
            May::BeZeroOr(from, to) => value == 0.0 || (from <= value && value <= to),
        }
    }

    fn words(self, unit: &str) -> String {
        match self {
            May::Be(from, to) => format!("a number from {} to {}{unit}", number(from), number(to)),
            May::BeZeroOr(from, to) => {
                format!("0, or a number from {} to {}{unit}", number(from), number(to))
            }
        }
    }
}

const LEAST_V: f64 = 0.001;
pub(super) const HIGHEST_V: f64 = 100.0;
const LEAST_A: f64 = 0.001;
const HIGHEST_A: f64 = 1_000.0;
const HIGHEST_OHM: f64 = 1e9;
/// Shortest time, s: far below any real trip, and long enough to count the readings of a straddle.
const SHORTEST_S: f64 = 1e-9;
const LONGEST_S: f64 = 1e6;

pub(super) const OHM: May = May::Be(LEAST_OHM, HIGHEST_OHM);
pub(super) const VOLT: May = May::Be(LEAST_V, HIGHEST_V);
pub(super) const AMP: May = May::Be(LEAST_A, HIGHEST_A);
pub(super) const SECONDS: May = May::Be(SHORTEST_S, LONGEST_S);
pub(super) const NO_TIME_OR_SECONDS: May = May::BeZeroOr(SHORTEST_S, LONGEST_S);
pub(super) const CELSIUS: May = May::Be(-50.0, 100.0);
pub(super) const SHARE: May = May::Be(0.0, 1.0);

#[derive(Default)]
pub(super) struct Found {
    pub faults: Vec<Fault>,
    pub entity: Option<EntityId>,
}

impl Found {
    pub fn of(&mut self, id: impl Into<EntityId>) {
        self.entity = Some(id.into());
    }

    /// Takes a fault; those beyond [`MOST_FAULTS`] are left out.
    pub fn add(
        &mut self,
        field: impl Into<String>,
        says: impl Into<String>,
        expected: impl Into<String>,
        hint: impl Into<String>,
    ) {
        if self.faults.len() < MOST_FAULTS {
            self.faults.push(Fault {
                entity: self.entity,
                field: field.into(),
                says: says.into(),
                expected: expected.into(),
                hint: hint.into(),
            });
        }
    }

    pub fn number(&mut self, id: impl Into<EntityId>) {
        let id = id.into();
        if id.number() > LARGEST_NUMBER {
            self.add(
                "id",
                format!("the number of {id} is too large"),
                format!("a number up to {LARGEST_NUMBER}"),
                "give it a smaller number, here and wherever it is named",
            );
        }
    }

    /// Returns whether the value is allowed.
    pub fn value(&mut self, field: &str, value: f64, may: May, unit: &str, hint: &str) -> bool {
        if may.allows(value) {
            return true;
        }
        let says = if value.is_nan() {
            "the value is not a number".to_owned()
        } else if value.is_infinite() {
            "the value is infinite".to_owned()
        } else {
            format!("the value is {}{unit}", number(value))
        };
        self.add(field, says, may.words(unit), hint);
        false
    }

    pub fn quantity(&mut self, field: &str, quantity: &Quantity, may: May, unit: &str, hint: &str) {
        let mut sound = self.value(&format!("{field}.value"), quantity.value, may, unit, hint);
        if let Source::Assumed { from, to } = quantity.source {
            sound &= self.value(&format!("{field}.from"), from, may, unit, hint);
            sound &= self.value(&format!("{field}.to"), to, may, unit, hint);
            if !sound {
                return;
            }
            let value = quantity.value;
            if from > to {
                self.add(
                    format!("{field}.from"),
                    format!("the range starts at {} and ends at {}", number(from), number(to)),
                    "a range whose `from` is not above its `to`",
                    "exchange the two",
                );
            } else if !(from <= value && value <= to) {
                self.add(
                    format!("{field}.value"),
                    format!(
                        "the value {} is outside its range from {} to {}",
                        number(value),
                        number(from),
                        number(to)
                    ),
                    "a value within its own range",
                    "widen the range or choose a value inside it",
                );
            }
        }
    }

    pub fn maybe(&mut self, field: &str, q: Option<&Quantity>, may: May, unit: &str, hint: &str) {
        if let Some(quantity) = q {
            self.quantity(field, quantity, may, unit, hint);
        }
    }

    pub fn ohm(&mut self, field: &str, quantity: &Quantity) {
        self.quantity(
            field,
            quantity,
            OHM,
            " Ω",
            "a circuit without resistance has no answer: give at least 0.001 Ω",
        );
    }

    pub fn plan(&mut self, field: &str, value: f64) {
        let may = May::Be(-FARTHEST_MM, FARTHEST_MM);
        self.value(field, value, may, " mm", "places on the plan are in mm of the model");
    }

    /// A name, which may be empty.
    pub fn name(&mut self, field: &str, name: &str) {
        // No text has more characters than bytes.
        if name.len() > LONGEST_NAME && name.chars().count() > LONGEST_NAME {
            self.add(
                field,
                format!("the text has {} characters", name.chars().count()),
                format!("at most {LONGEST_NAME} characters"),
                "a long text belongs into `notes`",
            );
        }
    }

    pub fn word(&mut self, field: &str, word: &str) {
        self.name(field, word);
        if word.trim().is_empty() {
            self.add(
                field,
                "the name is empty",
                "a name",
                "give it a name, or take the field away",
            );
        }
    }

    /// A reference that leads nowhere. `there` are the identities that would do.
    pub fn missing(&mut self, field: &str, id: impl Into<EntityId>, there: Option<EntityId>) {
        let id = id.into();
        let kind = kind_word(id);
        self.add(
            field,
            format!("there is no {kind} {id}"),
            format!("the id of a {kind} of this layout"),
            match there {
                Some(near) => format!("the nearest id in use is {near}; or add the {kind} {id}"),
                None => format!("this layout has no {kind} at all: add one"),
            },
        );
    }

    /// Where current comes from must be there.
    pub fn origin(&mut self, field: &str, layout: &Layout, origin: Origin) {
        match origin {
            Origin::Driver(id) if !layout.drivers.contains_key(&id) => {
                self.missing(field, id, nearest(layout.drivers.keys(), id.0));
            }
            Origin::Device(id) if !layout.devices.contains_key(&id) => {
                self.missing(field, id, nearest(layout.devices.keys(), id.0));
            }
            _ => {}
        }
    }

    pub fn anchor(&mut self, about: &About, run: RunId, at_mm: f64) {
        if !about.layout.runs.contains_key(&run) {
            self.missing("run", run, nearest(about.layout.runs.keys(), run.0));
            self.value("at_mm", at_mm, May::Be(0.0, FARTHEST_MM), " mm", "distances start at 0");
            return;
        }
        let Some(length) = about.sound_length(run) else { return };
        if !(at_mm >= 0.0 && at_mm <= length + END_TOLERANCE_MM) {
            self.value(
                "at_mm",
                at_mm,
                May::Be(0.0, length),
                " mm",
                &format!("run {run} is {} long; a distance along it cannot lie beyond", mm(length)),
            );
        }
    }
}

pub(super) fn nearest<'a, I: Copy + Into<EntityId> + 'a>(
    ids: impl Iterator<Item = &'a I>,
    number: u32,
) -> Option<EntityId> {
    ids.map(|&id| id.into()).min_by_key(|id: &EntityId| id.number().abs_diff(number))
}
