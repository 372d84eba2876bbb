//! Track: joints, runs, cuts, names of blocks, places on rails, bonds.

use serde::{Deserialize, Serialize};

use super::ids::{BondId, CutId, JointId, LabelId, RunId};
use super::skip::is_default;

/// One of the two rails of a run, as seen from the run's start.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Rail {
    /// The left-hand rail.
    Left,
    /// The right-hand rail.
    Right,
}

impl Rail {
    /// Both rails, left first.
    pub const BOTH: [Rail; 2] = [Rail::Left, Rail::Right];

    /// The rail on the other side.
    pub fn other(self) -> Rail {
        match self {
            Rail::Left => Rail::Right,
            Rail::Right => Rail::Left,
        }
    }
}

/// Which rails a cut goes through, as seen from the run's start.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Rails {
    /// Both rails.
    Both,
    /// The left-hand rail only.
    Left,
    /// The right-hand rail only.
    Right,
}

impl Rails {
    /// Whether the given rail is among them.
    pub fn has(self, rail: Rail) -> bool {
        match self {
            Rails::Both => true,
            Rails::Left => rail == Rail::Left,
            Rails::Right => rail == Rail::Right,
        }
    }

    /// The same rails of a track whose left and right are exchanged.
    pub(in crate::layout) fn flipped(self) -> Self {
        match self {
            Rails::Left => Rails::Right,
            Rails::Right => Rails::Left,
            Rails::Both => Rails::Both,
        }
    }
}

/// How the rail joiners of a joint are secured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum Joiners {
    /// Pushed on: metal that may work loose or corrode open. The rails can slide in it.
    #[default]
    Plain,
    /// Soldered to both rails, which can then not slide.
    Soldered,
    /// Bridged by a wire that is soldered to both rails, which can still slide.
    Bonded,
}

/// A place where run ends meet, or where a run ends.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Joint {
    /// Identity.
    pub id: JointId,
    /// Position on the plan, mm to the right.
    pub x_mm: f64,
    /// Position on the plan, mm upwards.
    pub y_mm: f64,
    /// How its rail joiners are secured.
    #[serde(default, skip_serializing_if = "is_default")]
    pub joiners: Joiners,
}

/// The drawn shape of a run.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Shape {
    /// A straight line from joint to joint.
    #[default]
    Straight,
    /// A circular arc that turns by `bend_deg` between its ends; positive turns left. Magnitude above 0 and below 360.
    Arc {
        /// Total turn in degrees.
        bend_deg: f64,
    },
    /// A cubic Bézier curve through two control points on the plan, mm.
    Cubic {
        /// Control point near the start, `(x, y)`.
        c1: (f64, f64),
        /// Control point near the end, `(x, y)`.
        c2: (f64, f64),
    },
}

/// A stretch of track between two joints. It has a left and a right rail seen from its start, `from`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Run {
    /// Identity.
    pub id: RunId,
    /// Joint at which the run starts (distance 0).
    pub from: JointId,
    /// Joint at which it ends.
    pub to: JointId,
    /// Drawn shape.
    #[serde(default, skip_serializing_if = "is_default")]
    pub shape: Shape,
    /// Length measured on the real thing, mm; without it the drawn length counts. Distances along the run are in
    /// these mm, and the drawing stretches.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length_mm: Option<f64>,
}

/// One end of a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum RunEnd {
    /// Distance 0.
    Start,
    /// Distance = length.
    End,
}

impl RunEnd {
    /// The run's other end.
    pub fn other(self) -> Self {
        match self {
            RunEnd::Start => RunEnd::End,
            RunEnd::End => RunEnd::Start,
        }
    }
}

/// One end of a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TrackEnd {
    /// The run.
    pub run: RunId,
    /// Which end of it.
    pub end: RunEnd,
}

/// A place on one rail.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spot {
    /// The run.
    pub run: RunId,
    /// Distance along it, mm.
    pub at_mm: f64,
    /// The rail.
    pub rail: Rail,
}

/// How a cut is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Made {
    /// Sawn through the rail, left open.
    #[default]
    Open,
    /// Sawn and filled.
    Filled,
    /// An insulated joiner; stands at a joint.
    InsulatedJoiner,
}

/// A gap in one or both rails of a run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cut {
    /// Identity.
    pub id: CutId,
    /// A printable name; empty for none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// The run it is in.
    pub run: RunId,
    /// Distance along the run, mm, from 0 to the run's length. At 0 or at the length it stands at the joint.
    pub at_mm: f64,
    /// Which rails are cut.
    pub rails: Rails,
    /// Width of the opening along the rail, mm.
    #[serde(default = "default_cut_width_mm")]
    pub width_mm: f64,
    /// How much farther along the run the right rail is cut than the left, mm (negative: nearer). Only with both
    /// rails. The left rail is cut at `at_mm`.
    #[serde(default, skip_serializing_if = "is_default")]
    pub stagger_mm: f64,
    /// How it is made.
    #[serde(default, skip_serializing_if = "is_default")]
    pub made: Made,
    /// Temperature of the room when it was cut, °C, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cut_at_c: Option<f64>,
    /// Free words of the user.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub notes: String,
}

/// Width of a cut when the file does not say, mm (a thin cutting disc; common practice, no source).
pub fn default_cut_width_mm() -> f64 {
    0.8
}

/// A name that the user gives to whatever block is at a place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Label {
    /// Identity.
    pub id: LabelId,
    /// The name.
    pub name: String,
    /// Run on which the place is.
    pub run: RunId,
    /// Distance along it, mm.
    pub at_mm: f64,
}

/// A wire or strap that joins two rails for good.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bond {
    /// Identity.
    pub id: BondId,
    /// One place.
    pub from: Spot,
    /// The other.
    pub to: Spot,
}
