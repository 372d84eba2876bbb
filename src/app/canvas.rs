//! The plan to scale: what the pointer and the keys do on it.

use std::borrow::Cow;

use eframe::egui::accesskit::Action;
use eframe::egui::{
    CursorIcon, EventFilter, Id, Key, Modifiers, PointerButton, Pos2, Rect, Response, Role, Sense,
    Stroke, StrokeKind, Ui, WidgetInfo, vec2,
};

use super::App;
use super::camera::World;
use super::derived::Derived;
use super::lay::How;
use super::names;
use super::paint::{Preview, Scene};
use super::tools::Tool;
use super::welcome::welcome_ui;
use crate::layout::edit::{Edit, End, Entity, apply};
use crate::layout::{
    EntityId, JointId, Layout, Origin, PictureId, Rail, RunEnd, RunId, SpecialId, Spot, TrackEnd,
    bulk, geometry, roads,
};
use crate::report::{INCH_MM, Units, spoken};

/// How near the pointer must be to a thing, points.
const REACH: f32 = 9.0;
/// How near to a joint a place snaps to it, points.
const SNAP: f32 = 12.0;
/// Most nodes that the canvas gives to the accessibility tree; more would make every frame slow.
const MOST_NODES: usize = 400;

/// A drag on the canvas.
#[derive(Debug, Clone, PartialEq)]
pub enum Drag {
    /// Looks elsewhere.
    Pan,
    /// Moves joints.
    Joints {
        /// Which.
        joints: Vec<JointId>,
        /// The one that snaps.
        held: JointId,
        /// Where the pointer took hold, mm.
        from: World,
        /// Where it is, mm.
        now: World,
    },
    /// Selects what is in a box.
    Box {
        /// Corner at which the pointer was pressed, mm.
        from: World,
        /// Where it is, mm.
        now: World,
    },
    /// Draws track by hand: the way of the pointer, mm.
    Line(Vec<World>),
    /// Moves a picture.
    Picture {
        /// Which.
        id: PictureId,
        /// Where the pointer took hold, mm.
        from: World,
        /// Where it is, mm.
        now: World,
    },
    /// Slides something along its run.
    Along {
        /// A cut, a feed or a block's name.
        thing: EntityId,
        /// The distance that it is at now, mm.
        at_mm: f64,
    },
}

/// What lies under the pointer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hit {
    /// The thing.
    pub id: EntityId,
    /// Distance along the run, if it is a run or on one, mm.
    pub at_mm: f64,
}

fn canvas_id() -> Id {
    Id::unique("plan canvas")
}

/// The canvas.
pub fn canvas_ui(ui: &mut Ui, app: &mut App) {
    let rect = ui.available_rect_before_wrap();
    frame(app, rect);
    let response = ui.interact(rect, canvas_id(), Sense::click_and_drag());
    let said = canvas_words(app);
    response.widget_info(|| WidgetInfo::labeled(Role::Canvas, true, &said));
    drag(ui, app, &response);
    look_around(ui, app, &response);
    canvas_keys(ui, app, &response);
    let pointer = response.hover_pos().or(response.interact_pointer_pos());
    if response.clicked()
        && let Some(at) = response.interact_pointer_pos()
    {
        response.request_focus();
        click(ui, app, at, response.double_clicked());
    }
    // A throttle's name that is dropped on the track feeds it.
    if let (Some(driver), Some(at)) =
        (response.dnd_release_payload::<Origin>(), ui.input(|i| i.pointer.latest_pos()))
    {
        match run_at(app, at) {
            Some((run, at_mm)) => {
                app.tools.feed.driver = Some(*driver);
                app.feed(run, at_mm);
            }
            None => app.tell("There is no track there to feed. Drop the throttle on a run."),
        }
    }
    app.pointer_mm = response.hover_pos().map(|at| app.camera.to_world(rect, at));
    paint(ui, app, rect, &response, pointer);
    nodes(ui, app);
    if app.first_steps.open {
        super::first_steps::first_steps_ui(ui, app);
    }
    if app.legend {
        super::legend::legend_ui(ui, app);
    }
    let layout = app.doc.layout();
    let empty = layout.runs.is_empty() && layout.pictures.is_empty();
    if empty && app.tools.tool == Tool::Select && !app.first_steps.open {
        welcome_ui(ui, app);
    }
}

