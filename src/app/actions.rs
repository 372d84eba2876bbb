//! Everything that can be done with one word and one key: the one list behind the menus, the keys, the tooltips, the
//! list of actions that can be searched, and the page of keys.

use eframe::egui::{Context, Key, KeyboardShortcut, Modifiers, Theme, ViewportCommand};

use super::bulk::Quarter;
use super::tools::Tool;
use super::{App, Tab};
use crate::layout::EntityId;
use crate::layout::bulk::Line;

/// Where an action stands in the menus.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Menu {
    /// Layouts as files.
    File,
    /// What is selected, and what was done.
    Edit,
    /// Verbs on the plan.
    Track,
    /// What one sees.
    View,
    /// How to go on.
    Help,
}

/// All menus, in their order.
pub const MENUS: [(Menu, &str); 5] = [
    (Menu::File, "File"),
    (Menu::Edit, "Edit"),
    (Menu::Track, "Track"),
    (Menu::View, "View"),
    (Menu::Help, "Help"),
];

/// One thing that can be done.
pub struct Action {
    /// What it is called.
    pub name: &'static str,
    /// Its menu.
    pub menu: Menu,
    /// Its keys; the first is shown.
    pub keys: &'static [KeyboardShortcut],
    /// Whether its keys work while text is being typed.
    pub while_typing: bool,
    /// Whether its keys work while something is asked.
    pub while_asking: bool,
    /// Whether it can be done now.
    pub can: fn(&App) -> bool,
    /// Does it.
    pub act: fn(&mut App, &Context),
}

const NONE: Modifiers = Modifiers::NONE;
const SHIFT: Modifiers = Modifiers::SHIFT;
const COMMAND: Modifiers = Modifiers::COMMAND;
const COMMAND_SHIFT: Modifiers = Modifiers::COMMAND.plus(Modifiers::SHIFT);

const fn key(modifiers: Modifiers, key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(modifiers, key)
}

const fn action(
    menu: Menu,
    name: &'static str,
    keys: &'static [KeyboardShortcut],
    act: fn(&mut App, &Context),
) -> Action {
    Action { name, menu, keys, while_typing: false, while_asking: false, can: |_| true, act }
}

impl Action {
    const fn typing_too(mut self) -> Self {
        self.while_typing = true;
        self
    }

    const fn everywhere(mut self) -> Self {
        self.while_typing = true;
        self.while_asking = true;
        self
    }

    const fn when(mut self, can: fn(&App) -> bool) -> Self {
        self.can = can;
        self
    }
}

fn one_has_a_name(app: &App) -> bool {
    matches!(app.selection[..], [one] if !matches!(one, EntityId::Joint(_) | EntityId::Bond(_) | EntityId::Picture(_)))
}

fn any_selected(app: &App) -> bool {
    !app.selection.is_empty()
}

fn track_selected(app: &App) -> bool {
    !app.selected_joints().is_empty()
}

fn has_findings(app: &App) -> bool {
    !app.check.latest.report.findings.is_empty()
}

fn has_faults(app: &App) -> bool {
    app.check.latest.report.verdict > crate::findings::Verdict::Clear
}

fn has_lineups(app: &App) -> bool {
    !app.doc.layout().lineups.is_empty()
}

