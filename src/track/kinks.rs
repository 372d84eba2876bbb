//! Kinks: places where one road of special work does not go on in the direction of the other.

use super::roads::away_from;
use crate::layout::model::{Layout, SpecialId, TrackEnd, Work};

/// A kink in a way over special work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kink {
    /// The special work.
    pub special: SpecialId,
    /// The end of the road on the near side of the joint: a turnout's toe.
    pub from: TrackEnd,
    /// The end of the road on the far side.
    pub to: TrackEnd,
    /// By how much the track turns at the joint, degrees; never negative.
    pub turn_deg: f64,
}

/// Every way over the turnouts and crossings of a layout that goes straight on, with its kink.
pub fn kinks(layout: &Layout) -> Vec<Kink> {
    let mut found = Vec::new();
    for special in layout.specials.values() {
        let ways: Vec<(TrackEnd, TrackEnd)> = match &special.work {
            Work::Turnout { toe, exits, .. } => exits.iter().map(|exit| (*toe, *exit)).collect(),
            Work::Diamond { roads, .. } | Work::Slip { roads, .. } => {
                roads.iter().map(|road| (road[0], road[1])).collect()
            }
            _ => continue,
        };
        found.extend(ways.into_iter().filter_map(|(from, to)| {
            let turn_deg = turn_deg(layout, from, to)?;
            Some(Kink { special: special.id, from, to, turn_deg })
        }));
    }
    found
}

/// By how much the track turns from one run end to another one that it meets, degrees; never negative.
fn turn_deg(layout: &Layout, from: TrackEnd, to: TrackEnd) -> Option<f64> {
    let (a, b) = (away_from(layout, from, 0.0)?, away_from(layout, to, 0.0)?);
    let (cross, along) = (a.dx * b.dy - a.dy * b.dx, -(a.dx * b.dx + a.dy * b.dy));
    Some(cross.atan2(along).to_degrees().abs())
}
