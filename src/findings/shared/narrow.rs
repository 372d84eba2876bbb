//! One wheel on two rails that come too near to each other inside special work: `wheel-bridges-frog` at either end of a
//! frog, `open-point` between an open live point and its stock rail.
//!
//! How near is a matter of geometry; what flows is asked of the circuit, with the wheel as a resistance between the two
//! nets. The plan is not drawn to tenths of a mm: these are notes, with the figure to measure on the real thing.

use std::collections::BTreeSet;

use crate::findings::merge::add;
use crate::findings::{
    Class, Evident, Found, Kind, Place, Relation, SelectorAt, Situation, Verdict, View,
};
use crate::layout::{
    DriverId, Layout, Rail, RunEnd, Special, TrackEnd, Vehicle, VehicleId, Wheel, Work, length_mm,
    roads,
};
use crate::rails::anatomy::{hand_in, hand_out};
use crate::rails::{CutAt, Plan, PlanNet, Positions, SelectorId};
use crate::straddle::case::Wiring;
use crate::straddle::contacts::Facing;
use crate::straddle::path::Tape;
use crate::study::cut::{Case, GroupAt, StandAt, Stander, Surroundings, stand_in};
use crate::study::judge::{NumericGroup, NumericStand};
use crate::study::situation::situation;

/// One wheel on two rails that come too near to each other (in the position of the finding).
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// What flows.
    pub situation: Situation,
    /// Where.
    pub narrow: Narrow,
    /// True if the points stand so now.
    pub now: bool,
    /// Clear width between the two rails where they are nearest, mm.
    pub apart_mm: f64,
    /// Width that the wheel needs there to touch one of them only, mm.
    pub needs_mm: f64,
    /// How far it rolls with both, mm.
    pub stretch_mm: f64,
}

impl Evident for Evidence {
    fn situation(&self) -> Option<&Situation> {
        Some(&self.situation)
    }
}

/// Where two rails of special work come near to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Narrow {
    /// Beyond a frog, seen from the joint: treads reach across.
    BeyondFrog,
    /// Before it: the backs of wheels touch.
    BeforeFrog,
    /// An open point and its stock rail: the backs of wheels touch.
    OpenPoint,
}

/// A finding of either kind.
type Touch = Found<Evidence>;

/// Both kinds of a view.
struct Touches(Vec<Touch>);

/// The findings of one kind.
pub(crate) fn of_kind(view: &View, kind: Kind) -> Vec<Touch> {
    let all = view.shared.get(|| Touches(find(view)));
    all.0.iter().filter(|f| f.kind == kind).cloned().collect()
}

fn find(view: &View) -> Vec<Touch> {
    let mut found = Vec::new();
    let spare = stand_in();
    let mut vehicles: Vec<(Option<VehicleId>, &Vehicle)> =
        view.layout.vehicles.values().map(|v| (Some(v.id), v)).collect();
    if vehicles.is_empty() {
        vehicles.push((None, &spare));
    }
    let metal = |wheel: Wheel| wheel != Wheel::Insulated;
    vehicles.retain(|(_, v)| v.axles.iter().any(|axle| metal(axle.left) || metal(axle.right)));
    for special in view.layout.specials.values() {
        let mut of_kind: [Vec<(Touch, f64)>; 2] = Default::default();
        for place in narrow_places(view.layout, special) {
            of_kind[usize::from(place.narrow == Narrow::OpenPoint)]
                .extend(at_place(view, special, &vehicles, &place));
        }
        found.extend(of_kind.into_iter().filter_map(united));
    }
    found
}

/// The worst of some findings, with the positions, drivers and blocks of all. Its own position comes first.
fn united(touches: Vec<(Touch, f64)>) -> Option<Touch> {
    let weight = |(touch, peak_a): &(Touch, f64)| (touch.verdict, *peak_a);
    let worst = (0..touches.len()).reduce(|worst, at| {
        if weight(&touches[at]) > weight(&touches[worst]) { at } else { worst }
    })?;
    let mut all = touches[worst].0.clone();
    for (touch, _) in touches {
        add(&mut all.positions, touch.positions);
        add(&mut all.drivers, touch.drivers);
        add(&mut all.blocks, touch.blocks);
    }
    all.drivers.sort();
    all.blocks.sort();
    Some(all)
}

