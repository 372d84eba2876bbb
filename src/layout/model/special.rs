//! Special work: turnouts, diamonds, slips, turntables, traversers, buffers.
//!
//! Special work is drawn with ordinary runs that meet at a joint (or, for a turntable, with a run that is the bridge);
//! a [`Special`] says how their rails continue into each other there. Which road is the left one is read off the drawing.

use serde::{Deserialize, Serialize};

use super::ids::{RunId, SpecialId};
use super::runs::{Spot, TrackEnd};
use super::skip::{is_default, is_yes, yes};

/// How a frog gets its polarity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum Frog {
    /// Dead. Closure rails are bonded to the rail of their own hand.
    #[default]
    Insulated,
    /// Frog, closure rails and points are one metal, fed by the stock rail that the points touch.
    PowerRouting,
    /// The same metal, and a contact besides that feeds it.
    PowerRoutingWithContact,
    /// Cut off all round and fed by a contact. Closure rails are bonded to the rail of their own hand.
    Switched,
}

impl Frog {
    /// Whether a contact feeds it.
    pub fn has_contact(self) -> bool {
        matches!(self, Frog::PowerRoutingWithContact | Frog::Switched)
    }

    /// Whether points and frog are one metal.
    pub fn is_one_metal(self) -> bool {
        matches!(self, Frog::PowerRouting | Frog::PowerRoutingWithContact)
    }
}

/// What throws the contact of a frog.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum Lever {
    /// The lever of the points: the contact follows them.
    #[default]
    Points,
    /// A lever of its own: the contact stays where operators put it, in any position of the points.
    Own,
}

/// The contact that feeds the frogs of special work.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Contact {
    /// What throws it.
    #[serde(default, skip_serializing_if = "is_default")]
    pub lever: Lever,
    /// Position now. Without it: the position of the points, or 0 on a lever of its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub position: Option<u32>,
    /// Per frog and per position, the rail that it takes the polarity from. Empty: from the rails of the special work
    /// itself, the right way round.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sources: Vec<Vec<Spot>>,
    /// Whether it is thrown before the points leave the stock rail; otherwise after.
    #[serde(default, skip_serializing_if = "is_default")]
    pub before_points: bool,
    /// Whether it is open while the points move: it breaks before they leave the one stock rail and makes after they
    /// have come to the other.
    #[serde(default, skip_serializing_if = "is_default")]
    pub open_between: bool,
}

