//! Nothing is lost: unsaved work is kept and offered after a crash; recent files, presets and settings are remembered.

use super::*;
use std::panic::{AssertUnwindSafe, catch_unwind};
use tempfile::TempDir;

fn shown(app: App) -> Window {
    let mut window = Harness::builder()
        .with_size(vec2(1400.0, 1000.0))
        .with_max_steps(24)
        .with_context_setup(app::dress)
        .build_ui_state(|ui, app: &mut App| app.show(ui), app);
    window.run();
    window
}

/// A window that starts, with a folder as if it were the user's.
fn start(folder: &TempDir) -> Window {
    shown(App::for_tests_in(folder.path(), None))
}

/// Lets ten seconds of the window's clock pass.
fn wait(w: &mut Window) {
    for _ in 0..40 {
        w.step();
    }
}

/// The files of unsaved work.
fn kept(folder: &TempDir) -> Vec<PathBuf> {
    let files = std::fs::read_dir(folder.path().join("unsaved")).unwrap();
    let files = files.map(|entry| entry.unwrap().path());
    files.filter(|path| path.extension().is_some_and(|e| e == "gapwright")).collect()
}

fn lay(w: &mut Window) {
    press(w, "Lay track");
    press(w, "Lay this run");
}

fn keys(w: &mut Window, modifiers: Modifiers, key: Key) {
    w.key_press_modifiers(modifiers, key);
    w.run();
}

/// A copy of a sample that may be written.
fn copy_of_the_wye(folder: &TempDir, name: &str) -> PathBuf {
    let path = folder.path().join(name);
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-layouts/wye.gapwright");
    let text = std::fs::read_to_string(sample).unwrap();
    std::fs::write(&path, save(&gapwright::layout::load(&text).unwrap().layout)).unwrap();
    path
}

/// The next window takes up what was left, as it was.
#[track_caller]
fn is_taken_up(folder: &TempDir, before: &str) {
    let mut w = start(folder);
    press(&mut w, "Take up New layout");
    assert_eq!(file(&w), before);
}

#[test]
fn unsaved_work_is_kept_until_it_is_saved() {
    let folder = TempDir::new().unwrap();
    let mut w = start(&folder);
    wait(&mut w);
    assert!(kept(&folder).is_empty(), "there is nothing to keep yet");
    lay(&mut w);
    wait(&mut w);
    let files = kept(&folder);
    assert_eq!(files.len(), 1);
    assert_eq!(std::fs::read_to_string(&files[0]).unwrap(), file(&w));
    // A further change is kept as well.
    press(&mut w, "Lay this run");
    wait(&mut w);
    assert_eq!(std::fs::read_to_string(&files[0]).unwrap(), file(&w));
    save_as(&mut w, &folder.path().join("mine.layout"));
    wait(&mut w);
    assert!(kept(&folder).is_empty(), "what is saved need not be kept");
}

#[test]
fn what_is_thrown_away_on_purpose_or_closed_leaves_nothing() {
    let folder = TempDir::new().unwrap();
    let mut w = start(&folder);
    lay(&mut w);
    wait(&mut w);
    assert_eq!(kept(&folder).len(), 1);
    keys(&mut w, Modifiers::COMMAND, Key::N);
    press(&mut w, "Discard");
    assert!(kept(&folder).is_empty());
    // Taken back to what was there: nothing is changed any more.
    lay(&mut w);
    wait(&mut w);
    press(&mut w, "Undo");
    wait(&mut w);
    assert!(kept(&folder).is_empty());
    lay(&mut w);
    wait(&mut w);
    ask_to_close(&mut w);
    press(&mut w, "Discard");
    w.state_mut().closed();
    let left = std::fs::read_dir(folder.path().join("unsaved")).unwrap().count();
    assert_eq!(left, 0, "no lock is left either");
}

