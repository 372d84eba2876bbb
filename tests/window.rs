//! The window from the outside: through the accessibility tree, the pointer and the keys.
#![allow(clippy::unwrap_used)]

use std::path::{Path, PathBuf};

use eframe::egui::accesskit::Role;
use eframe::egui::{self, Key, Modifiers, Pos2, pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable, by};

use gapwright::app::{self, App};
use gapwright::findings::{Kind, Verdict};
use gapwright::layout::{Idle, save};

#[path = "window/back.rs"]
mod back;
#[path = "window/club.rs"]
mod club;
#[path = "window/cures.rs"]
mod cures;
#[path = "window/drawing.rs"]
mod drawing;
#[path = "window/files.rs"]
mod files;
#[path = "window/formation.rs"]
mod formation;
#[path = "window/gap.rs"]
mod gap;
#[path = "window/gap_bench.rs"]
mod gap_bench;
#[path = "window/guide.rs"]
mod guide;
#[path = "window/keys.rs"]
mod keys;
#[path = "window/labels.rs"]
mod labels;
#[path = "window/lineups.rs"]
mod lineups;
#[path = "window/lists.rs"]
mod lists;
#[path = "window/looks.rs"]
mod looks;
#[path = "window/panels.rs"]
mod panels;
#[path = "window/papers.rs"]
mod papers;
#[path = "window/presenter.rs"]
mod presenter;
#[path = "window/review.rs"]
mod review;
#[path = "window/run.rs"]
mod run;
#[path = "window/safety.rs"]
mod safety;
#[path = "window/special.rs"]
mod special;
#[path = "window/states.rs"]
mod states;
#[path = "window/suspects.rs"]
mod suspects;
#[path = "window/trace.rs"]
mod trace;
#[path = "window/train.rs"]
mod train;
#[path = "window/units.rs"]
mod units;

type Window = Harness<'static, App>;

fn window_of_size(width: f32, height: f32) -> Window {
    let mut window = Harness::builder()
        .with_size(vec2(width, height))
        .with_max_steps(24)
        .with_context_setup(app::dress)
        .build_ui_state(|ui, app: &mut App| app.show(ui), App::for_tests());
    window.run();
    window
}

fn window() -> Window {
    window_of_size(1400.0, 1000.0)
}

/// Presses what has this name.
#[track_caller]
fn press(window: &mut Window, name: &str) {
    let all: Vec<_> = window
        .query_all_by_label(name)
        .filter(|n| n.accesskit_node().role() != Role::Label)
        .collect();
    match all.last() {
        Some(node) => node.click_accesskit(),
        None => panic!("there is nothing named {name:?}"),
    }
    window.run();
}

/// Opens a sample by its file.
fn sample(name: &str) -> Window {
    sample_in(window(), name)
}

fn sample_in(mut w: Window, name: &str) -> Window {
    open(
        &mut w,
        &Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("sample-layouts/{name}.gapwright")),
    );
    w
}

/// Sets a number.
#[track_caller]
fn set(window: &mut Window, name: &str, value: f64) {
    let all: Vec<_> = window
        .query_all_by_label(name)
        .filter(|n| matches!(n.accesskit_node().role(), Role::SpinButton | Role::Slider))
        .collect();
    assert!(!all.is_empty(), "there is no number named {name:?}");
    all[0].set_value_accesskit(value);
    window.run();
}

/// Sets a text.
#[track_caller]
fn write(window: &mut Window, name: &str, text: &str) {
    window
        .query_all_by_label(name)
        .find(|n| matches!(n.accesskit_node().role(), Role::TextInput | Role::MultilineTextInput))
        .unwrap_or_else(|| panic!("there is no text field named {name:?}"))
        .set_text_value_accesskit(text);
    window.run();
}

/// Names the block at a distance along the run that is selected.
#[track_caller]
fn name_block(window: &mut Window, at_mm: f64, name: &str) {
    let fields: Vec<String> = window
        .query_all(by().role(Role::TextInput))
        .filter_map(|n| n.accesskit_node().label())
        .filter(|label| label.starts_with("Block name"))
        .collect();
    let holds = |label: &&String| {
        let places = label.split(' ').filter_map(|word| word.parse::<f64>().ok());
        match places.collect::<Vec<f64>>()[..] {
            [from, to] => (from..=to).contains(&at_mm),
            _ => true,
        }
    };
    let field = fields.iter().find(holds);
    let field = field.unwrap_or_else(|| panic!("no block at {at_mm} mm: {fields:?}")).clone();
    write(window, &field, name);
}

