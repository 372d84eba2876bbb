//! The values of a drive as data: what a form asks for and what a layout may hold.
//!
//! Every kind lists its fields once, in the order of a form. The window draws them and validation holds them against
//! their ranges, so that neither knows a kind.

use crate::layout::{Clock, Idle, Quantity};

/// One value of a drive.
#[derive(Debug)]
pub struct Field<'a> {
    /// Its place in the file, counted from the driver: `drive.output_ohm`.
    pub path: &'static str,
    /// Its name in a form.
    pub label: &'static str,
    /// More about it, for a tooltip or an empty line of text. Empty if the label says all.
    pub help: &'static str,
    /// The value.
    pub value: Value<'a>,
}

/// What a field holds.
#[derive(Debug)]
pub enum Value<'a> {
    /// The clock of a PWM.
    Clock(&'a mut Clock),
    /// An idle state, one of [`Kind::idle_choices`](super::Kind::idle_choices).
    Idle(&'a mut Idle),
    /// A resistance, Ω.
    Ohm(&'a mut Quantity),
    /// Yes or no.
    Tick(&'a mut bool),
    /// A name that may not be empty.
    Name(&'a mut String),
    /// A number within a range.
    Number(&'a mut f64, Range),
    /// A number within a range that may be left out; `usual` counts then.
    Optional {
        /// The number.
        number: &'a mut Option<f64>,
        /// The number that counts if none is stated.
        usual: f64,
        /// Where it may lie.
        range: Range,
    },
}

/// Where a number may lie, both ends included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Least.
    pub from: f64,
    /// Largest.
    pub to: f64,
    /// The unit.
    pub measure: Measure,
    /// A hint for who wrote a number outside it into a file.
    pub hint: &'static str,
}

impl Range {
    /// True if the number may be so.
    pub fn holds(&self, number: f64) -> bool {
        self.from <= number && number <= self.to
    }
}

/// A physical measure, with its unit in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Hz.
    Frequency,
    /// s, shown in µs.
    ShortTime,
}

impl Measure {
    /// The unit in the file, with a space before it.
    pub fn suffix(self) -> &'static str {
        match self {
            Measure::Frequency => " Hz",
            Measure::ShortTime => " s",
        }
    }
}

/// Values of a drive that are possible one by one and contradict each other or their kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Contradiction {
    /// The place of the value to change: see [`Field::path`].
    pub path: &'static str,
    /// What is wrong.
    pub says: &'static str,
    /// What would be right.
    pub expected: &'static str,
    /// How to get there.
    pub hint: &'static str,
}
