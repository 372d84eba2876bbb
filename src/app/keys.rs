//! Keys that work wherever the focus is, unless something is being typed or asked.

use eframe::egui::{Event, Key, Modifiers, Ui};

use super::App;
use super::actions::{ACTIONS, Action, Menu, act};
use super::tools::Tool;

/// Takes the keys of this frame.
pub fn keys(ui: &Ui, app: &mut App) {
    let asking = app.files.is_asking() || app.help.is_open();
    let typing = ui.ctx().text_edit_focused();
    if !typing && !asking {
        clipboard(ui, app);
    }
    // A key with Shift is also the key without: those that ask for more come first.
    let with_shift = |action: &&Action| action.keys.iter().any(|key| key.modifiers.shift);
    let first = ACTIONS.iter().filter(with_shift);
    let then = ACTIONS.iter().filter(|action| !with_shift(action));
    for action in first.chain(then) {
        if (typing && !action.while_typing) || (asking && !action.while_asking) {
            continue;
        }
        // A presentation edits nothing by accident.
        if app.presenting && matches!(action.menu, Menu::Edit | Menu::Track) {
            continue;
        }
        // What cannot be done now leaves its key to whoever wants it.
        if (action.can)(app)
            && action.keys.iter().any(|key| ui.input_mut(|i| i.consume_shortcut(key)))
        {
            act(app, ui.ctx(), action);
        }
    }
    if !typing && !asking && ui.input_mut(|i| i.consume_key(Modifiers::NONE, Key::Escape)) {
        escape(app);
    }
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

fn escape(app: &mut App) {
    if app.presenting {
        return app.present(false);
    }
    let tools = &mut app.tools;
    let begun = tools.lay.begun() | tools.bond.from.take().is_some() | tools.trace.end();
    app.tools.lay.end();
    if !begun && app.tools.tool != Tool::Select {
        app.tools.take_up(Tool::Select);
    } else if app.tools.tool == Tool::Select {
        app.selection.clear();
    }
    app.drag = None;
}
