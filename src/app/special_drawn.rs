//! What the canvas needs of special work, worked out once per change of the layout.

use std::collections::BTreeMap;

use super::camera::World;
use crate::layout::geometry::Pose;
use crate::layout::{
    FIRST_FROG, Layout, Rail, RunEnd, RunId, Special, SpecialId, TrackEnd, Work, geometry, roads,
};
use crate::rails::anatomy::{hand_in, hand_out};
use crate::rails::{Plan, Polarity};

/// A frog: its place, its polarity now, and the way in which it points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrogMark {
    /// Place, mm.
    pub at: World,
    /// Unit vector along the track.
    pub along: World,
    /// Polarity now.
    pub polarity: Polarity,
}

/// A rail whose end at the joint stands off the stock rail: an open point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OpenPoint {
    /// The end of the run at which it is.
    pub end: RunEnd,
    /// So long is it, mm.
    pub long_mm: f64,
    /// So far it stands off at its tip, mm.
    pub open_mm: f64,
}

/// A slip rail: from one road to the other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SlipRoad {
    /// Where it leaves one road and where it joins the other; both point along the way.
    pub ends: [Pose; 2],
    /// Whether the points are set for it.
    pub set: bool,
    /// Polarity of its left and right rail.
    pub polarity: [Polarity; 2],
}

/// Special work as it is drawn.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Drawn {
    /// Its place, mm: the points, the middle of the bridge as it stands, the end of track.
    pub at: World,
    /// Unit vector from the toe into the roads, or along the track.
    pub along: World,
    /// The roads that are set, as stretches of runs from the joint on: end of the run, length.
    pub set: Vec<(TrackEnd, f64)>,
    /// The roads that are not.
    pub not_set: Vec<(TrackEnd, f64)>,
    /// How far it reaches from its place, mm.
    pub reach_mm: f64,
    /// Frogs.
    pub frogs: Vec<FrogMark>,
    /// Slip rails.
    pub slips: Vec<SlipRoad>,
    /// Middle and half length of a bridge, where it is drawn: the pit.
    pub pit: Option<(World, f64)>,
    /// Where the roads end at a pit, mm.
    pub roads: Vec<World>,
}

/// Special work by identity, and the open points by run and rail.
#[derive(Debug, Clone, Default)]
pub struct SpecialsDrawn {
    /// Special work.
    pub specials: BTreeMap<SpecialId, Drawn>,
    /// Open points.
    pub open: BTreeMap<(RunId, Rail), Vec<OpenPoint>>,
}

/// Works it out.
pub fn specials_drawn(layout: &Layout, plan: &Plan, polarity: &[Polarity]) -> SpecialsDrawn {
    let mut all = SpecialsDrawn::default();
    for special in layout.specials.values() {
        let making = Making { layout, plan, polarity, special };
        if let Some(drawn) = making.drawn(&mut all.open) {
            all.specials.insert(special.id, drawn);
        }
    }
    all
}

struct Making<'a> {
    layout: &'a Layout,
    plan: &'a Plan,
    polarity: &'a [Polarity],
    special: &'a Special,
}

