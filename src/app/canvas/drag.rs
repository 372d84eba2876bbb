//! Dragging things on the plan: moving, sliding along a run, selecting in a box, drawing by hand.

use eframe::egui::{PointerButton, Pos2, Response, Ui};

use super::super::App;
use super::super::camera::World;
use super::super::lay::How;
use super::super::tools::Tool;
use super::hit::{SNAP, hit, on_grid, round_length};
use super::order;
use crate::layout::edit::{Edit, Entity};
use crate::layout::{EntityId, JointId, Layout, PictureId, RunId, bulk};

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

pub(super) fn nudge(app: &mut App, dx_mm: f64, dy_mm: f64) {
    let joints = app.selected_joints();
    if !joints.is_empty() {
        app.move_track("move", Edit::Move { joints, dx_mm, dy_mm });
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
pub(super) fn anchor(layout: &Layout, id: EntityId) -> Option<(RunId, f64)> {
    match id {
        EntityId::Cut(id) => layout.cuts.get(&id).map(|c| (c.run, c.at_mm)),
        EntityId::Feed(id) => layout.feeds.get(&id).map(|f| (f.run, f.at_mm)),
        EntityId::Label(id) => layout.labels.get(&id).map(|l| (l.run, l.at_mm)),
        _ => None,
    }
}

/// A thing on a run, moved to another distance.
pub(super) fn anchored_at(layout: &Layout, id: EntityId, at: f64) -> Option<Entity> {
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
    pub(super) fn edit(&self, app: &App) -> Option<Edit> {
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
                // An end of track that comes near another one goes to it.
                let by = (now.0 - from.0, now.1 - from.1);
                let reach_mm = f64::from(SNAP) / app.camera.scale;
                let size = |off: World| off.0.hypot(off.1);
                let near = bulk::meetings(layout, joints, by, reach_mm).into_iter();
                if let Some(near) = near.min_by(|a, b| size(a.off).total_cmp(&size(b.off))) {
                    (dx_mm, dy_mm) = (by.0 + near.off.0, by.1 + near.off.1);
                }
                let moves = dx_mm != 0.0 || dy_mm != 0.0;
                moves.then(|| bulk::moved(layout, joints.clone(), (dx_mm, dy_mm)))
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

pub(super) fn drag(ui: &Ui, app: &mut App, response: &Response) {
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
        && let Some(mut done) = app.drag.take()
    {
        if let (Drag::Line(line), Some(at)) = (&mut done, response.interact_pointer_pos()) {
            line.push(app.camera.to_world(app.canvas, at));
        }
        match done {
            Drag::Box { from, now } => select_in(app, from, now),
            Drag::Line(line) => app.lay_line(&line),
            done => {
                if let Some(edit) = done.edit(app) {
                    app.move_track("move", edit);
                }
            }
        }
    }
}

/// Adds everything that lies in a box to what is selected.
pub(super) fn select_in(app: &mut App, a: World, b: World) {
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
    app.tab = super::super::Tab::Selected;
}

/// The distance along its run that a thing is dragged to; whole mm while snapping.
pub(super) fn slide(app: &App, thing: EntityId, to: World) -> Option<f64> {
    let (run, _) = anchor(app.doc.layout(), thing)?;
    let curve = app.derived.curves.get(&run)?;
    let at = curve.closest(to).at_mm;
    Some(if app.tools.snap { round_length(app, at).min(curve.length_mm()) } else { at })
}

pub(super) fn take_hold(app: &mut App, at: Pos2, shift: bool) -> Drag {
    let from = app.camera.to_world(app.canvas, at);
    if app.is_shown_only() || app.holds_words(at) {
        return Drag::Pan;
    }
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
