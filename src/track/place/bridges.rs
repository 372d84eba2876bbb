//! Turntables, traversers and buffers.

use super::draft::{Draft, Placed};
use crate::layout::edit::{End, Refused};
use crate::layout::model::{Layout, RunEnd, Shape, TrackEnd, Work};
use crate::track::plane::thousandths;
use crate::track::roads::{away_from, ends_at, joint_of};

/// Space between a bridge and its roads, mm (common practice, no source).
const GAP_MM: f64 = 1.0;
/// An end of track this near to the edge of the pit leads up to the bridge, mm.
const AT_EDGE_MM: f64 = 5.0;
/// Roads closer than this are one, degrees.
const SAME_ROAD_DEG: f64 = 3.0;

/// Where a bridge goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ground {
    /// Its middle at a place on the plan, mm.
    At(f64, f64),
    /// Before an end of track, which becomes its first road.
    Before(TrackEnd),
}

/// A turntable that is wished for.
#[derive(Debug, Clone, PartialEq)]
pub struct TurntableWish {
    /// Length of the bridge, mm.
    pub bridge_mm: f64,
    /// Bearings of the roads that are laid, seen from the middle, degrees counter-clockwise: from the plan's right, or
    /// from the road that is there.
    pub roads_deg: Vec<f64>,
    /// Length of the roads that are laid, mm.
    pub road_mm: f64,
    /// See [`Work::Turntable`].
    pub exchange_deg: Option<f64>,
}

/// A traverser that is wished for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TraverserWish {
    /// Length of the bridge, mm.
    pub bridge_mm: f64,
    /// How many roads are laid beyond it.
    pub roads: u32,
    /// From one road to the next, mm; positive to the left of who comes in.
    pub spacing_mm: f64,
    /// Length of the roads that are laid, mm.
    pub road_mm: f64,
}

/// A free end of track: nothing else ends there, and no special work holds it.
fn is_free(layout: &Layout, end: TrackEnd) -> bool {
    joint_of(layout, end).is_some_and(|joint| ends_at(layout, joint).len() == 1)
        && !layout.specials.values().any(|s| s.work.ends().contains(&end))
        && !layout.specials.values().any(|s| s.work.bridge() == Some(end.run))
}

/// The heading in which one leaves a free end of track, and where it is.
fn outwards(layout: &Layout, end: TrackEnd) -> Result<((f64, f64), f64), Refused> {
    let pose = away_from(layout, end, 0.0).filter(|_| is_free(layout, end));
    let pose = pose.ok_or_else(|| {
        Refused(format!("Run {} has no free end of track there. Choose one that has.", end.run))
    })?;
    Ok(((pose.x_mm, pose.y_mm), (-pose.dy).atan2(-pose.dx)))
}

fn sound(lengths: &[f64], what: &str) -> Result<(), Refused> {
    if lengths.iter().all(|mm| mm.is_finite() && *mm >= 1.0) {
        Ok(())
    } else {
        Err(Refused(format!("The {what} needs a bridge and roads of at least 1 mm.")))
    }
}

fn polar(centre: (f64, f64), bearing: f64, far: f64) -> End {
    End::New(
        thousandths(centre.0 + far * bearing.cos()),
        thousandths(centre.1 + far * bearing.sin()),
    )
}

