//! Nothing is lost: unsaved work is kept and offered after a crash; recent files, presets and settings are remembered.

use super::*;
use tempfile::TempDir;

fn window_with(settings: &str, folder: &Path) -> Window {
    let app = App::for_tests_with(settings, folder);
    let mut window = Harness::builder()
        .with_size(vec2(1400.0, 1000.0))
        .with_max_steps(24)
        .with_context_setup(app::dress)
        .build_ui_state(|ui, app: &mut App| app.show(ui), app);
    window.run();
    window
}

/// Lets some seconds pass.
fn wait(w: &mut Window) {
    for _ in 0..40 {
        w.step();
    }
}

fn kept(folder: &TempDir) -> Vec<PathBuf> {
    let files = std::fs::read_dir(folder.path()).unwrap().map(|e| e.unwrap().path());
    files.filter(|path| path.extension().is_some_and(|e| e == "gapwright")).collect()
}

fn lay(w: &mut Window) {
    press(w, "Lay track");
    press(w, "Lay this run");
}

#[test]
fn unsaved_work_is_kept_until_it_is_saved() {
    let folder = TempDir::new().unwrap();
    let mut w = window_with("()", folder.path());
    wait(&mut w);
    assert!(kept(&folder).is_empty(), "there is nothing to keep yet");
    lay(&mut w);
    wait(&mut w);
    let files = kept(&folder);
    assert_eq!(files.len(), 1);
    let text = std::fs::read_to_string(&files[0]).unwrap();
    assert_eq!(text, file(&w));
    // A further change is kept as well.
    press(&mut w, "Lay this run");
    wait(&mut w);
    assert_eq!(std::fs::read_to_string(&files[0]).unwrap(), file(&w));
    let path = folder.path().join("mine.saved");
    w.key_press_modifiers(Modifiers::COMMAND, Key::S);
    w.run();
    write(&mut w, "Path of the file", &path.display().to_string());
    press(&mut w, "Save");
    wait(&mut w);
    assert!(kept(&folder).is_empty(), "what is saved need not be kept");
}

#[test]
fn what_a_crash_left_is_offered_taken_up_and_thrown_away() {
    let folder = TempDir::new().unwrap();
    let mut w = window_with("()", folder.path());
    lay(&mut w);
    press(&mut w, "Layout");
    write(&mut w, "Layout: Name", "Cinder Bank");
    wait(&mut w);
    let before = file(&w);
    // While the window lives, another one does not take its work.
    let second = window_with("()", folder.path());
    assert!(!says(&second, "Work that was not saved"));
    drop(second);
    // The window is gone without a word.
    drop(w);
    let mut w = window_with("()", folder.path());
    assert!(says(&w, "Work that was not saved"));
    assert!(says(&w, "less than a minute ago, it was in no file yet"));
    press(&mut w, "Take up Cinder Bank");
    assert_eq!(file(&w), before);
    assert!(says(&w, "not saved yet"));
    assert!(!says(&w, "Work that was not saved"));
    // It is still kept, now by this window.
    wait(&mut w);
    assert_eq!(kept(&folder).len(), 1);
    drop(w);
    let mut w = window_with("()", folder.path());
    press(&mut w, "Later");
    drop(w);
    let mut w = window_with("()", folder.path());
    press(&mut w, "Throw away Cinder Bank");
    assert!(!says(&w, "Work that was not saved"));
    assert!(kept(&folder).is_empty());
}

#[test]
fn kept_work_that_does_not_read_is_told_and_stays() {
    let folder = TempDir::new().unwrap();
    std::fs::write(folder.path().join("1-2.gapwright"), "(version: 1, runs: [").unwrap();
    let mut w = window_with("()", folder.path());
    press(&mut w, "Take up a layout");
    assert!(says(&w, "does not read"));
    assert_eq!(kept(&folder).len(), 1);
}

#[test]
fn recent_layouts_are_listed_opened_and_forgotten() {
    let folder = TempDir::new().unwrap();
    let mut w = window_with("()", folder.path());
    let here = folder.path().join("here.layout");
    std::fs::copy(
        Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-layouts/wye.gapwright"),
        &here,
    )
    .unwrap();
    let gone = folder.path().join("gone.layout");
    std::fs::copy(&here, &gone).unwrap();
    for path in [&gone, &here] {
        open(&mut w, path);
    }
    std::fs::remove_file(&gone).unwrap();
    // They are remembered.
    let settings = w.state().settings_text();
    let mut w = window_with(&settings, folder.path());
    press(&mut w, "File");
    press(&mut w, "Open a recent layout");
    assert!(w.query_all_by_label("gone.layout (gone)").next().is_some());
    press(&mut w, "Forget those that are gone");
    assert!(w.query_all_by_label("gone.layout (gone)").next().is_none());
    press(&mut w, "here.layout");
    assert_eq!(w.state().layout().name, "Three Corners");
}

#[test]
fn settings_are_remembered_and_a_broken_text_is_told() {
    let folder = TempDir::new().unwrap();
    let mut w = window_with("()", folder.path());
    w.key_press_modifiers(Modifiers::COMMAND, Key::U);
    w.run();
    let settings = w.state().settings_text();
    let mut w = window_with(&settings, folder.path());
    lay(&mut w);
    select(&mut w, "Run r3");
    assert!(says(&w, "Drawn: 39.4 in"));
    let w = window_with("(inches: maybe", folder.path());
    assert!(says(&w, "What the window remembered could not be read"));
}

#[test]
fn equipment_is_kept_as_presets_for_other_layouts() {
    let folder = TempDir::new().unwrap();
    let mut w = window_with("()", folder.path());
    press(&mut w, "Layout");
    press(&mut w, "Add a driver");
    there_and_back(&mut w, "a shipped preset", |w| press(w, "5 A bridge, brake-low idle"));
    select(&mut w, "Driver A (d2)");
    write(&mut w, "Driver: Name", "Bench board");
    set(&mut w, "Driver: Threshold", 4.5);
    press(&mut w, "Keep as a preset");
    let settings = w.state().settings_text();
    // In another window, on another layout.
    let mut w = window_with(&settings, folder.path());
    if says(&w, "Work that was not saved") {
        press(&mut w, "Later");
    }
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
    let mut w = window_with("()", folder.path());
    open(&mut w, &Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-layouts/wye.gapwright"));
    assert!(says(&w, "2 shorts"));
    w.key_press_modifiers(Modifiers::COMMAND, Key::N);
    w.run();
    assert!(w.state().layout().runs.is_empty());
    assert!(says(&w, "Nothing to check yet"));
    assert!(w.state().report().findings.is_empty(), "nothing is left of what was there before");
}
