//! A yard ladder: a lead at an angle, and from it track after track beside the one that is there.

use super::{Axis, Throat, onwards};
use crate::layout::edit::{End, Refused};
use crate::layout::model::{Layout, RunEnd, RunId, Shape, TrackEnd};
use crate::track::curve::{curve, length_mm};
use crate::track::place::draft::{Draft, Placed};
use crate::track::place::turnouts::Site;

/// A yard has no more tracks than this.
pub const MOST_TRACKS: u32 = 20;

/// How far a track may leave a straight line and still count as straight, mm.
const STRAIGHT_MM: f64 = 1.0;

/// A yard ladder that is wished for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YardWish {
    /// Its turnouts, and how far its tracks lie apart.
    pub throat: Throat,
    /// How many tracks, the one that is there included.
    pub tracks: u32,
    /// Length of the shortest new track beyond the ladder, mm; all end in one line.
    pub length_mm: f64,
}

/// A yard ladder out of the run of a site, from there onwards; at a free end the first track is laid straight on as well.
///
/// Its curves have the radius with which two of them, one each way, come out at the next track.
///
/// # Errors
/// When the run curves there, or the new track would cross other track.
pub fn yard(layout: &Layout, site: Site, wish: &YardWish) -> Result<Placed, Refused> {
    let throat = &wish.throat;
    throat.sound(layout)?;
    if !(2..=MOST_TRACKS).contains(&wish.tracks) || wish.length_mm.is_nan() || wish.length_mm < 1.0
    {
        return Err(Refused(format!(
            "A yard has 2 to {MOST_TRACKS} tracks, each with a length beyond the ladder. Choose their number and length."
        )));
    }
    let (turn, apart) = (throat.turn_deg.to_radians(), throat.centres_mm);
    let radius = apart / (2.0 * (1.0 - turn.cos()));
    let arm = radius * turn.sin();
    let new = wish.tracks - 1;
    let end_mm = 2.0 * arm + f64::from(new - 1) * apart / turn.tan() + wish.length_mm;
    let mut draft = Draft::of(layout);
    let what = "yard";
    let site = draft.room(site, 2.0 * arm, (end_mm - 2.0 * arm).max(0.0), what)?;
    let line = curve(&draft.layout, draft.run(site.run)?);
    let axis = Axis { from: onwards(&line, site, 0.0), side: throat.side() };
    if draft.laid.is_empty() {
        is_straight(&draft, site, &axis, 2.0 * arm, end_mm)?;
    }
    let first = draft.points_of(site, what)?;
    let joint = draft.joint(first.toe)?;
    let bend_deg = throat.side() * throat.turn_deg;
    // The place on the ladder from which a track is left: 1, 2, …
    let rung = |n: u32| {
        let on = f64::from(n - 1);
        (arm + on * apart / turn.tan(), apart / 2.0 + on * apart)
    };
    let mut ladder = road(&mut draft, &axis, End::At(joint), rung(1), Shape::Arc { bend_deg })?;
    draft.turnout(first.toe, vec![first.through, ladder], throat.frog, "")?;
    for n in 1..=new {
        let toe = TrackEnd { run: ladder.run, end: RunEnd::End };
        let at = draft.joint(toe)?;
        let on = match n < new {
            true => Some(road(&mut draft, &axis, End::At(at), rung(n + 1), Shape::Straight)?),
            false => None,
        };
        let (along, aside) = rung(n);
        let beside = (along + arm, aside + apart / 2.0);
        let back = Shape::Arc { bend_deg: -bend_deg };
        let curved = road(&mut draft, &axis, End::At(at), beside, back)?;
        let track = draft.joint(TrackEnd { run: curved.run, end: RunEnd::End })?;
        let end = (end_mm, beside.1);
        road(&mut draft, &axis, End::At(track), end, Shape::Straight)?;
        if let Some(on) = on {
            draft.turnout(toe, vec![on, curved], throat.frog, "")?;
            ladder = on;
        }
    }
    let needs = "A track of the yard that is to be switched off by itself wants both rails cut beyond its frog, and feeders \
                 of its own. With power-routing frogs only the track that the points are set for is live."
        .to_owned();
    draft.fitted(layout, needs)
}

/// Lays a run from a joint to a place beside the axis: so far along, so far aside, mm.
fn road(
    draft: &mut Draft,
    axis: &Axis,
    from: End,
    (along_mm, aside_mm): (f64, f64),
    shape: Shape,
) -> Result<TrackEnd, Refused> {
    let to = axis.point(along_mm, aside_mm);
    let run: RunId = draft.lay(from, End::New(to.0, to.1), shape)?;
    Ok(TrackEnd { run, end: RunEnd::Start })
}

/// Refuses a place where the run is not straight as far as the throat, or comes into the yard's way beyond it.
fn is_straight(
    draft: &Draft,
    site: Site,
    axis: &Axis,
    throat_mm: f64,
    end_mm: f64,
) -> Result<(), Refused> {
    let line = curve(&draft.layout, draft.run(site.run)?);
    let length = length_mm(&draft.layout, draft.run(site.run)?);
    let there = if site.towards == RunEnd::End { length - site.at_mm } else { site.at_mm };
    let far = end_mm.min(there);
    let steps = (far / 20.0).ceil().clamp(8.0, 500.0);
    for n in 0..=steps as u32 {
        let at = far * f64::from(n) / steps;
        let (_, aside) = axis.offsets(&onwards(&line, site, at));
        let bends = if at <= throat_mm { aside.abs() } else { aside };
        if bends > STRAIGHT_MM {
            return Err(Refused(format!(
                "Run {} curves {at:.0} mm on from here, and a yard needs it straight for {throat_mm:.0} mm, and clear \
                 of the yard for {end_mm:.0} mm. Choose a straight stretch, or the other hand.",
                site.run
            )));
        }
    }
    Ok(())
}