/// A place on a rail: so far from an end of a run.
type OnRail = (TrackEnd, Rail, f64);

/// Two rails that lie side by side.
struct Near {
    narrow: Narrow,
    /// The two rails there.
    rails: [OnRail; 2],
    /// Positions in which a wheel comes by.
    positions: Vec<u32>,
    /// How far from where they are nearest, and the clear width between the two rails there, mm: in order.
    widths_mm: Vec<(f64, f64)>,
}

/// How finely the widening of two rails is followed, mm.
const STEP_MM: f64 = 0.5;
/// So far it is followed: no wheel is wider.
const MOST_WIDTH_MM: f64 = 50.0;
const MOST_STEPS: usize = 2000;
/// So far beyond a frog's gap one stands on the rail beyond, mm.
const BEYOND_MM: f64 = 0.01;

fn narrow_places(layout: &Layout, special: &Special) -> Vec<Near> {
    match &special.work {
        Work::Turnout { toe, exits, frog, frog_mm, frog_length_mm, open_mm, .. } => {
            let order = roads::left_to_right(layout, *toe, exits, special.work.reach_mm());
            let road = |at: usize| Some((*order.get(at)?, *exits.get(*order.get(at)?)?));
            let mut found = Vec::new();
            // Where a three-way turnout's first frog lies is assumed, not stated: only neighbours are looked at.
            for (i, j) in [(0, 1), (1, 2)] {
                let (Some((at_i, left)), Some((at_j, right))) = (road(i), road(j)) else {
                    continue;
                };
                let positions = [at_i as u32, at_j as u32];
                if !frog.is_one_metal() {
                    let ends = [left, right];
                    found.extend(at_frog(layout, ends, *frog_mm, *frog_length_mm, &positions));
                } else if exits.len() == 2 {
                    found.extend(open_points(*toe, [left, right], *open_mm, *frog_mm, positions));
                }
            }
            found
        }
        Work::Diamond { roads, frog_mm, frog_length_mm, .. }
        | Work::Slip { roads, frog_mm, frog_length_mm, .. } => {
            let turns_left =
                roads::crossing_angle(layout, roads).is_none_or(|(sine, _)| sine > 0.0);
            let (a, b) = if turns_left { (0, 1) } else { (1, 0) };
            let positions: Vec<u32> = (0..special.work.positions()).collect();
            // The road that comes from the left: of the first ends its own lies on the right, seen from the joint, and
            // so it does of the last ends.
            [[roads[b][0], roads[a][0]], [roads[b][1], roads[a][1]]]
                .into_iter()
                .flat_map(|ends| at_frog(layout, ends, *frog_mm, *frog_length_mm, &positions))
                .collect()
        }
        _ => Vec::new(),
    }
}

