//! Sizes of paper.

use std::str::FromStr;

/// A page to print on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Paper {
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
    /// Margin on each side that nothing is printed on, mm.
    pub margin_mm: f64,
}

impl Paper {
    /// A4, upright (ISO 216).
    pub const A4: Paper = Paper { width_mm: 210.0, height_mm: 297.0, margin_mm: 12.0 };
    /// US letter, upright (ANSI/ASME Y14.1).
    pub const LETTER: Paper = Paper { width_mm: 215.9, height_mm: 279.4, margin_mm: 12.7 };

    /// The same paper on its side.
    pub fn turned(self) -> Paper {
        Paper { width_mm: self.height_mm, height_mm: self.width_mm, ..self }
    }

    /// Width between the margins, mm.
    pub fn room_mm(self) -> f64 {
        self.width_mm - 2.0 * self.margin_mm
    }

    /// Height between the margins, mm.
    pub fn tall_mm(self) -> f64 {
        self.height_mm - 2.0 * self.margin_mm
    }
}

impl FromStr for Paper {
    type Err = String;

    fn from_str(word: &str) -> Result<Paper, String> {
        match word.to_lowercase().as_str() {
            "a4" => Ok(Paper::A4),
            "letter" => Ok(Paper::LETTER),
            _ => Err("the sizes are a4 and letter".to_owned()),
        }
    }
}
