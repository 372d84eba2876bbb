//! What the canvas gives to the accessibility tree.

use eframe::egui::accesskit::Action;
use eframe::egui::{Id, Rect, Role, Sense, Ui, WidgetInfo, vec2};

use super::super::{App, names, rounds};
use super::order;
use crate::layout::EntityId;

/// Most nodes that the canvas gives to the accessibility tree; more would make every frame slow.
const MOST_NODES: usize = 400;

/// Nodes of the accessibility tree for what is in view. They take no pointer and no Tab stop: the canvas has the one
/// focus, and a click on a node is the action of assistive technology.
pub(super) fn nodes(ui: &Ui, app: &mut App) {
    let view = app.canvas;
    let mut clicked = None;
    let layout = app.doc.layout();
    let places = app.places();
    let tags = app.labels.tags(&places);
    let mut crowd_clicked = None;
    for placed in app.labels.placed() {
        let (Some(cuts), Some(rect)) = (placed.crowd(), placed.on_screen(&places)) else {
            continue;
        };
        if !view.contains(rect.center()) {
            continue;
        }
        let node = ui.interact(rect, Id::unique(("crowd", placed.key)), Sense::hover());
        let name = app.crowd_words(cuts);
        node.widget_info(|| WidgetInfo::labeled(Role::Button, true, &name));
        ui.ctx().accesskit_node_builder(node.id, |n| n.add_action(Action::Click));
        if ui.input(|i| i.has_accesskit_action_request(node.id, Action::Click)) {
            crowd_clicked = Some(cuts.to_vec());
        }
    }
    for (n, round) in rounds::open(app).iter().enumerate() {
        let lines = places.loop_lines(n, round);
        let Some(first) = lines.first().and_then(|line| line.first()) else { continue };
        let mut rect = Rect::from_min_max(*first, *first);
        lines.iter().flatten().for_each(|at| rect.extend_with(*at));
        let rect = rect.intersect(view);
        if !rect.is_positive() {
            continue;
        }
        let node = ui.interact(rect, Id::unique(("loop", n)), Sense::hover());
        let long = app.camera.units.length(round.length_mm);
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
    if let Some(cuts) = crowd_clicked {
        app.show_crowd(&cuts);
    }
    if let Some(id) = clicked {
        app.select(id);
        // The action of points is to be thrown.
        let moves =
            names::positions(app.doc.layout(), id).is_some_and(|(_, positions)| positions > 1);
        if moves && !app.is_shown_only() {
            app.throw_on(id, true);
        }
    }
}
