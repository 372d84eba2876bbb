//! What the canvas needs again and again, worked out once per change of the layout.

use std::collections::BTreeMap;

use super::camera::World;
use super::nets::{RunNets, run_nets};
use crate::layout::geometry::{self, Curve};
use crate::layout::{EntityId, Layout, Rail, RunId};

/// Geometry and nets of one state of the layout.
#[derive(Debug, Default)]
pub struct Derived {
    /// Centre lines.
    pub curves: BTreeMap<RunId, Curve>,
    /// Boxes around the centre lines: least and largest corner, mm.
    pub boxes: BTreeMap<RunId, (World, World)>,
    /// Blocks and polarity.
    pub nets: BTreeMap<RunId, RunNets>,
    /// Where each rail of a run is cut, mm along it: left rail, right rail.
    pub cut_at: BTreeMap<RunId, [Vec<f64>; 2]>,
}

impl Derived {
    /// Works it out.
    pub fn of(layout: &Layout) -> Self {
        let mut derived = Self { nets: run_nets(layout), ..Self::default() };
        for (id, run) in &layout.runs {
            let curve = geometry::curve(layout, run);
            let mut low = (f64::INFINITY, f64::INFINITY);
            let mut high = (f64::NEG_INFINITY, f64::NEG_INFINITY);
            for pose in curve.outline(0.0, curve.length_mm(), 5.0) {
                low = (low.0.min(pose.x_mm), low.1.min(pose.y_mm));
                high = (high.0.max(pose.x_mm), high.1.max(pose.y_mm));
            }
            derived.boxes.insert(*id, (low, high));
            derived.curves.insert(*id, curve);
        }
        for cut in layout.cuts.values() {
            let both = derived.cut_at.entry(cut.run).or_default();
            for rail in Rail::BOTH {
                if cut.rails.has(rail) {
                    let shift = if rail == Rail::Right { cut.stagger_mm } else { 0.0 };
                    both[usize::from(rail == Rail::Right)].push(cut.at_mm + shift);
                }
            }
        }
        derived
    }

    /// The place of an entity on the plan, if it has one.
    pub fn place(&self, layout: &Layout, id: EntityId) -> Option<World> {
        let on_run = |run: RunId, at_mm: f64| {
            let pose = self.curves.get(&run)?.at(at_mm);
            Some((pose.x_mm, pose.y_mm))
        };
        match id {
            EntityId::Joint(j) => layout.joints.get(&j).map(|j| (j.x_mm, j.y_mm)),
            EntityId::Run(r) => on_run(r, self.curves.get(&r)?.length_mm() / 2.0),
            EntityId::Cut(c) => layout.cuts.get(&c).and_then(|c| on_run(c.run, c.at_mm)),
            EntityId::Feed(f) => layout.feeds.get(&f).and_then(|f| on_run(f.run, f.at_mm)),
            EntityId::Label(n) => layout.labels.get(&n).and_then(|n| on_run(n.run, n.at_mm)),
            EntityId::Special(w) => {
                let end = *layout.specials.get(&w)?.work.ends().first()?;
                let joint = layout.joints.get(&crate::layout::roads::joint_of(layout, end)?)?;
                Some((joint.x_mm, joint.y_mm))
            }
            EntityId::Bond(y) => {
                layout.bonds.get(&y).and_then(|y| on_run(y.from.run, y.from.at_mm))
            }
            EntityId::Supply(_)
            | EntityId::Driver(_)
            | EntityId::Vehicle(_)
            | EntityId::Device(_)
            | EntityId::Train(_) => None,
        }
    }

    /// The corners of everything drawn.
    pub fn bounds(&self) -> Option<(World, World)> {
        self.boxes
            .values()
            .copied()
            .reduce(|(a, b), (c, d)| ((a.0.min(c.0), a.1.min(c.1)), (b.0.max(d.0), b.1.max(d.1))))
    }
}