/// What is special about a place on the track.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Work {
    /// Two or three roads that leave one.
    ///
    /// Position *k* is set for `exits[k]`.
    Turnout {
        /// The end of the run from which the roads part.
        toe: TrackEnd,
        /// The ends of the roads: two, or three for a three-way turnout.
        exits: Vec<TrackEnd>,
        /// Frogs.
        #[serde(default)]
        frog: Frog,
        /// Distance from the joint to the middle of the farthest frog, mm.
        frog_mm: f64,
        /// Length of a frog between the gaps that bound it, mm.
        #[serde(default = "default_frog_length_mm")]
        frog_length_mm: f64,
        /// Whether closure rails of insulated and switched frogs are bonded to the stock rail of their hand. Otherwise
        /// the points feed them.
        #[serde(default = "yes", skip_serializing_if = "is_yes")]
        closures_bonded: bool,
        /// Whether the inner rails beyond insulated and switched frogs are bonded to the stock rail of their hand.
        #[serde(default = "yes", skip_serializing_if = "is_yes")]
        exits_bonded: bool,
        /// How far the open point stands off its stock rail, mm.
        #[serde(default = "default_open_mm")]
        open_mm: f64,
    },
    /// Two roads that cross.
    ///
    /// With frogs that are fed by a contact, position *k* is set for `roads[k]`; otherwise there is one position.
    Diamond {
        /// The two roads. The first ends of both lie on one side, their last ends on the other.
        roads: [[TrackEnd; 2]; 2],
        /// Frogs: insulated or switched.
        #[serde(default)]
        frog: Frog,
        /// Distance from the joint to the middle of the end frogs, mm.
        frog_mm: f64,
        /// Length of a frog between the gaps that bound it, mm.
        #[serde(default = "default_frog_length_mm")]
        frog_length_mm: f64,
    },
    /// A diamond with points in it.
    ///
    /// Positions: 0 and 1 for the two roads, 2 from `roads[0][0]` to `roads[1][1]`, and in a double slip 3 from
    /// `roads[1][0]` to `roads[0][1]`.
    Slip {
        /// The two roads. The first ends of both lie on one side, their last ends on the other.
        roads: [[TrackEnd; 2]; 2],
        /// Whether one can change roads on both sides.
        #[serde(default)]
        double: bool,
        /// Frogs: insulated or switched.
        #[serde(default)]
        frog: Frog,
        /// Distance from the joint to the middle of the end frogs, mm.
        frog_mm: f64,
        /// Length of a frog between the gaps that bound it, mm.
        #[serde(default = "default_frog_length_mm")]
        frog_length_mm: f64,
    },
    /// A bridge that turns about its middle.
    ///
    /// Position 2·*k* has the start of the bridge at `roads[k]`, position 2·*k* + 1 its end.
    Turntable {
        /// The run on the bridge.
        bridge: RunId,
        /// The ends of the roads around it.
        roads: Vec<TrackEnd>,
        /// Heading of the bridge (from its start to its end, degrees, counter-clockwise from the plan's right) from
        /// which, through half a turn, its rails are exchanged behind the feed. `None`: never.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        exchange_deg: Option<f64>,
    },
    /// A bridge that moves sideways.
    ///
    /// Position *k* has the bridge at `roads[k]`.
    Traverser {
        /// The run on the bridge.
        bridge: RunId,
        /// The ends of the roads on both sides.
        roads: Vec<TrackEnd>,
    },
    /// A buffer: an end of track.
    Buffer {
        /// The end.
        end: TrackEnd,
    },
}

/// Special work of a layout.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Special {
    /// Identity.
    pub id: SpecialId,
    /// A printable name; empty for none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// What it is.
    pub work: Work,
    /// Position now.
    #[serde(default, skip_serializing_if = "is_default")]
    pub position: u32,
    /// What feeds its frogs, where their kind has a contact.
    #[serde(default, skip_serializing_if = "is_default")]
    pub contact: Contact,
    /// Selectors that name the same gang are thrown together, position for position; empty for none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub gang: String,
    /// Free words of the user.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub notes: String,
}