#[test]
fn what_a_crash_left_is_offered_taken_up_and_thrown_away() {
    let folder = TempDir::new().unwrap();
    let mut w = start(&folder);
    lay(&mut w);
    press(&mut w, "Layout");
    write(&mut w, "Layout: Name", "Cinder Bank");
    wait(&mut w);
    let before = file(&w);
    // While the window lives, another one does not take its work.
    let second = start(&folder);
    assert!(!says(&second, "Work that was not saved"));
    drop(second);
    // The window is gone without a word.
    drop(w);
    let mut w = start(&folder);
    assert!(says(&w, "Work that was not saved"));
    assert!(says(&w, "less than a minute ago, it was in no file yet"));
    press(&mut w, "Take up Cinder Bank");
    assert_eq!(file(&w), before);
    assert!(says(&w, "not saved yet"));
    assert!(!says(&w, "Work that was not saved"));
    // It is still kept, now by this window, even if that is gone at once.
    assert_eq!(kept(&folder).len(), 1);
    drop(w);
    let mut w = start(&folder);
    press(&mut w, "Later");
    assert!(!says(&w, "Work that was not saved"));
    keys(&mut w, Modifiers::COMMAND | Modifiers::SHIFT, Key::U);
    assert!(says(&w, "Work that was not saved"));
    press(&mut w, "Later");
    drop(w);
    let mut w = start(&folder);
    press(&mut w, "Throw away Cinder Bank");
    assert!(!says(&w, "Work that was not saved"));
    assert!(kept(&folder).is_empty());
    press(&mut w, "File");
    press(&mut w, "Take up unsaved work…");
    assert!(says(&w, "There is no work that a crash left behind"));
}

#[test]
fn work_that_is_taken_up_knows_its_file() {
    let folder = TempDir::new().unwrap();
    let path = copy_of_the_wye(&folder, "mine.gapwright");
    let commented = format!("// By hand.\n{}", std::fs::read_to_string(&path).unwrap());
    std::fs::write(&path, commented).unwrap();
    let mut w = start(&folder);
    open(&mut w, &path);
    lay(&mut w);
    wait(&mut w);
    let before = file(&w);
    drop(w);
    // It is offered too when the program is started with a file, the very same one even.
    let mut w = shown(App::for_tests_in(folder.path(), Some(&path)));
    assert!(says(&w, &format!("changes to {}", path.display())));
    press(&mut w, "Take up Three Corners");
    assert_eq!(file(&w), before);
    assert!(says(&w, "changed since it was saved"));
    keys(&mut w, Modifiers::COMMAND, Key::S);
    assert!(says(&w, "The file has comments"), "the file is asked");
    press(&mut w, "Save without comments");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), before);
    assert!(kept(&folder).is_empty());
}

#[test]
fn taking_up_asks_about_unsaved_changes() {
    let folder = TempDir::new().unwrap();
    let mut w = start(&folder);
    lay(&mut w);
    wait(&mut w);
    let first = file(&w);
    drop(w);
    let mut w = start(&folder);
    press(&mut w, "Later");
    lay(&mut w);
    press(&mut w, "Lay this run");
    wait(&mut w);
    let second = file(&w);
    assert_ne!(first, second);
    keys(&mut w, Modifiers::COMMAND | Modifiers::SHIFT, Key::U);
    press(&mut w, "Take up New layout");
    assert!(says(&w, "Save the changes?"));
    press(&mut w, "Keep editing");
    assert_eq!(file(&w), second);
    assert_eq!(kept(&folder).len(), 2, "neither is lost");
    keys(&mut w, Modifiers::COMMAND | Modifiers::SHIFT, Key::U);
    press(&mut w, "Take up New layout");
    press(&mut w, "Discard");
    assert_eq!(file(&w), first);
    assert_eq!(kept(&folder).len(), 1);
}

#[test]
fn kept_work_that_does_not_read_is_told_and_set_aside() {
    let folder = TempDir::new().unwrap();
    let unsaved = folder.path().join("unsaved");
    std::fs::create_dir(&unsaved).unwrap();
    let text = "(version: 1, runs: [";
    std::fs::write(unsaved.join("1-2.gapwright"), text).unwrap();
    let mut w = start(&folder);
    press(&mut w, "Take up a layout");
    assert!(says(&w, "does not read"));
    assert!(says(&w, "1-2.unreadable"));
    assert!(!says(&w, "Work that was not saved"));
    assert_eq!(std::fs::read_to_string(unsaved.join("1-2.unreadable")).unwrap(), text);
    drop(w);
    assert!(!says(&start(&folder), "Work that was not saved"), "it is offered once");
}

