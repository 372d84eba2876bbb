//! Moves, turns and mirrors parts of the plan, with everything on them.

use std::collections::BTreeSet;

use super::change::{Change, not_there};
use super::value::Refused;
use crate::layout::model::{
    Bond, Cut, Entity, Feed, Joint, JointId, Label, Layout, Rail, Run, RunId, Shape, Spot, Work,
    entity,
};
use crate::track::plane::Turn;
use crate::units::Point;

impl Change<'_> {
    /// Takes joints elsewhere, with the control points of the runs between two of them.
    pub(super) fn carry(
        &mut self,
        joints: Vec<JointId>,
        to: impl Fn(Point) -> Point,
        mirrored: bool,
    ) -> Result<BTreeSet<RunId>, Refused> {
        let joints: BTreeSet<JointId> = joints.into_iter().collect();
        if let Some(&missing) = joints.iter().find(|id| !self.layout.joints.contains_key(id)) {
            return Err(not_there(missing));
        }
        let touched = self.runs_at(&joints);
        let mut whole = BTreeSet::new();
        self.keeping_places(&touched, |change| {
            for id in &joints {
                if let Some(joint) = change.layout.joints.get(id).cloned() {
                    let (x_mm, y_mm) = to((joint.x_mm, joint.y_mm));
                    change.put(Joint { x_mm, y_mm, ..joint });
                }
            }
            for id in &touched {
                let Some(run) = change.layout.runs.get(id).cloned() else { continue };
                if !(joints.contains(&run.from) && joints.contains(&run.to)) {
                    continue;
                }
                whole.insert(*id);
                let shape = match run.shape {
                    Shape::Cubic { c1, c2 } => Shape::Cubic { c1: to(c1), c2: to(c2) },
                    Shape::Arc { bend_deg } if mirrored => Shape::Arc { bend_deg: -bend_deg },
                    shape => shape,
                };
                if shape != run.shape {
                    change.put(Run { shape, ..run });
                }
            }
        });
        Ok(whole)
    }

    pub(super) fn turn(&mut self, joints: Vec<JointId>, turn: Turn) -> Result<(), Refused> {
        let whole = self.carry(joints, |at| turn.place(at), turn.mirrored)?;
        if turn.mirrored {
            self.flip(&whole, |_, at_mm| at_mm, false);
        }
        let turntables = self.layout.specials.values().cloned().collect::<Vec<_>>();
        for mut special in turntables {
            if let Work::Turntable { bridge, exchange_deg: Some(from_deg), .. } = &mut special.work
                && whole.contains(bridge)
            {
                // Mirrored, the half circle that began at this heading ends at the mirrored one.
                let mirrored = if turn.mirrored { -*from_deg } else { *from_deg };
                *from_deg = (mirrored + turn.turn_deg).rem_euclid(360.0);
                self.put(special);
            }
        }
        Ok(())
    }

    /// Exchanges left and right of everything that stands on these runs, and gives it the place that `at` says. With
    /// `reversed` the runs' distances are counted from their other ends.
    pub(super) fn flip(
        &mut self,
        runs: &BTreeSet<RunId>,
        at: impl Fn(RunId, f64) -> f64,
        reversed: bool,
    ) {
        let mut new: Vec<Entity> = Vec::new();
        for cut in self.layout.cuts.values().filter(|cut| runs.contains(&cut.run)) {
            // Counted from the same end, the cut of the rail that is the left one now was that of the right one.
            let left_mm = at(cut.run, cut.at_mm + cut.stagger_mm);
            let stagger_mm =
                if reversed || cut.stagger_mm == 0.0 { cut.stagger_mm } else { -cut.stagger_mm };
            let rails = cut.rails.flipped();
            new.push(Cut { rails, at_mm: left_mm, stagger_mm, ..cut.clone() }.into());
        }
        for feed in self.layout.feeds.values().filter(|feed| runs.contains(&feed.run)) {
            let (p, m) = (feed.p.map(Rail::other), feed.m.map(Rail::other));
            new.push(Feed { at_mm: at(feed.run, feed.at_mm), p, m, ..feed.clone() }.into());
        }
        for label in self.layout.labels.values().filter(|label| runs.contains(&label.run)) {
            new.push(Label { at_mm: at(label.run, label.at_mm), ..label.clone() }.into());
        }
        let spot = |spot: Spot| match runs.contains(&spot.run) {
            true => Spot { at_mm: at(spot.run, spot.at_mm), rail: spot.rail.other(), ..spot },
            false => spot,
        };
        for bond in self.layout.bonds.values() {
            new.push(Bond { from: spot(bond.from), to: spot(bond.to), ..bond.clone() }.into());
        }
        for special in self.layout.specials.values() {
            let mut special = special.clone();
            for source in special.contact.sources.iter_mut().flatten() {
                *source = spot(*source);
            }
            new.push(special.into());
        }
        for entity in new {
            if entity_differs(self.layout, &entity) {
                self.put(entity);
            }
        }
    }
}

fn entity_differs(layout: &Layout, new: &Entity) -> bool {
    entity(layout, new.id()).as_ref() != Some(new)
}
