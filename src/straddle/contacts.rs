//! Vehicles over a cut: which wheels touch which nets, and for how long.

use std::collections::BTreeMap;

use super::path::{Span, boundaries_mm, net_under};
use crate::layout::{Axle, Rail, Vehicle, Wheel};
use crate::rails::PlanNet;

/// Which way round a vehicle stands on the ruler.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Facing {
    /// Its front leads up the ruler.
    FrontAhead,
    /// Its rear leads up the ruler.
    RearAhead,
}

impl Facing {
    /// Both.
    pub const BOTH: [Facing; 2] = [Facing::FrontAhead, Facing::RearAhead];
}

/// Nets under the wheels of one side, each with the number of wheels on it, by net: nets of a plan, or of a wiring.
pub type Touched<N> = Vec<(N, u32)>;

/// A way of standing over the cut: what touches what while the leading coupler moves a certain way up the ruler.
#[derive(Debug, Clone, PartialEq)]
pub struct Stand {
    /// Facing.
    pub facing: Facing,
    /// Place of the leading coupler where it begins, mm on the ruler.
    pub lead_mm: f64,
    /// How far the vehicle rolls while at least this much is joined, mm.
    pub length_mm: f64,
    /// Wheels of the left and of the right pickups (seen along the ruler).
    pub touched: [Touched<PlanNet>; 2],
    /// True if it is a single wheel across the opening rather than a pickup group over the cut.
    pub single_wheel: bool,
}

impl Stand {
    /// True if a side joins nets.
    pub fn joins(&self, side: usize) -> bool {
        self.touched[side].len() > 1
    }
}

struct WheelAt {
    /// Distance behind the leading coupler, mm.
    behind_mm: f64,
    rail: Rail,
    wheel: Wheel,
}

