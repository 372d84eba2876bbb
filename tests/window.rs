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

#[path = "window/club.rs"]
mod club;
#[path = "window/drawing.rs"]
mod drawing;
#[path = "window/lineups.rs"]
mod lineups;
#[path = "window/looks.rs"]
mod looks;
#[path = "window/run.rs"]
mod run;
#[path = "window/safety.rs"]
mod safety;
#[path = "window/special.rs"]
mod special;
#[path = "window/states.rs"]
mod states;
#[path = "window/trace.rs"]
mod trace;
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

#[test]
fn laying_cutting_feeding_and_adding_go_there_and_back() {
    let mut w = window();
    press(&mut w, "Lay track");
    there_and_back(&mut w, "lay a run", |w| press(w, "Lay this run"));
    there_and_back(&mut w, "lay a curve", |w| {
        choose(w, "Lay: How", "With a bend");
        set(w, "Lay: Bend", 60.0);
        set(w, "Lay to: y", 500.0);
        press(w, "Lay this run");
    });
    press(&mut w, "Cut rails");
    there_and_back(&mut w, "cut both rails", |w| {
        set(w, "Cut: At", 400.0);
        press(w, "Cut here");
    });
    there_and_back(&mut w, "cut one rail", |w| {
        choose(w, "Cut: Rails", "Left rail");
        set(w, "Cut: At", 600.0);
        set(w, "Cut: Width", 1.5);
        press(w, "Cut here");
    });
    there_and_back(&mut w, "add a driver with its supply", |w| {
        press(w, "Add a driver with its supply");
    });
    press(&mut w, "Feed");
    there_and_back(&mut w, "feed from a new driver", |w| press(w, "Feed here"));
    there_and_back(&mut w, "feed", |w| {
        choose(w, "Feed: Driver", "Driver A");
        set(w, "Feed: At", 200.0);
        press(w, "Feed here");
    });
    there_and_back(&mut w, "feed the other way round, one leg", |w| {
        choose(w, "Feed: P to", "Left rail");
        choose(w, "Feed: M to", "Not connected");
        set(w, "Feed: At", 500.0);
        press(w, "Feed here");
    });
    for kind in ["PWM bridge", "Smooth DC", "DCC booster", "Split half-bridge", "Nothing"] {
        there_and_back(&mut w, kind, |w| {
            press(w, "Layout");
            press(w, "Add a driver");
            press(w, kind);
        });
    }
    there_and_back(&mut w, "add a supply", |w| {
        press(w, "Layout");
        press(w, "Add a supply");
    });
    for vehicle in gapwright::layout::defaults::vehicles() {
        there_and_back(&mut w, &vehicle.name, |w| {
            press(w, "Layout");
            press(w, "Add a vehicle");
            press(w, &vehicle.name);
        });
    }
    there_and_back(&mut w, "add a train", |w| {
        press(w, "Layout");
        press(w, "Add a train");
    });
    for button in ["Couple a vehicle at the rear", "Train: take vehicle 2 away"] {
        press(&mut w, "Layout");
        press(&mut w, "Add a train");
        press(&mut w, "Couple a vehicle at the rear");
        there_and_back(&mut w, button, |w| press(w, button));
    }
}

#[test]
fn every_setting_goes_there_and_back() {
    let mut w = two_blocks();
    for direction in ["Reverse", "Stopped", "Forward", "Off"] {
        there_and_back(&mut w, direction, |w| press(w, &format!("Driver A: {direction}")));
    }
    there_and_back(&mut w, "throttle", |w| set(w, "Driver A: throttle", 37.5));
    for idle in ["High-impedance", "Brake-high", "Opposed", "Brake-low"] {
        there_and_back(&mut w, idle, |w| choose(w, "Driver A: idle state", idle));
    }
    select(&mut w, "Supply A (s5)");
    there_and_back(&mut w, "switch a supply off", |w| press(w, "Switch off"));
    there_and_back(&mut w, "switch a supply on", |w| press(w, "Switch on"));
}