/// Takes in the canvas' place. What is on it stays where it is on the screen when a panel beside it grows; a layout
/// that is shown whole stays shown whole.
fn frame(app: &mut App, rect: Rect) {
    let wanted = std::mem::take(&mut app.fit_wanted);
    let moved = rect.center() - app.canvas.center();
    let changed = rect != app.canvas;
    app.canvas = rect;
    let untouched = app.fitted == Some((app.camera, app.doc.revision()));
    if wanted || (changed && untouched) {
        match app.derived.bounds().or_else(|| app.pictures_bounds()) {
            Some((low, high)) => app.camera.fit(rect, low, high),
            None => app.camera = super::Camera::default(),
        }
        app.fitted = Some((app.camera, app.doc.revision()));
    } else if changed {
        app.camera.pan(-moved);
    }
}

fn canvas_words(app: &App) -> String {
    let layout = app.doc.layout();
    let what = match app.selection.as_slice() {
        [] => "nothing selected".to_owned(),
        [one] => format!("{} selected", names::entity_name(layout, *one)),
        many => format!("{} things selected", many.len()),
    };
    format!("Plan, {} runs, {} cuts; {what}", layout.runs.len(), layout.cuts.len())
}

/// Zooms and pans.
fn look_around(ui: &Ui, app: &mut App, response: &Response) {
    if let Some(at) = response.hover_pos() {
        let (scroll, zoom) = ui.input(|i| (i.smooth_scroll_delta(), i.zoom_delta()));
        let factor = f64::from(zoom) * f64::from(scroll.y / 260.0).exp();
        if factor != 1.0 {
            app.camera.zoom_at(app.canvas, at, factor);
        }
        if scroll.x != 0.0 {
            app.camera.pan(vec2(scroll.x, 0.0));
        }
    }
    let by_button =
        response.dragged_by(PointerButton::Middle) || response.dragged_by(PointerButton::Secondary);
    if by_button || (app.drag == Some(Drag::Pan) && response.dragged()) {
        app.camera.pan(response.drag_delta());
    }
}

/// Keys of the canvas while it has the focus.
fn canvas_keys(ui: &Ui, app: &mut App, response: &Response) {
    if !response.has_focus() {
        return;
    }
    if response.gained_focus() {
        app.focus_by_key = !ui.input(|i| i.pointer.any_down() || i.pointer.any_released());
        // The lock on the arrow keys holds from the second frame with the focus on.
        ui.ctx().request_repaint();
    }
    ui.memory_mut(|m| {
        let filter = EventFilter {
            horizontal_arrows: true,
            vertical_arrows: true,
            ..EventFilter::default()
        };
        m.set_focus_lock_filter(canvas_id(), filter);
    });
    let pressed = |modifiers, key| ui.input_mut(|i| i.consume_key(modifiers, key));
    let step = app.camera.grid_mm(10.0);
    let nudges = [
        (Key::ArrowLeft, (-step, 0.0)),
        (Key::ArrowRight, (step, 0.0)),
        (Key::ArrowUp, (0.0, step)),
        (Key::ArrowDown, (0.0, -step)),
    ];
    for (key, (dx, dy)) in nudges {
        if pressed(Modifiers::COMMAND, key) {
            nudge(app, dx, dy);
        }
    }
    for (key, forward) in [
        (Key::ArrowRight, true),
        (Key::ArrowDown, true),
        (Key::ArrowLeft, false),
        (Key::ArrowUp, false),
    ] {
        if pressed(Modifiers::NONE, key) {
            rove(app, forward);
        }
    }
    if pressed(Modifiers::NONE, Key::Enter) {
        if app.tools.tool == Tool::Lay {
            app.lay_on();
        } else if !app.selection.is_empty() {
            app.tab = super::Tab::Selected;
        }
    }
}

/// Everything drawn, in the order in which the arrow keys go through it.
fn order(layout: &Layout) -> impl Iterator<Item = EntityId> + '_ {
    let cuts = layout.cuts.keys().map(|id| EntityId::Cut(*id));
    let feeds = layout.feeds.keys().map(|id| EntityId::Feed(*id));
    let runs = layout.runs.keys().map(|id| EntityId::Run(*id));
    let joints = layout.joints.keys().map(|id| EntityId::Joint(*id));
    let specials = layout.specials.keys().map(|id| EntityId::Special(*id));
    let bonds = layout.bonds.keys().map(|id| EntityId::Bond(*id));
    let pictures = layout.pictures.keys().map(|id| EntityId::Picture(*id));
    cuts.chain(feeds).chain(specials).chain(bonds).chain(runs).chain(joints).chain(pictures)
}

