//! Cures: tried before and after, applied from their buttons, undone in one step.

use super::*;

fn faults(window: &Window) -> usize {
    use gapwright::findings::Class;
    let findings = window.state().report().findings.iter();
    findings.filter(|f| f.class == Class::Fault).count()
}

/// Opens the finding whose row names this kind.
fn open_finding(w: &mut Window, kind: &str) {
    let row = w
        .query_all(
            by().role(Role::Button)
                .predicate(|n| n.label().is_some_and(|l| l.contains(kind) && l.contains(" at "))),
        )
        .next()
        .unwrap_or_else(|| panic!("no finding {kind}"));
    row.click_accesskit();
    w.run();
}

/// Presses the first control whose name begins like this.
fn press_like(w: &mut Window, begins: &str) {
    let node = w
        .query_all(
            by().role(Role::Button).predicate(|n| n.label().is_some_and(|l| l.starts_with(begins))),
        )
        .next()
        .unwrap_or_else(|| panic!("nothing begins with {begins:?}"));
    node.click_accesskit();
    w.run();
}

#[test]
fn a_finding_offers_cures_that_are_tried_applied_and_undone() {
    let mut w = sample("brake-idle");
    assert_eq!(faults(&w), 1);
    open_finding(&mut w, "Idle state clamps the neighbour");
    assert!(w.query_by_label("Cures, each proved").is_some());
    let before = w.state().layout().clone();
    press_like(&mut w, "Try cure 1: Set the idle state of Pimmerton bridge");
    // Both sides stand there with their counts, and the layout is as it was.
    assert!(w.query_by_label("Before: 1 short, 1 operating rule, 0 cuts clear").is_some());
    assert!(w.query_by_label("After: 1 operating rule, 1 cut clear").is_some());
    assert!(w.query_all_by_label_contains("Ends: Home gap").next().is_some());
    assert_eq!(*w.state().layout(), before);
    w.key_press(Key::Escape);
    w.run();
    assert!(w.query_by_label("Before and after").is_none());
    assert_eq!(*w.state().layout(), before);
    press_like(&mut w, "Apply cure 1: ");
    assert_eq!(faults(&w), 0);
    assert!(w.query_all_by_label_contains("Done on the plan: Set the idle state").next().is_some());
    w.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    w.run();
    assert_eq!(*w.state().layout(), before, "one step of undo");
    assert_eq!(faults(&w), 1);
}

#[test]
fn all_faults_of_the_club_are_cured_with_one_button_and_one_key() {
    let mut w = sample("club");
    assert_eq!(faults(&w), 2);
    press(&mut w, "Cure all faults…");
    w.run();
    assert!(w.query_by_label("2 jobs, about 8 min").is_some());
    assert!(
        w.query_by_label("1. Exchange the two wires of feeder f312 (Sallowmere loop).").is_some()
    );
    assert_eq!(faults(&w), 2);
    w.key_press_modifiers(Modifiers::COMMAND, Key::Enter);
    w.run();
    assert_eq!(faults(&w), 0);
    w.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    w.run();
    assert_eq!(faults(&w), 2);
}

#[test]
fn a_finding_without_a_cure_says_why() {
    let mut w = sample("split-pickup");
    open_finding(&mut w, "Vehicle stalls on the gap");
    assert!(w.query_by_label("No proved cure").is_some());
    assert!(w.query_all_by_label_contains("follow the advice").next().is_some());
}

#[test]
fn keys_edit_nothing_while_two_plans_are_compared() {
    let mut w = sample("brake-idle");
    let before = w.state().layout().clone();
    w.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::K);
    w.run();
    w.run();
    assert!(w.query_by_label("Before and after").is_some());
    w.key_press_modifiers(Modifiers::COMMAND, Key::A);
    w.key_press(Key::Delete);
    w.run();
    assert_eq!(*w.state().layout(), before);
    press(&mut w, "Leave it as it is");
    assert!(w.query_by_label("Before and after").is_none());
}

#[test]
fn the_comparison_fits_the_sizes_that_people_use() {
    for (width, height) in [(1024.0, 768.0), (1280.0, 800.0), (1920.0, 1080.0)] {
        let mut w = sample_in(window_of_size(width, height), "club");
        press(&mut w, "Cure all faults…");
        w.run();
        for name in
            ["Apply to the layout", "Leave it as it is", "After: 1 operating rule, 42 cuts clear"]
        {
            let rect = w.query_by_label(name).unwrap_or_else(|| panic!("no {name}")).rect();
            let inside = rect.min.x >= 0.0
                && rect.max.x <= width
                && rect.min.y >= 0.0
                && rect.max.y <= height;
            assert!(inside, "{name} at {width} × {height}: {rect:?}");
        }
    }
}

#[test]
fn named_stretches_of_bare_track_are_planned_apart_and_fed() {
    let mut w = window();
    let text = r#"(version: 1, joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 2400, y_mm: 0)],
        runs: [(id: "r3", from: "j1", to: "j2")],
        labels: [(id: "n4", name: "Alder", run: "r3", at_mm: 400), (id: "n5", name: "Birch", run: "r3", at_mm: 1900)])"#;
    let dir = dir();
    let path = dir.path().join("bare.gapwright");
    std::fs::write(&path, text).unwrap();
    open(&mut w, &path);
    let bare = w.state().layout().clone();
    w.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::P);
    w.run();
    let said = w.query_all_by_label_contains("Cut both rails in Alder + Birch").next();
    assert!(said.is_some());
    assert_eq!(*w.state().layout(), bare);
    press(&mut w, "Apply to the layout");
    let layout = w.state().layout();
    assert_eq!((layout.cuts.len(), layout.feeds.len(), layout.drivers.len()), (1, 2, 2));
    assert!(verdict(&w).contains("1 cut clear"), "{}", verdict(&w));
    w.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    w.run();
    assert_eq!(*w.state().layout(), bare, "one step of undo");
}

