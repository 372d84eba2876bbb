//! Physical units as types, so that a value of one unit is never taken for a value of another.

use std::marker::PhantomData;

use serde::{Serialize, Serializer};

mod quantity;

pub use quantity::{Quantity, Source};

/// A point on the plan, mm: `(to the right, upwards)`.
pub type Point = (f64, f64);

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
