//! Turntables and traversers: a bridge that stands at one road, or at two.

use super::making::Making;
use super::parts::{Anatomy, Way};
use crate::layout::geometry::Point;
use crate::layout::{Layout, RunEnd, RunId, Special, TrackEnd, Work, roads};

impl Making<'_> {
    pub(super) fn bridge(&self, bridge: RunId) -> Option<([Point; 2], Point)> {
        let run = self.layout.runs.get(&bridge)?;
        let place = |id| self.layout.joints.get(&id).map(|j| (j.x_mm, j.y_mm));
        let (from, to) = (place(run.from)?, place(run.to)?);
        Some(([from, to], (f64::midpoint(from.0, to.0), f64::midpoint(from.1, to.1))))
    }

    pub(super) fn place(&self, end: TrackEnd) -> Option<(f64, f64)> {
        let joint = self.layout.joints.get(&roads::joint_of(self.layout, end)?)?;
        Some((joint.x_mm, joint.y_mm))
    }

    /// A bridge's end stands at a road.
    pub(super) fn stands_at(&mut self, bridge: RunId, end: RunEnd, road: TrackEnd, mask: u64) {
        let own = TrackEnd { run: bridge, end };
        for ends in [[own, road], [road, own]] {
            self.out.ways.push(Way { ends, mask, against: 0, metal: false, past_mm: 0.0 });
        }
    }

    pub(super) fn turntable(&mut self, bridge: RunId, roads: &[TrackEnd]) {
        let Some((_, centre)) = self.bridge(bridge) else { return };
        let bearing = |making: &Self, end: TrackEnd| {
            making.place(end).map(|(x, y)| (y - centre.1).atan2(x - centre.0).to_degrees())
        };
        let bearings: Vec<Option<f64>> = roads.iter().map(|&end| bearing(self, end)).collect();
        for (k, &road) in roads.iter().enumerate() {
            for (half, near, far) in
                [(0, RunEnd::Start, RunEnd::End), (1, RunEnd::End, RunEnd::Start)]
            {
                let mask = 1u64 << (2 * k + half).min(63);
                self.stands_at(bridge, near, road, mask);
                let opposite =
                    (0..roads.len()).find(|&other| match (bearings[k], bearings[other]) {
                        (Some(here), Some(there)) => {
                            let off = (there - here - 180.0).rem_euclid(360.0);
                            other != k && off.min(360.0 - off) < ALIGNED_DEG
                        }
                        _ => false,
                    });
                if let Some(other) = opposite {
                    self.stands_at(bridge, far, roads[other], mask);
                }
            }
        }
    }

    pub(super) fn traverser(&mut self, bridge: RunId, roads: &[TrackEnd]) {
        let Some(([from, to], centre)) = self.bridge(bridge) else { return };
        let size = (to.0 - from.0).hypot(to.1 - from.1).max(1e-9);
        let along = ((to.0 - from.0) / size, (to.1 - from.1) / size);
        // Which end of the bridge a road comes up to, and how far to the side.
        let lanes: Vec<Option<(RunEnd, f64)>> = roads
            .iter()
            .map(|&end| {
                let (x, y) = self.place(end)?;
                let (x, y) = (x - centre.0, y - centre.1);
                let ahead = x * along.0 + y * along.1;
                let end = if ahead < 0.0 { RunEnd::Start } else { RunEnd::End };
                Some((end, along.0 * y - along.1 * x))
            })
            .collect();
        for (k, lane) in lanes.iter().enumerate() {
            let Some((end, side)) = *lane else { continue };
            let mask = 1u64 << k.min(63);
            self.stands_at(bridge, end, roads[k], mask);
            let opposite = lanes.iter().position(|other| {
                other.is_some_and(|(o, s)| o != end && (s - side).abs() < ALIGNED_MM)
            });
            if let Some(other) = opposite {
                let far = if end == RunEnd::Start { RunEnd::End } else { RunEnd::Start };
                self.stands_at(bridge, far, roads[other], mask);
            }
        }
    }
}

/// Roads this nearly opposite each other are both at the bridge at once, degrees.
const ALIGNED_DEG: f64 = 3.0;

/// Roads this nearly in line are both at a traverser at once, mm.
const ALIGNED_MM: f64 = 3.0;

/// Whether the rails of a turntable's bridge are exchanged behind its feed in a position.
pub fn bridge_exchanged(layout: &Layout, special: &Special, position: u32) -> bool {
    let Work::Turntable { bridge, roads, exchange_deg: Some(from_deg) } = &special.work else {
        return false;
    };
    let making = Making { layout, special, out: Anatomy::default() };
    let road = roads.get(position as usize / 2).and_then(|&end| making.place(end));
    let (Some((_, centre)), Some(road)) = (making.bridge(*bridge), road) else { return false };
    let outwards = (road.1 - centre.1).atan2(road.0 - centre.0).to_degrees();
    // With its start at the road the bridge heads away from it.
    let heading = if position.is_multiple_of(2) { outwards + 180.0 } else { outwards };
    (heading - from_deg).rem_euclid(360.0) < 180.0
}
