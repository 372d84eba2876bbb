//! Keys that work wherever the focus is, unless something is being typed or asked.

use eframe::egui::{Context, Event, Key, KeyboardShortcut, Modifiers, Popup, Ui};

use super::App;
use super::actions::{ACTIONS, Action, Menu, act};
use super::canvas::Drag;
use super::naming;
use super::review;
use super::tools::Tool;

/// Takes the keys of this frame.
pub fn keys(ui: &Ui, app: &mut App) {
    let asking =
        app.files.is_asking() || app.help.is_open() || app.is_trying() || app.review.is_asking();
    // Escape and Tab take the focus away before a frame begins.
    let typing = app.typing || ui.ctx().text_edit_focused();
    let reviewing = app.review.shown && !app.gap.shown;
    if !typing && !asking && reviewing && !Popup::is_any_open(ui.ctx()) {
        review::keys(ui, app);
    }
    if !typing && !asking && !app.gap.shown && !reviewing {
        clipboard(ui, app);
    }
    // A key with Shift is also the key without: those that ask for more come first.
    let with_shift = |action: &&Action| action.keys.iter().any(|key| key.modifiers.shift);
    let first = ACTIONS.iter().filter(with_shift);
    let then = ACTIONS.iter().filter(|action| !with_shift(action));
    for action in first.chain(then) {
        // A decision is part of the layout as it is typed, so its form can be saved from.
        let saves = action.name == "Save" && asking == app.review.is_asking();
        if (typing && !action.while_typing) || (asking && !action.while_asking && !saves) {
            continue;
        }
        // Presenter's look and review edit nothing by accident.
        if app.is_shown_only() && edits(app, action) {
            continue;
        }
        // What is done on the plan is not done unseen.
        if (app.gap.shown || app.review.shown) && action.needs_plan() {
            continue;
        }
        let pressed = |key: &KeyboardShortcut| ui.input_mut(|i| i.consume_shortcut(key));
        if !(action.can)(app) {
            // What cannot be done now leaves its key to whoever wants it, but never to the action of the key without Shift:
            // redo at its end is no undo.
            for key in action.keys.iter().filter(|key| key.modifiers.shift) {
                pressed(key);
            }
            continue;
        }
        if !action.keys.iter().any(pressed) {
            continue;
        }
        if typing && !action.while_asking {
            // What is typed is taken in first: it belongs to what is saved or left.
            ui.memory_mut(|m| m.focused().into_iter().for_each(|field| m.surrender_focus(field)));
            app.after_typing = Some(action);
        } else {
            act(app, ui.ctx(), action);
        }
    }
    escape(ui, app, typing || asking);
}

/// True if an action changes the layout. In the review, undo and redo of a decision do not count.
fn edits(app: &App, action: &Action) -> bool {
    let of_a_decision = match action.name {
        "Undo" => app.review.shown && app.last_step_is_a_decision(),
        "Redo" => app.review.shown && app.next_step_is_a_decision(),
        _ => false,
    };
    matches!(action.menu, Menu::Edit | Menu::Track) && !of_a_decision
}

/// What waits for the fields of this frame: names that were typed, and actions asked for while typing.
pub fn after_typing(ctx: &Context, app: &mut App) {
    naming::naming_ui(ctx, app);
    if let Some(action) = app.after_typing.take() {
        act(app, ctx, action);
        ctx.request_repaint();
    }
    let given_up = std::mem::take(&mut app.tools.given_up);
    if !given_up.is_empty() {
        app.tell(given_up);
        ctx.request_repaint();
    }
    app.typing = ctx.text_edit_focused();
}

/// Copy and paste come as events of their own from the desktop.
fn clipboard(ui: &Ui, app: &mut App) {
    let ours = |event: &&Event| matches!(event, Event::Copy | Event::Cut | Event::Paste(_));
    let events: Vec<Event> = ui.input(|i| i.events.iter().filter(ours).cloned().collect());
    for event in events {
        match event {
            Event::Paste(text) => app.paste_text(&text),
            _ if app.selected_joints().is_empty() => {}
            Event::Cut => app.take_out(ui.ctx()),
            _ => {
                app.copy(ui.ctx());
            }
        }
    }
}

/// Takes Escape, one thing a press: a field, a list, a menu or a dialog that is open takes it itself; then what is begun
/// ends, then the tool is laid down, then nothing is selected.
fn escape(ui: &Ui, app: &mut App, taken: bool) {
    let open = Popup::is_any_open(ui.ctx());
    if taken || open || !ui.input_mut(|i| i.consume_key(Modifiers::NONE, Key::Escape)) {
        return;
    }
    if app.gap.shown {
        app.gap.close_topmost();
    } else if app.review.shown {
        app.close_in_review();
    } else if app.presenting {
        app.present(false);
    } else if let Some(drag) = app.drag.take() {
        match drag {
            Drag::Pan | Drag::Box { .. } => {}
            Drag::Line(_) => app.tell("The line drawn by hand was given up; nothing was laid."),
            Drag::Joints { .. } | Drag::Picture { .. } | Drag::Along { .. } => {
                app.tell("The drag was given up; nothing was moved.");
            }
        }
    } else if let Some(given_up) = app.tools.end_what_is_begun() {
        if !given_up.is_empty() {
            app.tell(given_up);
        }
    } else if app.tools.tool != Tool::Select {
        app.tools.take_up(Tool::Select);
    } else {
        app.selection.clear();
    }
}
