//! Electrical values that know where they come from.

use serde::de::{self, MapAccess, Visitor};
use serde::ser::SerializeStruct;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Where a value comes from. Only an assumed value has a range: a verdict that changes within it is *not known*.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Source {
    /// Stated by the user without a source; taken as exact.
    Given,
    /// Measured on the real thing.
    Measured,
    /// From a data sheet.
    DataSheet,
    /// Assumed; the true value lies between `from` and `to` (same unit as the value).
    Assumed {
        /// Least believable value.
        from: f64,
        /// Largest believable value.
        to: f64,
    },
}

/// A value in the SI unit (or the unit in the field's name) with its source.
///
/// In the file: a bare number, or `(value: 0.35, source: Measured)`,
/// or `(value: 0.35, source: Assumed, from: 0.2, to: 0.6)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantity {
    /// The value to compute with.
    pub value: f64,
    /// Where it comes from.
    pub source: Source,
}

impl Quantity {
    /// A value that is taken as exact.
    pub const fn given(value: f64) -> Self {
        Self { value, source: Source::Given }
    }

    /// A value that is only believed to lie between `from` and `to`.
    pub const fn assumed(value: f64, from: f64, to: f64) -> Self {
        Self { value, source: Source::Assumed { from, to } }
    }

    /// The same quantity times a factor, with its range.
    pub fn scaled(self, factor: f64) -> Self {
        let source = match self.source {
            Source::Assumed { from, to } => {
                Source::Assumed { from: from * factor, to: to * factor }
            }
            source => source,
        };
        Self { value: self.value * factor, source }
    }

    /// The least and the largest value it may have: both are the value itself unless it is assumed.
    pub fn range(&self) -> (f64, f64) {
        match self.source {
            Source::Assumed { from, to } => (from, to),
            _ => (self.value, self.value),
        }
    }

    /// Whether the value is only assumed.
    pub fn is_assumed(&self) -> bool {
        matches!(self.source, Source::Assumed { .. })
    }
}

impl From<f64> for Quantity {
    fn from(value: f64) -> Self {
        Self::given(value)
    }
}

#[derive(Serialize, Deserialize)]
enum SourceWord {
    Given,
    Measured,
    DataSheet,
    Assumed,
}

impl Serialize for Quantity {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let word = match self.source {
            Source::Given => return serializer.serialize_f64(self.value),
            Source::Measured => SourceWord::Measured,
            Source::DataSheet => SourceWord::DataSheet,
            Source::Assumed { from, to } => {
                let mut s = serializer.serialize_struct("Quantity", 4)?;
                s.serialize_field("value", &self.value)?;
                s.serialize_field("source", &SourceWord::Assumed)?;
                s.serialize_field("from", &from)?;
                s.serialize_field("to", &to)?;
                return s.end();
            }
        };
        let mut s = serializer.serialize_struct("Quantity", 2)?;
        s.serialize_field("value", &self.value)?;
        s.serialize_field("source", &word)?;
        s.end()
    }
}

impl<'de> Deserialize<'de> for Quantity {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct QuantityVisitor;

        impl<'de> Visitor<'de> for QuantityVisitor {
            type Value = Quantity;

            fn expecting(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
                f.write_str("a number, or (value: 0.35, source: Assumed, from: 0.2, to: 0.6)")
            }

            fn visit_f64<E: de::Error>(self, value: f64) -> Result<Quantity, E> {
                Ok(Quantity::given(value))
            }

            fn visit_i64<E: de::Error>(self, value: i64) -> Result<Quantity, E> {
                Ok(Quantity::given(value as f64))
            }

            fn visit_u64<E: de::Error>(self, value: u64) -> Result<Quantity, E> {
                Ok(Quantity::given(value as f64))
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Quantity, A::Error> {
                #[derive(Deserialize)]
                #[serde(field_identifier, rename_all = "lowercase")]
                enum Field {
                    Value,
                    Source,
                    From,
                    To,
                }
                let (mut value, mut source, mut from, mut to) = (None, None, None, None);
                while let Some(field) = map.next_key()? {
                    match field {
                        Field::Value => value = Some(map.next_value()?),
                        Field::Source => source = Some(map.next_value::<SourceWord>()?),
                        Field::From => from = Some(map.next_value()?),
                        Field::To => to = Some(map.next_value()?),
                    }
                }
                let value = value.ok_or_else(|| de::Error::missing_field("value"))?;
                let source = match source {
                    Some(SourceWord::Assumed) => Source::Assumed {
                        from: from.ok_or_else(|| de::Error::missing_field("from"))?,
                        to: to.ok_or_else(|| de::Error::missing_field("to"))?,
                    },
                    _ if from.is_some() || to.is_some() => {
                        return Err(de::Error::custom(
                            "only a value with source: Assumed has a range",
                        ));
                    }
                    None | Some(SourceWord::Given) => Source::Given,
                    Some(SourceWord::Measured) => Source::Measured,
                    Some(SourceWord::DataSheet) => Source::DataSheet,
                };
                Ok(Quantity { value, source })
            }
        }

        deserializer.deserialize_any(QuantityVisitor)
    }
}