/// Both ends of a frog between a left and a right road, seen from their joint.
///
/// The gauge faces of the two inner rails are as far apart as the centre lines are, less the gauge; before the frog the
/// other way round. Where the frog as stated does not hold the place at which they cross, the drawing says nothing of it.
fn at_frog(
    layout: &Layout,
    ends: [TrackEnd; 2],
    middle_mm: f64,
    frog_length_mm: f64,
    positions: &[u32],
) -> Vec<Near> {
    let apart = |mm: f64| -> Option<f64> {
        let [a, b] = ends.map(|end| roads::away_from(layout, end, mm));
        let (a, b) = (a?, b?);
        Some((a.x_mm - b.x_mm).hypot(a.y_mm - b.y_mm) - layout.gauge_mm)
    };
    let (from_mm, to_mm) = (middle_mm - frog_length_mm / 2.0, middle_mm + frog_length_mm / 2.0);
    let holds =
        apart(from_mm).is_some_and(|mm| mm <= 0.0) && apart(to_mm).is_some_and(|mm| mm >= 0.0);
    let room_mm = ends
        .iter()
        .filter_map(|end| layout.runs.get(&end.run))
        .map(|run| length_mm(layout, run))
        .fold(f64::INFINITY, f64::min);
    if !(holds && from_mm > 0.0 && to_mm < room_mm) {
        return Vec::new();
    }
    let [left, right] = ends;
    let near = |narrow, gap_mm: f64, sign: f64| {
        let widths_mm = (0..MOST_STEPS)
            .map(|step| STEP_MM * step as f64)
            .take_while(|on| (0.0..=room_mm).contains(&(gap_mm + sign * on)))
            .map_while(|on| Some((on, sign * apart(gap_mm + sign * on)?)))
            .take_while(|(_, width)| *width <= MOST_WIDTH_MM)
            .collect();
        let at_mm = gap_mm + sign * BEYOND_MM;
        Near {
            narrow,
            rails: [
                (left, hand_out(left, Rail::Right), at_mm),
                (right, hand_out(right, Rail::Left), at_mm),
            ],
            positions: positions.to_vec(),
            widths_mm,
        }
    };
    vec![near(Narrow::BeyondFrog, to_mm, 1.0), near(Narrow::BeforeFrog, from_mm, -1.0)]
}

/// How far along an open point a wheel that touches its tip continues to touch it, as a fraction of the distance to the
/// frog (no source): no plan is drawn so finely as points are bent.
const ALONG_POINT: f64 = 0.25;

/// The open point of a turnout whose points and frog are one metal, in both positions: it lies at the stock rail of the
/// road that is set.
fn open_points(
    toe: TrackEnd,
    roads: [TrackEnd; 2],
    open_mm: f64,
    frog_mm: f64,
    [set_left, set_right]: [u32; 2],
) -> Vec<Near> {
    let [left, right] = roads;
    let near = |hand: Rail, other: TrackEnd, position: u32| Near {
        narrow: Narrow::OpenPoint,
        rails: [(toe, hand_in(toe, hand), 0.0), (other, hand_out(other, hand), 0.0)],
        positions: vec![position],
        widths_mm: vec![(0.0, open_mm), (ALONG_POINT * frog_mm, open_mm)],
    };
    vec![near(Rail::Left, right, set_left), near(Rail::Right, left, set_right)]
}

/// Width that the back of a wheel needs between two rails, mm: gauge less the least distance between the backs of two
/// wheels less one flange, which is what is left on one side while the other wheel's flange touches its rail.
///
/// Back to back from NMRA S-4.2 (B, least), flanges from NMRA RP-25 (T of the code that goes with the least width of
/// tire there); the gauges that go with them are from memory. In between, and beyond, in proportion.
pub fn back_needs_mm(gauge_mm: f64) -> f64 {
    const NEEDS: [(f64, f64); 6] = [
        (6.5, 6.5 - 5.54 - 0.36),
        (9.0, 9.0 - 7.54 - 0.51),
        (12.0, 12.0 - 10.3 - 0.58),
        (16.5, 16.5 - 14.4 - 0.76),
        (22.4, 22.4 - 20.32 - 0.76),
        (31.75, 31.75 - 28.4 - 1.22),
    ];
    let (mut gauge, mut needs) = (0.0, 0.0);
    for (next_gauge, next_needs) in NEEDS {
        if gauge_mm <= next_gauge {
            return needs + (next_needs - needs) * (gauge_mm - gauge) / (next_gauge - gauge);
        }
        (gauge, needs) = (next_gauge, next_needs);
    }
    needs * gauge_mm / gauge
}

/// Net at a place on a rail.
fn net_at(layout: &Layout, plan: &Plan, (end, rail, from_end_mm): OnRail) -> Option<PlanNet> {
    let long_mm = length_mm(layout, layout.runs.get(&end.run)?);
    // What stands at the very end of a run counts to what lies before it.
    let inside_mm = from_end_mm.max(BEYOND_MM).min(long_mm);
    let at_mm = if end.end == RunEnd::Start { inside_mm } else { long_mm - inside_mm };
    plan.net_of_metal.get(plan.metal.net_at(end.run, rail, at_mm)?).copied().map(PlanNet)
}

