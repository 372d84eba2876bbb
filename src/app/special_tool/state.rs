//! State of the tool that places special work, and what placing comes to.

use super::formation;
use crate::layout::edit::Refused;
use crate::layout::place::{
    self, CrossingKind, CrossingWish, Ground, Parting, Placed, Site, TraverserWish, TurnoutWish,
    TurntableWish,
};
use crate::layout::{Frog, Layout, Rail, RunEnd, RunId, TrackEnd, geometry};

/// What the tool places.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Kind {
    Turnout,
    Curved,
    Wye,
    ThreeWay,
    Diamond,
    SingleSlip,
    DoubleSlip,
    Crossover,
    Turntable,
    Traverser,
    Buffer,
    Siding,
    Yard,
    Loop,
}

pub(super) const KINDS: [(Kind, &str); 14] = [
    (Kind::Turnout, "Turnout"),
    (Kind::Curved, "Curved turnout"),
    (Kind::Wye, "Wye"),
    (Kind::ThreeWay, "Three-way turnout"),
    (Kind::Diamond, "Diamond"),
    (Kind::SingleSlip, "Single slip"),
    (Kind::DoubleSlip, "Double slip"),
    (Kind::Crossover, "Crossover"),
    (Kind::Turntable, "Turntable"),
    (Kind::Traverser, "Traverser"),
    (Kind::Buffer, "Buffer"),
    (Kind::Siding, "Passing siding"),
    (Kind::Yard, "Yard ladder"),
    (Kind::Loop, "Reversing loop"),
];

impl Kind {
    pub(super) fn word(self) -> String {
        KINDS.iter().find(|(kind, _)| *kind == self).map_or("", |(_, word)| word).to_lowercase()
    }

    pub(super) fn is_bridge(self) -> bool {
        matches!(self, Kind::Turntable | Kind::Traverser)
    }

    /// Whether it is several turnouts and runs placed as one on track that is there.
    pub(super) fn is_formation(self) -> bool {
        matches!(self, Kind::Siding | Kind::Yard | Kind::Loop)
    }

    pub(super) fn crossing(self) -> Option<CrossingKind> {
        match self {
            Kind::Diamond => Some(CrossingKind::Diamond),
            Kind::SingleSlip => Some(CrossingKind::SingleSlip),
            Kind::DoubleSlip => Some(CrossingKind::DoubleSlip),
            _ => None,
        }
    }
}

/// State of the tool that places special work.
#[derive(Debug, Clone, PartialEq)]
pub struct SpecialTool {
    /// What.
    pub kind: Kind,
    /// To which side the diverging road goes.
    pub hand: Rail,
    /// Towards which end of the run the roads leave.
    pub towards: RunEnd,
    /// Frogs.
    pub frog: Frog,
    /// How far the diverging road turns away, degrees.
    pub turn_deg: f64,
    /// Length of roads that are laid, mm.
    pub length_mm: f64,
    /// How far the through road of a curved turnout turns, degrees.
    pub through_deg: f64,
    /// At which angle a second road crosses, degrees.
    pub angle_deg: f64,
    /// Length of a bridge, mm.
    pub bridge_mm: f64,
    /// Bearings of a turntable's roads, as typed.
    pub bearings: String,
    /// Length of a bridge's roads, mm.
    pub road_mm: f64,
    /// How many roads a traverser has.
    pub roads: u32,
    /// From one of them to the next, mm.
    pub spacing_mm: f64,
    /// Distance between the centre lines of a formation's tracks, mm; `None` for the scale's usual one.
    pub centres_mm: Option<f64>,
    /// Length of a siding between its leads, and of a yard's shortest track beyond its ladder, mm.
    pub siding_mm: f64,
    /// How many tracks a yard has.
    pub tracks: u32,
    /// Radius of a reversing loop, mm; `None` for the scale's usual one.
    pub loop_mm: Option<f64>,
    /// Radius of the diverging road of its points, mm; `None` for the scale's usual one.
    pub points_mm: Option<f64>,
    /// Whether a crossover goes to a track that is laid with it.
    pub lays_second: bool,
    /// Typed run.
    pub run: Option<RunId>,
    /// Typed distance, mm.
    pub at_mm: f64,
    /// Typed second run.
    pub other: Option<RunId>,
    /// Typed end of track.
    pub end: Option<TrackEnd>,
    /// Typed place, mm.
    pub x_mm: f64,
    /// Typed place, mm.
    pub y_mm: f64,
}

