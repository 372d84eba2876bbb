//! What the canvas needs again and again, worked out once per change of the layout.

use std::collections::BTreeMap;

use super::blocks::BlockLooks;
use super::camera::World;
use super::nets::{RunNets, run_nets};
use super::special_drawn::{SpecialsDrawn, specials_drawn};
use crate::layout::geometry::{self, Curve};
use crate::layout::roads::{self, Stand};
use crate::layout::{EntityId, JointId, Layout, Rail, Run, RunId, Shape};
use crate::rails::{Plan, polarity_now};

/// Geometry and nets of one state of the layout.
#[derive(Debug, Default)]
pub struct Derived {
    /// Nets and blocks.
    pub plan: Plan,
    /// The look of each block.
    pub looks: BlockLooks,
    /// Centre lines.
    pub curves: BTreeMap<RunId, Curve>,
    /// Boxes around the centre lines: least and largest corner, mm.
    pub boxes: BTreeMap<RunId, (World, World)>,
    /// Blocks and polarity.
    pub nets: BTreeMap<RunId, RunNets>,
    /// Where each rail of a run is cut, mm along it: left rail, right rail.
    pub cut_at: BTreeMap<RunId, [Vec<f64>; 2]>,
    /// Where each rail is broken by special work: left rail, right rail.
    pub broken_at: BTreeMap<RunId, [Vec<f64>; 2]>,
    /// Width of the widest cut of a run, mm.
    pub gap_mm: BTreeMap<RunId, f64>,
    /// How many runs end at a joint.
    pub ends: BTreeMap<JointId, usize>,
    /// Special work.
    pub special: SpecialsDrawn,
    /// Joints of bridges, which stand where their position puts them.
    pub bridge_joints: BTreeMap<JointId, World>,
}

impl Derived {
    /// Derives it from a layout. Blocks keep the looks that they had before.
    pub fn after(layout: &Layout, before: &Self) -> Self {
        let plan = Plan::derive(layout);
        let polarity = polarity_now(layout, &plan);
        let mut derived = Self {
            nets: run_nets(&plan, &polarity),
            special: specials_drawn(layout, &plan, &polarity),
            ..Self::default()
        };
        let was = (&before.nets, &before.looks);
        derived.looks = BlockLooks::assign(layout, &derived.nets, plan.blocks.len(), was);
        for (_, spot) in &plan.metal.breaks {
            let both = derived.broken_at.entry(spot.run).or_default();
            both[usize::from(spot.rail == Rail::Right)].push(spot.at_mm);
        }
        let stands: BTreeMap<RunId, Stand> = layout
            .specials
            .values()
            .filter_map(|special| {
                let stand = roads::stand(layout, special, special.position)?;
                Some((special.work.bridge()?, stand))
            })
            .collect();
        for (id, run) in &layout.runs {
            let curve = match stands.get(id) {
                Some(stand) => {
                    let (bridge, run) = stood(layout, run, stand);
                    derived
                        .bridge_joints
                        .extend(bridge.joints.values().map(|j| (j.id, (j.x_mm, j.y_mm))));
                    geometry::curve(&bridge, &run)
                }
                None => geometry::curve(layout, run),
            };
            let mut low = (f64::INFINITY, f64::INFINITY);
            let mut high = (f64::NEG_INFINITY, f64::NEG_INFINITY);
            for pose in curve.outline(0.0, curve.length_mm(), 5.0) {
                low = (low.0.min(pose.x_mm), low.1.min(pose.y_mm));
                high = (high.0.max(pose.x_mm), high.1.max(pose.y_mm));
            }
            for joint in [run.from, run.to] {
                *derived.ends.entry(joint).or_default() += 1;
            }
            derived.boxes.insert(*id, (low, high));
            derived.curves.insert(*id, curve);
        }
        for cut in layout.cuts.values() {
            let widest = derived.gap_mm.entry(cut.run).or_default();
            *widest = widest.max(cut.width_mm);
            let both = derived.cut_at.entry(cut.run).or_default();
            for rail in Rail::BOTH {
                if cut.rails.has(rail) {
                    let shift = if rail == Rail::Right { cut.stagger_mm } else { 0.0 };
                    both[usize::from(rail == Rail::Right)].push(cut.at_mm + shift);
                }
            }
        }
        derived.plan = plan;
        derived
    }

    /// The place of an entity on the plan, if it has one.
    pub fn place(&self, layout: &Layout, id: EntityId) -> Option<World> {
        let on_run = |run: RunId, at_mm: f64| {
            let pose = self.curves.get(&run)?.at(at_mm);
            Some((pose.x_mm, pose.y_mm))
        };
        match id {
            EntityId::Joint(j) => self.joint(layout, j),
            EntityId::Run(r) => on_run(r, self.curves.get(&r)?.length_mm() / 2.0),
            EntityId::Cut(c) => layout.cuts.get(&c).and_then(|c| on_run(c.run, c.at_mm)),
            EntityId::Feed(f) => layout.feeds.get(&f).and_then(|f| on_run(f.run, f.at_mm)),
            EntityId::Label(n) => layout.labels.get(&n).and_then(|n| on_run(n.run, n.at_mm)),
            EntityId::Special(w) => self.special.specials.get(&w).map(|drawn| drawn.at),
            EntityId::Bond(y) => {
                layout.bonds.get(&y).and_then(|y| on_run(y.from.run, y.from.at_mm))
            }
            EntityId::Picture(p) => layout.pictures.get(&p).map(|p| {
                let (width, height) = p.extent(None);
                p.place((width / 2.0, height / 2.0))
            }),
            EntityId::Supply(_)
            | EntityId::Driver(_)
            | EntityId::Vehicle(_)
            | EntityId::Device(_)
            | EntityId::Train(_)
            | EntityId::Lineup(_)
            | EntityId::Decision(_) => None,
        }
    }

    /// The place of a joint, mm.
    pub fn joint(&self, layout: &Layout, id: JointId) -> Option<World> {
        let stood = self.bridge_joints.get(&id).copied();
        stood.or_else(|| layout.joints.get(&id).map(|j| (j.x_mm, j.y_mm)))
    }

    /// The corners of everything drawn.
    pub fn bounds(&self) -> Option<(World, World)> {
        Self::hull(self.boxes.values().copied())
    }

    /// The box around boxes.
    pub fn hull(boxes: impl Iterator<Item = (World, World)>) -> Option<(World, World)> {
        boxes.reduce(|(a, b), (c, d)| ((a.0.min(c.0), a.1.min(c.1)), (b.0.max(d.0), b.1.max(d.1))))
    }
}

/// A bridge's run where its position puts it: a layout of its two joints, and the run.
fn stood(layout: &Layout, run: &Run, stand: &Stand) -> (Layout, Run) {
    let mut bridge = Layout::default();
    for joint in [run.from, run.to].iter().filter_map(|id| layout.joints.get(id)) {
        let (x_mm, y_mm) = stand.place((joint.x_mm, joint.y_mm));
        bridge.joints.insert(joint.id, crate::layout::Joint { x_mm, y_mm, ..joint.clone() });
    }
    let shape = match run.shape {
        Shape::Cubic { c1, c2 } => Shape::Cubic { c1: stand.place(c1), c2: stand.place(c2) },
        shape => shape,
    };
    (bridge, Run { shape, ..run.clone() })
}