/// A vehicle one of whose wheels bridges two rails.
struct Bridging<'a> {
    id: Option<VehicleId>,
    vehicle: &'a Vehicle,
    /// How far it rolls with both, mm.
    stretch_mm: f64,
    /// Width that it needs to touch one of them only, mm.
    needs_mm: f64,
}

/// Largest current at a place in each of its positions, A.
fn at_place(
    view: &View,
    special: &Special,
    vehicles: &[(Option<VehicleId>, &Vehicle)],
    place: &Near,
) -> Vec<(Touch, f64)> {
    let layout = view.layout;
    let Some(&(_, apart_mm)) = place.widths_mm.first() else { return Vec::new() };
    // Beyond a frog the tread of a wheel reaches across: it begins a flange's width from the wheel's back, and the head
    // of the other rail reaches towards it by about as much, so that the width of the whole wheel is what counts.
    // Elsewhere wheels have their backs to the other rail.
    let needs_mm = |vehicle: &Vehicle| match place.narrow {
        Narrow::BeyondFrog => vehicle.tread_mm,
        Narrow::BeforeFrog | Narrow::OpenPoint => back_needs_mm(layout.gauge_mm),
    };
    let bridging: Vec<Bridging> = vehicles
        .iter()
        .filter_map(|&(id, vehicle)| {
            let needs_mm = needs_mm(vehicle);
            let narrow = place.widths_mm.iter().take_while(|(_, width)| *width < needs_mm);
            let stretch_mm = narrow.last()?.0.max(STEP_MM);
            Some(Bridging { id, vehicle, stretch_mm, needs_mm })
        })
        .collect();
    if bridging.is_empty() {
        return Vec::new();
    }
    let points = SelectorId::Points(special.id);
    let mut found = Vec::new();
    for &position in &place.positions {
        let mut positions = Positions::default();
        positions.throw(layout, points, position);
        let now = positions.is_now();
        let there = view.at(positions);
        let plan = &there.plan;
        let [Some(a), Some(b)] = place.rails.map(|rail| net_at(layout, plan, rail)) else {
            continue;
        };
        let Some((situation, drivers, by)) = joined(&there, [a, b], &bridging) else {
            continue;
        };
        let peak_a = situation.peak_a();
        let blocks = plan.blocks.iter();
        let blocks = blocks.filter(|block| drivers.iter().any(|d| block.drivers.contains(d)));
        let kind = match place.narrow {
            Narrow::OpenPoint => Kind::OpenPoint,
            Narrow::BeyondFrog | Narrow::BeforeFrog => Kind::WheelBridgesFrog,
        };
        let (verdict, vehicle) = (situation.verdict, situation.vehicle);
        let evidence = Evidence {
            situation,
            narrow: place.narrow,
            now,
            apart_mm,
            needs_mm: bridging[by].needs_mm,
            stretch_mm: bridging[by].stretch_mm,
        };
        let finding = Found {
            places: vec![Place::Special(special.id)],
            blocks: blocks.map(|block| block.id).collect(),
            positions: vec![vec![SelectorAt { id: points, position }]],
            drivers,
            vehicle,
            ..Found::new(kind, Class::Note, verdict, evidence)
        };
        found.push((finding, peak_a));
    }
    found
}

/// Worst effect of a wheel that joins two nets, at all settings of their drivers, with the drivers and the number of the
/// vehicle. `None` without an effect.
fn joined(
    view: &View,
    [a, b]: [PlanNet; 2],
    bridging: &[Bridging],
) -> Option<(Situation, Vec<DriverId>, usize)> {
    if a == b {
        return None;
    }
    let on = |net: PlanNet| -> BTreeSet<DriverId> {
        view.plan.net(net).legs.iter().map(|leg| leg.driver).collect()
    };
    let (on_a, on_b) = (on(a), on(b));
    let both: Vec<[DriverId; 2]> = on_a.intersection(&on_b).map(|&driver| [driver; 2]).collect();
    let pairs = if both.is_empty() {
        on_a.iter().flat_map(|&x| on_b.iter().map(move |&y| [x, y])).collect()
    } else {
        both
    };
    let mut worst: Option<(Situation, usize)> = None;
    let mut drivers: BTreeSet<DriverId> = BTreeSet::new();
    for sides in pairs.into_iter().take(MOST_PAIRS) {
        let Some((new, by)) = joined_of(view, [a, b], sides, bridging) else { continue };
        drivers.extend(sides);
        let weight = |s: &Situation| (s.verdict, s.peak_a());
        if worst.as_ref().is_none_or(|(old, _)| weight(&new) > weight(old)) {
            worst = Some((new, by));
        }
    }
    let (situation, by) = worst?;
    Some((situation, drivers.into_iter().collect(), by))
}