#[test]
fn every_particular_of_track_goes_there_and_back() {
    let mut w = two_blocks();
    select(&mut w, "Run r3");
    there_and_back(&mut w, "start x", |w| set(w, "Run: Start x", -100.0));
    there_and_back(&mut w, "end y", |w| set(w, "Run: End y", 250.0));
    there_and_back(&mut w, "arc", |w| choose(w, "Run: Shape", "Arc"));
    there_and_back(&mut w, "bend", |w| set(w, "Run: Bend", -30.0));
    there_and_back(&mut w, "cubic", |w| choose(w, "Run: Shape", "Cubic"));
    there_and_back(&mut w, "control point", |w| set(w, "Run: Control 1 y", 90.0));
    there_and_back(&mut w, "measured length", |w| press(w, "Run: Measured length stated"));
    there_and_back(&mut w, "another length", |w| set(w, "Run: Measured length", 2345.0));
    there_and_back(&mut w, "name a block", |w| {
        set(w, "Distance", 200.0);
        write(w, "Block name", "Harbour");
        press(w, "Name the block");
    });
    there_and_back(&mut w, "split", |w| {
        set(w, "Distance", 600.0);
        press(w, "Split the run");
    });
    select(&mut w, "Joint j1");
    there_and_back(&mut w, "joint y", |w| set(w, "Joint: y", 40.0));
    select(&mut w, "Cut c4");
    there_and_back(&mut w, "cut name", |w| write(w, "Cut particulars: Name", "Yard throat"));
    there_and_back(&mut w, "cut at", |w| set(w, "Cut particulars: At", 350.0));
    there_and_back(&mut w, "cut stagger", |w| set(w, "Cut particulars: Stagger", 5.0));
    there_and_back(&mut w, "cut width", |w| set(w, "Cut particulars: Width", 2.0));
    there_and_back(&mut w, "cut made", |w| choose(w, "Cut particulars: Made", "Filled"));
    there_and_back(&mut w, "cut rails", |w| choose(w, "Cut particulars: Rails", "Right rail"));
    there_and_back(&mut w, "cut notes", |w| write(w, "Cut particulars: Notes", "by the signal"));
    press(&mut w, "Layout");
    there_and_back(&mut w, "layout name", |w| write(w, "Layout: Name", "Fernhollow"));
    there_and_back(&mut w, "layout notes", |w| write(w, "Layout: Notes", "Second try"));
    there_and_back(&mut w, "gauge", |w| set(w, "Layout: Gauge", 9.0));
    there_and_back(&mut w, "scale", |w| set(w, "Layout: Scale 1:", 160.0));
    there_and_back(&mut w, "rail", |w| set(w, "Layout: Rail", 0.2));
}

