//! What lies under the pointer, and where a click would put something.

use eframe::egui::Pos2;

use super::super::App;
use super::super::camera::World;
use super::super::labels::{Anchor, Key, Placed};
use crate::layout::edit::End;
use crate::layout::geometry::{tenths, thousandths};
use crate::layout::{EntityId, Layout, Rail, RunEnd, RunId, SpecialId, Spot, TrackEnd, roads};
use crate::report::{INCH_MM, Units};

/// How near the pointer must be to a thing, points.
const REACH: f32 = 9.0;
/// How near to a joint a place snaps to it, points.
pub(super) const SNAP: f32 = 12.0;

/// What lies under the pointer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hit {
    /// The thing.
    pub id: EntityId,
    /// Distance along the run, if it is a run or on one, mm.
    pub at_mm: f64,
}

/// The nearest place on the grid.
pub fn on_grid(app: &App, at: World) -> World {
    let step = app.camera.grid_mm(10.0);
    ((at.0 / step).round() * step, (at.1 / step).round() * step)
}

/// What lies under the pointer, a picture that is not locked if nothing else.
pub(super) fn hit_or_picture(app: &App, at: Pos2) -> Option<Hit> {
    hit(app, at).or_else(|| {
        let picture = app.picture_at(app.camera.to_world(app.canvas, at), false)?;
        Some(Hit { id: picture.id.into(), at_mm: 0.0 })
    })
}

/// Place of an end on the plan.
pub fn end_place(layout: &Layout, end: End) -> Option<World> {
    match end {
        End::At(joint) => layout.joints.get(&joint).map(|j| (j.x_mm, j.y_mm)),
        End::New(x, y) => Some((x, y)),
    }
}

/// Where a click lays an end: a joint that is near, else the grid; with `steps` on a ray of a multiple of 45°.
pub fn snap(app: &App, at: Pos2, steps: bool) -> (End, World) {
    let layout = app.doc.layout();
    let near = layout
        .joints
        .values()
        .map(|j| {
            let place = (j.x_mm, j.y_mm);
            (app.camera.to_screen(app.canvas, place).distance(at), j.id, place)
        })
        .filter(|(distance, ..)| *distance <= SNAP)
        .min_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((_, joint, place)) = near {
        return (End::At(joint), place);
    }
    let mut world = app.camera.to_world(app.canvas, at);
    let from = app.tools.lay.from.and_then(|end| end_place(layout, end));
    if let (true, Some(from)) = (steps, from) {
        let (dx, dy) = (world.0 - from.0, world.1 - from.1);
        let eighth = std::f64::consts::FRAC_PI_4;
        let angle = (dy.atan2(dx) / eighth).round() * eighth;
        let mut length = dx * angle.cos() + dy * angle.sin();
        if app.tools.snap {
            let step = app.camera.grid_mm(10.0);
            length = (length / step).round() * step;
        }
        let at = (from.0 + length * angle.cos(), from.1 + length * angle.sin());
        world = (thousandths(at.0), thousandths(at.1));
    } else if app.tools.snap {
        world = on_grid(app, world);
    } else {
        world = (tenths(world.0), tenths(world.1));
    }
    (End::New(world.0, world.1), world)
}

/// The nearest whole mm, or sixteenth of an inch.
pub(super) fn round_length(app: &App, mm: f64) -> f64 {
    let step = if app.camera.units == Units::Imperial { INCH_MM / 16.0 } else { 1.0 };
    (mm / step).round() * step
}

/// The run under the pointer and the distance along it; whole mm while snapping.
pub fn run_at(app: &App, at: Pos2) -> Option<(RunId, f64)> {
    let (run, at_mm, _) = nearest_run(app, at)?;
    let length = app.derived.curves.get(&run)?.length_mm();
    let at_mm = if app.tools.snap { round_length(app, at_mm).min(length) } else { at_mm };
    Some((run, at_mm))
}

pub(super) fn nearest_run(app: &App, at: Pos2) -> Option<(RunId, f64, f32)> {
    let world = app.camera.to_world(app.canvas, at);
    let half_gauge = app.doc.layout().gauge_mm / 2.0;
    let reach = f64::from(REACH) / app.camera.scale + half_gauge;
    app.derived
        .boxes
        .iter()
        .filter(|(_, (low, high))| {
            world.0 >= low.0 - reach
                && world.0 <= high.0 + reach
                && world.1 >= low.1 - reach
                && world.1 <= high.1 + reach
        })
        .filter_map(|(id, _)| {
            let closest = app.derived.curves.get(id)?.closest(world);
            let off = closest.off_mm.abs();
            (off <= reach).then_some((*id, closest.at_mm, (off * app.camera.scale) as f32))
        })
        .min_by(|a, b| a.2.total_cmp(&b.2))
}

/// Every run under the pointer, the nearest first.
pub fn runs_under(app: &App, at: Pos2) -> Vec<RunId> {
    let world = app.camera.to_world(app.canvas, at);
    let reach = f64::from(REACH) / app.camera.scale + app.doc.layout().gauge_mm / 2.0;
    let mut runs: Vec<(f64, RunId)> = app
        .derived
        .curves
        .iter()
        .map(|(id, curve)| (curve.closest(world).off_mm.abs(), *id))
        .filter(|(off, _)| *off <= reach)
        .collect();
    runs.sort_by(|a, b| a.0.total_cmp(&b.0));
    runs.into_iter().map(|(_, id)| id).collect()
}

