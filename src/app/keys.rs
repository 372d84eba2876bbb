//! Keys that work wherever the focus is, unless something is being typed or asked.

use eframe::egui::{Key, KeyboardShortcut, Modifiers, Ui};

use super::App;
use super::run::{STEP_MM, step};
use super::tools::Tool;

macro_rules! shortcuts {
    ($($name:ident $modifiers:expr, $key:ident;)*) => {
        $(pub const $name: KeyboardShortcut = KeyboardShortcut::new($modifiers, Key::$key);)*
    };
}

const COMMAND: Modifiers = Modifiers::COMMAND;
const COMMAND_SHIFT: Modifiers = Modifiers::COMMAND.plus(Modifiers::SHIFT);

shortcuts! {
    NEW COMMAND, N;
    OPEN COMMAND, O;
    SAVE COMMAND, S;
    SAVE_AS COMMAND_SHIFT, S;
    UNDO COMMAND, Z;
    REDO COMMAND_SHIFT, Z;
    REDO_TOO COMMAND, Y;
}

/// Takes the keys of this frame.
pub fn keys(ui: &Ui, app: &mut App) {
    if app.files.is_asking() {
        return;
    }
    let pressed = |shortcut: &KeyboardShortcut| ui.input_mut(|i| i.consume_shortcut(shortcut));
    if pressed(&SAVE_AS) {
        app.ask_save_as();
    }
    if pressed(&SAVE) {
        app.save();
    }
    if pressed(&OPEN) {
        app.ask_open();
    }
    if pressed(&NEW) {
        app.ask_new();
    }
    if ui.ctx().text_edit_focused() {
        return;
    }
    if pressed(&REDO) || pressed(&REDO_TOO) {
        app.redo();
    }
    if pressed(&UNDO) {
        app.undo();
    }
    let plain = |key| ui.input_mut(|i| i.consume_key(Modifiers::NONE, key));
    for (key, tool) in [
        (Key::S, Tool::Select),
        (Key::L, Tool::Lay),
        (Key::C, Tool::Cut),
        (Key::F, Tool::Feed),
        (Key::W, Tool::Special),
        (Key::B, Tool::Bond),
    ] {
        if plain(key) {
            app.tools.take_up(tool);
        }
    }
    // With something that can be thrown selected, T throws it; otherwise it takes the tool in hand.
    if ui.input_mut(|i| i.consume_key(Modifiers::SHIFT, Key::T)) {
        app.throw_selected(false);
    }
    if plain(Key::T) && !app.throw_selected(true) {
        app.tools.take_up(Tool::Throw);
    }
    if plain(Key::R) {
        app.tab = super::Tab::Run;
    }
    for (key, by_mm) in [(Key::OpenBracket, -STEP_MM), (Key::CloseBracket, STEP_MM)] {
        if app.tab == super::Tab::Run && plain(key) {
            step(app, by_mm);
        }
    }
    if plain(Key::Home) {
        app.fit_wanted = true;
    }
    if plain(Key::Delete) || plain(Key::Backspace) {
        app.delete_selected();
    }
    let zoom = [(Key::Plus, 1.25), (Key::Equals, 1.25), (Key::Minus, 0.8)];
    for (key, factor) in zoom {
        if plain(key) {
            let middle = app.canvas.center();
            app.camera.zoom_at(app.canvas, middle, factor);
        }
    }
    if plain(Key::Escape) {
        let begun = app.tools.lay.from.take().is_some() | app.tools.bond.from.take().is_some();
        if !begun && app.tools.tool != Tool::Select {
            app.tools.take_up(Tool::Select);
        } else if app.tools.tool == Tool::Select {
            app.selection.clear();
        }
        app.drag = None;
    }
}
