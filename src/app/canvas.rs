//! The plan to scale: what the pointer and the keys do on it.

mod drag;
mod hit;
mod nodes;

use std::borrow::Cow;

use eframe::egui::{
    CursorIcon, EventFilter, Id, Key, Modifiers, PointerButton, Pos2, Rect, Response, Role, Sense,
    Stroke, StrokeKind, Ui, WidgetInfo, vec2,
};

use super::App;
use super::camera::World;
use super::derived::Derived;
use super::labels::{Key as LabelKey, Look};
use super::names;
use super::naming::Named;
use super::paint::{Preview, Scene};
use super::tools::Tool;
use super::welcome::welcome_ui;
use crate::layout::edit::apply;
use crate::layout::{CutId, EntityId, Layout, Origin, geometry};
pub use drag::Drag;
use drag::{anchor, drag, nudge};
use hit::{Hit, hit, hit_or_picture, special_at};
pub use hit::{end_at_pointer, end_place, on_grid, run_at, runs_under, snap, spot_at};
use nodes::nodes;

pub(super) fn canvas_id() -> Id {
    Id::unique("plan canvas")
}

/// The canvas.
pub fn canvas_ui(ui: &mut Ui, app: &mut App) {
    let rect = ui.available_rect_before_wrap();
    frame(ui, app, rect);
    app.place_labels(ui);
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
    app.place_labels(ui);
    say_label(app, &response);
    paint(ui, app, rect, &response, pointer);
    nodes(ui, app);
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
fn frame(ui: &Ui, app: &mut App, rect: Rect) {
    let wanted = std::mem::take(&mut app.fit_wanted);
    let moved = rect.center() - app.canvas.center();
    let changed = rect != app.canvas;
    app.canvas = rect;
    let untouched = app.fitted == Some((app.camera, app.doc.revision()));
    if wanted || (changed && untouched) {
        match app.derived.bounds().or_else(|| app.pictures_bounds()) {
            Some((low, high)) => fit(ui, app, low, high),
            None => app.camera = super::Camera::default(),
        }
        app.fitted = Some((app.camera, app.doc.revision()));
    } else if changed {
        app.camera.pan(-moved);
    }
    if let Some((look, frames)) = app.look_wanted {
        (app.camera, app.fitted) = (look, None);
        app.look_wanted = frames.checked_sub(1).map(|left| (look, left));
    }
}

/// Shows everything between two corners with the labels that stand around it. What labels there are depends on the
/// scale, and the scale on them, so this is found in steps.
fn fit(ui: &Ui, app: &mut App, low: World, high: World) {
    app.camera.fit(app.canvas, low, high);
    for _ in 0..3 {
        app.place_labels(ui);
        let over = app.label_overhang(low, high);
        app.camera.fit_beside(app.canvas, low, high, over);
    }
}

/// Says what a label stands for that has no room for its words, while the pointer is over it.
fn say_label(app: &App, response: &Response) {
    if app.drag.is_some() {
        return;
    }
    let Some(at) = response.hover_pos() else { return };
    let Some(placed) = app.labels.at(&app.places(), at) else { return };
    let words = match (&placed.look, placed.key) {
        (Look::Marks(cuts, _), _) => format!("{} (a click goes there)", app.crowd_words(cuts)),
        (Look::Stud(text), _) => text.clone(),
        (Look::Mark(_), LabelKey::Mark(cut)) => {
            names::cut_name(app.doc.layout(), &app.check.latest.report, cut)
        }
        _ => return,
    };
    response.clone().on_hover_text_at_pointer(words);
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
        if pressed(Modifiers::COMMAND, key) && !app.is_shown_only() {
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
            app.show_tab(super::Tab::Selected);
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

fn click(ui: &Ui, app: &mut App, at: Pos2, double: bool) {
    let shift = ui.input(|i| i.modifiers.shift);
    let crowd = app.labels.at(&app.places(), at).and_then(|placed| placed.crowd());
    if let (Tool::Select, Some(cuts)) = (app.tools.tool, crowd.map(<[CutId]>::to_vec)) {
        app.show_crowd(&cuts);
        return;
    }
    // A click in the review leaves the marks of its finding.
    if app.review.shown {
        return;
    }
    // On the mark of a gap, not on the gap itself, which a double click names.
    let marked = app.labels.at(&app.places(), at).map(|placed| placed.key);
    if let (true, Tool::Select, Some(LabelKey::Mark(cut))) = (double, app.tools.tool, marked)
        && !app.is_shown_only()
    {
        return app.look_at_gap(cut);
    }
    match app.tools.tool {
        Tool::Select => match hit_or_picture(app, at) {
            Some(hit) if shift => {
                if let Some(n) = app.selection.iter().position(|id| *id == hit.id) {
                    app.selection.remove(n);
                } else {
                    app.selection.push(hit.id);
                }
            }
            Some(Hit { id: EntityId::Special(id), .. }) if double && !app.is_shown_only() => {
                let place = app.camera.to_world(app.canvas, at);
                app.throw_at(id, place, true);
            }
            Some(Hit { id: EntityId::Run(run), at_mm }) if app.tab == super::Tab::Run => {
                app.place_train_at(run, at_mm);
            }
            Some(hit) => {
                app.select(hit.id);
                if double && !app.is_shown_only() {
                    name_in_place(app, hit);
                }
            }
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

/// Asks for a name where a thing is: of a block for its track and its name.
fn name_in_place(app: &mut App, hit: Hit) {
    match hit.id {
        EntityId::Run(run) => app.begin_naming(Named::Block(run, hit.at_mm)),
        EntityId::Label(id) => {
            if let Some(label) = app.doc.layout().labels.get(&id) {
                app.begin_naming(Named::Block(label.run, label.at_mm));
            }
        }
        EntityId::Cut(_) => app.begin_naming(Named::Thing(hit.id)),
        _ => {}
    }
}

fn select_under(app: &mut App, at: Pos2) {
    if let Some(hit) = hit(app, at) {
        app.select(hit.id);
    }
}

fn paint(ui: &Ui, app: &App, rect: Rect, response: &Response, pointer: Option<Pos2>) {
    // While something is dragged, the canvas shows the layout as it would be.
    let moved: Option<(Layout, Derived)> =
        app.drag.as_ref().and_then(|d| d.edit(app)).and_then(|edit| {
            let mut layout = app.doc.layout().clone();
            apply(&mut layout, edit).ok()?;
            let derived = Derived::after(&layout, &app.derived);
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
    let preview = preview(ui, app, response);
    if response.hovered() {
        ui.ctx().set_cursor_icon(cursor(app, response, hovered.is_some()));
    }
    let (painter, t) = (ui.painter_at(rect), super::theme::tokens(ui));
    super::picture::paint_under(&painter, app, rect, &layout);
    Scene {
        painter: ui.painter_at(rect),
        places: super::paint::Places { camera: app.camera, canvas: rect, layout: &layout, derived },
        labels: &app.labels,
        factor: app.label_factor(),
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
        super::run::paint(ui, app, rect);
    }
}

/// What the tool in hand would do at the pointer, and where what is dragged would go.
fn preview(ui: &Ui, app: &App, response: &Response) -> Option<Preview> {
    let dragged = response.dnd_hover_payload::<Origin>().and(ui.input(|i| i.pointer.latest_pos()));
    let slid = match &app.drag {
        Some(Drag::Along { thing, at_mm }) => {
            anchor(app.doc.layout(), *thing).map(|(run, _)| Preview::At { run, at_mm: *at_mm })
        }
        _ => None,
    };
    match (app.tools.tool, response.hover_pos()) {
        _ if slid.is_some() => slid,
        _ if dragged.is_some() => {
            dragged.and_then(|at| run_at(app, at)).map(|(run, at_mm)| Preview::At { run, at_mm })
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
        (Tool::Feed, Some(at)) => run_at(app, at).map(|(run, at_mm)| Preview::At { run, at_mm }),
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
    }
}

/// The pointer's shape; `hovering` over something that can be selected.
fn cursor(app: &App, response: &Response, hovering: bool) -> CursorIcon {
    let special_at_pointer = response.hover_pos().is_some_and(|at| special_at(app, at).is_some());
    match (app.tools.tool, &app.drag) {
        (_, Some(Drag::Pan)) => CursorIcon::Grabbing,
        (Tool::Select, _) if hovering => CursorIcon::PointingHand,
        (Tool::Throw, _) if special_at_pointer => CursorIcon::PointingHand,
        (Tool::Select | Tool::Throw, _) => CursorIcon::Default,
        _ => CursorIcon::Crosshair,
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