#[test]
fn every_particular_of_wiring_goes_there_and_back() {
    let mut w = two_blocks();
    select(&mut w, "Feed f7 from Driver A");
    there_and_back(&mut w, "swap", |w| press(w, "Swap P and M"));
    there_and_back(&mut w, "feed at", |w| set(w, "Feed particulars: At", 120.0));
    there_and_back(&mut w, "feed P", |w| choose(w, "Feed particulars: P to", "Not connected"));
    there_and_back(&mut w, "feed driver", |w| choose(w, "Feed particulars: Driver", "Driver B"));
    there_and_back(&mut w, "wire", |w| choose(w, "Feed particulars: Wire", "By AWG number"));
    there_and_back(&mut w, "wire size", |w| set(w, "Feed particulars: AWG", 22.0));
    there_and_back(&mut w, "wire length", |w| set(w, "Feed particulars: Length of a leg", 2.5));
    there_and_back(&mut w, "resistance", |w| press(w, "Feed particulars: Resistance, state"));
    select(&mut w, "Supply A (s5)");
    there_and_back(&mut w, "supply name", |w| write(w, "Supply: Name", "West supply"));
    there_and_back(&mut w, "open voltage", |w| set(w, "Supply: Open voltage", 16.0));
    there_and_back(&mut w, "source", |w| choose(w, "Supply: Open voltage, source", "measured"));
    there_and_back(&mut w, "assumed", |w| choose(w, "Supply: Open voltage, source", "assumed"));
    there_and_back(&mut w, "least", |w| set(w, "Supply: Open voltage, least", 15.0));
    there_and_back(&mut w, "sink", |w| press(w, "Supply: Can take current back"));
    there_and_back(&mut w, "shared", |w| press(w, "Supply: Negative is tied to a shared one"));
    there_and_back(&mut w, "tied to", |w| write(w, "Supply: Tied to", "board"));
    there_and_back(&mut w, "limit", |w| press(w, "Supply: Has a sustained current limit"));
    there_and_back(&mut w, "bearable", |w| press(w, "Supply: Bearable voltage, state"));
    select(&mut w, "Driver A (d6)");
    there_and_back(&mut w, "driver name", |w| write(w, "Driver: Name", "West bridge"));
    there_and_back(&mut w, "frequency", |w| set(w, "Driver: PWM frequency", 125.0));
    there_and_back(&mut w, "inputs", |w| choose(w, "Driver: Idle state", "By control inputs"));
    there_and_back(&mut w, "table", |w| choose(w, "Driver: Truth table", "Enable and phase"));
    there_and_back(&mut w, "line", |w| choose(w, "Driver: Reverse: PWM on", "First"));
    there_and_back(&mut w, "high", |w| press(w, "Driver: Forward: the other input is high"));
    there_and_back(&mut w, "inverted", |w| press(w, "Driver: First input's line is inverted"));
    there_and_back(&mut w, "clock", |w| press(w, "Driver: Runs from a clock that others share"));
    there_and_back(&mut w, "phase", |w| press(w, "Driver: Phase stated"));
    there_and_back(&mut w, "high switch", |w| set(w, "Driver: High switch", 0.08));
    there_and_back(&mut w, "threshold", |w| set(w, "Driver: Threshold", 2.0));
    there_and_back(&mut w, "senses", |w| choose(w, "Driver: Senses in", "Ground return"));
    there_and_back(&mut w, "decides", |w| choose(w, "Driver: Decides", "By an average"));
    there_and_back(&mut w, "constant", |w| set(w, "Driver: Time constant", 80.0));
    there_and_back(&mut w, "no trip", |w| press(w, "Driver: Trips on overcurrent"));
    there_and_back(&mut w, "kind", |w| choose(w, "Driver: Kind of drive", "Smooth DC"));
    there_and_back(&mut w, "clamps", |w| {
        press(w, "Driver: Clamps its rails at zero throttle");
    });
    there_and_back(&mut w, "booster", |w| choose(w, "Driver: Kind of drive", "DCC booster"));
    there_and_back(&mut w, "delay", |w| set(w, "Driver: Delay", 4.0));
    press(&mut w, "Layout");
    press(&mut w, "Add a vehicle");
    press(&mut w, "Heron diesel");
    there_and_back(&mut w, "length", |w| set(w, "Vehicle: Length", 260.0));
    there_and_back(&mut w, "wheel", |w| choose(w, "Vehicle: Wheelset 1 left", "Insulated"));
    there_and_back(&mut w, "wheelset", |w| press(w, "Add a wheelset"));
    there_and_back(&mut w, "without it", |w| press(w, "Vehicle: take wheelset 2 away"));
    there_and_back(&mut w, "draws", |w| choose(w, "Vehicle: Draws", "A rectifier (decoder)"));
    there_and_back(&mut w, "speed", |w| set(w, "Vehicle: Least speed", 20.0));
}

#[test]
fn deleting_goes_there_and_back() {
    let mut w = two_blocks();
    select(&mut w, "Cut c4");
    there_and_back(&mut w, "delete a cut", |w| press(w, "Delete"));
    press(&mut w, "Undo");
    select(&mut w, "Supply A (s5)");
    there_and_back(&mut w, "delete a supply", |w| w_key(w, Key::Delete));
    assert_eq!(w.state().layout().drivers.len(), 1, "its driver went with it");
    select(&mut w, "Run r3");
    there_and_back(&mut w, "delete a run", |w| w_key(w, Key::Delete));
    assert!(w.state().layout().feeds.is_empty());
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
    let shown = gapwright::report::document(
        &path.display().to_string(),
        w.state().layout(),
        w.state().report(),
    );
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(said == format!("{shown}\n"), "window and command line say the same");
}

#[test]
fn a_file_that_does_not_read_leaves_the_layout_as_it_was() {
    let mut w = two_blocks();
    let dir = dir();
    let good = dir.path().join("good.gapwright");
    save_as(&mut w, &good);
    let before = file(&w);
    let bad = dir.path().join("bad.gapwright");
    std::fs::write(&bad, "(version: 1,\n  runs: [(id: \"r1\", from: \"j1\", to: \"j2\")],\n)")
        .unwrap();
    open(&mut w, &bad);
    assert!(says(&w, "line 2"), "the fault is placed");
    assert!(says(&w, "The layout on the screen is as it was."));
    press(&mut w, "Cancel");
    assert_eq!(file(&w), before);
    open(&mut w, &dir.path().join("not there.gapwright"));
    assert!(says(&w, "could not be opened"));
    press(&mut w, "Cancel");
    open(&mut w, &good);
    assert_eq!(file(&w), before);
}

