//! Numbers of the document: rounded to what they are worth, never −0. What is not finite has no place in a document; it
//! would be written as null, which the schema refuses.

use serde::ser::{Serialize, Serializer};

/// Below this magnitude a current is the noise of the solver, A.
const NOISE_A: f64 = 1e-9;

/// A number, to five significant digits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Number(f64);

/// A current, A: as a [`Number`], without noise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Amps(f64);

/// A length, mm, to a thousandth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mm(f64);

/// To five significant digits.
fn rounded(number: f64) -> f64 {
    if number == 0.0 || !number.is_finite() {
        return number;
    }
    // By way of the text: what is read back is the nearest number to the digits, so no others follow them.
    format!("{number:.4e}").parse().unwrap_or(number)
}

impl Number {
    /// Rounds a number.
    pub fn of(number: f64) -> Number {
        Number(rounded(number))
    }
}

impl Amps {
    /// Rounds a current.
    pub fn of(amps: f64) -> Amps {
        Amps(if amps.abs() < NOISE_A { 0.0 } else { rounded(amps) })
    }
}

impl Mm {
    /// Rounds a length.
    pub fn of(mm: f64) -> Mm {
        Mm((mm * 1e3).round() / 1e3)
    }
}

/// Whole numbers without a fraction: `12`, not `12.0`.
fn write<S: Serializer>(number: f64, serializer: S) -> Result<S::Ok, S::Error> {
    // −0 is whole as well.
    if number.fract() == 0.0 && number.abs() < 1e15 {
        serializer.serialize_i64(number as i64)
    } else {
        serializer.serialize_f64(number)
    }
}

impl Serialize for Number {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        write(self.0, serializer)
    }
}

impl Serialize for Amps {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        write(self.0, serializer)
    }
}

impl Serialize for Mm {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        write(self.0, serializer)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(value: impl Serialize) -> String {
        serde_json::to_string(&value).unwrap_or_default()
    }

    #[test]
    fn numbers_keep_five_digits() {
        for (number, expected) in [
            (0.0, "0"),
            (-0.0, "0"),
            (12.0, "12"),
            (-3.0, "-3"),
            (1.0 / 3.0, "0.33333"),
            (-2.0 / 3.0, "-0.66667"),
            (0.1 + 0.2, "0.3"),
            (1.9999999, "2"),
            (12345.6, "12346"),
            (123456.7, "123460"),
            (20e-6, "0.00002"),
            (1.234567e-9, "1.2346e-9"),
            (-1e-300, "-1e-300"),
        ] {
            assert_eq!(text(Number::of(number)), expected, "{number:?}");
        }
    }

    #[test]
    fn noise_is_no_current() {
        assert_eq!(text(Amps::of(-3e-17)), "0");
        assert_eq!(text(Amps::of(2e-9)), "2e-9");
        assert_eq!(text(Amps::of(-12.34567)), "-12.346");
    }

    #[test]
    fn lengths_keep_a_thousandth() {
        assert_eq!(text(Mm::of(123456.78949)), "123456.789");
        assert_eq!(text(Mm::of(-0.0001)), "0");
    }

    #[test]
    fn what_is_not_finite_is_no_number() {
        for number in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert_eq!(
                [text(Number::of(number)), text(Amps::of(number)), text(Mm::of(number))],
                ["null"; 3]
            );
        }
    }
}