fn rove(app: &mut App, forward: bool) {
    let all: Vec<EntityId> = order(app.doc.layout()).collect();
    if all.is_empty() {
        return;
    }
    let here = app.selection.last().and_then(|id| all.iter().position(|a| a == id));
    let next = match (here, forward) {
        (None, true) => 0,
        (None, false) => all.len() - 1,
        (Some(n), true) => (n + 1) % all.len(),
        (Some(n), false) => (n + all.len() - 1) % all.len(),
    };
    let id = all[next];
    app.selection = vec![id];
    app.cell = None;
    if let Some(place) = app.derived.place(app.doc.layout(), id)
        && !app.canvas.shrink(30.0).contains(app.camera.to_screen(app.canvas, place))
    {
        app.camera.centre = place;
    }
}

fn nudge(app: &mut App, dx_mm: f64, dy_mm: f64) {
    let joints = app.selected_joints();
    if !joints.is_empty() {
        app.edit("move", Edit::Move { joints, dx_mm, dy_mm });
    } else if let [EntityId::Picture(id)] = app.selection.as_slice()
        && let Some(picture) = app.doc.layout().pictures.get(id).filter(|p| !p.locked)
    {
        let moved = Entity::Picture(picture.moved(dx_mm, dy_mm));
        app.edit("move a picture", Edit::Replace(moved));
    } else if let [one] = app.selection.as_slice()
        && let Some((_, at_mm)) = anchor(app.doc.layout(), *one)
        && let Some(entity) = anchored_at(app.doc.layout(), *one, at_mm + dx_mm + dy_mm)
    {
        app.edit("move along the run", Edit::Replace(entity));
    }
}

/// The run and distance that a thing on a run stands at.
fn anchor(layout: &Layout, id: EntityId) -> Option<(RunId, f64)> {
    match id {
        EntityId::Cut(id) => layout.cuts.get(&id).map(|c| (c.run, c.at_mm)),
        EntityId::Feed(id) => layout.feeds.get(&id).map(|f| (f.run, f.at_mm)),
        EntityId::Label(id) => layout.labels.get(&id).map(|l| (l.run, l.at_mm)),
        _ => None,
    }
}

/// A thing on a run, moved to another distance.
fn anchored_at(layout: &Layout, id: EntityId, at: f64) -> Option<Entity> {
    let (run, _) = anchor(layout, id)?;
    let length = crate::layout::geometry::length_mm(layout, layout.runs.get(&run)?);
    let at_mm = at.clamp(0.0, length.max(0.0));
    match id {
        EntityId::Cut(id) => {
            layout.cuts.get(&id).map(|c| Entity::Cut(crate::layout::Cut { at_mm, ..c.clone() }))
        }
        EntityId::Feed(id) => {
            layout.feeds.get(&id).map(|f| Entity::Feed(crate::layout::Feed { at_mm, ..f.clone() }))
        }
        EntityId::Label(id) => layout
            .labels
            .get(&id)
            .map(|l| Entity::Label(crate::layout::Label { at_mm, ..l.clone() })),
        _ => None,
    }
}

impl Drag {
    /// The edit that this drag comes to, if it were let go now.
    fn edit(&self, app: &App) -> Option<Edit> {
        let layout = app.doc.layout();
        match self {
            Drag::Pan | Drag::Box { .. } | Drag::Line(_) => None,
            Drag::Joints { joints, held, from, now } => {
                let (mut dx_mm, mut dy_mm) = (now.0 - from.0, now.1 - from.1);
                if app.tools.snap
                    && let Some(joint) = layout.joints.get(held)
                {
                    let to = on_grid(app, (joint.x_mm + dx_mm, joint.y_mm + dy_mm));
                    (dx_mm, dy_mm) = (to.0 - joint.x_mm, to.1 - joint.y_mm);
                }
                (dx_mm != 0.0 || dy_mm != 0.0).then(|| Edit::Move {
                    joints: joints.clone(),
                    dx_mm,
                    dy_mm,
                })
            }
            Drag::Picture { id, from, now } => {
                let picture = layout.pictures.get(id)?;
                let moved = picture.moved(now.0 - from.0, now.1 - from.1);
                (moved != *picture).then_some(Edit::Replace(Entity::Picture(moved)))
            }
            Drag::Along { thing, at_mm } => {
                let (_, was) = anchor(layout, *thing)?;
                if was == *at_mm {
                    return None;
                }
                anchored_at(layout, *thing, *at_mm).map(Edit::Replace)
            }
        }
    }
}

