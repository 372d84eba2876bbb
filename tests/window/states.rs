//! The main states of the window as a screen reader is told them: every control with its role, in the order of the tree.

use super::*;

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