impl Default for SpecialTool {
    /// Sizes that look right at 1:87 (common practice, no source).
    fn default() -> Self {
        Self {
            kind: Kind::Turnout,
            hand: Rail::Left,
            towards: RunEnd::End,
            frog: Frog::default(),
            turn_deg: 15.0,
            length_mm: 250.0,
            through_deg: 20.0,
            angle_deg: 20.0,
            bridge_mm: 300.0,
            bearings: "0, 150, 165, 180".into(),
            road_mm: 300.0,
            roads: 3,
            spacing_mm: 50.0,
            centres_mm: None,
            siding_mm: 800.0,
            tracks: 4,
            loop_mm: None,
            points_mm: None,
            lays_second: false,
            run: None,
            at_mm: 0.0,
            other: None,
            end: None,
            x_mm: 0.0,
            y_mm: 0.0,
        }
    }
}

/// Where something is to be placed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Target {
    /// On a run; with another run that crosses it or lies beside it.
    On(RunId, f64, Option<RunId>),
    /// At an end of track.
    End(TrackEnd),
    /// On the ground, mm.
    Ground(f64, f64),
}

pub(super) fn bearings(text: &str) -> Result<Vec<f64>, Refused> {
    text.split([',', ';', ' '])
        .filter(|word| !word.is_empty())
        .map(|word| {
            word.trim_end_matches('°').parse::<f64>().ok().filter(|v| v.is_finite()).ok_or_else(
                || {
                    Refused(format!(
                        "{word:?} is no angle. Write the bearings as numbers: 0, 150, 180."
                    ))
                },
            )
        })
        .collect()
}

impl SpecialTool {
    /// What placing at a target comes to.
    pub(super) fn placed(&self, layout: &Layout, target: Target) -> Result<Placed, Refused> {
        let nowhere =
            || Refused(format!("A {} needs track to stand on. Choose a run.", self.kind.word()));
        let site = match target {
            Target::On(run, at_mm, _) => Some(Site { run, at_mm, towards: self.towards }),
            Target::End(TrackEnd { run, end }) => {
                let length = layout.runs.get(&run).map_or(0.0, |r| geometry::length_mm(layout, r));
                let at_mm = if end == RunEnd::Start { 0.0 } else { length };
                Some(Site { run, at_mm, towards: self.towards })
            }
            Target::Ground(..) => None,
        };
        if let Some(kind) = self.kind.crossing() {
            let (angle_deg, length_mm) = (self.angle_deg, self.length_mm.max(1.0) * 2.0);
            let wish = CrossingWish { kind, frog: self.frog, angle_deg, length_mm };
            let Site { run, at_mm, .. } = site.ok_or_else(nowhere)?;
            return match target {
                Target::On(_, _, Some(other)) => {
                    place::crossing_of(layout, (run, at_mm), other, &wish)
                }
                _ => place::crossing(layout, run, at_mm, &wish),
            };
        }
        if self.kind.is_formation() || (self.kind == Kind::Crossover && self.lays_second) {
            return formation::placed(self, layout, site.ok_or_else(nowhere)?);
        }
        let ground = match target {
            Target::End(end) => Ground::Before(end),
            Target::Ground(x, y) => Ground::At(x, y),
            Target::On(..) => Ground::At(self.x_mm, self.y_mm),
        };
        match self.kind {
            Kind::Crossover => {
                let other = match target {
                    Target::On(_, _, other) => other,
                    _ => None,
                };
                let site = site.ok_or_else(nowhere)?;
                place::crossover(layout, site, other, self.turn_deg, self.frog)
            }
            Kind::Turntable => {
                let wish = TurntableWish {
                    bridge_mm: self.bridge_mm,
                    roads_deg: bearings(&self.bearings)?,
                    road_mm: self.road_mm,
                    exchange_deg: None,
                };
                place::turntable(layout, ground, &wish)
            }
            Kind::Traverser => {
                let wish = TraverserWish {
                    bridge_mm: self.bridge_mm,
                    roads: self.roads,
                    spacing_mm: self.spacing_mm,
                    road_mm: self.road_mm,
                };
                place::traverser(layout, ground, &wish)
            }
            Kind::Buffer => match target {
                Target::End(end) => place::buffer(layout, end),
                _ => Err(Refused("A buffer stands at a free end of track. Choose one.".into())),
            },
            _ => {
                let parting = match (self.kind, self.hand) {
                    (Kind::Wye, _) => Parting::Wye,
                    (Kind::ThreeWay, _) => Parting::ThreeWay,
                    (_, Rail::Left) => Parting::Left,
                    (_, Rail::Right) => Parting::Right,
                };
                let wish = TurnoutWish {
                    parting,
                    frog: self.frog,
                    turn_deg: self.turn_deg,
                    length_mm: self.length_mm,
                    through_deg: if self.kind == Kind::Curved { self.through_deg } else { 0.0 },
                };
                place::turnout(layout, site.ok_or_else(nowhere)?, &wish)
            }
        }
    }
}