/// The nearest place on the grid.
pub fn on_grid(app: &App, at: World) -> World {
    let step = app.camera.grid_mm(10.0);
    ((at.0 / step).round() * step, (at.1 / step).round() * step)
}

fn drag(ui: &Ui, app: &mut App, response: &Response) {
    if response.drag_started_by(PointerButton::Primary) {
        let origin = ui.input(|i| i.pointer.press_origin());
        let shift = ui.input(|i| i.modifiers.shift);
        app.drag = Some(origin.map_or(Drag::Pan, |at| take_hold(app, at, shift)));
    }
    if response.dragged_by(PointerButton::Primary)
        && let Some(at) = response.interact_pointer_pos()
    {
        let world = app.camera.to_world(app.canvas, at);
        let slid = match &app.drag {
            Some(Drag::Along { thing, .. }) => slide(app, *thing, world),
            _ => None,
        };
        match &mut app.drag {
            Some(Drag::Joints { now, .. } | Drag::Box { now, .. } | Drag::Picture { now, .. }) => {
                *now = world
            }
            Some(Drag::Line(line)) => line.push(world),
            Some(Drag::Along { at_mm, .. }) => *at_mm = slid.unwrap_or(*at_mm),
            Some(Drag::Pan) | None => {}
        }
    }
    if response.drag_stopped()
        && let Some(done) = app.drag.take()
    {
        match done {
            Drag::Box { from, now } => select_in(app, from, now),
            Drag::Line(line) => app.lay_line(&line),
            done => {
                if let Some(edit) = done.edit(app) {
                    app.edit("move", edit);
                }
            }
        }
    }
}

/// Adds everything that lies in a box to what is selected.
fn select_in(app: &mut App, a: World, b: World) {
    let (low, high) = ((a.0.min(b.0), a.1.min(b.1)), (a.0.max(b.0), a.1.max(b.1)));
    let inside = |(x, y): World| x >= low.0 && x <= high.0 && y >= low.1 && y <= high.1;
    let layout = app.doc.layout();
    let whole = |id: &EntityId| match id {
        EntityId::Run(run) => {
            app.derived.boxes.get(run).is_some_and(|(a, b)| inside(*a) && inside(*b))
        }
        // Joints go with their runs; a picture lies under everything.
        EntityId::Joint(_) | EntityId::Picture(_) => false,
        id => app.derived.place(layout, *id).is_some_and(inside),
    };
    let found: Vec<EntityId> = order(layout).filter(whole).collect();
    for id in found {
        if !app.selection.contains(&id) {
            app.selection.push(id);
        }
    }
    app.cell = None;
    app.tab = super::Tab::Selected;
}

/// The distance along its run that a thing is dragged to; whole mm while snapping.
fn slide(app: &App, thing: EntityId, to: World) -> Option<f64> {
    let (run, _) = anchor(app.doc.layout(), thing)?;
    let curve = app.derived.curves.get(&run)?;
    let at = curve.closest(to).at_mm;
    Some(if app.tools.snap { round_length(at).min(curve.length_mm()) } else { at })
}

fn take_hold(app: &mut App, at: Pos2, shift: bool) -> Drag {
    let from = app.camera.to_world(app.canvas, at);
    if app.tools.tool == Tool::Lay && app.tools.lay.how == How::ByHand {
        app.tools.lay.end();
        return Drag::Line(vec![from]);
    }
    if app.tools.tool != Tool::Select {
        return Drag::Pan;
    }
    let hit = match hit(app, at) {
        Some(hit) => hit,
        None if shift => return Drag::Box { from, now: from },
        None => match app.picture_at(from, false).map(|picture| picture.id) {
            Some(id) => {
                app.selection = vec![id.into()];
                app.cell = None;
                return Drag::Picture { id, from, now: from };
            }
            None => return Drag::Pan,
        },
    };
    if !app.selection.contains(&hit.id) {
        app.selection = vec![hit.id];
        app.cell = None;
    }
    match hit.id {
        EntityId::Joint(_) | EntityId::Run(_) | EntityId::Special(_) => {
            let joints = app.selected_joints();
            let held = match hit.id {
                EntityId::Joint(j) => Some(j),
                _ => bulk::joints_of(app.doc.layout(), &[hit.id]).first().copied(),
            };
            match held {
                Some(held) => Drag::Joints { joints, held, from, now: from },
                None => Drag::Pan,
            }
        }
        _ => match anchor(app.doc.layout(), hit.id) {
            Some((_, at_mm)) => Drag::Along { thing: hit.id, at_mm },
            None => Drag::Pan,
        },
    }
}