#[test]
fn a_second_stretch_is_named_on_track_that_is_not_cut() {
    let mut w = window();
    let text = r#"(version: 1, joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 1200, y_mm: 0), (id: "j3", x_mm: 2400, y_mm: 0)],
        runs: [(id: "r4", from: "j1", to: "j2"), (id: "r5", from: "j2", to: "j3")],
        labels: [(id: "n6", name: "Alder", run: "r4", at_mm: 400)])"#;
    let dir = dir();
    let path = dir.path().join("bare.gapwright");
    std::fs::write(&path, text).unwrap();
    open(&mut w, &path);
    // With one name there is nothing to plan, and that is said.
    w.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::P);
    w.run();
    assert!(w.query_all_by_label_contains("Name at least two stretches").next().is_some());
    let ends = [2, 3].map(|id| w.state().joint_on_screen(id).unwrap());
    pointer(&mut w, ends[0] + (ends[1] - ends[0]) * 0.5);
    w.key_press_modifiers(Modifiers::SHIFT, Key::F2);
    w.run();
    let names: Vec<String> = w.state().layout().labels.values().map(|l| l.name.clone()).collect();
    assert_eq!(names, ["Alder", "Stretch A"]);
    w.key_press(Key::Escape);
    w.run();
    w.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::P);
    w.run();
    assert!(w.query_by_label("Before and after").is_some());
}

#[test]
fn what_is_the_same_in_two_designs_is_listed_and_can_be_corrected() {
    let folder = dir();
    let path = folder.path().join("drawn otherwise.gapwright");
    let mut w = sample("brake-idle");
    let cut = *w.state().layout().cuts.keys().next().unwrap();
    // The same gap under another number.
    let text = file(&w).replace(&format!("\"{cut}\""), "\"c77\"");
    std::fs::write(&path, text.replace("next_id: ", "next_id: 9")).unwrap();
    let before = file(&w);
    w.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::D);
    w.run();
    write(&mut w, "Path of the file", path.to_str().unwrap());
    press(&mut w, "Compare");
    assert!(says(&w, "0 jobs, about 0 min"));
    press(&mut w, "What is the same");
    let pair = w
        .query_by_label_contains("(c77) of the old design")
        .unwrap_or_else(|| panic!("no pair"))
        .accesskit_node()
        .label()
        .unwrap();
    assert!(pair.contains(&format!("({cut}) is")), "{pair}");
    // Without the tick they are two gaps: one to bridge, one to cut.
    press(&mut w, &pair);
    w.run();
    press(&mut w, "Findings and work");
    assert!(says(&w, "2 jobs, about"));
    // Typed, they are the same again.
    press(&mut w, "What is the same");
    write(&mut w, "Old thing", "nothing");
    press(&mut w, "They are the same");
    assert!(says(&w, "is no identity such as c12 or d3"));
    write(&mut w, "Old thing", "c77");
    write(&mut w, "New thing", &cut.to_string());
    press(&mut w, "They are the same");
    w.run();
    press(&mut w, "Findings and work");
    assert!(says(&w, "0 jobs, about 0 min"));
    assert_eq!(file(&w), before);
}

#[test]
fn two_designs_stand_side_by_side_with_the_work_the_trains_and_the_values() {
    let folder = dir();
    let path = folder.path().join("as it was.gapwright");
    let mut w = sample("brake-idle");
    std::fs::write(&path, file(&w)).unwrap();
    open_finding(&mut w, "Idle state clamps the neighbour");
    press_like(&mut w, "Apply cure 1: ");
    let before = file(&w);
    w.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::D);
    w.run();
    write(&mut w, "Path of the file", "/nowhere/at-all.gapwright");
    press(&mut w, "Compare");
    assert!(says(&w, "/nowhere/at-all.gapwright could not be read."), "the question stays");
    write(&mut w, "Path of the file", path.to_str().unwrap());
    press(&mut w, "Compare");
    assert!(says(&w, "The old design is as it was.gapwright, the new one this layout."));
    assert!(says(&w, "Old: 1 short, 1 operating rule, 0 cuts clear"));
    assert!(says(&w, "New: 1 operating rule, 1 cut clear") && says(&w, "Ends: Home gap"));
    assert!(says(&w, "1. Set the idle state of"));
    assert!(says(&w, "In this order no step makes a fault"));
    press(&mut w, "Trains at the gaps");
    assert!(says(&w, "short") && says(&w, "then") && says(&w, "with agreeing throttles"));
    press(&mut w, "What the verdicts rest on");
    assert!(says(&w, "resistance of one rail: "));
    assert!(w.query_by_label("Apply to the layout").is_none());
    w_key(&mut w, Key::Escape);
    assert!(!says(&w, "The old design is"));
    assert_eq!(file(&w), before);
}
