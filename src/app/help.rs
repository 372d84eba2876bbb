//! The list of actions that can be searched, the glossary, and the page of keys.

use eframe::egui::{Context, Frame, Grid, Id, Key, Modal, Modifiers, ScrollArea, TextEdit, Ui};

use super::App;
use super::actions::{ACTIONS, Action, MENUS, act, key_words, keys_words};
use super::glossary::{Entry, GLOSSARY, asked, find};
use super::theme::{SPACE, heading, room, small, strong};

#[derive(Debug, Clone, Default, PartialEq)]
enum Open {
    #[default]
    Nothing,
    Find {
        text: String,
        /// Which of the actions found is chosen by the arrow keys.
        chosen: usize,
    },
    Keys,
    Glossary {
        text: String,
        /// The word that somebody asked for: it comes first.
        asked: Option<&'static str>,
    },
}

/// Which page of help is open.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Help(Open);

impl Help {
    /// Opens the list of actions.
    pub fn find(&mut self) {
        self.0 = Open::Find { text: String::new(), chosen: 0 };
    }

    /// Opens the glossary.
    pub fn glossary(&mut self) {
        self.0 = Open::Glossary { text: String::new(), asked: None };
    }

    /// Opens the page of keys.
    pub fn keys(&mut self) {
        self.0 = Open::Keys;
    }

    /// Whether a page is open, so that keys belong to it.
    pub fn is_open(&self) -> bool {
        self.0 != Open::Nothing
    }
}

/// Keys and gestures that are no actions: where they work and what they do.
const GESTURES: [(&str, &str); 24] = [
    ("Tab", "To the next control; the canvas is one of them"),
    ("Arrow keys on the canvas", "From thing to thing"),
    ("Ctrl and arrows on the canvas", "Moves what is selected by a step of the grid"),
    ("Enter on the canvas", "Shows the particulars; while laying track, lays on as typed"),
    ("Escape", "Ends what is begun, then lays the tool down, then selects nothing"),
    ("Click", "Uses the tool in hand; with Select, selects"),
    ("Shift and click", "Selects one more, or one less"),
    ("Drag a thing", "Moves it; a cut, feed or name slides along its run"),
    ("Drag the ground", "Looks elsewhere; so do the middle and the right button with any tool"),
    ("Shift and drag the ground", "Selects everything in the box"),
    ("Drag a throttle's name to the track", "Feeds from that driver there"),
    ("Wheel", "Nearer and farther, at the pointer"),
    ("Double click on points", "Throws them"),
    ("Double click on a gap's mark", "Looks at the gap, large"),
    ("Arrow keys on the stage of a gap", "Move what stands there by 1 mm, with Shift by 10 mm"),
    ("Ctrl and arrows on the stage", "To the next place where the wheels join something else"),
    ("[ and ] at a gap", "Back and on to where the wheels join something else"),
    ("Space at a gap", "Lets what stands there roll over it, or stops it"),
    (
        "Page down and Page up in the review",
        "The next finding, the one before; a clicker sends these",
    ),
    ("O in the review", "All findings with what was decided, or one of them again"),
    ("D in the review", "Notes a decision"),
    ("A in the review", "Shows the layout before and after the cure"),
    ("G in the review", "Looks at the gap; closed, it leads back"),
    ("Drop a file on the window", "Opens the layout; a picture is put under the plan"),
];

/// The page that is open.
pub fn help_ui(ctx: &Context, app: &mut App) {
    if let Some(word) = asked(ctx) {
        app.help.0 = Open::Glossary { text: String::new(), asked: Some(word) };
    }
    if !app.help.is_open() {
        return;
    }
    let frame = Frame::window(&ctx.global_style()).inner_margin(18);
    let modal = Modal::new(Id::unique("help")).frame(frame).show(ctx, |ui| match app.help.0 {
        Open::Find { .. } => find_ui(ui, app),
        Open::Keys => keys_ui(ui, app),
        Open::Glossary { .. } => glossary_ui(ui, app),
        Open::Nothing => {}
    });
    if modal.should_close() {
        app.help.0 = Open::Nothing;
    }
}

/// Whether an action answers to all words that were typed.
fn answers(action: &Action, keys: &str, text: &str) -> bool {
    let menu = MENUS.iter().find(|menu| menu.0 == action.menu).map_or("", |menu| menu.1);
    let about = format!("{} {menu} {keys}", action.name).to_lowercase();
    text.to_lowercase().split_whitespace().all(|word| about.contains(word))
}

