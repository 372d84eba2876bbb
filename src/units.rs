//! Physical units as types, so that a value of one unit is never taken for a value of another.

use std::marker::PhantomData;

use serde::{Serialize, Serializer};

mod quantity;

pub use quantity::{Quantity, Source};

/// A point on the plan, mm: `(to the right, upwards)`.
pub type Point = (f64, f64);

/// A space at which no line is broken.
pub const NO_BREAK: char = '\u{a0}';

/// The text with single spaces, and a no-break space between each number and its unit.
pub fn bound(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for word in text.split_whitespace() {
        if !out.is_empty() {
            let after_number = out.ends_with(|c: char| c.is_ascii_digit());
            out.push(if after_number && is_unit(word) { NO_BREAK } else { ' ' });
        }
        out.push_str(word);
    }
    out
}

fn is_unit(word: &str) -> bool {
    let bare = word.trim_matches(|c: char| ",.;:()".contains(c));
    matches!(bare, "%" | "A" | "V" | "Ω" | "mm" | "mm/s" | "µs" | "ms" | "s")
}

macro_rules! units {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub struct $name;
    )*};
}

units! {
    /// Resistance, Ω.
    Ohm;
    /// Resistance per length, Ω/m.
    OhmPerMetre;
    /// Voltage, V.
    Volt;
    /// Current, A.
    Amp;
    /// Capacitance, F.
    Farad;
    /// Any unit.
    Any;
}

/// Index of a value in a wiring, with the unit of that value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct ValueId<U = Any>(usize, PhantomData<U>);

impl<U> ValueId<U> {
    /// The value at a position in the list of values.
    pub const fn new(at: usize) -> Self {
        ValueId(at, PhantomData)
    }

    /// Position in the list of values.
    pub fn at(&self) -> usize {
        self.0
    }

    /// The same value, for lists of values of different units.
    pub fn any(&self) -> ValueId {
        ValueId::new(self.0)
    }
}

impl<U> Serialize for ValueId<U> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.0.serialize(serializer)
    }
}