/// Wheels as they stand on the ruler; `length_mm` is that of all that is coupled, over couplers.
fn wheels(axles: &[Axle], length_mm: f64, facing: Facing) -> Vec<WheelAt> {
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
fn under(spans: &[Span], pickups: &[&WheelAt], lead_mm: f64) -> [Touched<PlanNet>; 2] {
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

/// Every way in which a vehicle can join nets across a cut: both sides, and each side alone because not every wheel
/// need touch; where it has no pickup group that straddles, its single wheels. Of equal joins those with the most
/// wheels on the rails are kept. `intervals` are those of [`intervals`] for the same vehicle.
pub fn stands(
    spans: &[Span],
    cut_mm: [Option<f64>; 2],
    vehicle: &Vehicle,
    facing: Facing,
    intervals: &[Interval],
) -> Vec<Stand> {
    let mut all = group_stands(facing, intervals);
    all.extend(single_wheels(spans, cut_mm, vehicle, facing, &all));
    all
}

/// Every way in which one group of joined pickups can join nets across a cut, of its intervals there.
pub fn group_stands(facing: Facing, intervals: &[Interval]) -> Vec<Stand> {
    let nets = |touched: &Touched<PlanNet>| touched.iter().map(|&(net, _)| net).collect::<Vec<_>>();
    let mut best: BTreeMap<[Vec<PlanNet>; 2], Vec<Stand>> = BTreeMap::new();
    for interval in intervals {
        for keep in [[true, true], [true, false], [false, true]] {
            let mut touched = interval.touched.clone();
            let mut joins = false;
            for side in 0..2 {
                if !keep[side] {
                    touched[side].clear();
                }
                joins |= touched[side].len() > 1;
            }
            if !joins {
                continue;
            }
            // A side that touches one net only joins nothing: it carries no current without a load.
            for side in &mut touched {
                if side.len() < 2 {
                    side.clear();
                }
            }
            let key = [nets(&touched[0]), nets(&touched[1])];
            let kept = best.entry(key).or_default();
            let more = kept
                .first()
                .map_or(f64::NEG_INFINITY, |old| resistance(&touched) - resistance(&old.touched));
            if more < -1e-9 {
                kept.clear();
            }
            // Of equals neither is the first: which one is met first depends on how the track is drawn.
            if more < 1e-9 && !kept.iter().any(|old| alike(&old.touched, &touched)) {
                kept.push(Stand {
                    facing,
                    lead_mm: interval.from_mm,
                    length_mm: 0.0,
                    touched,
                    single_wheel: false,
                });
            }
        }
    }
    let all =
        best.iter_mut().flat_map(|(key, kept)| kept.iter_mut().map(move |stand| (key, stand)));
    for (key, stand) in all {
        // The longest way rolled while at least these joins hold.
        let holds = |interval: &Interval| {
            (0..2).all(|side| {
                key[side].iter().all(|net| interval.touched[side].iter().any(|t| t.0 == *net))
            })
        };
        let (mut run, mut longest, mut end, mut start) = (0.0, 0.0, f64::NEG_INFINITY, 0.0);
        for interval in intervals.iter().filter(|i| holds(i)) {
            if interval.from_mm > end + 1e-9 {
                run = 0.0;
                start = interval.from_mm;
            }
            run += interval.to_mm - interval.from_mm;
            end = interval.to_mm;
            if run > longest {
                longest = run;
                stand.lead_mm = start;
            }
        }
        stand.length_mm = longest;
    }
    best.into_values().flatten().collect()
}

/// Contact resistance in units of one wheel's, for choosing the best of equal joins.
fn resistance(touched: &[Touched<PlanNet>; 2]) -> f64 {
    touched.iter().flatten().map(|&(_, wheels)| 1.0 / f64::from(wheels)).sum()
}

/// Whether the same currents flow through two ways of touching the same nets: between two nets of a side the contacts are
/// in series, so that only their sum counts.
fn alike(one: &[Touched<PlanNet>; 2], other: &[Touched<PlanNet>; 2]) -> bool {
    let ohm = |side: &Touched<PlanNet>| side.iter().map(|&(_, n)| 1.0 / f64::from(n)).sum::<f64>();
    one.iter()
        .zip(other)
        .all(|(a, b)| a == b || (a.len() <= 2 && b.len() <= 2 && (ohm(a) - ohm(b)).abs() < 1e-9))
}

/// A wheel rolling over the opening bridges it for at most its contact patch. Only joins that no pickup group makes.
fn single_wheels(
    spans: &[Span],
    cut_mm: [Option<f64>; 2],
    vehicle: &Vehicle,
    facing: Facing,
    groups: &[Stand],
) -> Vec<Stand> {
    let wheels = wheels(&vehicle.axles, vehicle.length_mm, facing);
    let across = |side: usize, at_mm: f64| -> Option<Touched<PlanNet>> {
        let rail = Rail::BOTH[side];
        let before = net_under(spans, rail, at_mm - 1e-6)?;
        let after = net_under(spans, rail, at_mm + 1e-6)?;
        (before != after).then(|| {
            let mut pair = vec![(before, 1), (after, 1)];
            pair.sort_unstable();
            pair
        })
    };
    let mut found: Vec<Stand> = Vec::new();
    let axles: std::collections::BTreeSet<u64> =
        wheels.iter().map(|w| w.behind_mm.to_bits()).collect();
    for behind in axles.into_iter().map(f64::from_bits) {
        let metal = |side: usize| {
            wheels.iter().any(|w| {
                w.behind_mm == behind && w.rail == Rail::BOTH[side] && w.wheel != Wheel::Insulated
            })
        };
        let together = match cut_mm {
            [Some(left), Some(right)] => (left - right).abs() < vehicle.patch_mm,
            _ => false,
        };
        let ways: &[[bool; 2]] = if together {
            &[[true, true], [true, false], [false, true]]
        } else {
            &[[true, false], [false, true]]
        };
        for way in ways {
            let mut touched: [Touched<PlanNet>; 2] = [Vec::new(), Vec::new()];
            let mut possible = true;
            for side in 0..2 {
                if way[side] {
                    match cut_mm[side].filter(|_| metal(side)).and_then(|at| across(side, at)) {
                        Some(pair) => touched[side] = pair,
                        None => possible = false,
                    }
                }
            }
            let same = |other: &Stand| {
                (0..2).all(|s| {
                    other.touched[s].iter().map(|t| t.0).eq(touched[s].iter().map(|t| t.0))
                })
            };
            if possible && !groups.iter().any(same) && !found.iter().any(same) {
                let at = cut_mm.iter().flatten().next().copied().unwrap_or(0.0);
                found.push(Stand {
                    facing,
                    lead_mm: at + behind,
                    length_mm: vehicle.patch_mm,
                    touched,
                    single_wheel: true,
                });
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::path::{ruler, tests::track};
    use super::*;
    use crate::layout::{CutId, VehicleId, default_contact_ohm};
    use proptest::prelude::*;

    fn vehicle(length_mm: f64, axles: &[(f64, Wheel, Wheel)]) -> Vehicle {
        Vehicle {
            id: VehicleId(1),
            name: String::new(),
            length_mm,
            axles: axles.iter().map(|&(at_mm, left, right)| Axle { at_mm, left, right }).collect(),
            load: Default::default(),
            contact_ohm: default_contact_ohm(),
            speed: Default::default(),
            patch_mm: 0.5,
            wiring_a: None,
            pickups_joined: true,
            tread_mm: 2.8,
            notes: String::new(),
        }
    }

    const P: Wheel = Wheel::Pickup;
    const O: Wheel = Wheel::Insulated;

    fn over(
        cut: &str,
        gaps: [Option<f64>; 2],
        vehicle: &Vehicle,
        facing: Facing,
    ) -> (Vec<Interval>, Vec<Stand>) {
        let (layout, plan) = track(cut);
        let spans = ruler(&layout, &plan, CutId(1), 500.0).unwrap();
        let rolling = (vehicle.axles.as_slice(), vehicle.length_mm);
        let intervals = intervals(&spans, gaps, rolling, facing);
        let stands = stands(&spans, gaps, vehicle, facing, &intervals);
        (intervals, stands)
    }

    const BOTH: &str = r#"(id: "c1", run: "r1", at_mm: 500, rails: Both)"#;
    const AT_ZERO: [Option<f64>; 2] = [Some(0.0), Some(0.0)];

    #[test]
    fn a_railcar_straddles_for_its_wheelbase() {
        let car = vehicle(110.0, &[(28.0, P, P), (82.0, P, P)]);
        for facing in Facing::BOTH {
            let (intervals, stands) = over(BOTH, AT_ZERO, &car, facing);
            assert_eq!(intervals.len(), 1);
            let groups: Vec<&Stand> = stands.iter().filter(|s| !s.single_wheel).collect();
            // Both rails, the left alone, the right alone.
            assert_eq!(groups.len(), 3);
            assert!(groups.iter().all(|s| (s.length_mm - 54.0).abs() < 1e-9 && s.lead_mm == 28.0));
            let both = groups.iter().find(|s| s.joins(0) && s.joins(1)).unwrap();
            assert_eq!(both.touched.clone().map(|t| t.iter().map(|n| n.1).sum::<u32>()), [2, 2]);
        }
    }

    #[test]
    fn six_axles_straddle_from_first_to_last_and_count_the_best_contact() {
        let axles = [25.0, 45.0, 65.0, 145.0, 165.0, 185.0].map(|at| (at, P, P));
        let (intervals, stands) = over(BOTH, AT_ZERO, &vehicle(210.0, &axles), Facing::FrontAhead);
        assert_eq!(intervals.len(), 5);
        let both = stands.iter().find(|s| s.joins(0) && s.joins(1)).unwrap();
        assert!((both.length_mm - 160.0).abs() < 1e-9);
        assert!(both.touched.iter().all(|side| side.iter().all(|&(_, wheels)| wheels == 3)));
    }

    #[test]
    fn facing_changes_which_hand_leads_only_with_the_place() {
        // Left pickups in front, right ones behind; seen from the track the left leads either way round.
        let engine = vehicle(200.0, &[(30.0, P, O), (100.0, O, P)]);
        let fronts = Facing::BOTH.map(|facing| {
            let (intervals, stands) = over(BOTH, AT_ZERO, &engine, facing);
            assert!(stands.iter().all(|s| s.single_wheel), "no rail is joined by a group");
            assert_eq!(intervals.len(), 1);
            let [left, right] = &intervals[0].touched;
            assert_eq!((left.len(), right.len()), (1, 1));
            assert_ne!(left[0].0, right[0].0);
            (intervals[0].from_mm, intervals[0].to_mm)
        });
        assert_eq!(fronts, [(30.0, 100.0), (100.0, 170.0)]);
    }

    #[test]
    fn single_wheels_bridge_for_their_contact_patch() {
        let wagon = |wheel| vehicle(90.0, &[(20.0, wheel, wheel), (70.0, wheel, wheel)]);
        let (_, stands) = over(BOTH, AT_ZERO, &wagon(Wheel::Metal), Facing::FrontAhead);
        assert_eq!(stands.len(), 3);
        assert!(stands.iter().all(|s| s.single_wheel && s.length_mm == 0.5));
        let (_, stands) = over(BOTH, AT_ZERO, &wagon(O), Facing::FrontAhead);
        assert!(stands.is_empty());
        // Farther apart than a patch the two gaps of a cut are never bridged by one axle at once.
        let staggered = r#"(id: "c1", run: "r1", at_mm: 500, rails: Both, stagger_mm: 5)"#;
        let (_, stands) =
            over(staggered, [Some(0.0), Some(5.0)], &wagon(Wheel::Metal), Facing::FrontAhead);
        assert!(stands.iter().all(|s| !(s.joins(0) && s.joins(1))));
    }

    #[test]
    fn over_a_stagger_one_rail_is_joined_longer_than_both() {
        for stagger in [30.0, -30.0] {
            let cut =
                format!(r#"(id: "c1", run: "r1", at_mm: 500, rails: Both, stagger_mm: {stagger})"#);
            let car = vehicle(110.0, &[(28.0, P, P), (82.0, P, P)]);
            let (_, stands) = over(&cut, [Some(0.0), Some(stagger)], &car, Facing::FrontAhead);
            let length = |left: bool, right: bool| {
                let found = stands
                    .iter()
                    .find(|s| !s.single_wheel && s.joins(0) == left && s.joins(1) == right);
                found.unwrap().length_mm
            };
            assert!((length(true, true) - (54.0 - 30.0)).abs() < 1e-9);
            assert!((length(true, false) - 54.0).abs() < 1e-9);
            assert!((length(false, true) - 54.0).abs() < 1e-9);
        }
    }

    proptest! {
        /// Turned round, a vehicle joins the same as its mirror image along the track.
        #[test]
        fn turning_round_is_the_same_as_building_it_round(
            gaps in prop::collection::vec((1.0..50.0_f64, 0..3_u8, 0..3_u8), 1..6), stagger in -40.0..40.0_f64
        ) {
            let wheel = |n: u8| [P, Wheel::Metal, O][usize::from(n)];
            let mut at = 0.0;
            let axles: Vec<_> = gaps
                .iter()
                .map(|&(gap, l, r)| {
                    at += gap;
                    (at, wheel(l), wheel(r))
                })
                .collect();
            let length = at + 10.0;
            let one = vehicle(length, &axles);
            let round: Vec<_> = axles.iter().rev().map(|&(at, l, r)| (length - at, r, l)).collect();
            let other = vehicle(length, &round);
            let cut = format!(r#"(id: "c1", run: "r1", at_mm: 500, rails: Both, stagger_mm: {stagger})"#);
            let gaps = [Some(0.0), Some(stagger)];
            let (a, _) = over(&cut, gaps, &one, Facing::RearAhead);
            let (b, _) = over(&cut, gaps, &other, Facing::FrontAhead);
            prop_assert_eq!(a.len(), b.len());
            for (a, b) in a.iter().zip(&b) {
                prop_assert_eq!(&a.touched, &b.touched);
                prop_assert!((a.from_mm - b.from_mm).abs() < 1e-6);
            }
        }
    }
}