fn click(ui: &Ui, app: &mut App, at: Pos2, double: bool) {
    let shift = ui.input(|i| i.modifiers.shift);
    match app.tools.tool {
        Tool::Select => match hit_or_picture(app, at) {
            Some(hit) if shift => {
                if let Some(n) = app.selection.iter().position(|id| *id == hit.id) {
                    app.selection.remove(n);
                } else {
                    app.selection.push(hit.id);
                }
            }
            Some(Hit { id: EntityId::Special(id), .. }) if double => {
                let place = app.camera.to_world(app.canvas, at);
                app.throw_at(id, place, true);
            }
            Some(hit) => app.select(hit.id),
            None => {
                app.selection.clear();
                app.cell = None;
            }
        },
        Tool::Lay => {
            let (end, _) = snap(app, at, shift);
            app.lay_click(end, shift, double);
        }
        Tool::Cut => match run_at(app, at) {
            Some((run, at_mm)) => app.cut(run, at_mm),
            None => select_under(app, at),
        },
        Tool::Feed => match run_at(app, at) {
            Some((run, at_mm)) => app.feed(run, at_mm),
            None => select_under(app, at),
        },
        Tool::Special => match app.special_target(at) {
            Some(target) => app.place_special(target),
            None => select_under(app, at),
        },
        Tool::Throw => match special_at(app, at) {
            Some(id) => {
                let place = app.camera.to_world(app.canvas, at);
                app.throw_at(id, place, !shift);
                app.selection = vec![id.into()];
            }
            None => select_under(app, at),
        },
        Tool::Bond => match spot_at(app, at) {
            Some(spot) => app.bond_click(spot),
            None => select_under(app, at),
        },
        Tool::Trace => app.trace_click(app.camera.to_world(app.canvas, at)),
    }
}

/// What lies under the pointer, a picture that is not locked if nothing else.
fn hit_or_picture(app: &App, at: Pos2) -> Option<Hit> {
    hit(app, at).or_else(|| {
        let picture = app.picture_at(app.camera.to_world(app.canvas, at), false)?;
        Some(Hit { id: picture.id.into(), at_mm: 0.0 })
    })
}

fn select_under(app: &mut App, at: Pos2) {
    if let Some(hit) = hit(app, at) {
        app.select(hit.id);
    }
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
        let clean = |v: f64| (v * 1e3).round() / 1e3;
        world = (clean(from.0 + length * angle.cos()), clean(from.1 + length * angle.sin()));
    } else if app.tools.snap {
        world = on_grid(app, world);
    } else {
        world = ((world.0 * 10.0).round() / 10.0, (world.1 * 10.0).round() / 10.0);
    }
    (End::New(world.0, world.1), world)
}

/// The nearest whole mm, or sixteenth of an inch.
fn round_length(mm: f64) -> f64 {
    let step = if spoken() == Units::Imperial { INCH_MM / 16.0 } else { 1.0 };
    (mm / step).round() * step
}

/// The run under the pointer and the distance along it; whole mm while snapping.
pub fn run_at(app: &App, at: Pos2) -> Option<(RunId, f64)> {
    let (run, at_mm, _) = nearest_run(app, at)?;
    let length = app.derived.curves.get(&run)?.length_mm();
    let at_mm = if app.tools.snap { round_length(at_mm).min(length) } else { at_mm };
    Some((run, at_mm))
}