/// Opens a box of choices and chooses one.
#[track_caller]
fn choose(window: &mut Window, name: &str, choice: &str) {
    let boxes: Vec<_> = window
        .query_all_by_label(name)
        .filter(|n| n.accesskit_node().role() == Role::ComboBox)
        .collect();
    assert_eq!(boxes.len(), 1, "boxes named {name:?}");
    boxes[0].click_accesskit();
    window.run();
    // A thing on the plan may have the same name.
    let choices: Vec<_> = window.query_all(by().label(choice).role(Role::Button)).collect();
    match choices.last() {
        Some(node) => node.click_accesskit(),
        None => panic!("there is no choice {choice:?}"),
    }
    window.run();
}

/// Opens the list of everything and selects a thing by its name there.
#[track_caller]
fn select(window: &mut Window, name: &str) {
    press(window, "Layout");
    let find = |window: &Window| {
        let found = window.query_all(by().label(name).role(Role::Button)).next();
        found.inspect(|node| node.click_accesskit()).is_some()
    };
    // Sections that begin closed.
    for section in ["Runs (", "Block names (", "Joints ("] {
        if find(window) {
            break;
        }
        window.query_all_by_label_contains(section).next().unwrap().click_accesskit();
        window.run();
    }
    assert!(find(window), "{name:?} is not in the lists");
    window.run();
}

fn file(window: &Window) -> String {
    save(window.state().layout())
}

/// What the window says that it could not do.
fn told(window: &Window) -> String {
    let notices = window.query_all_by_label_contains("Could not");
    notices.filter_map(|node| node.accesskit_node().label()).collect::<Vec<_>>().join("; ")
}

/// Does something, takes it back, does it again: the file must be what it was each time, byte for byte.
#[track_caller]
fn there_and_back(window: &mut Window, what: &str, act: impl FnOnce(&mut Window)) {
    let before = file(window);
    act(window);
    let after = file(window);
    assert_ne!(before, after, "{what} did nothing: {}", told(window));
    press(window, "Undo");
    assert_eq!(file(window), before, "{what}: undo leaves the file as it was");
    press(window, "Redo");
    assert_eq!(file(window), after, "{what}: redo does it again");
}

/// A straight run of two metres with a cut in the middle, two drivers, each feeding its side.
fn two_blocks() -> Window {
    let mut window = window();
    press(&mut window, "Lay track");
    set(&mut window, "Lay to: x", 2000.0);
    press(&mut window, "Lay this run");
    press(&mut window, "Cut rails");
    set(&mut window, "Cut: At", 1000.0);
    press(&mut window, "Cut here");
    press(&mut window, "Feed");
    for at in [300.0, 1700.0] {
        set(&mut window, "Feed: At", at);
        press(&mut window, "Feed here");
    }
    press(&mut window, "Select");
    window
}

fn dir() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

/// Saves through the window by typing a path.
#[track_caller]
fn save_as(window: &mut Window, path: &Path) {
    window.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::S);
    window.run();
    write(window, "Path of the file", path.to_str().unwrap());
    press(window, "Save");
}

#[track_caller]
fn open(window: &mut Window, path: &Path) {
    window.key_press_modifiers(Modifiers::COMMAND, Key::O);
    window.run();
    write(window, "Path of the file", path.to_str().unwrap());
    press(window, "Open");
}

fn says(window: &Window, words: &str) -> bool {
    window.query_all_by_label_contains(words).next().is_some()
        || window
            .query_all(by().predicate(|n| n.value().is_some_and(|v| v.contains(words))))
            .next()
            .is_some()
}

/// A file that is dropped on the window.
#[derive(Debug)]
struct Dropped(PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|e| e.to_string())
    }
}

#[test]
fn an_empty_window_says_what_to_do() {
    let mut window = window();
    for words in ["1  Lay track", "2  Cut the rails", "3  Feed each block"] {
        assert!(window.query_by_label(words).is_some(), "{words}");
    }
    press(&mut window, "1  Lay track");
    assert!(window.query_by_label("Lay this run").is_some());
}

