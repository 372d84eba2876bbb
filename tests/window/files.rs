//! Files through the window: opening, saving, dropping, and what is asked before work is lost.

use super::*;

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

/// A path is typed letter by letter as at a keyboard.
#[test]
fn a_path_is_typed_letter_by_letter() {
    let folder = dir();
    let path = folder.path().join("typed.gapwright");
    let mut w = two_blocks();
    w.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::S);
    w.run();
    w.key_press_modifiers(Modifiers::COMMAND, Key::A);
    w.run();
    for letter in path.to_str().unwrap().chars() {
        w.event(egui::Event::Text(letter.to_string()));
        w.run();
    }
    w_key(&mut w, Key::Enter);
    assert!(path.exists(), "saved where the path says");
}
