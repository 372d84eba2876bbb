//! The main states of the window as a screen reader is told them: every control with its role, in the order of the tree.

use super::*;
use gapwright::report::{Standing, Tally};

/// A line for each node that says something.
fn told_to_a_screen_reader(w: &Window) -> String {
    let mut lines = Vec::new();
    for node in w.query_all(by().predicate(|_| true)) {
        let node = node.accesskit_node();
        let words = node.label().or_else(|| node.value()).unwrap_or_default();
        let hidden = words.is_empty() || matches!(node.role(), Role::TextRun | Role::Window);
        if !hidden {
            let state = match (node.is_disabled(), node.is_selected()) {
                (true, _) => ", disabled",
                (_, Some(true)) => ", chosen",
                _ => "",
            };
            lines.push(format!("{:?}{state}: {words}", node.role()));
        }
    }
    // A label is told once, though its text is a node of its own.
    lines.dedup();
    lines.join("\n")
}

#[test]
fn the_main_states_are_told_as_they_were() {
    let mut w = window_of_size(1280.0, 800.0);
    insta::assert_snapshot!("empty", told_to_a_screen_reader(&w));
    w_key(&mut w, Key::L);
    insta::assert_snapshot!("laying", told_to_a_screen_reader(&w));
    let mut w = sample("brake-idle");
    insta::assert_snapshot!("findings", told_to_a_screen_reader(&w));
    w_key(&mut w, Key::N);
    insta::assert_snapshot!("a-finding", told_to_a_screen_reader(&w));
    select(&mut w, "Cut Home gap (c1)");
    insta::assert_snapshot!("a-gap", told_to_a_screen_reader(&w));
    w.key_press_modifiers(Modifiers::COMMAND, Key::A);
    w.run();
    w_key(&mut w, Key::Num2);
    insta::assert_snapshot!("everything-selected", told_to_a_screen_reader(&w));
}

/// Names without end are cut off where they are shown; nothing is pushed out of the window, and it stays as it was.
#[test]
fn long_names_push_nothing_out_of_sight() {
    let mut w = sample("brake-idle");
    let delete = |w: &Window| {
        let all = w.query_all(by().label("Delete").role(Role::Button));
        all.last().unwrap().rect()
    };
    press(&mut w, "Layout");
    write(&mut w, "Layout: Name", &"A long line through the hills ".repeat(8));
    let fit = w.query_all(by().label("Fit").role(Role::Button)).last().unwrap().rect();
    assert!(fit.right() < 1400.0, "{fit:?}");
    select(&mut w, "Driver Pimmerton bridge (d1)");
    let before = delete(&w);
    write(&mut w, "Driver: Name", &"The driver of the hills ".repeat(10));
    assert!((delete(&w).left() - before.left()).abs() < 1.0, "{before:?} {:?}", delete(&w));
    for tab in ["Findings (", "Layout", "Run"] {
        w.query_all_by_label_contains(tab).next().unwrap().click_accesskit();
        w.run();
        let run = w.query_all(by().label("Run").role(Role::Button)).last().unwrap().rect();
        assert!(run.left() > 800.0 && run.right() < 1400.0, "{tab}: {run:?}");
    }
}

/// A message moves nothing on which one is about to click, and one that only told of a step goes with the next step.
#[test]
fn messages_move_nothing_and_go_when_they_are_past() {
    let mut w = two_blocks();
    let place = |w: &Window| w.query_all_by_label_contains("Plan, ").next().unwrap().rect();
    let before = place(&w);
    press(&mut w, "Feed");
    set(&mut w, "Feed: At", 500.0);
    choose(&mut w, "Feed: P to", "Left rail");
    choose(&mut w, "Feed: M to", "Left rail");
    press(&mut w, "Feed here");
    assert!(told(&w).contains("Could not"), "{}", told(&w));
    assert_eq!(place(&w), before);
    w.query_all_by_label_contains("Dismiss").next().unwrap().click_accesskit();
    w.run();
    assert_eq!(told(&w), "");
    // Roads that part too little for their frogs: that is said, and forgotten with the turnout.
    w_key(&mut w, Key::W);
    set(&mut w, "Special work: At", 600.0);
    set(&mut w, "Special work: Turn", 1.0);
    press(&mut w, "Place it here");
    assert!(says(&w, "nowhere one gauge apart"));
    press(&mut w, "Undo");
    assert!(!says(&w, "nowhere one gauge apart"));
}

/// The list of gaps has the marks of the plan.
#[test]
fn a_gap_that_shorts_now_has_no_mark_of_a_clear_one_in_the_list() {
    let w = sample("terminus");
    let report = gapwright::findings::check(w.state().layout());
    let three = report.cuts.iter().find(|cut| cut.name.contains("Road three")).unwrap();
    let tally = Tally::of(&report);
    assert_eq!(tally.standing(three.id), Some(Standing::Judged(Verdict::Short)));
    assert_eq!(tally.clear, 0);
}

/// Tab goes through the window from the top to the bottom and from the left to the right, and comes round.
#[test]
fn tab_goes_through_every_control_and_comes_round() {
    let mut w = window_of_size(1280.0, 800.0);
    w_key(&mut w, Key::Tab);
    let focused = |w: &Window| -> Option<(String, Pos2)> {
        let node = w.query_all(by().predicate(|n| n.is_focused())).last()?;
        let name = node.accesskit_node().label().unwrap_or_default();
        Some((name, node.rect().center()))
    };
    let mut seen: Vec<String> = Vec::new();
    for _ in 0..80 {
        if let Some((name, _)) = focused(&w) {
            if seen.first() == Some(&name) && seen.len() > 10 {
                break;
            }
            seen.push(name);
        }
        w_key(&mut w, Key::Tab);
    }
    let at = |name: &str| {
        seen.iter()
            .position(|one| one.starts_with(name))
            .unwrap_or_else(|| panic!("{name}: {seen:?}"))
    };
    let order = ["File", "Help", "Select", "Bond rails", "Snap to the grid"];
    for pair in order.windows(2) {
        assert!(at(pair[0]) < at(pair[1]), "{pair:?} in {seen:?}");
    }
    at("Plan, ");
    at("Findings");
    assert!(seen.len() < 80, "it comes round: {seen:?}");
}