fn find_ui(ui: &mut Ui, app: &mut App) {
    let Open::Find { mut text, mut chosen } = app.help.0.clone() else { return };
    ui.set_width(room(ui.ctx(), 440.0, 0.0).x);
    ui.label(heading("What do you want to do?"));
    let (down, up) = ui.input_mut(|i| {
        let mut pressed = |key| i.consume_key(Modifiers::NONE, key);
        (pressed(Key::ArrowDown), pressed(Key::ArrowUp))
    });
    let field = ui
        .add(
            TextEdit::singleline(&mut text)
                .hint_text(small(ui, "a word of it, or its key"))
                .desired_width(f32::INFINITY),
        )
        .accessible_name("Search actions");
    if ui.memory(|m| m.focused().is_none()) {
        field.request_focus();
    }
    if field.changed() {
        chosen = 0;
    }
    let found: Vec<&Action> = ACTIONS
        .iter()
        .filter(|action| answers(action, &keys_words(ui.ctx(), action), &text))
        .collect();
    let last = found.len().saturating_sub(1);
    chosen = (chosen + usize::from(down)).saturating_sub(usize::from(up)).min(last);
    let entered = field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
    let mut wanted = found.get(chosen).copied().filter(|_| entered);
    ui.add_space(SPACE);
    let height = room(ui.ctx(), 0.0, 360.0).y;
    ScrollArea::vertical().max_height(height).show(ui, |ui| {
        for (n, action) in found.iter().enumerate() {
            let button = eframe::egui::Button::selectable(n == chosen, action.name)
                .shortcut_text(keys_words(ui.ctx(), action))
                .min_size(eframe::egui::vec2(ui.available_width(), 0.0));
            let response = ui.add_enabled((action.can)(app), button);
            let response = response
                .on_disabled_hover_text("There is nothing that it could work on now")
                .accessible_name(action.name);
            if (down || up) && n == chosen {
                response.scroll_to_me(None);
            }
            if response.clicked() {
                wanted = Some(action);
            }
        }
        if found.is_empty() {
            ui.label(small(ui, "No action has all these words."));
        }
    });
    app.help.0 = Open::Find { text, chosen };
    if let Some(action) = wanted {
        app.help.0 = Open::Nothing;
        if (action.can)(app) {
            act(app, ui.ctx(), action);
        } else {
            app.tell(format!("\"{}\" has nothing to work on now.", action.name));
        }
    }
}

fn glossary_ui(ui: &mut Ui, app: &mut App) {
    let Open::Glossary { mut text, asked } = app.help.0.clone() else { return };
    ui.set_width(room(ui.ctx(), 520.0, 0.0).x);
    let mut close = false;
    ui.horizontal(|ui| {
        ui.label(heading("Glossary").size(18.0));
        close = ui.button("Close").clicked();
    });
    let field = ui
        .add(
            TextEdit::singleline(&mut text)
                .hint_text(small(ui, "a word, or what it is about"))
                .desired_width(f32::INFINITY),
        )
        .accessible_name("Search the glossary");
    if ui.memory(|m| m.focused().is_none()) {
        field.request_focus();
    }
    // What was asked for stands first until something is typed.
    let first = asked.filter(|_| text.is_empty()).and_then(find);
    let rest = GLOSSARY.iter().filter(|entry| Some(*entry) != first && entry.answers(&text));
    let found: Vec<&Entry> = first.into_iter().chain(rest).collect();
    ui.add_space(SPACE);
    let height = room(ui.ctx(), 0.0, 460.0).y;
    ScrollArea::vertical().max_height(height).auto_shrink(false).show(ui, |ui| {
        for entry in &found {
            ui.label(strong(entry.word));
            ui.label(entry.means);
            ui.add_space(SPACE);
        }
        if found.is_empty() {
            ui.label(small(ui, "No entry has all these words."));
        }
    });
    app.help.0 = if close { Open::Nothing } else { Open::Glossary { text, asked } };
}

fn keys_ui(ui: &mut Ui, app: &mut App) {
    ui.set_width(room(ui.ctx(), 520.0, 0.0).x);
    ui.horizontal(|ui| {
        ui.label(heading("Keys").size(18.0));
        if ui.button("Close").clicked() {
            app.help.0 = Open::Nothing;
        }
    });
    let height = room(ui.ctx(), 0.0, 520.0).y;
    ScrollArea::vertical().max_height(height).auto_shrink(false).show(ui, |ui| {
        for (menu, title) in MENUS {
            ui.add_space(SPACE);
            ui.label(heading(title));
            Grid::new(("keys", title)).num_columns(2).min_col_width(170.0).show(ui, |ui| {
                for action in ACTIONS.iter().filter(|action| action.menu == menu) {
                    let keys: Vec<String> =
                        action.keys.iter().map(|key| key_words(ui.ctx(), key)).collect();
                    ui.label(strong(keys.join(" or ")));
                    ui.label(action.name);
                    ui.end_row();
                }
            });
        }
        ui.add_space(SPACE);
        ui.label(heading("On the plan"));
        Grid::new("gestures").num_columns(2).min_col_width(170.0).show(ui, |ui| {
            for (gesture, does) in GESTURES {
                ui.label(strong(gesture));
                ui.label(does);
                ui.end_row();
            }
        });
    });
}