#[test]
fn the_layout_of_the_other_tests_is_what_they_think() {
    let window = two_blocks();
    let layout = window.state().layout();
    assert_eq!((layout.runs.len(), layout.cuts.len()), (1, 1));
    assert_eq!((layout.drivers.len(), layout.supplies.len(), layout.feeds.len()), (2, 2, 2));
    assert_eq!(window.state().report().blocks.len(), 2);
}

fn w_key(window: &mut Window, key: Key) {
    window.key_press(key);
    window.run();
}

/// Where a thing on the plan is on the screen.
#[track_caller]
fn on_plan(window: &Window, name: &str) -> Pos2 {
    window
        .query_all(by().label(name).role(Role::ListBoxOption))
        .next()
        .unwrap_or_else(|| panic!("{name:?} is not in view"))
        .rect()
        .center()
}

fn pointer(window: &mut Window, at: Pos2) {
    for pressed in [true, false] {
        window.event(egui::Event::PointerMoved(at));
        window.event(egui::Event::PointerButton {
            pos: at,
            button: egui::PointerButton::Primary,
            pressed,
            modifiers: Modifiers::NONE,
        });
    }
    window.run();
    // Two clicks in quick succession would be one double click.
    for _ in 0..4 {
        window.step();
    }
}

fn drag(window: &mut Window, from: Pos2, to: Pos2) {
    window.drag_at(from);
    window.run();
    window.hover_at(from.lerp(to, 0.5));
    window.run();
    window.hover_at(to);
    window.run();
    window.drop_at(to);
    window.run();
}

#[test]
fn the_pointer_lays_cuts_feeds_and_moves() {
    let mut w = window();
    w_key(&mut w, Key::L);
    there_and_back(&mut w, "two clicks", |w| {
        pointer(w, pos2(400.0, 400.0));
        pointer(w, pos2(800.0, 400.0));
        w_key(w, Key::Escape);
    });
    let layout = w.state().layout();
    assert_eq!((layout.runs.len(), layout.joints.len()), (1, 2));
    w_key(&mut w, Key::C);
    there_and_back(&mut w, "a click on the run", |w| pointer(w, pos2(600.0, 402.0)));
    assert_eq!(w.state().layout().cuts.len(), 1);
    w_key(&mut w, Key::F);
    there_and_back(&mut w, "a click feeds", |w| pointer(w, pos2(480.0, 398.0)));
    assert_eq!(w.state().layout().feeds.len(), 1);
    w_key(&mut w, Key::S);
    there_and_back(&mut w, "drag a joint", |w| {
        let at = on_plan(w, "Joint j2");
        drag(w, at, at + vec2(60.0, -60.0));
    });
    there_and_back(&mut w, "drag a cut along", |w| {
        let at = on_plan(w, "Cut c4");
        drag(w, at, at + vec2(50.0, 0.0));
    });
    let cut = w.state().layout().cuts.values().next().unwrap().clone();
    assert!(cut.at_mm > 0.0);
    // Dragging the ground only looks elsewhere.
    let before = file(&w);
    let was = on_plan(&w, "Joint j1");
    drag(&mut w, pos2(600.0, 600.0), pos2(640.0, 560.0));
    assert_eq!(file(&w), before);
    assert!((on_plan(&w, "Joint j1") - was - vec2(40.0, -40.0)).length() < 2.0);
}

#[test]
fn a_chain_of_clicks_is_one_stretch_of_metal() {
    let mut w = window();
    w_key(&mut w, Key::L);
    for x in [300.0, 500.0, 700.0, 850.0] {
        pointer(&mut w, pos2(x, 420.0));
    }
    w_key(&mut w, Key::Escape);
    let layout = w.state().layout();
    assert_eq!((layout.runs.len(), layout.joints.len()), (3, 4));
    assert_eq!(w.state().report().blocks.len(), 1);
}

#[test]
fn the_keyboard_goes_from_thing_to_thing_and_moves_it() {
    let mut w = two_blocks();
    let canvas = w.query_all(by().label_contains("Plan, ").role(Role::Canvas)).next().unwrap();
    canvas.focus();
    w.run();
    w_key(&mut w, Key::ArrowRight);
    assert!(says(&w, "Run r3 selected"), "after the feed that was laid last comes the run");
    w_key(&mut w, Key::ArrowLeft);
    assert!(says(&w, "Feed f10 from Driver B selected"));
    w_key(&mut w, Key::ArrowRight);
    w_key(&mut w, Key::ArrowDown);
    assert!(says(&w, "Joint j1 selected"));
    there_and_back(&mut w, "nudge", |w| {
        w.key_press_modifiers(Modifiers::COMMAND, Key::ArrowUp);
        w.run();
    });
    w_key(&mut w, Key::Enter);
    assert!(w.query_by_label("Joint: x").is_some(), "Enter shows the particulars");
}

