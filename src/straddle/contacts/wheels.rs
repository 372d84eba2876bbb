//! Wheels on the ruler: which nets they touch, and within which places of the leading coupler they touch the same.

use std::collections::BTreeMap;

use super::stand::{Facing, Touched};
use crate::layout::{Axle, Rail, Wheel};
use crate::rails::PlanNet;
use crate::straddle::path::{Span, boundaries_mm, net_under};

/// A wheel of a vehicle on the ruler.
pub(super) struct WheelAt {
    /// Distance behind the leading coupler, mm.
    pub behind_mm: f64,
    pub rail: Rail,
    pub wheel: Wheel,
}

/// Wheels as they stand on the ruler; `length_mm` is that of all that is coupled, over couplers.
pub(super) fn wheels(axles: &[Axle], length_mm: f64, facing: Facing) -> Vec<WheelAt> {
    axles
        .iter()
        .flat_map(|axle| {
            let (behind_mm, left, right) = match facing {
                Facing::FrontAhead => (axle.at_mm, axle.left, axle.right),
                Facing::RearAhead => (length_mm - axle.at_mm, axle.right, axle.left),
            };
            [
                WheelAt { behind_mm, rail: Rail::Left, wheel: left },
                WheelAt { behind_mm, rail: Rail::Right, wheel: right },
            ]
        })
        .collect()
}

/// An interval of places of the leading coupler in which no wheel changes its net.
#[derive(Debug, Clone, PartialEq)]
pub struct Interval {
    /// Where the leading coupler is at its start, mm on the ruler.
    pub from_mm: f64,
    /// And at its end.
    pub to_mm: f64,
    /// Nets under the left and the right pickups.
    pub touched: [Touched<PlanNet>; 2],
}

/// All intervals in which the joined pickups of some axles stand on both sides of a gap of the cut (`cut_mm`: where the
/// left and the right rail are cut, if they are), in order. `length_mm` is that of all that is coupled.
pub fn intervals(
    spans: &[Span],
    cut_mm: [Option<f64>; 2],
    (axles, length_mm): (&[Axle], f64),
    facing: Facing,
) -> Vec<Interval> {
    let wheels = wheels(axles, length_mm, facing);
    let pickups: Vec<&WheelAt> = wheels.iter().filter(|w| w.wheel == Wheel::Pickup).collect();
    // Where a rail is whole, the place of the other's gap tells the two sides apart.
    let gap_mm = |rail: Rail| match (rail, cut_mm) {
        (Rail::Left, [left, right]) => left.or(right),
        (Rail::Right, [left, right]) => right.or(left),
    };
    let mut events: Vec<f64> = pickups
        .iter()
        .filter_map(|wheel| gap_mm(wheel.rail).map(|gap| gap + wheel.behind_mm))
        .collect();
    for rail in Rail::BOTH {
        let places = boundaries_mm(spans, rail);
        for wheel in pickups.iter().filter(|w| w.rail == rail) {
            events.extend(places.iter().map(|place| place + wheel.behind_mm));
        }
    }
    events.sort_by(f64::total_cmp);
    events.dedup_by(|a, b| (*a - *b).abs() < 1e-9);

    let mut found = Vec::new();
    for pair in events.windows(2) {
        let (from_mm, to_mm) = (pair[0], pair[1]);
        let lead = (from_mm + to_mm) / 2.0;
        let place = |w: &WheelAt| lead - w.behind_mm;
        let before = pickups.iter().any(|w| gap_mm(w.rail).is_some_and(|gap| place(w) < gap));
        let after = pickups.iter().any(|w| gap_mm(w.rail).is_some_and(|gap| place(w) > gap));
        if !(before && after) {
            continue;
        }
        found.push(Interval { from_mm, to_mm, touched: under(spans, &pickups, lead) });
    }
    found
}

/// Nets under pickups while the leading coupler is at a place.
pub(super) fn under(spans: &[Span], pickups: &[&WheelAt], lead_mm: f64) -> [Touched<PlanNet>; 2] {
    Rail::BOTH.map(|rail| {
        let mut nets: BTreeMap<PlanNet, u32> = BTreeMap::new();
        for wheel in pickups.iter().filter(|w| w.rail == rail) {
            if let Some(net) = net_under(spans, rail, lead_mm - wheel.behind_mm) {
                *nets.entry(net).or_default() += 1;
            }
        }
        nets.into_iter().collect()
    })
}

/// Nets under the joined pickups of some axles while the leading coupler is at a place, mm on the ruler.
pub fn touched_at(
    spans: &[Span],
    (axles, length_mm): (&[Axle], f64),
    facing: Facing,
    lead_mm: f64,
) -> [Touched<PlanNet>; 2] {
    let wheels = wheels(axles, length_mm, facing);
    let pickups: Vec<&WheelAt> = wheels.iter().filter(|w| w.wheel == Wheel::Pickup).collect();
    under(spans, &pickups, lead_mm)
}

/// How far behind the leading coupler the first and the last of some axles' pickups on each rail are, mm.
pub fn pickups_mm(axles: &[Axle], length_mm: f64, facing: Facing) -> [Option<(f64, f64)>; 2] {
    let wheels = wheels(axles, length_mm, facing);
    Rail::BOTH.map(|rail| {
        wheels.iter().filter(|w| w.rail == rail && w.wheel == Wheel::Pickup).fold(
            None,
            |found, w| {
                let (first, last) = found.unwrap_or((w.behind_mm, w.behind_mm));
                Some((w.behind_mm.min(first), w.behind_mm.max(last)))
            },
        )
    })
}

/// All intervals of places of the leading coupler, in order, within which the joined pickups of some axles touch the
/// same nets, on all of the ruler. `length_mm` is that of all that is coupled.
pub fn all_intervals(
    spans: &[Span],
    (axles, length_mm): (&[Axle], f64),
    facing: Facing,
) -> Vec<Interval> {
    let wheels = wheels(axles, length_mm, facing);
    let pickups: Vec<&WheelAt> = wheels.iter().filter(|w| w.wheel == Wheel::Pickup).collect();
    let (Some(first), Some(last)) = (spans.first(), spans.last()) else { return Vec::new() };
    let mut events: Vec<f64> = Vec::new();
    for rail in Rail::BOTH {
        let mut places = boundaries_mm(spans, rail);
        places.extend([first.from_mm, last.to_mm]);
        for wheel in pickups.iter().filter(|w| w.rail == rail) {
            events.extend(places.iter().map(|place| place + wheel.behind_mm));
        }
    }
    events.sort_by(f64::total_cmp);
    events.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    events
        .windows(2)
        .map(|pair| Interval {
            from_mm: pair[0],
            to_mm: pair[1],
            touched: under(spans, &pickups, (pair[0] + pair[1]) / 2.0),
        })
        .collect()
}