#[test]
fn a_window_that_breaks_down_keeps_its_work_first() {
    let folder = TempDir::new().unwrap();
    let mut w = start(&folder);
    lay(&mut w);
    let before = file(&w);
    assert!(kept(&folder).is_empty(), "the usual time has not passed yet");
    let broke = catch_unwind(AssertUnwindSafe(|| {
        w.state_mut().guarded(|_| panic!("a test of breaking down"));
    }));
    assert!(broke.is_err(), "it goes on breaking down");
    drop(w);
    is_taken_up(&folder, &before);
}

#[test]
fn a_window_that_closes_unasked_keeps_its_work() {
    let folder = TempDir::new().unwrap();
    let mut w = start(&folder);
    lay(&mut w);
    let before = file(&w);
    // The desktop went away, or took the window with it: no question could be shown.
    w.state_mut().closed();
    drop(w);
    is_taken_up(&folder, &before);
}

#[test]
fn a_window_that_is_hidden_keeps_its_work_and_asks_before_it_closes() {
    let folder = TempDir::new().unwrap();
    let mut w = start(&folder);
    lay(&mut w);
    let hidden = |w: &mut Window, events: Vec<egui::ViewportEvent>| {
        let ctx = w.ctx.clone();
        let info = egui::ViewportInfo { minimized: Some(true), events, ..Default::default() };
        let viewports = [(egui::ViewportId::ROOT, info)].into_iter().collect();
        let input = egui::RawInput { viewports, ..Default::default() };
        let asked = ctx.run_logic(&input, |ctx| w.state_mut().while_hidden(ctx));
        asked.viewport_commands.into_values().flatten().collect::<Vec<_>>()
    };
    assert!(kept(&folder).is_empty());
    assert!(hidden(&mut w, vec![]).is_empty());
    assert_eq!(std::fs::read_to_string(&kept(&folder)[0]).unwrap(), file(&w));
    let commands = hidden(&mut w, vec![egui::ViewportEvent::Close]);
    assert!(commands.contains(&egui::ViewportCommand::CancelClose), "{commands:?}");
    assert!(commands.contains(&egui::ViewportCommand::Minimized(false)), "{commands:?}");
    w.run();
    assert!(says(&w, "Save the changes?"));
    press(&mut w, "Discard");
    let commands = hidden(&mut w, vec![egui::ViewportEvent::Close]);
    assert!(commands.is_empty(), "nothing is to be guarded: {commands:?}");
}

#[test]
fn recent_layouts_are_listed_opened_and_forgotten() {
    let folder = TempDir::new().unwrap();
    let mut w = start(&folder);
    let here = copy_of_the_wye(&folder, "here.layout");
    let gone = copy_of_the_wye(&folder, "gone.layout");
    for path in [&gone, &here] {
        open(&mut w, path);
    }
    // What is saved is among them too.
    save_as(&mut w, &folder.path().join("saved.gapwright"));
    std::fs::remove_file(&gone).unwrap();
    // They are remembered, even if the window is gone without a word.
    drop(w);
    let mut w = start(&folder);
    press(&mut w, "File");
    press(&mut w, "Open a recent layout");
    assert!(says(&w, "saved.gapwright"));
    assert!(w.query_all_by_label("gone.layout (gone)").next().is_some());
    press(&mut w, "Forget those that are gone");
    assert!(w.query_all_by_label("gone.layout (gone)").next().is_none());
    press(&mut w, "here.layout");
    assert_eq!(w.state().layout().name, "Three Corners");
    drop(w);
    // With the keys alone: the last one that was opened is the first.
    let mut w = start(&folder);
    keys(&mut w, Modifiers::COMMAND | Modifiers::SHIFT, Key::R);
    assert!(w.query_all_by_label("gone.layout (gone)").next().is_none());
    keys(&mut w, Modifiers::NONE, Key::Tab);
    keys(&mut w, Modifiers::NONE, Key::Enter);
    assert_eq!(w.state().layout().name, "Three Corners");
}