/// All of them, in the order of the menus.
pub static ACTIONS: &[Action] = &[
    action(Menu::File, "New layout", &[key(COMMAND, Key::N)], |app, _| app.ask_new()).typing_too(),
    action(Menu::File, "Open…", &[key(COMMAND, Key::O)], |app, _| app.ask_open()).typing_too(),
    action(Menu::File, "Open a sample", &[key(COMMAND_SHIFT, Key::O)], |app, _| app.ask_sample())
        .typing_too(),
    action(Menu::File, "Open a recent layout", &[key(COMMAND_SHIFT, Key::R)], |app, _| {
        app.ask_recent();
    })
    .typing_too()
    .when(|app| !app.settings.recent.is_empty()),
    action(Menu::File, "Take up unsaved work…", &[key(COMMAND_SHIFT, Key::U)], |app, _| {
        app.ask_recover();
    })
    .typing_too(),
    action(Menu::File, "Save", &[key(COMMAND, Key::S)], |app, _| app.save()).typing_too(),
    action(Menu::File, "Save as…", &[key(COMMAND_SHIFT, Key::S)], |app, _| app.ask_save_as())
        .typing_too(),
    action(
        Menu::File,
        "Compare with another design…",
        &[key(COMMAND_SHIFT, Key::D)],
        |app, _| {
            app.ask_design();
        },
    ),
    action(Menu::File, "Papers for the bench…", &[key(COMMAND, Key::P)], |app, _| {
        app.ask_papers();
    }),
    action(Menu::File, "Quit", &[key(COMMAND, Key::Q)], |_, ctx| {
        ctx.send_viewport_cmd(ViewportCommand::Close);
    })
    .typing_too(),
    action(Menu::Edit, "Undo", &[key(COMMAND, Key::Z)], |app, _| app.undo())
        .when(|app| app.doc.undo_what().is_some()),
    action(Menu::Edit, "Redo", &[key(COMMAND_SHIFT, Key::Z), key(COMMAND, Key::Y)], |app, _| {
        app.redo()
    })
    .when(|app| app.doc.redo_what().is_some()),
    action(Menu::Edit, "Copy", &[key(COMMAND, Key::C)], |app, ctx| {
        app.copy(ctx);
    })
    .when(track_selected),
    action(Menu::Edit, "Copy and delete", &[key(COMMAND, Key::X)], |app, ctx| app.take_out(ctx))
        .when(track_selected),
    action(Menu::Edit, "Paste", &[key(COMMAND, Key::V)], |app, _| app.paste_own())
        .when(|app| app.clip.is_some()),
    action(Menu::Edit, "Duplicate", &[key(COMMAND, Key::D)], |app, _| app.duplicate())
        .when(track_selected),
    action(Menu::Edit, "Select everything", &[key(COMMAND, Key::A)], |app, _| app.select_all()),
    action(Menu::Edit, "Delete", &[key(NONE, Key::Delete), key(NONE, Key::Backspace)], |app, _| {
        app.delete_selected()
    })
    .when(any_selected),
    action(Menu::Edit, "Name what is selected", &[key(NONE, Key::F2)], |app, _| {
        match app.nameable() {
            Some(what) => app.begin_naming(what),
            None => app.tell("There is no block there to name."),
        }
    })
    .when(one_has_a_name),
    action(Menu::Edit, "Turn a quarter left", &[key(NONE, Key::Q)], |app, _| {
        app.turn_quarter(Quarter::Left);
    })
    .when(track_selected),
    action(Menu::Edit, "Turn a quarter right", &[key(SHIFT, Key::Q)], |app, _| {
        app.turn_quarter(Quarter::Right);
    })
    .when(track_selected),
    action(Menu::Edit, "Mirror left to right", &[key(NONE, Key::M)], |app, _| app.mirror(false))
        .when(track_selected),
    action(Menu::Edit, "Mirror top to bottom", &[key(SHIFT, Key::M)], |app, _| app.mirror(true))
        .when(track_selected),
    action(Menu::Edit, "Align level", &[key(NONE, Key::A)], |app, _| app.align(Line::Level))
        .when(track_selected),
    action(Menu::Edit, "Align upright", &[key(SHIFT, Key::A)], |app, _| app.align(Line::Upright))
        .when(track_selected),
    action(Menu::Edit, "Align on a line from first to last", &[key(NONE, Key::I)], |app, _| {
        app.align(Line::FirstToLast);
    })
    .when(track_selected),
    action(Menu::Track, "Select", &[key(NONE, Key::S)], |app, _| app.tools.take_up(Tool::Select)),
    action(Menu::Track, "Lay track", &[key(NONE, Key::L)], |app, _| app.tools.take_up(Tool::Lay)),
    action(Menu::Track, "Cut rails", &[key(NONE, Key::C)], |app, _| app.tools.take_up(Tool::Cut)),
    action(Menu::Track, "Feed", &[key(NONE, Key::F)], |app, _| app.tools.take_up(Tool::Feed)),
    action(Menu::Track, "Special work", &[key(NONE, Key::W)], |app, _| {
        app.tools.take_up(Tool::Special);
    }),
    action(Menu::Track, "Other hand of the turnout", &[key(NONE, Key::X)], |app, _| {
        match app.turnout_to_bend() {
            Some((id, now)) => app.other_hand(id, now),
            None => app.tools.special.hand = app.tools.special.hand.other(),
        }
    })
    .when(|app| app.tools.tool == Tool::Special || app.turnout_to_bend().is_some()),
    action(Menu::Track, "Turnout the other way round", &[key(SHIFT, Key::X)], |app, _| {
        app.tools.special.towards = app.tools.special.towards.other();
    })
    .when(|app| app.tools.tool == Tool::Special),
    action(Menu::Track, "Bond rails", &[key(NONE, Key::B)], |app, _| app.tools.take_up(Tool::Bond)),
    action(Menu::Track, "Trace", &[key(NONE, Key::U)], |app, _| app.tools.take_up(Tool::Trace)),
    action(Menu::Track, "Add a picture…", &[key(SHIFT, Key::U)], |app, _| app.ask_picture(None)),
    // With something that can be thrown selected, it is thrown; otherwise the tool is taken in hand.
    action(Menu::Track, "Throw", &[key(NONE, Key::T)], |app, _| {
        if !app.throw_selected(true) {
            app.tools.take_up(Tool::Throw);
        }
    }),
    action(Menu::Track, "Throw back", &[key(SHIFT, Key::T)], |app, _| {
        app.throw_selected(false);
    }),
    action(Menu::Track, "Remember a lineup", &[key(NONE, Key::K)], |app, _| app.remember_lineup()),
    action(Menu::Track, "Set the next lineup", &[key(COMMAND, Key::PageDown)], |app, _| {
        app.step_lineup(1);
    })
    .when(has_lineups),
    action(Menu::Track, "Set the previous lineup", &[key(COMMAND, Key::PageUp)], |app, _| {
        app.step_lineup(-1);
    })
    .when(has_lineups),
    action(Menu::Track, "Lay a parallel track", &[key(NONE, Key::P)], |app, _| {
        app.lay_parallel(1.0);
    })
    .when(|app| !app.selected_runs().is_empty()),
    action(
        Menu::Track,
        "Lay a parallel track on the other side",
        &[key(SHIFT, Key::P)],
        |app, _| {
            app.lay_parallel(-1.0);
        },
    )
    .when(|app| !app.selected_runs().is_empty()),
    action(Menu::Track, "Split the run in the middle", &[key(SHIFT, Key::J)], |app, _| {
        app.split_selected();
    })
    .when(|app| app.selected_runs().len() == 1),
    action(Menu::Track, "Join the runs at a joint", &[key(NONE, Key::J)], |app, _| {
        app.join_selected();
    })
    .when(track_selected),
    action(Menu::Track, "Name a stretch here", &[key(SHIFT, Key::F2)], |app, _| {
        app.name_stretch();
    }),
    action(Menu::Track, "Plan the cuts…", &[key(COMMAND_SHIFT, Key::P)], |app, _| {
        app.plan_cuts()
    }),
    action(Menu::View, "Show the whole layout", &[key(NONE, Key::Home)], |app, _| {
        app.fit_wanted = true;
    }),
    action(Menu::View, "Show what is selected", &[key(NONE, Key::Z)], |app, _| app.show_selected())
        .when(any_selected),
    action(Menu::View, "Nearer", &[key(NONE, Key::Plus), key(NONE, Key::Equals)], |app, _| {
        app.zoom(1.25)
    }),
    action(Menu::View, "Farther away", &[key(NONE, Key::Minus)], |app, _| app.zoom(0.8)),
    action(Menu::View, "Findings", &[key(NONE, Key::Num1)], |app, _| {
        app.show_tab(Tab::Findings);
    }),
    action(Menu::View, "Particulars of what is selected", &[key(NONE, Key::Num2)], |app, _| {
        app.show_tab(Tab::Selected);
    }),
    action(Menu::View, "List of everything", &[key(NONE, Key::Num3)], |app, _| {
        app.show_tab(Tab::Layout);
    }),
    action(Menu::View, "Run a train", &[key(NONE, Key::R), key(NONE, Key::Num4)], |app, _| {
        app.show_tab(Tab::Run);
    }),
    action(Menu::View, "Look at a gap, or back to the plan", &[key(NONE, Key::G)], |app, _| {
        app.plan_or_gap();
    }),
    action(
        Menu::View,
        "Review the findings, or back to the plan",
        &[key(NONE, Key::V)],
        |app, _| app.review_or_plan(),
    ),
    action(Menu::View, "Settings now, at a gap", &[key(NONE, Key::Num0)], |app, _| {
        app.gap_as_set_now();
    })
    .when(|app| app.gap.shown),
    action(Menu::View, "Panel on the right", &[key(NONE, Key::F9)], |app, _| {
        app.settings.side_hidden = !app.settings.side_hidden;
    })
    .typing_too(),
    action(Menu::View, "Train back a step", &[key(NONE, Key::OpenBracket)], |app, _| {
        if app.gap.shown {
            app.step_at_gap(false);
        } else {
            super::run::step(app, -super::run::STEP_MM);
        }
    })
    .when(|app| app.gap.shown || app.tab == Tab::Run),
    action(Menu::View, "Train on a step", &[key(NONE, Key::CloseBracket)], |app, _| {
        if app.gap.shown {
            app.step_at_gap(true);
        } else {
            super::run::step(app, super::run::STEP_MM);
        }
    })
    .when(|app| app.gap.shown || app.tab == Tab::Run),
    action(Menu::View, "Play or pause the train", &[key(NONE, Key::Space)], |app, ctx| {
        if app.gap.shown {
            app.play_or_pause_at_gap(ctx);
        } else {
            app.play_or_pause(ctx);
        }
    })
    .when(|app| if app.gap.shown { app.gap_by_key() } else { app.runs_by_key() }),
    action(Menu::View, "Next finding", &[key(NONE, Key::N)], |app, _| app.step_finding(1))
        .when(has_findings),
    action(Menu::View, "Previous finding", &[key(SHIFT, Key::N)], |app, _| app.step_finding(-1))
        .when(has_findings),
    action(Menu::Edit, "Cure all faults…", &[key(COMMAND_SHIFT, Key::K)], |app, _| {
        app.cure_all();
    })
    .when(has_faults),
    action(Menu::View, "Light or dark", &[key(COMMAND, Key::L)], |_, ctx| {
        let dark = ctx.theme() == Theme::Dark;
        ctx.set_theme(if dark { Theme::Light } else { Theme::Dark });
    }),
    action(Menu::View, "Presenter's look", &[key(NONE, Key::F5)], |app, _| {
        app.present(!app.presenting);
    })
    .typing_too(),
    action(Menu::View, "Legend", &[key(NONE, Key::H)], |app, _| app.legend = !app.legend),
    action(Menu::View, "Millimetres or inches", &[key(COMMAND, Key::U)], |app, _| {
        app.settings.inches = !app.settings.inches;
    }),
    action(
        Menu::View,
        "Larger letters",
        &[key(COMMAND, Key::Plus), key(COMMAND, Key::Equals)],
        |_, ctx| scale(ctx, 1),
    )
    .everywhere(),
    action(Menu::View, "Smaller letters", &[key(COMMAND, Key::Minus)], |_, ctx| scale(ctx, -1))
        .everywhere(),
    action(Menu::View, "Letters of the usual size", &[key(COMMAND, Key::Num0)], |_, ctx| {
        ctx.set_zoom_factor(1.0);
    })
    .everywhere(),
    action(Menu::Help, "Find an action…", &[key(COMMAND, Key::K)], |app, _| app.help.find())
        .typing_too(),
    action(Menu::Help, "First steps", &[key(SHIFT, Key::F1)], |app, _| {
        app.first_steps = super::first_steps::FirstSteps::begin();
    }),
    action(Menu::Help, "Glossary", &[key(COMMAND, Key::F1)], |app, _| app.help.glossary())
        .typing_too(),
    action(Menu::Help, "Keys", &[key(NONE, Key::F1)], |app, _| app.help.keys()).typing_too(),
];

