//! Places turnouts.

use super::draft::{Draft, Placed};
use crate::layout::edit::Refused;
use crate::layout::model::{Frog, Layout, RunEnd, RunId, TrackEnd};
use crate::track::curve::curve;
use crate::track::plane::thousandths;
use crate::track::roads::away_from;
use crate::units::Point;

/// A place on a run, and towards which end of it the roads leave from there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Site {
    /// The run.
    pub run: RunId,
    /// Distance along it, mm.
    pub at_mm: f64,
    /// Towards this end the roads leave.
    pub towards: RunEnd,
}

/// How the roads of a turnout part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parting {
    /// The diverging road goes to the left.
    Left,
    /// It goes to the right.
    Right,
    /// Two roads, one to each side; at an end of track only.
    Wye,
    /// One to each side of the through road.
    ThreeWay,
}

/// A turnout that is wished for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnoutWish {
    /// How its roads part.
    pub parting: Parting,
    /// Frogs.
    pub frog: Frog,
    /// How far a diverging road turns away from the through road by its end, degrees, above 0.
    pub turn_deg: f64,
    /// Length of each road that is laid, mm.
    pub length_mm: f64,
    /// How far the through road turns (positive left), degrees, where it is laid: at an end of track.
    pub through_deg: f64,
}

/// Whether a road that turns away so far (degrees) over such a length (mm) is one that diverges.
pub(super) fn diverges(turn_deg: f64, length_mm: f64) -> Result<(), Refused> {
    if turn_deg > 0.0 && turn_deg < 180.0 && length_mm > 0.0 {
        return Ok(());
    }
    Err(Refused(
        "The diverging road must turn away by more than 0° and less than 180°, and must have a length.".into(),
    ))
}

/// Where a road ends that leaves a place in a direction, bends (degrees, positive to the left) and has this length (mm).
pub(super) fn end_of_road(from: Point, out: (f64, f64), bend_deg: f64, length_mm: f64) -> Point {
    let half = bend_deg.to_radians() / 2.0;
    // Chord of an arc of this length.
    let chord = if half.abs() < 1e-9 { length_mm } else { length_mm * half.sin() / half };
    let heading = out.1.atan2(out.0) + half;
    let to = (from.0 + chord * heading.cos(), from.1 + chord * heading.sin());
    (thousandths(to.0), thousandths(to.1))
}

/// How far a road turns over a distance from its end, degrees.
pub(super) fn turn_deg(layout: &Layout, end: TrackEnd, over_mm: f64) -> f64 {
    let Some(run) = layout.runs.get(&end.run) else { return 0.0 };
    let length = curve(layout, run).length_mm();
    let over = over_mm.min(length);
    let (Some(here), Some(there)) = (away_from(layout, end, 0.0), away_from(layout, end, over))
    else {
        return 0.0;
    };
    let turned = (here.dx * there.dy - here.dy * there.dx)
        .atan2(here.dx * there.dx + here.dy * there.dy)
        .to_degrees();
    // A road that ends sooner goes on as it began.
    let turned = if over > 0.0 { turned * over_mm / over } else { 0.0 };
    if turned.abs() < 1e-6 { 0.0 } else { turned }
}

/// A turnout, curved or not, a wye or a three-way turnout.
///
/// In the middle of a run, or where two runs meet, the track that is there is the through road and the diverging roads
/// are laid; on a curve they turn with it, so that the turnout is a curved one. At an end of track all roads are laid.
///
/// # Errors
/// When the place is not on the run, or there are roads enough at it.
pub fn turnout(layout: &Layout, site: Site, wish: &TurnoutWish) -> Result<Placed, Refused> {
    diverges(wish.turn_deg, wish.length_mm)?;
    let mut draft = Draft::of(layout);
    let (toe, through) = draft.points_at(site)?;
    let (length, turn) = (wish.length_mm, wish.turn_deg);
    let along = match through {
        Some(end) => turn_deg(&draft.layout, end, length),
        None => wish.through_deg,
    };
    let turns: &[f64] = match (wish.parting, through) {
        (Parting::Left, _) => &[turn],
        (Parting::Right, _) => &[-turn],
        (Parting::ThreeWay, _) => &[turn, -turn],
        (Parting::Wye, None) => &[turn / 2.0, -turn / 2.0],
        (Parting::Wye, Some(_)) => {
            return Err(Refused(
                "A wye begins at an end of track, and here the track goes on. Choose a free end of a run, or a turnout \
                 to the left or the right."
                    .into(),
            ));
        }
    };
    let mut exits: Vec<TrackEnd> = through.into_iter().collect();
    if through.is_none() && wish.parting != Parting::Wye {
        exits.push(draft.road(toe, along, length)?);
    }
    for turn in turns {
        exits.push(draft.road(toe, along + turn, length)?);
    }
    draft.turnout(toe, exits, wish.frog, "")?;
    Ok(draft.done())
}