#[test]
fn unsaved_work_is_asked_about_before_it_is_left() {
    let mut w = two_blocks();
    let before = file(&w);
    let ask_new = |w: &mut Window| {
        w.key_press_modifiers(Modifiers::COMMAND, Key::N);
        w.run();
    };
    ask_new(&mut w);
    press(&mut w, "Keep editing");
    assert_eq!(file(&w), before);
    ask_new(&mut w);
    press(&mut w, "Save");
    let dir = dir();
    let path = dir.path().join("kept");
    write(&mut w, "Path of the file", path.to_str().unwrap());
    press(&mut w, "Save");
    let saved: PathBuf = path.with_extension("gapwright");
    assert_eq!(std::fs::read_to_string(&saved).unwrap(), before, "saved first");
    assert!(w.state().layout().runs.is_empty(), "then begun anew");
    ask_new(&mut w);
    assert!(w.query_by_label("Keep editing").is_none(), "nothing to ask about");
    open(&mut w, &saved);
    select(&mut w, "Cut c4");
    press(&mut w, "Delete");
    ask_new(&mut w);
    press(&mut w, "Discard");
    assert!(w.state().layout().runs.is_empty());
    assert_eq!(std::fs::read_to_string(&saved).unwrap(), before, "the file is as it was");
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
fn closing_the_window_asks_about_unsaved_work() {
    let mut w = window();
    let commands = ask_to_close(&mut w);
    assert!(!commands.contains(&egui::ViewportCommand::CancelClose), "nothing to lose");
    press(&mut w, "Lay track");
    press(&mut w, "Lay this run");
    let commands = ask_to_close(&mut w);
    assert!(commands.contains(&egui::ViewportCommand::CancelClose));
    press(&mut w, "Keep editing");
    assert_eq!(w.state().layout().runs.len(), 1);
    ask_to_close(&mut w);
    press(&mut w, "Discard");
    let commands = ask_to_close(&mut w);
    assert!(!commands.contains(&egui::ViewportCommand::CancelClose));
}

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
fn a_file_dropped_on_the_window_opens() {
    let mut w = window();
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-layouts/brake-idle.gapwright");
    w.input_mut().dropped_files.push(std::sync::Arc::new(Dropped(sample.clone())));
    w.run();
    let there = gapwright::layout::read_path(&sample).unwrap().layout;
    assert_eq!(w.state().layout(), &there);
}

#[test]
fn writing_over_a_file_and_losing_comments_are_asked_about() {
    let mut w = two_blocks();
    let dir = dir();
    let path = dir.path().join("there.gapwright");
    let commented = format!("// mine\n{}", file(&w));
    std::fs::write(&path, &commented).unwrap();
    save_as(&mut w, &path);
    press(&mut w, "Choose another name");
    press(&mut w, "Cancel");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), commented);
    press(&mut w, "Undo");
    w.key_press_modifiers(Modifiers::COMMAND, Key::O);
    w.run();
    press(&mut w, "Discard");
    write(&mut w, "Path of the file", path.to_str().unwrap());
    press(&mut w, "Open");
    select(&mut w, "Cut c4");
    press(&mut w, "Delete");
    w.key_press_modifiers(Modifiers::COMMAND, Key::S);
    w.run();
    assert!(says(&w, "not kept"));
    press(&mut w, "Keep editing");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), commented);
    w.key_press_modifiers(Modifiers::COMMAND, Key::S);
    w.run();
    press(&mut w, "Save without comments");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), file(&w));
}

#[test]
fn a_save_that_fails_says_so_and_loses_nothing() {
    let mut w = two_blocks();
    let before = file(&w);
    let dir = dir();
    save_as(&mut w, &dir.path().join("no such folder").join("x.gapwright"));
    assert!(says(&w, "Could not save"));
    press(&mut w, "Cancel");
    assert_eq!(file(&w), before);
    w.key_press_modifiers(Modifiers::COMMAND, Key::N);
    w.run();
    assert!(w.query_by_label("Keep editing").is_some(), "it still counts as not saved");
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
