//! Keys: the ends of the history, Escape, Enter, and names that are typed.

use super::*;
use gapwright::layout::Layout;

fn layout(w: &Window) -> Layout {
    w.state().layout().clone()
}

fn shifted(w: &mut Window, modifiers: Modifiers, key: Key) {
    w.key_press_modifiers(modifiers | Modifiers::SHIFT, key);
    w.run();
}

/// Types letters into what has the focus.
fn type_text(w: &mut Window, text: &str) {
    w.event(egui::Event::Text(text.into()));
    w.run();
}

/// Brings a field into view and clicks into it.
fn click_into(w: &mut Window, name: &str) {
    w.get_by_label(name).scroll_to_me();
    for _ in 0..8 {
        w.step();
    }
    let there = w.get_by_label(name).rect().center();
    pointer(w, there);
}

/// The fields for names of blocks.
fn block_fields(w: &Window) -> Vec<String> {
    let fields = w.query_all(by().role(Role::TextInput));
    let names = fields.filter_map(|n| n.accesskit_node().label());
    names.filter(|name| name.starts_with("Block name")).collect()
}

fn is_there(w: &Window, name: &str) -> bool {
    w.query_all_by_label(name).next().is_some()
}

#[test]
fn undo_and_redo_stop_at_the_ends() {
    let mut w = two_blocks();
    let end = file(&w);
    for _ in 0..3 {
        shifted(&mut w, Modifiers::COMMAND, Key::Z);
        assert_eq!(file(&w), end, "redo at its end does nothing");
    }
    w.key_press_modifiers(Modifiers::COMMAND, Key::Y);
    w.run();
    assert_eq!(file(&w), end);
    let beginning = file(&window());
    for _ in 0..40 {
        w.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        w.run();
    }
    assert_eq!(file(&w), beginning);
    for _ in 0..40 {
        shifted(&mut w, Modifiers::COMMAND, Key::Z);
    }
    assert_eq!(file(&w), end);
}

#[test]
fn escape_closes_the_list_that_is_open_and_nothing_else() {
    let mut w = two_blocks();
    w_key(&mut w, Key::C);
    let is_open = |w: &Window| w.query_all(by().label("Right rail").role(Role::Button)).count() > 0;
    w.query_all(by().label("Cut: Rails").role(Role::ComboBox)).next().unwrap().click_accesskit();
    w.run();
    assert!(is_open(&w));
    w_key(&mut w, Key::Escape);
    assert!(!is_open(&w), "the list is closed");
    assert!(is_there(&w, "Cut here"), "the tool is still in hand");
    // A menu.
    press(&mut w, "Edit");
    assert!(is_there(&w, "Duplicate"));
    w_key(&mut w, Key::Escape);
    assert!(!is_there(&w, "Duplicate") && is_there(&w, "Cut here"));
    // A dialog.
    shifted(&mut w, Modifiers::COMMAND, Key::S);
    assert!(is_there(&w, "Path of the file"));
    w_key(&mut w, Key::Escape);
    assert!(!is_there(&w, "Path of the file") && is_there(&w, "Cut here"));
    w_key(&mut w, Key::Escape);
    assert!(!is_there(&w, "Cut here"), "with nothing open the tool is laid down");
}

#[test]
fn escape_in_a_number_keeps_the_old_one_and_touches_nothing_else() {
    let mut w = two_blocks();
    select(&mut w, "Cut c4");
    let before = file(&w);
    click_into(&mut w, "Cut particulars: At");
    type_text(&mut w, "777");
    w_key(&mut w, Key::Escape);
    assert_eq!(file(&w), before, "what was typed goes nowhere");
    assert!(is_there(&w, "Cut particulars: At"), "the cut is still selected");
    // Enter commits.
    click_into(&mut w, "Cut particulars: At");
    type_text(&mut w, "777");
    w_key(&mut w, Key::Enter);
    assert_eq!(layout(&w).cuts.values().next().unwrap().at_mm, 777.0);
    // So does going elsewhere.
    click_into(&mut w, "Cut particulars: At");
    type_text(&mut w, "888");
    let ground = w.get_by_role(Role::Canvas).rect().center() + vec2(30.0, 160.0);
    pointer(&mut w, ground);
    assert_eq!(layout(&w).cuts.values().next().unwrap().at_mm, 888.0);
}

#[test]
fn what_is_being_typed_is_saved_with_the_rest() {
    let folder = dir();
    let path = folder.path().join("typed.gapwright");
    let mut w = two_blocks();
    save_as(&mut w, &path);
    select(&mut w, "Cut c4");
    click_into(&mut w, "Cut particulars: At");
    type_text(&mut w, "654");
    w.key_press_modifiers(Modifiers::COMMAND, Key::S);
    w.run();
    assert_eq!(layout(&w).cuts.values().next().unwrap().at_mm, 654.0);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), file(&w));
}

