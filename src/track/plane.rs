//! Points, lengths and turns on the plan.

use crate::units::Point;

/// A length to thousandths of a mm: places are typed and read by people.
pub fn thousandths(mm: f64) -> f64 {
    (mm * 1e3).round() / 1e3
}

/// A length to tenths of a mm.
pub fn tenths(mm: f64) -> f64 {
    (mm * 10.0).round() / 10.0
}

/// A turn of a part of the plan about a point, mirrored left to right before that if so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// The point that stays where it is, mm.
    pub about: Point,
    /// Whether left and right of the point are exchanged first.
    pub mirrored: bool,
    /// The turn, degrees, counter-clockwise.
    pub turn_deg: f64,
}

impl Turn {
    /// Where a point goes.
    pub fn place(&self, (x, y): Point) -> Point {
        let (sine, cosine) = exact_turn(self.turn_deg);
        let (mut x, y) = (x - self.about.0, y - self.about.1);
        if self.mirrored {
            x = -x;
        }
        (self.about.0 + x * cosine - y * sine, self.about.1 + x * sine + y * cosine)
    }
}

/// Sine and cosine of an angle in degrees; exact for quarter turns, so that turning four times changes nothing.
fn exact_turn(turn_deg: f64) -> (f64, f64) {
    let quarters = turn_deg / 90.0;
    if quarters.fract() != 0.0 {
        return turn_deg.to_radians().sin_cos();
    }
    match quarters.rem_euclid(4.0) as u8 {
        0 => (0.0, 1.0),
        1 => (1.0, 0.0),
        2 => (0.0, -1.0),
        _ => (-1.0, 0.0),
    }
}