impl Making<'_> {
    fn length(&self, run: RunId) -> f64 {
        self.layout.runs.get(&run).map_or(0.0, |run| geometry::length_mm(self.layout, run))
    }

    fn along_run(&self, end: TrackEnd, from_end_mm: f64) -> f64 {
        match end.end {
            RunEnd::Start => from_end_mm,
            RunEnd::End => self.length(end.run) - from_end_mm,
        }
    }

    fn polarity_at(&self, end: TrackEnd, rail: Rail, from_end_mm: f64) -> Polarity {
        let at = self.along_run(end, from_end_mm);
        let metal = &self.plan.metal;
        metal
            .net_at(end.run, rail, at)
            .and_then(|net| self.plan.net_of_metal.get(net))
            .and_then(|net| self.polarity.get(*net))
            .copied()
            .unwrap_or_default()
    }

    /// A point on a rail of a road, so far from its end. `hand` is that of somebody who leaves along the road.
    fn rail_point(&self, end: TrackEnd, hand: Rail, from_end_mm: f64) -> Option<World> {
        let pose = roads::away_from(self.layout, end, from_end_mm)?;
        let half = self.layout.gauge_mm / 2.0;
        Some(pose.left_by(if hand == Rail::Left { half } else { -half }))
    }

    fn drawn(&self, open: &mut BTreeMap<(RunId, Rail), Vec<OpenPoint>>) -> Option<Drawn> {
        match &self.special.work {
            Work::Turnout { toe, exits, .. } => self.turnout(*toe, exits, open),
            Work::Diamond { roads, .. } => self.crossing(roads, false),
            Work::Slip { roads, .. } => self.crossing(roads, true),
            Work::Turntable { bridge, roads, .. } | Work::Traverser { bridge, roads } => {
                self.bridge(*bridge, roads)
            }
            Work::Buffer { end } => {
                let pose = roads::away_from(self.layout, *end, 0.0)?;
                let at = (pose.x_mm, pose.y_mm);
                Some(Drawn { at, along: (-pose.dx, -pose.dy), ..Drawn::default() })
            }
        }
    }

    fn turnout(
        &self,
        toe: TrackEnd,
        exits: &[TrackEnd],
        open: &mut BTreeMap<(RunId, Rail), Vec<OpenPoint>>,
    ) -> Option<Drawn> {
        let Work::Turnout { frog_mm, open_mm, .. } = self.special.work else { return None };
        let back = roads::away_from(self.layout, toe, 0.0)?;
        let reach = self.special.work.reach_mm();
        let order = roads::left_to_right(self.layout, toe, exits, reach);
        let last = order.len().checked_sub(1)?;
        let set = *exits.get(self.special.position as usize)?;
        let mut drawn = Drawn {
            at: (back.x_mm, back.y_mm),
            along: (-back.dx, -back.dy),
            set: vec![(toe, reach * 0.4), (set, reach)],
            reach_mm: reach,
            not_set: exits.iter().filter(|exit| **exit != set).map(|&exit| (exit, reach)).collect(),
            ..Drawn::default()
        };
        let middle = |i: usize, j: usize| {
            frog_mm * if last == 2 && (i, j) == (0, 2) { FIRST_FROG } else { 1.0 }
        };
        for i in 0..=last {
            let road = exits[order[i]];
            for j in i + 1..=last {
                let other = exits[order[j]];
                let far = middle(i, j);
                let (a, b) = (
                    self.rail_point(road, Rail::Right, far)?,
                    self.rail_point(other, Rail::Left, far)?,
                );
                let along = roads::away_from(self.layout, road, far)?;
                drawn.frogs.push(FrogMark {
                    at: (f64::midpoint(a.0, b.0), f64::midpoint(a.1, b.1)),
                    along: (along.dx, along.dy),
                    polarity: self.polarity_at(road, hand_out(road, Rail::Right), far),
                });
            }
            if road == set {
                continue;
            }
            for hand in [Rail::Right, Rail::Left] {
                let inner = if hand == Rail::Right { i < last } else { i > 0 };
                if inner {
                    let point = OpenPoint { end: road.end, long_mm: frog_mm * 0.55, open_mm };
                    open.entry((road.run, hand_out(road, hand))).or_default().push(point);
                }
            }
        }
        Some(drawn)
    }

    fn crossing(&self, crossing: &[[TrackEnd; 2]; 2], slip: bool) -> Option<Drawn> {
        let (Work::Diamond { frog_mm, .. } | Work::Slip { frog_mm, .. }) = self.special.work else {
            return None;
        };
        let (sine, _) = roads::crossing_angle(self.layout, crossing)?;
        // The road that comes from the left has the end frogs on its right on the way in, on its left on the way out.
        let a = if sine > 0.0 { 0 } else { 1 };
        let reach = self.special.work.reach_mm();
        let here = roads::away_from(self.layout, crossing[0][1], 0.0)?;
        let there = roads::away_from(self.layout, crossing[1][1], 0.0)?;
        let sum = (here.dx + there.dx, here.dy + there.dy);
        let size = sum.0.hypot(sum.1);
        let along = if size > 1e-9 { (sum.0 / size, sum.1 / size) } else { (here.dx, here.dy) };
        let at = (here.x_mm, here.y_mm);
        let mut drawn = Drawn { at, along, reach_mm: reach, ..Drawn::default() };
        let position = self.special.position;
        for (n, road) in crossing.iter().enumerate() {
            let through = self.special.work.positions() == 1 || position == n as u32;
            let list = if through { &mut drawn.set } else { &mut drawn.not_set };
            list.extend(road.map(|end| (end, reach)));
        }
        // Who comes in has the rails of the first ends on these hands, seen by who leaves along the run.
        let frog = |end: TrackEnd, hand_leaving: Rail| {
            Some(FrogMark {
                at: self.rail_point(end, hand_leaving, frog_mm)?,
                along,
                polarity: self.polarity_at(end, hand_out(end, hand_leaving), frog_mm),
            })
        };
        drawn.frogs.push(frog(crossing[a][0], Rail::Left)?);
        drawn.frogs.push(frog(crossing[a][1], Rail::Left)?);
        // The two in the middle lie where the rails of one hand cross.
        let half_cosine =
            f64::midpoint(1.0, here.dx * there.dx + here.dy * there.dy).max(0.0).sqrt();
        let aside = self.layout.gauge_mm / 2.0 / half_cosine.max(0.1);
        for (hand, side) in [(Rail::Left, aside), (Rail::Right, -aside)] {
            let end = crossing[0][0];
            drawn.frogs.push(FrogMark {
                at: (drawn.at.0 - along.1 * side, drawn.at.1 + along.0 * side),
                along,
                polarity: self.polarity_at(end, hand_in(end, hand), 0.0),
            });
        }
        if slip {
            let pairs = [(crossing[0][0], crossing[1][1]), (crossing[1][0], crossing[0][1])];
            let double = self.special.work.positions() == 4;
            for (n, (from, to)) in pairs.into_iter().take(if double { 2 } else { 1 }).enumerate() {
                let far = frog_mm * 0.9;
                let (enter, leave) = (
                    roads::away_from(self.layout, from, far)?,
                    roads::away_from(self.layout, to, far)?,
                );
                let enter = Pose { dx: -enter.dx, dy: -enter.dy, ..enter };
                let beyond = reach + 0.01;
                drawn.slips.push(SlipRoad {
                    ends: [enter, leave],
                    set: position == 2 + n as u32,
                    polarity: [Rail::Left, Rail::Right]
                        .map(|hand| self.polarity_at(from, hand_in(from, hand), beyond)),
                });
            }
        }
        Some(drawn)
    }

    fn bridge(&self, bridge: RunId, ends: &[TrackEnd]) -> Option<Drawn> {
        let stand = roads::stand(self.layout, self.special, self.special.position)?;
        let place = |end: TrackEnd| {
            let joint = self.layout.joints.get(&roads::joint_of(self.layout, end)?)?;
            Some((joint.x_mm, joint.y_mm))
        };
        let start = place(TrackEnd { run: bridge, end: RunEnd::Start })?;
        let half = (start.0 - stand.centre.0).hypot(start.1 - stand.centre.1);
        let (from, at) = (stand.place(start), stand.place(stand.centre));
        let along =
            if half > 1e-9 { ((at.0 - from.0) / half, (at.1 - from.1) / half) } else { (1.0, 0.0) };
        let roads: Vec<World> = ends.iter().filter_map(|&end| place(end)).collect();
        Some(Drawn {
            at,
            along,
            pit: Some((stand.centre, half)),
            // A traverser's pit is wider than its bridge is long.
            reach_mm: roads.iter().map(|r| (r.0 - at.0).hypot(r.1 - at.1)).fold(half, f64::max),
            roads,
            ..Drawn::default()
        })
    }
}