/// The end of the nearest run under the pointer, if that is near.
pub fn end_at_pointer(app: &App, at: Pos2) -> Option<TrackEnd> {
    let layout = app.doc.layout();
    layout
        .runs
        .values()
        .flat_map(|run| [RunEnd::Start, RunEnd::End].map(|end| (run, end)))
        .filter_map(|(run, end)| {
            let place = app.derived.joint(layout, roads::joint_at(run, end))?;
            let far = app.camera.to_screen(app.canvas, place).distance(at);
            (far <= SNAP).then_some((far, TrackEnd { run: run.id, end }))
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, end)| end)
}

/// The rail beside the pointer and the distance along it; whole mm while snapping.
pub fn spot_at(app: &App, at: Pos2) -> Option<Spot> {
    let (run, at_mm) = run_at(app, at)?;
    let off = app.derived.curves.get(&run)?.closest(app.camera.to_world(app.canvas, at)).off_mm;
    Some(Spot { run, at_mm, rail: if off >= 0.0 { Rail::Left } else { Rail::Right } })
}

/// Special work with positions at a place: its points, or anywhere in and near its pit.
pub(super) fn special_at(app: &App, at: Pos2) -> Option<SpecialId> {
    // Points are small, and nothing else answers to the tool that throws.
    const NEAR: f32 = 26.0;
    let layout = app.doc.layout();
    app.derived
        .special
        .specials
        .iter()
        .filter(|(id, _)| layout.specials.get(id).is_some_and(|s| s.work.positions() > 1))
        .filter_map(|(id, drawn)| {
            let far = |place| app.camera.to_screen(app.canvas, place).distance(at);
            let pit = drawn.pit.map(|(centre, half)| {
                let radius = (half * app.camera.scale) as f32;
                let roads = drawn.roads.iter().map(|road| far(*road));
                (far(centre) - radius).max(0.0).min(roads.fold(f32::INFINITY, f32::min))
            });
            let far = pit.unwrap_or_else(|| far(drawn.at));
            (far <= NEAR).then_some((far, *id))
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, id)| id)
}

/// The thing under the pointer: small things before the run that they stand on.
pub fn hit(app: &App, at: Pos2) -> Option<Hit> {
    let layout = app.doc.layout();
    let scene = app.places();
    let mut best: Option<(f32, Hit)> = None;
    let mut offer = |distance: f32, id: EntityId, at_mm: f64| {
        if distance <= REACH && best.as_ref().is_none_or(|(d, _)| distance < *d) {
            best = Some((distance, Hit { id, at_mm }));
        }
    };
    if let Some(hit) = app.labels.at(&scene, at).and_then(|placed| labelled(app, placed)) {
        return Some(hit);
    }
    for cut in layout.cuts.values() {
        if let Some((on_track, _)) = scene.placed(cut.run, cut.at_mm) {
            offer(on_track.distance(at), cut.id.into(), cut.at_mm);
        }
    }
    for (id, drawn) in &app.derived.special.specials {
        let place = app.camera.to_screen(app.canvas, drawn.at);
        offer(place.distance(at), (*id).into(), 0.0);
    }
    for bond in layout.bonds.values() {
        if let Some(line) = scene.bond_line(bond) {
            offer(line_distance(line, at), bond.id.into(), 0.0);
        }
    }
    for joint in layout.joints.values() {
        // A bridge stands where its position puts it; its joints are moved in its particulars.
        if !app.derived.bridge_joints.contains_key(&joint.id) {
            let place = app.camera.to_screen(app.canvas, (joint.x_mm, joint.y_mm));
            offer(place.distance(at), joint.id.into(), 0.0);
        }
    }
    best.map(|(_, hit)| hit)
        .or_else(|| nearest_run(app, at).map(|(run, at_mm, _)| Hit { id: run.into(), at_mm }))
}

/// The thing that a label names; nothing for a mark that stands for several.
fn labelled(app: &App, placed: &Placed) -> Option<Hit> {
    let layout = app.doc.layout();
    if placed.crowd().is_some() {
        return None;
    }
    let id = match placed.key {
        Key::Block(block) => {
            let about = app.labels.block(block)?;
            about.label.map_or(EntityId::Run(about.run), EntityId::Label)
        }
        key => key.entity()?,
    };
    let at_mm = match (id, placed.anchor) {
        (EntityId::Cut(id), _) => layout.cuts.get(&id)?.at_mm,
        (EntityId::Feed(id), _) => layout.feeds.get(&id)?.at_mm,
        (EntityId::Label(id), _) => layout.labels.get(&id)?.at_mm,
        (_, Anchor::On(_, at_mm)) => at_mm,
        (_, Anchor::At(..)) => 0.0,
    };
    Some(Hit { id, at_mm })
}

pub(super) fn line_distance([a, b]: [Pos2; 2], at: Pos2) -> f32 {
    let along = b - a;
    let share = ((at - a).dot(along) / along.length_sq().max(1e-6)).clamp(0.0, 1.0);
    (a + along * share).distance(at)
}
