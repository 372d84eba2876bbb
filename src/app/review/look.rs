//! The part of the plan that a finding is looked at on.

use super::super::App;
use super::super::camera::World;
use super::super::derived::Derived;
use super::super::rounds;
use crate::findings::{Finding, Place};
use crate::layout::EntityId;

/// Least width and height of what is looked at, mm: a gap with the points and the names around it.
const LEAST_MM: f64 = 500.0;
/// Size of the view against the places themselves.
const AROUND: f64 = 2.2;

/// Selects the things that a finding is about.
pub(super) fn select(app: &mut App, finding: &Finding) {
    let on_track = finding.places.iter().filter_map(|place| match *place {
        Place::Cut(id) => Some(EntityId::Cut(id)),
        Place::Special(id) => Some(EntityId::Special(id)),
        Place::Stretch { run, .. } => Some(EntityId::Run(run)),
        Place::Block(_) => None,
    });
    let on_track: Vec<EntityId> = on_track.collect();
    let blocks =
        finding.blocks.iter().flat_map(|id| app.derived.plan.blocks.iter().filter(|b| b.id == *id));
    let runs =
        blocks.flat_map(|block| &block.pieces).map(|at| app.derived.plan.pieces[*at].run.into());
    let runs: Vec<EntityId> = runs.collect();
    // What is to be changed, as a feeder, is marked too; what is nowhere on the track by its driver.
    let things = finding.things.iter().copied().filter(|id| matches!(id, EntityId::Feed(_)));
    let drivers = || finding.drivers.iter().map(|id| EntityId::Driver(*id)).collect();
    app.selection = match (on_track.is_empty(), runs.is_empty()) {
        (false, _) => on_track.into_iter().chain(things).collect(),
        (true, false) => runs,
        (true, true) => drivers(),
    };
    app.cell = None;
}

/// Shows all places of a finding at once, as large as they fit; without a place the whole layout.
pub(super) fn at(app: &mut App, finding: &Finding) {
    let loops = rounds::bounds(&app.derived, rounds::of(finding));
    match loops.or_else(|| corners(app)) {
        Some((low, high)) => {
            let (low, high) = wider(low, high);
            app.camera.fit(app.canvas, low, high);
        }
        None => app.fit_wanted = true,
    }
}

/// The corners of what is selected.
fn corners(app: &App) -> Option<(World, World)> {
    let layout = app.doc.layout();
    let boxes = app.selection.iter().filter_map(|id| match id {
        EntityId::Run(run) => app.derived.boxes.get(run).copied(),
        other => app.derived.place(layout, *other).map(|at| (at, at)),
    });
    Derived::hull(boxes)
}

/// A box that is no smaller than what tells where one is.
fn wider(low: World, high: World) -> (World, World) {
    let side = |low: f64, high: f64| {
        let half = ((high - low) * AROUND).max(LEAST_MM) / 2.0;
        let middle = f64::midpoint(low, high);
        (middle - half, middle + half)
    };
    let ((left, right), (below, above)) = (side(low.0, high.0), side(low.1, high.1));
    ((left, below), (right, above))
}
