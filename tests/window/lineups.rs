//! Lineups in the window: remembered, set, stepped through, checked together.

use super::*;
use gapwright::layout::{Direction, Layout};

fn layout(w: &Window) -> Layout {
    w.state().layout().clone()
}

fn directions(w: &Window) -> Vec<Direction> {
    layout(w).drivers.values().map(|driver| driver.setting.direction).collect()
}

#[test]
fn a_lineup_is_remembered_set_and_undone() {
    let mut w = two_blocks();
    let as_drawn = directions(&w);
    press(&mut w, "Layout");
    there_and_back(&mut w, "remember", |w| press(w, "Remember a lineup"));
    press(&mut w, "Driver B: Reverse");
    there_and_back(&mut w, "remember by key", |w| w_key(w, Key::K));
    select(&mut w, "Lineup B (l12)");
    there_and_back(&mut w, "name", |w| write(w, "Lineup: Name", "Meet"));
    assert!(says(&w, "Driver B: reverse, 50 %"));
    select(&mut w, "Lineup A (l11)");
    there_and_back(&mut w, "set", |w| press(w, "Set everything like that"));
    assert_eq!(directions(&w), as_drawn);
    assert_eq!(gapwright::layout::load(&file(&w)).unwrap().layout, layout(&w));
    // Page keys go through them.
    w.key_press_modifiers(Modifiers::COMMAND, Key::PageDown);
    w.run();
    assert_ne!(directions(&w), as_drawn);
    w.key_press_modifiers(Modifiers::COMMAND, Key::PageDown);
    w.run();
    assert_eq!(directions(&w), as_drawn);
    w.key_press_modifiers(Modifiers::COMMAND, Key::PageUp);
    w.run();
    assert_ne!(directions(&w), as_drawn);
    select(&mut w, "Lineup A (l11)");
    there_and_back(&mut w, "make it what is set", |w| press(w, "Make it what is set now"));
    there_and_back(&mut w, "delete", |w| press(w, "Delete"));
    // A driver that goes leaves the lineups.
    select(&mut w, "Driver B (d9)");
    there_and_back(&mut w, "delete a driver", |w| press(w, "Delete"));
    assert!(layout(&w).lineups.values().all(|lineup| lineup.throttles.len() == 1));
}

#[test]
fn all_lineups_are_checked_at_once_without_being_set() {
    let mut w = two_blocks();
    w_key(&mut w, Key::K);
    press(&mut w, "Driver B: Reverse");
    w_key(&mut w, Key::K);
    press(&mut w, "Driver B: Forward");
    press(&mut w, "Layout");
    let before = file(&w);
    press(&mut w, "Check them all");
    assert_eq!(file(&w), before);
    let told: Vec<String> = w
        .query_all(by().role(Role::Label))
        .filter_map(|n| n.accesskit_node().value())
        .filter(|words| words.contains(", ") && words.contains("cuts clear"))
        .collect();
    assert_eq!(told.len(), 2, "{told:?}");
    assert_ne!(told[0], told[1]);
    // One is what is set now, and says what the banner says.
    assert!(told[0].starts_with("1 short"), "{told:?}");
}