/// A turntable. Ends of track at the edge of its pit become roads of it; the others are laid.
///
/// # Errors
/// When the end of track is not free, or there is no road.
pub fn turntable(layout: &Layout, ground: Ground, wish: &TurntableWish) -> Result<Placed, Refused> {
    sound(&[wish.bridge_mm, wish.road_mm], "turntable")?;
    let mut draft = Draft::of(layout);
    let edge = wish.bridge_mm / 2.0 + GAP_MM;
    let (centre, first, zero) = match ground {
        Ground::At(x, y) => ((x, y), None, 0.0),
        Ground::Before(end) => {
            let (at, heading) = outwards(layout, end)?;
            let centre = (at.0 + edge * heading.cos(), at.1 + edge * heading.sin());
            (centre, Some(end), heading + std::f64::consts::PI)
        }
    };
    // Bearings of roads and their ends; the one that was pointed at is the first.
    let mut roads: Vec<(f64, TrackEnd)> = first.map(|end| (zero, end)).into_iter().collect();
    for run in layout.runs.values() {
        for end in [RunEnd::Start, RunEnd::End].map(|end| TrackEnd { run: run.id, end }) {
            let Some(pose) = away_from(layout, end, 0.0) else { continue };
            let (x, y) = (pose.x_mm - centre.0, pose.y_mm - centre.1);
            let far = x.hypot(y);
            let leads_here =
                (far - edge).abs() <= AT_EDGE_MM && x * pose.dx + y * pose.dy > 0.9 * far;
            if leads_here && Some(end) != first && is_free(layout, end) {
                roads.push((y.atan2(x), end));
            }
        }
    }
    for degrees in wish.roads_deg.iter().filter(|d| d.is_finite()) {
        let bearing = zero + degrees.to_radians();
        let taken = roads.iter().any(|(other, _)| {
            let off = (other - bearing).to_degrees().rem_euclid(360.0);
            off.min(360.0 - off) < SAME_ROAD_DEG
        });
        if taken {
            continue;
        }
        let (from, to) =
            (polar(centre, bearing, edge), polar(centre, bearing, edge + wish.road_mm));
        let run = draft.lay(from, to, Shape::Straight)?;
        roads.push((bearing, TrackEnd { run, end: RunEnd::Start }));
    }
    let Some(&(bearing, _)) = roads.first() else {
        return Err(Refused("A turntable needs a road. Give the bearing of one at least.".into()));
    };
    let half = wish.bridge_mm / 2.0;
    let (from, to) = (polar(centre, bearing, half), polar(centre, bearing, -half));
    let bridge = draft.lay(from, to, Shape::Straight)?;
    let roads = roads.into_iter().map(|(_, end)| end).collect();
    let exchange_deg = wish.exchange_deg;
    draft.special(Work::Turntable { bridge, roads, exchange_deg }, "")?;
    Ok(draft.done())
}

/// A traverser: one road leads up to it, the others leave beyond it side by side.
///
/// # Errors
/// When the end of track is not free, or no road is wished for.
pub fn traverser(layout: &Layout, ground: Ground, wish: &TraverserWish) -> Result<Placed, Refused> {
    sound(&[wish.bridge_mm, wish.road_mm, wish.spacing_mm.abs()], "traverser")?;
    if !(1..=29).contains(&wish.roads) {
        return Err(Refused("A traverser has from 1 to 29 roads beyond it.".into()));
    }
    let mut draft = Draft::of(layout);
    let half = wish.bridge_mm / 2.0;
    let (centre, heading, entry) = match ground {
        Ground::At(x, y) => ((x, y), 0.0_f64, None),
        Ground::Before(end) => {
            let (at, heading) = outwards(layout, end)?;
            let far = half + GAP_MM;
            ((at.0 + far * heading.cos(), at.1 + far * heading.sin()), heading, Some(end))
        }
    };
    let (sine, cosine) = heading.sin_cos();
    let at = |on: f64, left: f64| {
        End::New(
            thousandths(centre.0 + on * cosine - left * sine),
            thousandths(centre.1 + on * sine + left * cosine),
        )
    };
    let edge = half + GAP_MM;
    let entry = match entry {
        Some(end) => end,
        None => {
            let run = draft.lay(at(-edge - wish.road_mm, 0.0), at(-edge, 0.0), Shape::Straight)?;
            TrackEnd { run, end: RunEnd::End }
        }
    };
    let mut roads = vec![entry];
    for n in 0..wish.roads {
        let left = f64::from(n) * wish.spacing_mm;
        let run = draft.lay(at(edge, left), at(edge + wish.road_mm, left), Shape::Straight)?;
        roads.push(TrackEnd { run, end: RunEnd::Start });
    }
    let bridge = draft.lay(at(-half, 0.0), at(half, 0.0), Shape::Straight)?;
    draft.special(Work::Traverser { bridge, roads }, "")?;
    Ok(draft.done())
}

/// A buffer at an end of track.
///
/// # Errors
/// When it is not free.
pub fn buffer(layout: &Layout, end: TrackEnd) -> Result<Placed, Refused> {
    outwards(layout, end)?;
    let mut draft = Draft::of(layout);
    draft.special(Work::Buffer { end }, "")?;
    Ok(draft.done())
}