/// Sizes of the whole window's letters and controls, per cent.
const SCALES: [u16; 9] = [75, 90, 100, 110, 125, 150, 175, 200, 250];

/// The scale that is nearest to one that was remembered.
pub fn within_scales(scale: f32) -> f32 {
    let [least, .., most] = SCALES.map(|per_cent| f32::from(per_cent) / 100.0);
    if scale.is_finite() { scale.clamp(least, most) } else { 1.0 }
}

/// Makes letters and controls larger or smaller by a step.
fn scale(ctx: &Context, by: isize) {
    let now = (ctx.zoom_factor() * 100.0).round() as u16;
    let at = SCALES.iter().position(|scale| *scale >= now).unwrap_or(SCALES.len() - 1);
    let next = at.saturating_add_signed(by).min(SCALES.len() - 1);
    ctx.set_zoom_factor(f32::from(SCALES[next]) / 100.0);
}

/// The action of this name.
pub fn named(name: &str) -> Option<&'static Action> {
    ACTIONS.iter().find(|action| action.name == name)
}

/// The keys of an action as they are written: "Ctrl+Z"; empty if it has none.
pub fn keys_words(ctx: &Context, action: &Action) -> String {
    action.keys.first().map_or_else(String::new, |key| key_words(ctx, key))
}