/// At most so many pairs of drivers are tried on two rails.
const MOST_PAIRS: usize = 16;

/// Effect of a wheel that joins two nets, with one driver on each of them.
fn joined_of(
    view: &View,
    [a, b]: [PlanNet; 2],
    sides: [DriverId; 2],
    bridging: &[Bridging],
) -> Option<(Situation, usize)> {
    let (layout, plan) = (view.layout, &view.plan);
    let nets = [a.min(b), a.max(b)];
    let (wiring, names) =
        Wiring::around(layout, plan, &nets.into(), &sides.into(), Tape::default());
    let (x, y) = (names.nets.of(&nets[0])?, names.nets.of(&nets[1])?);
    let stands = bridging.iter().enumerate().map(|(number, by)| NumericStand {
        vehicle: number,
        groups: vec![NumericGroup {
            touched: [vec![(x, 1), (y, 1)], Vec::new()],
            wheel_ohm: (by.vehicle.contact_ohm.low, by.vehicle.contact_ohm.high),
            loads: Vec::new(),
        }],
        length_mm: by.stretch_mm,
        speed_mm_s: (by.vehicle.speed.from_mm_s, by.vehicle.speed.to_mm_s),
        single_wheel: true,
        wiring_a: None,
    });
    let case = Case {
        sides: [Some(names.drivers.of(&sides[0])?), Some(names.drivers.of(&sides[1])?)],
        stands: stands.collect(),
        ..Case::bare(layout, wiring, &names)
    };
    let stood = bridging.iter().map(|by| StandAt {
        by: Stander { vehicle: by.id, train: None, length_mm: by.vehicle.length_mm },
        facing: Facing::FrontAhead,
        lead_mm: 0.0,
        rolls_mm: by.stretch_mm,
        single_wheel: true,
        groups: vec![GroupAt {
            vehicles: by.id.into_iter().collect(),
            touched: [vec![(nets[0], 1), (nets[1], 1)], Vec::new()],
        }],
        pickups_mm: (0.0, 0.0),
    });
    let around = Surroundings {
        at: CutAt { before: 0, after: 0, block_before: 0, block_after: 0, sign: 1 },
        stands: stood.collect(),
        names,
        footings: Default::default(),
        left_out: 0,
    };
    let result = view.solved(&case);
    let mut worst = result.worst(Relation::Agree);
    worst.merge(&result.worst(Relation::Disagree));
    let evaluated = worst.worst?;
    let by = evaluated.stand?;
    if evaluated.judged.verdict <= Verdict::Clear || evaluated.judged.share <= 0.0 {
        return None;
    }
    Some((situation(plan, &case, &around, &evaluated), by.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn the_back_of_a_wheel_needs_what_the_standards_leave() {
        for (gauge, needs) in [(6.5, 0.6), (9.0, 0.95), (16.5, 1.34), (31.75, 2.13), (63.5, 4.26)] {
            assert_abs_diff_eq!(back_needs_mm(gauge), needs, epsilon = 1e-9);
        }
        assert!((1..500).all(|g| back_needs_mm(f64::from(g) / 10.0) > 0.0));
        // The default opening of points is enough at the default gauge.
        let gauge_mm = Layout::default().gauge_mm;
        assert!(back_needs_mm(gauge_mm) < crate::layout::default_open_mm());
    }
}
