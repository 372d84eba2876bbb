//! Where the frogs of a turnout are.

use crate::layout::model::{
    Layout, TrackEnd, default_frog_length_mm, default_open_mm, default_tread_mm,
};
use crate::track::curve::length_mm;
use crate::track::plane::tenths;
use crate::track::roads::{away_from, left_to_right};

/// Length of a new frog, mm: 20 mm at 16.5 mm gauge and more, in proportion on narrower track (common practice, no
/// source).
pub(super) fn frog_length_mm(layout: &Layout) -> f64 {
    tenths(default_frog_length_mm() * (layout.gauge_mm / 16.5).min(1.0)).max(0.1)
}

/// How far an open point of new points stands off, mm: 2 mm at 16.5 mm gauge and less, in proportion on wider track
/// (common practice, no source).
pub(super) fn open_mm(layout: &Layout) -> f64 {
    tenths(default_open_mm() * (layout.gauge_mm / 16.5).max(1.0))
}

/// Distance from the points beyond which no wheel reaches from one inner rail to the other, mm.
pub(super) fn clear_mm(layout: &Layout, toe: TrackEnd, exits: &[TrackEnd]) -> Option<f64> {
    let treads = layout.vehicles.values().map(|vehicle| vehicle.tread_mm);
    let tread_mm = treads.max_by(f64::total_cmp).unwrap_or_else(default_tread_mm);
    apart_by_mm(layout, toe, exits, layout.gauge_mm + tread_mm)
}

/// Distance from the points at which the centre lines of neighbouring roads are one gauge apart, mm: there their inner
/// rails cross. Of three roads, the larger of the two. `None` if they are not before one of the runs ends.
pub fn frog_mm(layout: &Layout, toe: TrackEnd, exits: &[TrackEnd]) -> Option<f64> {
    apart_by_mm(layout, toe, exits, layout.gauge_mm)
}

/// Distance from the points at which the centre lines of neighbouring roads are so far apart, mm. Of three roads, the
/// larger of the two. `None` if they are not before one of the runs ends.
fn apart_by_mm(layout: &Layout, toe: TrackEnd, exits: &[TrackEnd], width_mm: f64) -> Option<f64> {
    let shortest = exits
        .iter()
        .filter_map(|exit| layout.runs.get(&exit.run))
        .map(|run| length_mm(layout, run))
        .fold(f64::INFINITY, f64::min);
    if !(shortest.is_finite() && layout.gauge_mm > 0.0 && width_mm > 0.0) {
        return None;
    }
    let order = left_to_right(layout, toe, exits, shortest);
    let mut farthest: f64 = 0.0;
    for pair in order.windows(2) {
        let (a, b) = (*exits.get(pair[0])?, *exits.get(pair[1])?);
        let apart = |mm: f64| {
            let (a, b) = (away_from(layout, a, mm)?, away_from(layout, b, mm)?);
            Some((a.x_mm - b.x_mm).hypot(a.y_mm - b.y_mm))
        };
        let steps = (shortest / layout.gauge_mm * 4.0).ceil().clamp(8.0, 2000.0);
        let step = shortest / steps;
        let mut at = 0.0;
        while apart(at)? < width_mm {
            at += step;
            if at > shortest * (1.0 + 1e-9) {
                return None;
            }
        }
        let (mut low, mut high) = ((at - step).max(0.0), at);
        for _ in 0..40 {
            let middle = f64::midpoint(low, high);
            if apart(middle)? < width_mm {
                low = middle;
            } else {
                high = middle;
            }
        }
        farthest = farthest.max(high);
    }
    (farthest > 0.0).then(|| tenths(farthest))
}