impl Work {
    /// The kind in the trade's word.
    pub fn word(&self) -> &'static str {
        match self {
            Work::Turnout { exits, .. } if exits.len() > 2 => "three-way turnout",
            Work::Turnout { .. } => "turnout",
            Work::Diamond { .. } => "diamond",
            Work::Slip { double: true, .. } => "double slip",
            Work::Slip { .. } => "single slip",
            Work::Turntable { .. } => "turntable",
            Work::Traverser { .. } => "traverser",
            Work::Buffer { .. } => "buffer",
        }
    }

    /// Its frogs, if it has any.
    pub fn frog(&self) -> Option<Frog> {
        match self {
            Work::Turnout { frog, .. } | Work::Diamond { frog, .. } | Work::Slip { frog, .. } => {
                Some(*frog)
            }
            _ => None,
        }
    }

    /// How many positions it has.
    pub fn positions(&self) -> u32 {
        match self {
            Work::Turnout { exits, .. } => exits.len() as u32,
            Work::Diamond { frog, .. } => {
                if frog.has_contact() {
                    2
                } else {
                    1
                }
            }
            Work::Slip { double, .. } => {
                if *double {
                    4
                } else {
                    3
                }
            }
            Work::Turntable { roads, .. } => 2 * roads.len() as u32,
            Work::Traverser { roads, .. } => roads.len() as u32,
            Work::Buffer { .. } => 1,
        }
    }

    /// How many frogs its contact feeds: that of a turnout; of a three-way turnout left and middle road, left and right,
    /// middle and right (or, in one metal with the points, that of the left road and that of the other two); of a
    /// diamond or slip the one at the first ends, the one at the last ends, the left one and the right one between.
    pub fn fed_frogs(&self) -> usize {
        match self {
            Work::Turnout { exits, frog, .. } if frog.has_contact() => match exits.len() {
                2 => 1,
                _ if frog.is_one_metal() => 2,
                _ => 3,
            },
            Work::Diamond { frog, .. } | Work::Slip { frog, .. } if frog.has_contact() => 4,
            _ => 0,
        }
    }

    /// The run ends that it takes hold of, in a fixed order: toe and exits; the four ends of two roads; the roads.
    pub fn ends(&self) -> Vec<TrackEnd> {
        match self {
            Work::Turnout { toe, exits, .. } => {
                std::iter::once(toe).chain(exits).copied().collect()
            }
            Work::Diamond { roads, .. } | Work::Slip { roads, .. } => roads.concat(),
            Work::Turntable { roads, .. } | Work::Traverser { roads, .. } => roads.clone(),
            Work::Buffer { end } => vec![*end],
        }
    }

    /// The same, to change them.
    pub fn ends_mut(&mut self) -> Vec<&mut TrackEnd> {
        match self {
            Work::Turnout { toe, exits, .. } => std::iter::once(toe).chain(exits).collect(),
            Work::Diamond { roads, .. } | Work::Slip { roads, .. } => {
                roads.iter_mut().flatten().collect()
            }
            Work::Turntable { roads, .. } | Work::Traverser { roads, .. } => {
                roads.iter_mut().collect()
            }
            Work::Buffer { end } => vec![end],
        }
    }

    /// All runs that it names, to be changed.
    pub fn runs_mut(&mut self) -> Vec<&mut RunId> {
        let (mut runs, ends): (Vec<&mut RunId>, Vec<&mut TrackEnd>) = match self {
            Work::Turntable { bridge, roads, .. } | Work::Traverser { bridge, roads } => {
                (vec![bridge], roads.iter_mut().collect())
            }
            work => (Vec::new(), work.ends_mut()),
        };
        runs.extend(ends.into_iter().map(|end| &mut end.run));
        runs
    }

    /// The run on the bridge of a turntable or traverser.
    pub fn bridge(&self) -> Option<RunId> {
        match self {
            Work::Turntable { bridge, .. } | Work::Traverser { bridge, .. } => Some(*bridge),
            _ => None,
        }
    }

    /// How far the special work reaches along each of its roads from its joint, mm; 0 where it has no length.
    pub fn reach_mm(&self) -> f64 {
        match self {
            Work::Turnout { frog_mm, frog_length_mm, .. }
            | Work::Diamond { frog_mm, frog_length_mm, .. }
            | Work::Slip { frog_mm, frog_length_mm, .. } => frog_mm + frog_length_mm / 2.0,
            _ => 0.0,
        }
    }
}

impl Special {
    /// Position of the contact now.
    pub fn contact_position(&self) -> u32 {
        let unstated = match self.contact.lever {
            Lever::Points => self.position,
            Lever::Own => 0,
        };
        self.contact.position.unwrap_or(unstated)
    }

    /// True if its frogs have a contact, and operators throw that contact by a lever of its own.
    pub fn has_contact_lever(&self) -> bool {
        self.contact.lever == Lever::Own && self.work.fed_frogs() > 0
    }
}

/// Where the first frog of a three-way turnout lies, as a fraction of the distance to the farthest.
pub const FIRST_FROG: f64 = 0.6;

/// 20 mm (common practice at 1:87, no source).
pub fn default_frog_length_mm() -> f64 {
    20.0
}

/// 2 mm (common practice at 1:87, no source).
pub fn default_open_mm() -> f64 {
    2.0
}