#[test]
fn settings_are_remembered_and_a_broken_text_is_told() {
    let folder = TempDir::new().unwrap();
    let mut w = start(&folder);
    press(&mut w, "Snap to the grid");
    keys(&mut w, Modifiers::COMMAND, Key::U);
    drop(w);
    let mut w = start(&folder);
    let snap = w.query_all_by_label("Snap to the grid").next().unwrap();
    assert_eq!(snap.accesskit_node().toggled(), Some(egui::accesskit::Toggled::False));
    lay(&mut w);
    select(&mut w, "Run r3");
    assert!(says(&w, "Drawn: 39.4 in"));
    w.state_mut().closed();
    drop(w);
    let broken = "(inches: maybe";
    std::fs::write(folder.path().join("settings.ron"), broken).unwrap();
    let mut w = start(&folder);
    assert!(says(&w, "What the window remembered could not be read"));
    keys(&mut w, Modifiers::COMMAND, Key::U);
    let aside = std::fs::read_to_string(folder.path().join("settings.unreadable")).unwrap();
    assert_eq!(aside, broken, "it is not written over");
    drop(w);
    assert!(!says(&start(&folder), "could not be read"));
}

#[test]
fn the_scale_goes_from_75_to_250_per_cent_also_while_something_is_asked() {
    let mut w = window();
    for _ in 0..15 {
        keys(&mut w, Modifiers::COMMAND, Key::Plus);
    }
    assert_eq!(w.ctx.zoom_factor(), 2.5);
    keys(&mut w, Modifiers::COMMAND, Key::O);
    for _ in 0..15 {
        keys(&mut w, Modifiers::COMMAND, Key::Minus);
    }
    assert_eq!(w.ctx.zoom_factor(), 0.75);
    keys(&mut w, Modifiers::COMMAND, Key::Num0);
    assert_eq!(w.ctx.zoom_factor(), 1.0);
    press(&mut w, "Cancel");
    press(&mut w, "View");
    press(&mut w, "Larger letters");
    assert_eq!(w.ctx.zoom_factor(), 1.1);
}

/// The theme, the scale and the panels are in what the toolkit remembers by itself; nothing at the start undoes that.
#[test]
fn theme_scale_and_panels_are_as_they_were_left() {
    let left = |w: &Window| {
        let tab = w.query_all_by_label_contains("Findings (").next().unwrap();
        tab.rect().left()
    };
    let mut w = window();
    let first = left(&w);
    let edge = pos2(first - 10.0, 600.0);
    drag(&mut w, edge, edge - vec2(90.0, 0.0));
    let wider = left(&w);
    assert!((first - wider - 90.0).abs() < 3.0, "{first} {wider}");
    keys(&mut w, Modifiers::COMMAND, Key::L);
    let theme = w.ctx.theme();
    let memory = w.ctx.memory(|memory| ron::to_string(memory).unwrap());

    // The harness has a theme of its own at the start, so that what was remembered must come after that.
    let mut w = window();
    assert_ne!(w.ctx.theme(), theme);
    w.ctx.memory_mut(|there| *there = ron::from_str(&memory).unwrap());
    app::dress(&w.ctx);
    w.run();
    assert_eq!(w.ctx.theme(), theme);
    assert!((left(&w) - wider).abs() < 1.0, "{} {wider}", left(&w));
}

#[test]
fn equipment_is_kept_as_presets_for_other_layouts() {
    let folder = TempDir::new().unwrap();
    let mut w = start(&folder);
    press(&mut w, "Layout");
    press(&mut w, "Add a driver");
    there_and_back(&mut w, "a shipped preset", |w| press(w, "5 A bridge, brake-low idle"));
    select(&mut w, "Driver A (d2)");
    write(&mut w, "Driver: Name", "Bench board");
    set(&mut w, "Driver: Threshold", 4.5);
    press(&mut w, "Keep as a preset");
    // In another window, on another layout.
    let mut w = start(&folder);
    press(&mut w, "Layout");
    press(&mut w, "Add a driver");
    there_and_back(&mut w, "a preset of one's own", |w| press(w, "Bench board"));
    let layout = w.state().layout();
    let driver = layout.drivers.values().next().unwrap();
    assert_eq!(driver.trip.as_ref().unwrap().amps.value, 4.5);
    assert!(layout.supplies.contains_key(&driver.supply));
}

