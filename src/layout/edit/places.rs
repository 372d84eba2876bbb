//! Things that stay where they are while the runs under them change.

use std::collections::{BTreeMap, BTreeSet};

use super::change::Change;
use crate::layout::model::{Bond, Cut, Entity, Feed, JointId, Label, RunId, Spot};
use crate::track::curve::length_mm;

impl Change<'_> {
    pub(super) fn runs_at(&self, joints: &BTreeSet<JointId>) -> Vec<RunId> {
        self.layout
            .runs
            .values()
            .filter(|run| joints.contains(&run.from) || joints.contains(&run.to))
            .map(|run| run.id)
            .collect()
    }

    /// Makes a change to runs; what stands on a run whose length changed by it keeps its share of the length.
    pub(super) fn keeping_places(&mut self, runs: &[RunId], change: impl FnOnce(&mut Self)) {
        let length =
            |now: &Self, id: &RunId| now.layout.runs.get(id).map(|run| length_mm(now.layout, run));
        let before: Vec<Option<f64>> = runs.iter().map(|id| length(self, id)).collect();
        change(self);
        let mut stretched: BTreeMap<RunId, (f64, f64)> = BTreeMap::new();
        for (id, before) in runs.iter().zip(before) {
            if let (Some(before), Some(now)) = (before, length(self, id))
                && before != now
            {
                stretched.insert(*id, (before, now));
            }
        }
        if stretched.is_empty() {
            return;
        }
        self.anchor_again(|run, at_mm| {
            let &(before, now) = stretched.get(&run)?;
            // Moving a plan about changes lengths in the last digit only; distances that people typed stay as typed.
            if (before - now).abs() <= 1e-9 * before && at_mm <= now {
                return None;
            }
            let at_mm = if at_mm >= before { now } else { (at_mm * (now / before)).min(now) };
            Some((run, at_mm))
        });
    }

    /// Gives cuts, feeds and labels new places where `place` gives one for their run and distance.
    pub(super) fn anchor_again(&mut self, place: impl Fn(RunId, f64) -> Option<(RunId, f64)>) {
        let mut moved: Vec<Entity> = Vec::new();
        for cut in self.layout.cuts.values() {
            if let Some((run, at_mm)) = place(cut.run, cut.at_mm) {
                moved.push(Cut { run, at_mm, ..cut.clone() }.into());
            }
        }
        for feed in self.layout.feeds.values() {
            if let Some((run, at_mm)) = place(feed.run, feed.at_mm) {
                moved.push(Feed { run, at_mm, ..feed.clone() }.into());
            }
        }
        for label in self.layout.labels.values() {
            if let Some((run, at_mm)) = place(label.run, label.at_mm) {
                moved.push(Label { run, at_mm, ..label.clone() }.into());
            }
        }
        let spot = |spot: Spot| {
            place(spot.run, spot.at_mm).map_or(spot, |(run, at_mm)| Spot { run, at_mm, ..spot })
        };
        for bond in self.layout.bonds.values() {
            let new = Bond { from: spot(bond.from), to: spot(bond.to), ..bond.clone() };
            if new != *bond {
                moved.push(new.into());
            }
        }
        for special in self.layout.specials.values() {
            let mut new = special.clone();
            for source in new.contact.sources.iter_mut().flatten() {
                *source = spot(*source);
            }
            if new != *special {
                moved.push(new.into());
            }
        }
        for entity in moved {
            self.put(entity);
        }
    }
}
