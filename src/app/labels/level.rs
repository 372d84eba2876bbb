//! How much the plan shows, by the distance between the rails as it is drawn.

use super::collect::{Key, TextItem};

/// Below this drawn gauge, points, a run is a line of its block, and only what needs attention is marked.
const FAR: f64 = 2.0;
/// From this drawn gauge on, points, a run is two rails.
const NEAR: f64 = 9.0;
/// From this drawn gauge on, points, cuts and special work carry their names.
const NAMES: f64 = 3.6;

/// How much the plan shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Level {
    /// Blocks by colour, dash and name; faults and rules as counted marks.
    Far,
    /// Gaps, turnouts and drivers, each run as one line; with the drawn gauge in points.
    Middle(f64),
    /// Rails with their polarity, P and M, joints.
    Near,
}

impl Level {
    /// The level at a drawn gauge, points.
    pub fn at(gauge_points: f64) -> Self {
        match gauge_points {
            gauge if gauge >= NEAR => Level::Near,
            gauge if gauge >= FAR => Level::Middle(gauge),
            _ => Level::Far,
        }
    }

    /// True if cuts carry their names.
    pub fn names(self) -> bool {
        match self {
            Level::Far => false,
            Level::Middle(gauge) => gauge >= NAMES,
            Level::Near => true,
        }
    }

    /// True if special work carries this name. What the user did not name is named only near.
    pub fn works(self, item: &TextItem) -> bool {
        let named = match item.key {
            Key::Work(id) => item.text != id.to_string(),
            _ => true,
        };
        self == Level::Near || (named && self.names())
    }

    /// Marks that are less than this far apart are one mark with a count, points.
    pub fn crowded(self) -> f32 {
        match self {
            Level::Far => 28.0,
            Level::Middle(_) => 16.0,
            Level::Near => 0.0,
        }
    }
}
