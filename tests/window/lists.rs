//! The list of everything, the list of samples, and what the window remembers of both and of the view.

use super::*;
use tempfile::TempDir;

fn start(folder: &TempDir, file: Option<&Path>) -> Window {
    let mut window = Harness::builder()
        .with_size(vec2(1400.0, 1000.0))
        .with_max_steps(24)
        .with_context_setup(app::dress)
        .build_ui_state(|ui, app: &mut App| app.show(ui), App::for_tests_in(folder.path(), file));
    window.run();
    window
}

fn fold(w: &mut Window, group: &str) {
    w.query_all_by_label_contains(group).next().unwrap().click_accesskit();
    w.run();
}

#[test]
fn groups_fold_and_the_window_remembers_which() {
    let folder = TempDir::new().unwrap();
    let mut w = start(&folder, None);
    open(
        &mut w,
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-layouts/brake-idle.gapwright"),
    );
    press(&mut w, "Layout");
    let there =
        |w: &Window, name: &str| w.query_all(by().label(name).role(Role::Button)).next().is_some();
    assert!(there(&w, "Cut Home gap (c1)") && !there(&w, "Run r2"));
    fold(&mut w, "Gaps (");
    fold(&mut w, "Runs (");
    assert!(!there(&w, "Cut Home gap (c1)") && there(&w, "Run r2"));
    w.state_mut().closed();
    drop(w);
    let mut w = start(&folder, None);
    open(
        &mut w,
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-layouts/brake-idle.gapwright"),
    );
    press(&mut w, "Layout");
    assert!(!there(&w, "Cut Home gap (c1)") && there(&w, "Run r2"), "as they were left");
}

#[test]
fn names_are_filtered_in_every_group_folded_or_not() {
    let mut w = sample("club");
    press(&mut w, "Layout");
    write(&mut w, "Show only names with", "run r1");
    let rows = |w: &Window| {
        let all = w.query_all(by().role(Role::Button).predicate(|n| {
            n.label().is_some_and(|l| l.starts_with("Run r") || l.starts_with("Joint j"))
        }));
        all.filter_map(|n| n.accesskit_node().label()).collect::<Vec<_>>()
    };
    let found = rows(&w);
    assert!(!found.is_empty() && found.iter().all(|row| row.starts_with("Run r1")), "{found:?}");
    write(&mut w, "Show only names with", "");
    assert!(says(&w, "Layout: Name"), "the form is back");
}

#[test]
fn an_empty_group_shows_how_to_add_to_it() {
    let mut w = window();
    press(&mut w, "Layout");
    for add in [
        "Add a driver",
        "Add a device",
        "Add a supply",
        "Add a vehicle",
        "Add a train",
        "Add special work",
        "Add a gap",
        "Add a feed",
        "Add a bond",
        "Add a picture…",
        "Add track",
    ] {
        assert!(w.query_all_by_label(add).next().is_some(), "{add}");
    }
    press(&mut w, "Add track");
    assert!(w.query_by_label("Lay this run").is_some(), "the tool is in hand");
    press(&mut w, "Lay this run");
    press(&mut w, "Layout");
    there_and_back(&mut w, "a name", |w| {
        press(w, "Name a block");
        w.event(egui::Event::Text("Fen".to_owned()));
        w.run();
        w_key(w, Key::Enter);
    });
    assert_eq!(w.state().layout().labels.len(), 1);
    press(&mut w, "Layout");
    press(&mut w, "Add a gap");
    assert!(w.query_by_label("Cut here").is_some());
}

#[test]
fn samples_stand_in_groups_and_are_searched() {
    let mut w = window();
    w.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::O);
    w.run();
    for group in ["Sound", "Idle states", "Supplies"] {
        assert!(w.query_by_label(group).is_some(), "{group}");
    }
    write(&mut w, "Search the samples", "reversing section ore");
    let shown: Vec<String> = w
        .query_all(
            by().role(Role::Button)
                .predicate(|n| n.label().is_some_and(|l| sample_names().contains(&l))),
        )
        .filter_map(|n| n.accesskit_node().label())
        .collect();
    assert_eq!(shown.len(), 1, "{shown:?}");
    assert!(says(&w, "A wye on DCC whose reversing section is shorter"));
    press(&mut w, &shown[0]);
    assert_eq!(w.state().layout().name, shown[0]);
    w.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::O);
    w.run();
    write(&mut w, "Search the samples", "no such sample");
    assert!(says(&w, "No sample has all these words."));
}

#[test]
fn a_layout_is_looked_at_from_where_it_was() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("mine.gapwright");
    std::fs::write(&path, save(two_blocks().state().layout())).unwrap();
    let mut w = start(&folder, Some(&path));
    let whole = on_plan(&w, "Joint j1");
    for _ in 0..3 {
        w_key(&mut w, Key::Minus);
    }
    drag(&mut w, pos2(600.0, 700.0), pos2(660.0, 640.0));
    let left = on_plan(&w, "Joint j1");
    assert!((left - whole).length() > 20.0);
    w.state_mut().closed();
    drop(w);
    let w = start(&folder, Some(&path));
    assert!(
        (on_plan(&w, "Joint j1") - left).length() < 1.0,
        "{left:?} {:?}",
        on_plan(&w, "Joint j1")
    );
}