fn nearest_run(app: &App, at: Pos2) -> Option<(RunId, f64, f32)> {
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
fn special_at(app: &App, at: Pos2) -> Option<SpecialId> {
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
    let scene = scene_geometry(app);
    let mut best: Option<(f32, Hit)> = None;
    let mut offer = |distance: f32, id: EntityId, at_mm: f64| {
        if distance <= REACH && best.as_ref().is_none_or(|(d, _)| distance < *d) {
            best = Some((distance, Hit { id, at_mm }));
        }
    };
    for cut in layout.cuts.values() {
        if let Some((on_track, badge)) = scene.cut_places(cut) {
            offer(on_track.distance(at).min(badge.distance(at)), cut.id.into(), cut.at_mm);
        }
    }
    for (id, tag) in scene.feed_tags() {
        if let Some(feed) = layout.feeds.get(&id) {
            offer(tag.distance_to_pos(at), id.into(), feed.at_mm);
        }
    }
    for label in layout.labels.values() {
        if let Some(place) = scene.label_place(label) {
            offer(place.distance(at), label.id.into(), label.at_mm);
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

fn line_distance([a, b]: [Pos2; 2], at: Pos2) -> f32 {
    let along = b - a;
    let share = ((at - a).dot(along) / along.length_sq().max(1e-6)).clamp(0.0, 1.0);
    (a + along * share).distance(at)
}

/// Where things stand on the screen, without painting them.
fn scene_geometry(app: &App) -> super::paint::Places<'_> {
    super::paint::Places {
        camera: app.camera,
        canvas: app.canvas,
        layout: app.doc.layout(),
        derived: &app.derived,
    }
}

fn paint(ui: &Ui, app: &App, rect: Rect, response: &Response, pointer: Option<Pos2>) {
    // While something is dragged, the canvas shows the layout as it would be.
    let moved: Option<(Layout, Derived)> =
        app.drag.as_ref().and_then(|d| d.edit(app)).and_then(|edit| {
            let mut layout = app.doc.layout().clone();
            apply(&mut layout, edit).ok()?;
            let derived = Derived::of(&layout);
            Some((layout, derived))
        });
    let (layout, derived) = match &moved {
        Some((layout, derived)) => (Cow::Borrowed(layout), derived),
        None => (Cow::Borrowed(app.doc.layout()), &app.derived),
    };
    let hovered = match app.tools.tool {
        Tool::Select if app.drag.is_none() => {
            response.hover_pos().and_then(|at| hit_or_picture(app, at)).map(|h| h.id)
        }
        _ => None,
    };
    let dragged = response.dnd_hover_payload::<Origin>().and(ui.input(|i| i.pointer.latest_pos()));
    let preview = match (app.tools.tool, response.hover_pos()) {
        _ if dragged.is_some() => {
            dragged.and_then(|at| run_at(app, at)).map(|(run, at_mm)| Preview::Feed { run, at_mm })
        }
        (Tool::Lay, Some(at)) => {
            let shift = ui.input(|i| i.modifiers.shift);
            Some(Preview::Lay(super::lay::ghost_at(app, at, shift)))
        }
        (Tool::Cut, Some(at)) => run_at(app, at).map(|(run, at_mm)| Preview::Cut {
            run,
            at_mm,
            rails: app.tools.cut.rails,
        }),
        (Tool::Feed, Some(at)) => run_at(app, at).map(|(run, at_mm)| Preview::Feed { run, at_mm }),
        (Tool::Special, Some(at)) => app.special_wished(at).map(|wished| match wished {
            Ok(placed) => Preview::Special {
                at,
                laid: placed
                    .laid
                    .iter()
                    .filter_map(|id| placed.layout.runs.get(id))
                    .map(|run| geometry::curve(&placed.layout, run))
                    .collect(),
                refused: None,
            },
            Err(refused) => Preview::Special { at, laid: Vec::new(), refused: Some(refused.0) },
        }),
        (Tool::Bond, Some(at)) => {
            spot_at(app, at).map(|to| Preview::Bond { from: app.tools.bond.from, to })
        }
        _ => None,
    };
    let special_at_pointer = response.hover_pos().is_some_and(|at| special_at(app, at).is_some());
    let cursor = match (app.tools.tool, &app.drag) {
        (_, Some(Drag::Pan)) => CursorIcon::Grabbing,
        (Tool::Select, _) if hovered.is_some() => CursorIcon::PointingHand,
        (Tool::Throw, _) if special_at_pointer => CursorIcon::PointingHand,
        (Tool::Select | Tool::Throw, _) => CursorIcon::Default,
        _ => CursorIcon::Crosshair,
    };
    if response.hovered() {
        ui.ctx().set_cursor_icon(cursor);
    }
    let (painter, t) = (ui.painter_at(rect), super::theme::tokens(ui));
    super::picture::paint_under(&painter, app, rect, &layout);
    Scene {
        painter: ui.painter_at(rect),
        places: super::paint::Places { camera: app.camera, canvas: rect, layout: &layout, derived },
        report: &app.check.latest.report,
        rounds: super::rounds::open(app),
        selection: &app.selection,
        hovered,
        preview,
        pointer: pointer.map(|at| app.camera.to_world(rect, at)),
        focused: response.has_focus() && app.focus_by_key,
        tokens: super::theme::tokens(ui),
    }
    .paint();
    super::picture::paint_over(&painter, app, rect, &layout, hovered, t);
    super::trace::paint(&painter, app, rect, response.hover_pos(), t);
    if let Some(Drag::Box { from, now }) = &app.drag {
        let corners = [*from, *now].map(|at| app.camera.to_screen(rect, at));
        let t = super::theme::tokens(ui);
        let stroke = Stroke::new(1.5, t.accent);
        let painter = ui.painter_at(rect);
        let frame = Rect::from_two_pos(corners[0], corners[1]);
        painter.rect(frame, 0.0, t.accent.gamma_multiply(0.12), stroke, StrokeKind::Inside);
    }
    if app.tab == super::Tab::Run {
        super::run::paint(&ui.painter_at(rect), app, rect, super::theme::tokens(ui));
    }
}

/// Nodes of the accessibility tree for what is in view. They take no pointer and no Tab stop: the canvas has the one
/// focus, and a click on a node is the action of assistive technology.
fn nodes(ui: &Ui, app: &mut App) {
    let view = app.canvas;
    let mut clicked = None;
    let layout = app.doc.layout();
    let places = scene_geometry(app);
    let tags = places.feed_tags();
    for (n, round) in super::rounds::open(app).iter().enumerate() {
        let lines = places.loop_lines(n, round);
        let Some(first) = lines.first().and_then(|line| line.first()) else { continue };
        let mut rect = Rect::from_min_max(*first, *first);
        lines.iter().flatten().for_each(|at| rect.extend_with(*at));
        let rect = rect.intersect(view);
        if !rect.is_positive() {
            continue;
        }
        let node = ui.interact(rect, Id::unique(("loop", n)), Sense::hover());
        let long = crate::report::length(round.length_mm);
        let name = format!("Loop {} on the plan, {long} once round", n + 1);
        node.widget_info(|| WidgetInfo::labeled(Role::Label, true, &name));
    }
    let mut shown = 0;
    for id in order(layout) {
        let Some(at) = places.node_place(&tags, id) else { continue };
        if !view.contains(at) {
            continue;
        }
        shown += 1;
        if shown > MOST_NODES {
            break;
        }
        let rect = Rect::from_center_size(at, vec2(16.0, 16.0)).intersect(view);
        let node = ui.interact(rect, Id::unique(("on the plan", id)), Sense::hover());
        let selected = app.selection.contains(&id);
        let name = match id {
            EntityId::Special(w) => layout.specials.get(&w).map(|s| names::special_now(layout, s)),
            EntityId::Picture(p) => Some(app.picture_said(p)),
            _ => None,
        };
        let name = name.unwrap_or_else(|| names::entity_name(layout, id));
        node.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, true, selected, &name));
        ui.ctx().accesskit_node_builder(node.id, |n| n.add_action(Action::Click));
        if ui.input(|i| i.has_accesskit_action_request(node.id, Action::Click)) {
            clicked = Some(id);
        }
    }
    if let Some(id) = clicked {
        app.select(id);
        // The action of points is to be thrown.
        if names::positions(app.doc.layout(), id).is_some_and(|(_, positions)| positions > 1) {
            app.throw_on(id, true);
        }
    }
}

impl App {
    /// Shows the whole layout if a part that was just drawn is out of sight.
    pub fn fit_if_out_of_sight(&mut self) {
        if let Some((low, high)) = self.derived.bounds() {
            let seen = |at| self.canvas.contains(self.camera.to_screen(self.canvas, at));
            if !seen(low) || !seen(high) {
                self.fit_wanted = true;
            }
        }
    }
}