#[test]
fn typing_in_a_field_is_one_step_and_no_shortcut() {
    let mut w = two_blocks();
    press(&mut w, "Layout");
    let before = file(&w);
    w.get_by_label("Layout: Name").focus();
    w.run();
    for letter in ["f", "c", "l"] {
        w.event(egui::Event::Text(letter.into()));
        w.run();
    }
    assert_eq!(w.state().layout().name, "fcl");
    w_key(&mut w, Key::Delete);
    assert_eq!(w.state().layout().cuts.len(), 1, "Delete belongs to the field");
    press(&mut w, "Undo");
    assert_eq!(file(&w), before, "the whole word is one step");
}

/// Shows the list of findings and presses the one of this kind.
#[track_caller]
fn press_finding(window: &mut Window, title: &str) {
    if window.query_by_label("Show findings").is_some() {
        press(window, "Show findings");
    }
    window
        .query_all(by().label_contains(&format!(": {title} at")).role(Role::Button))
        .next()
        .unwrap_or_else(|| panic!("no finding {title:?} in the list"))
        .click_accesskit();
    window.run();
}

#[test]
fn a_click_on_a_finding_goes_there_and_says_why() {
    let mut w = two_blocks();
    press_finding(&mut w, "Idle state clamps the neighbour");
    assert!(says(&w, "What to do"));
    assert!(says(&w, "Cut c4 selected"), "the place is selected");
    press(&mut w, "Show the gap's card");
    assert!(says(&w, "Crossing this gap"));
}

#[test]
fn the_card_of_a_cut_has_every_pair_of_settings_and_the_meters() {
    let mut w = two_blocks();
    let at = on_plan(&w, "Cut c4");
    pointer(&mut w, at);
    let report = w.state().report().clone();
    let card = &report.cuts[0].card;
    assert!(card.len() >= 4);
    let cells = w.query_all(by().label_contains("of the time").role(Role::Button)).count();
    assert_eq!(cells, card.len());
    for words in ["Its trip sees: ", "Averaging meter: ", "True-RMS meter: "] {
        assert!(says(&w, words), "{words}");
    }
    w.query_all(by().label_contains("reverse, ").role(Role::Button))
        .next()
        .unwrap()
        .click_accesskit();
    w.run();
    assert!(w.query_by_label("Show the settings now").is_some());
}

fn verdict(window: &Window) -> String {
    window
        .query_all(by().label_contains("Verdict: "))
        .next()
        .map(|n| n.accesskit_node().label().unwrap_or_default())
        .unwrap_or_default()
}

#[test]
fn a_newcomer_sees_the_short_cures_it_saves_and_checks() {
    let mut w = window();
    // Draws two blocks with a gap.
    press(&mut w, "1  Lay track");
    pointer(&mut w, pos2(350.0, 420.0));
    pointer(&mut w, pos2(850.0, 420.0));
    w_key(&mut w, Key::Escape);
    w_key(&mut w, Key::C);
    pointer(&mut w, pos2(600.0, 420.0));
    // Feeds them.
    w_key(&mut w, Key::F);
    for x in [450.0, 750.0] {
        pointer(&mut w, pos2(x, 420.0));
    }
    assert_eq!(w.state().report().blocks.len(), 2);
    // Sees the short with its current.
    assert!(verdict(&w).contains("1 short"), "{}", verdict(&w));
    press_finding(&mut w, "Idle state clamps the neighbour");
    let finding =
        w.state().report().findings.iter().find(|f| f.kind == Kind::IdleClamp).unwrap().clone();
    let words = gapwright::findings::words(
        &finding,
        w.state().report(),
        w.state().layout(),
        gapwright::report::Units::Metric,
    );
    assert!(words.says.contains(" A"), "the current stands in the line: {}", words.says);
    assert!(says(&w, &words.says) && says(&w, &words.why));
    // Changes the idle state of both, sees it clear.
    for driver in ["Driver A", "Driver B"] {
        choose(&mut w, &format!("{driver}: idle state"), "High-impedance");
    }
    assert!(
        w.state().layout().drivers.values().all(|d| matches!(
            d.drive,
            gapwright::layout::Drive::PwmBridge { idle: Idle::HighImpedance, .. }
        )),
        "both are changed"
    );
    assert!(!verdict(&w).contains("short"), "{}", verdict(&w));
    assert!(verdict(&w).contains("1 cut clear"), "{}", verdict(&w));
    let clear = w.state().report().verdict;
    assert!(clear < Verdict::Stall);
    // Saves, and gets the same answer on the command line.
    let dir = dir();
    let path = dir.path().join("first.gapwright");
    save_as(&mut w, &path);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), file(&w));
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_gapwright"))
        .args(["check", "--json"])
        .arg(&path)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0));
    let file = path.display().to_string();
    let study = gapwright::findings::Study::of(w.state().layout(), &Default::default());
    let cures = gapwright::cure::Surgery::of(&study).all();
    let shown = gapwright::report::document(&file, w.state().layout(), w.state().report());
    let shown = shown.with_cures(&cures);
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(said == format!("{shown}\n"), "window and command line say the same");
}