/// A key as it stands on the keyboard.
pub fn key_words(ctx: &Context, key: &KeyboardShortcut) -> String {
    let name = key.logical_key.name();
    let sign = match key.logical_key {
        Key::OpenBracket => "[",
        Key::CloseBracket => "]",
        Key::Plus => "+",
        Key::Minus => "-",
        Key::Equals => "=",
        _ => name,
    };
    ctx.format_shortcut(key).replace(name, sign)
}

/// Actions of the menus for looking and editing that are no matter of the plan.
const EVERYWHERE: [&str; 14] = [
    "Undo",
    "Redo",
    "Look at a gap, or back to the plan",
    "Review the findings, or back to the plan",
    "Settings now, at a gap",
    "Train back a step",
    "Train on a step",
    "Play or pause the train",
    "Light or dark",
    "Presenter's look",
    "Millimetres or inches",
    "Larger letters",
    "Smaller letters",
    "Letters of the usual size",
];

impl Action {
    /// True if it is done on the plan or its panels, and so makes no sense while they are not shown.
    pub fn needs_plan(&self) -> bool {
        matches!(self.menu, Menu::Edit | Menu::Track | Menu::View)
            && !EVERYWHERE.contains(&self.name)
    }
}

/// Does an action, if it can be done now; shows the plan for what is done there.
pub fn act(app: &mut App, ctx: &Context, action: &Action) {
    if (action.can)(app) {
        if action.needs_plan() {
            app.gap.shown = false;
            app.review.shown = false;
        }
        (action.act)(app, ctx);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_action_has_a_name_and_a_key_of_its_own() {
        for (n, action) in ACTIONS.iter().enumerate() {
            assert!(!action.keys.is_empty(), "{} has no key", action.name);
            for other in &ACTIONS[n + 1..] {
                assert_ne!(action.name, other.name);
                for key in action.keys {
                    assert!(!other.keys.contains(key), "{} and {}", action.name, other.name);
                }
            }
        }
    }
}
