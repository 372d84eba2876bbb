//! A reversing loop: the track comes back to its own points.

use std::f64::consts::PI;

use super::{Axis, onwards};
use crate::layout::edit::{End, Refused};
use crate::layout::model::{Frog, Layout, Rail, RunEnd, Shape, TrackEnd};
use crate::track::curve::curve;
use crate::track::place::draft::{Draft, Placed};
use crate::track::place::turnouts::Site;

/// A reversing loop that is wished for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoopWish {
    /// The side on which it lies, seen the way it goes.
    pub hand: Rail,
    /// Frogs.
    pub frog: Frog,
    /// Radius of the diverging road, mm.
    pub points_mm: f64,
    /// Radius of the loop, mm.
    pub radius_mm: f64,
}

/// Radii of a loop and of the diverging road of its points at full size, mm: 40 m and 75 m, a little more than what is
/// common on models (common practice, no source).
const RADII_FULL_SIZE_MM: [f64; 2] = [40_000.0, 75_000.0];

/// Usual radii of a reversing loop and of the diverging road of its points at a scale (87 for 1:87), whole mm.
pub fn usual_radii_mm(scale: f64) -> [f64; 2] {
    RADII_FULL_SIZE_MM.map(|radius| {
        let mm = (radius / scale).round();
        if mm.is_finite() { mm.max(1.0) } else { 1.0 }
    })
}

impl LoopWish {
    /// How far the diverging road turns before the loop turns the other way, radians: the arc that starts from the
    /// points and the one of the loop that ends on the straight road touch there.
    fn turn(&self) -> f64 {
        ((self.points_mm - self.radius_mm) / (self.points_mm + self.radius_mm)).acos()
    }

    /// Length of the straight road from the points to where the loop comes back into it, mm.
    fn straight_mm(&self) -> f64 {
        (self.points_mm + self.radius_mm) * self.turn().sin()
    }
}

/// Length of a reversing loop from its points back to them, mm.
pub fn loop_length_mm(wish: &LoopWish) -> f64 {
    wish.straight_mm() + wish.points_mm * wish.turn() + wish.radius_mm * (PI + wish.turn())
}

/// A reversing loop out of the run of a site, from there onwards. At a free end it ends the track; in the middle of a run
/// it comes back into that run by a second turnout.
///
/// # Errors
/// When the run is too short or curves there, or the new track would cross other track.
pub fn reversing_loop(layout: &Layout, site: Site, wish: &LoopWish) -> Result<Placed, Refused> {
    let least = 3.0 * layout.gauge_mm;
    let sound = |radius: f64| radius >= least && radius < 1e5;
    if !sound(wish.points_mm) || !sound(wish.radius_mm) {
        return Err(Refused(format!(
            "A loop at this gauge wants radii of {least:.0} mm at least. Choose larger ones."
        )));
    }
    let mut draft = Draft::of(layout);
    let what = "reversing loop";
    let (turn, far_mm) = (wish.turn(), wish.straight_mm());
    let site = draft.room(site, far_mm, 0.0, what)?;
    let ends_track = !draft.laid.is_empty();
    let line = curve(&draft.layout, draft.run(site.run)?);
    let side = if wish.hand == Rail::Left { 1.0 } else { -1.0 };
    let axis = Axis { from: onwards(&line, site, 0.0), side };
    for n in 0..=40 {
        let at = far_mm * f64::from(n) / 40.0;
        let (_, aside) = axis.offsets(&onwards(&line, site, at));
        if aside.abs() > 1.0 {
            return Err(Refused(format!(
                "Run {} curves {at:.0} mm on from here, and the loop needs it straight for {far_mm:.0} mm. Choose a \
                 straight stretch or a free end of track.",
                site.run
            )));
        }
    }
    let (first, back) = if ends_track {
        let first = draft.points_of(site, what)?;
        let end = TrackEnd { run: first.through.run, end: first.through.end.other() };
        (first, (end, None))
    } else {
        let gate = draft.gate(site, far_mm, true, what)?;
        (gate.first, (gate.second.toe, Some(gate.second.through)))
    };
    let turn_deg = side * turn.to_degrees();
    let aside = wish.points_mm * (1.0 - turn.cos());
    let touch = axis.point(wish.points_mm * turn.sin(), aside);
    let from = draft.joint(first.toe)?;
    let out =
        draft.lay(End::At(from), End::New(touch.0, touch.1), Shape::Arc { bend_deg: turn_deg })?;
    let middle = draft.joint(TrackEnd { run: out, end: RunEnd::End })?;
    let to = draft.joint(back.0)?;
    let bend_deg = -side * (180.0 + turn.to_degrees());
    let round = draft.lay(End::At(middle), End::At(to), Shape::Arc { bend_deg })?;
    let out = TrackEnd { run: out, end: RunEnd::Start };
    draft.turnout(first.toe, vec![first.through, out], wish.frog, "")?;
    if let (toe, Some(through)) = back {
        let round = TrackEnd { run: round, end: RunEnd::End };
        draft.turnout(toe, vec![through, round], wish.frog, "")?;
    }
    let needs = "A train comes back out of this loop the other way round, so its two rails meet exchanged. Cut both rails at \
                 both ends of a section inside the loop, longer than all that a train can bridge, and feed it by a \
                 reversing switch or an auto-reverser."
        .to_owned();
    draft.fitted(layout, needs)
}