#[test]
fn a_new_layout_is_looked_at_anew() {
    let folder = TempDir::new().unwrap();
    let mut w = start(&folder);
    open(&mut w, &Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-layouts/wye.gapwright"));
    assert!(says(&w, "2 shorts"));
    w.key_press_modifiers(Modifiers::COMMAND, Key::N);
    w.run();
    assert!(w.state().layout().runs.is_empty());
    assert!(says(&w, "Nothing to check yet"));
    assert!(w.state().report().findings.is_empty(), "nothing is left of what was there before");
}

/// At 250 % on a small display there is room for the plan and one of the panels.
#[test]
fn large_letters_in_a_small_window_leave_room_for_the_plan() {
    for size in [vec2(1280.0, 800.0) / 2.5, vec2(1024.0, 768.0) / 2.0] {
        let mut w = window_of_size(size.x, size.y);
        let plan = |w: &Window| w.query_all_by_label_contains("Plan, ").next().unwrap().rect();
        let has = |w: &Window, name: &str| w.query_all_by_label(name).next().is_some();
        assert!(has(&w, "Run") && !has(&w, "Lay track"));
        assert!(plan(&w).width() > 150.0, "{:?}", plan(&w));
        press(&mut w, "Tools");
        assert!(!has(&w, "Run") && has(&w, "Lay track"));
        assert!(plan(&w).width() > 150.0, "{:?}", plan(&w));
        press(&mut w, "Panel");
        keys(&mut w, Modifiers::NONE, Key::F9);
        lay(&mut w);
        // What wants to be shown brings the panel back.
        keys(&mut w, Modifiers::NONE, Key::Num3);
        assert!(has(&w, "Run"));
        // Questions fit into the window.
        let window = egui::Rect::from_min_size(Pos2::ZERO, size);
        for (key, last) in
            [(Key::S, "Cancel"), (Key::O, "Keep editing"), (Key::K, "Search actions")]
        {
            keys(&mut w, Modifiers::COMMAND, key);
            let rect = w.query_all_by_label(last).last().unwrap().rect();
            assert!(window.contains_rect(rect), "{last}: {rect:?}");
            keys(&mut w, Modifiers::NONE, Key::Escape);
        }
    }
}

#[test]
fn the_panel_on_the_right_is_put_away_and_stays_so() {
    let folder = TempDir::new().unwrap();
    let mut w = start(&folder);
    let has = |w: &Window| w.query_all_by_label("Run").next().is_some();
    assert!(has(&w));
    keys(&mut w, Modifiers::NONE, Key::F9);
    assert!(!has(&w));
    drop(w);
    let mut w = start(&folder);
    assert!(!has(&w));
    keys(&mut w, Modifiers::NONE, Key::Num1);
    assert!(has(&w));
}

#[test]
fn what_something_else_wrote_into_the_file_is_not_written_over_unasked() {
    let folder = TempDir::new().unwrap();
    let path = copy_of_the_wye(&folder, "mine.gapwright");
    let mut w = start(&folder);
    open(&mut w, &path);
    lay(&mut w);
    let theirs =
        std::fs::read_to_string(&path).unwrap().replace("Three Corners", "Three Corners, other");
    std::fs::write(&path, &theirs).unwrap();
    keys(&mut w, Modifiers::COMMAND, Key::S);
    assert!(says(&w, "The file has changed meanwhile"));
    press(&mut w, "Keep editing");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), theirs);
    // Under the same name it is asked again, under another both are kept.
    keys(&mut w, Modifiers::COMMAND, Key::S);
    press(&mut w, "Save as…");
    press(&mut w, "Save");
    assert!(says(&w, "Write over this file?"));
    press(&mut w, "Choose another name");
    press(&mut w, "Cancel");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), theirs);
    keys(&mut w, Modifiers::COMMAND, Key::S);
    press(&mut w, "Save over it");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), file(&w));
    // From now on it is known again.
    press(&mut w, "Undo");
    keys(&mut w, Modifiers::COMMAND, Key::S);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), file(&w));
    // Reading it again takes what the other wrote.
    press(&mut w, "Redo");
    std::fs::write(&path, &theirs).unwrap();
    keys(&mut w, Modifiers::COMMAND, Key::S);
    press(&mut w, "Read it again");
    assert!(says(&w, "Three Corners, other"));
    // A file that is gone is written anew.
    lay(&mut w);
    std::fs::remove_file(&path).unwrap();
    keys(&mut w, Modifiers::COMMAND, Key::S);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), file(&w));
}