#[test]
fn escape_drops_no_drawing_without_a_word() {
    let mut w = two_blocks();
    let before = file(&w);
    w_key(&mut w, Key::L);
    pointer(&mut w, pos2(500.0, 600.0));
    w_key(&mut w, Key::Escape);
    assert!(says(&w, "The run that was begun was given up"));
    assert!(is_there(&w, "Lay this run"), "the tool is still in hand");
    // A chain that was laid ends without a word: nothing is lost.
    pointer(&mut w, pos2(500.0, 600.0));
    pointer(&mut w, pos2(700.0, 600.0));
    assert_ne!(file(&w), before);
    w_key(&mut w, Key::Escape);
    assert!(!says(&w, "given up"));
    // Another tool that is taken in hand is no way to lose it either.
    pointer(&mut w, pos2(560.0, 700.0));
    w_key(&mut w, Key::C);
    assert!(says(&w, "The run that was begun was given up"));
    w_key(&mut w, Key::B);
    let gap = on_plan(&w, "Cut c4");
    pointer(&mut w, gap + vec2(-60.0, 2.0));
    assert!(says(&w, "Click where it goes to"));
    w_key(&mut w, Key::Escape);
    assert!(says(&w, "The bond that was begun was given up"));
}

#[test]
fn a_block_is_named_where_its_run_is_selected() {
    let mut w = two_blocks();
    select(&mut w, "Run r3");
    let fields = block_fields(&w);
    assert_eq!(fields.len(), 2, "{fields:?}");
    let [west, east] = [&*fields[0], &*fields[1]];
    there_and_back(&mut w, "name", |w| write(w, west, "Harbour"));
    assert_eq!(w.state().report().blocks[0].name, "Harbour");
    there_and_back(&mut w, "another name", |w| write(w, west, "Quay"));
    assert_eq!(layout(&w).labels.len(), 1, "the name is changed, not doubled");
    there_and_back(&mut w, "the other block", |w| write(w, east, "Moor"));
    there_and_back(&mut w, "no name", |w| write(w, east, ""));
    assert_eq!(layout(&w).labels.len(), 1);
    // Typed by key, Escape keeps the old name, Enter gives the new one, as one step.
    click_into(&mut w, west);
    type_text(&mut w, "side");
    let before = file(&w);
    w_key(&mut w, Key::Escape);
    assert_eq!(file(&w), before);
    assert!(is_there(&w, west), "the run is still selected");
    click_into(&mut w, west);
    for letter in ["s", "i", "d", "e"] {
        type_text(&mut w, letter);
    }
    w_key(&mut w, Key::Enter);
    assert!(w.state().report().blocks[0].name.contains("side"));
    press(&mut w, "Undo");
    assert_eq!(file(&w), before, "the whole name is one step");
}

#[test]
fn a_key_names_what_is_selected_over_the_plan() {
    let mut w = two_blocks();
    for (thing, name) in [
        ("Cut c4", "Throat"),
        ("Driver Driver A (d6)", "West cab"),
        ("Supply A (s5)", "West supply"),
    ] {
        let thing = thing.replace("Driver Driver", "Driver");
        select(&mut w, &thing);
        there_and_back(&mut w, name, |w| {
            w_key(w, Key::F2);
            type_text(w, name);
            w_key(w, Key::Enter);
        });
        assert!(file(&w).contains(name), "{name}");
    }
    select(&mut w, "Run r3");
    w_key(&mut w, Key::F2);
    assert!(is_there(&w, "Name of block 1") || is_there(&w, "Name of block 2"));
    type_text(&mut w, "Moor");
    let before = file(&w);
    w_key(&mut w, Key::Escape);
    assert_eq!(file(&w), before, "Escape keeps the old name");
    assert!(!says(&w, "Name of block"), "and closes the field");
    assert!(says(&w, "Run r3 selected"), "and nothing else");
    // Going elsewhere gives the name.
    w_key(&mut w, Key::F2);
    type_text(&mut w, "Moor");
    let ground = w.get_by_role(Role::Canvas).rect().center() + vec2(30.0, 160.0);
    pointer(&mut w, ground);
    assert!(w.state().report().blocks.iter().any(|block| block.name == "Moor"));
    assert!(!says(&w, "Name of block"));
    // From the list of names.
    press(&mut w, "Layout");
    w.query_all_by_label_contains("Block names (").next().unwrap().click_accesskit();
    w.run();
    there_and_back(&mut w, "add a block name", |w| {
        press(w, "Name a block");
        type_text(w, "Fen");
        w_key(w, Key::Enter);
    });
    assert_eq!(layout(&w).labels.len(), 2);
    let labels = layout(&w).labels.len();
    press(&mut w, "Layout");
    press(&mut w, "Name a block");
    assert!(says(&w, "Every block has a name already."));
    assert_eq!(layout(&w).labels.len(), labels);
}
