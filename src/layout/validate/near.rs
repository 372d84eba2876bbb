//! What a change of some entities can have spoilt: these are looked at again, and nothing else.
//!
//! Whatever a rule of one entity reads of another must lead from the other to the one here.

use std::collections::BTreeSet;

use super::special;
use crate::layout::model::{EntityId, JointId, Layout, RunId};

/// What can be spoilt by a change of some entities.
pub(super) struct Near {
    /// The entities themselves and all that leans on them.
    pub entities: BTreeSet<EntityId>,
    /// The runs whose lengths those need.
    pub runs: BTreeSet<RunId>,
}

impl Near {
    pub fn new(layout: &Layout, touched: &BTreeSet<EntityId>) -> Self {
        let mut entities = touched.clone();
        let mut runs: BTreeSet<RunId> = BTreeSet::new();
        for run in layout.runs.values() {
            if touched.contains(&run.id.into())
                || touched.contains(&run.from.into())
                || touched.contains(&run.to.into())
            {
                entities.insert(run.id.into());
                runs.insert(run.id);
            }
        }
        for cut in layout.cuts.values() {
            if entities.contains(&cut.run.into()) || touched.contains(&cut.id.into()) {
                entities.insert(cut.id.into());
                runs.insert(cut.run);
            }
        }
        for label in layout.labels.values() {
            if entities.contains(&label.run.into()) || touched.contains(&label.id.into()) {
                entities.insert(label.id.into());
                runs.insert(label.run);
            }
        }
        for driver in layout.drivers.values() {
            if touched.contains(&driver.supply.into()) {
                entities.insert(driver.id.into());
            }
        }
        special::near(layout, touched, &mut entities, &mut runs);
        for feed in layout.feeds.values() {
            if entities.contains(&feed.run.into())
                || touched.contains(&EntityId::from(feed.driver))
                || touched.contains(&feed.id.into())
            {
                entities.insert(feed.id.into());
                runs.insert(feed.run);
            }
        }
        for train in layout.trains.values() {
            if train.vehicles.iter().any(|coupled| touched.contains(&coupled.vehicle.into())) {
                entities.insert(train.id.into());
            }
        }
        for lineup in layout.lineups.values() {
            if lineup.names().any(|id| touched.contains(&id)) {
                entities.insert(lineup.id.into());
            }
        }
        for decision in layout.decisions.values() {
            if decision.lineup.is_some_and(|id| touched.contains(&id.into())) {
                entities.insert(decision.id.into());
            }
        }
        // Cuts near a joint may meet cuts of the run beyond it.
        let joints: BTreeSet<JointId> = runs
            .iter()
            .filter_map(|id| layout.runs.get(id))
            .flat_map(|run| [run.from, run.to])
            .collect();
        runs.extend(
            layout
                .runs
                .values()
                .filter(|run| joints.contains(&run.from) || joints.contains(&run.to))
                .map(|run| run.id),
        );
        Self { entities, runs }
    }
}