/// Asks the window to close, as the desktop does.
fn ask_to_close(window: &mut Window) -> Vec<egui::ViewportCommand> {
    let input = window.input_mut();
    let root = input.viewports.entry(egui::ViewportId::ROOT).or_default();
    root.events.push(egui::ViewportEvent::Close);
    window.step();
    let commands = window.output().viewport_output[&egui::ViewportId::ROOT].commands.clone();
    window.input_mut().viewports.entry(egui::ViewportId::ROOT).or_default().events.clear();
    window.run();
    commands
}

#[test]
fn a_refused_edit_is_told_and_can_be_dismissed() {
    let mut w = two_blocks();
    press(&mut w, "Cut rails");
    set(&mut w, "Cut: At", 99_999.0);
    let before = file(&w);
    press(&mut w, "Cut here");
    assert_eq!(file(&w), before);
    assert!(says(&w, "Could not cut"));
    w.query_all_by_label_contains("Dismiss: Could not cut").next().unwrap().click_accesskit();
    w.run();
    assert!(!says(&w, "Could not cut"));
}

#[test]
fn every_panel_names_every_control_at_every_size() {
    // The harness fails a run in which a control has no name or a glyph is missing.
    let sizes = [(1024.0, 768.0), (1280.0, 800.0), (1920.0, 1080.0), (3840.0, 2160.0)];
    for ((width, height), zoom) in
        sizes.into_iter().map(|size| (size, 1.0)).chain([(sizes[2], 0.75), (sizes[3], 2.5)])
    {
        let mut w = window_of_size(width, height);
        w.ctx.set_zoom_factor(zoom);
        w.run();
        press(&mut w, "Lay track");
        press(&mut w, "Lay this run");
        press(&mut w, "Feed");
        press(&mut w, "Feed here");
        press(&mut w, "Cut rails");
        set(&mut w, "Cut: At", 500.0);
        press(&mut w, "Cut here");
        for thing in ["Run r3", "Joint j1", "Supply A (s4)", "Driver A (d5)", "Cut c7"] {
            select(&mut w, thing);
        }
        press(&mut w, "Light");
        press(&mut w, "Fit");
    }
}

#[test]
fn every_sample_opens_from_the_window() {
    let mut w = window();
    // The empty layout offers samples too; here the menu is meant.
    press(&mut w, "Lay track");
    let mut names = Vec::new();
    for n in 0..200 {
        press(&mut w, "File");
        press(&mut w, "Open a sample");
        let found: Vec<String> = w
            .query_all(
                by().role(Role::Button)
                    .predicate(|n| n.label().is_some_and(|l| sample_names().contains(&l))),
            )
            .filter_map(|n| n.accesskit_node().label())
            .collect();
        let Some(name) = found.get(n).cloned() else { break };
        press(&mut w, &name);
        assert_eq!(w.state().layout().name, name);
        assert!(!w.state().report().cuts.is_empty() || !w.state().layout().runs.is_empty());
        names.push(name);
    }
    assert!(names.len() >= 8, "{names:?}");
}

/// Names of the sample layouts in the repository.
fn sample_names() -> Vec<String> {
    std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/sample-layouts"))
        .unwrap()
        .map(|f| f.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "gapwright"))
        .map(|path| gapwright::layout::read_path(&path).unwrap().layout.name)
        .collect()
}
