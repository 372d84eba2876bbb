//! The presenter's look: the plan alone, names and faults large.

use super::labels::overlaps;
use super::*;

/// The height of the largest label's box, points.
fn tallest(w: &Window) -> f32 {
    let labels = w.state().labels_on_screen();
    labels.iter().map(|label| label.1.height()).fold(0.0, f32::max)
}

/// Pulls the ground of the plan: it moves under the pointer, and nothing on it.
pub fn pull_plan(w: &mut Window) {
    let at = w.get_by_role(Role::Canvas).rect().center();
    w.drag_at(at);
    w.hover_at(at + vec2(80.0, 40.0));
    w.drop_at(at + vec2(80.0, 40.0));
    w.run();
}

fn says(w: &Window, words: &str) -> bool {
    w.query_all_by_label_contains(words).next().is_some()
}

#[test]
fn the_plan_stands_alone_with_large_names_at_every_size_of_projector() {
    for (width, height) in [(1024.0, 768.0), (1280.0, 720.0), (1920.0, 1080.0)] {
        let mut w = sample_in(window_of_size(width, height), "club");
        let usual = tallest(&w);
        assert!(says(&w, "Lay track") && says(&w, "Findings (") && says(&w, "idle state"));
        w_key(&mut w, Key::F5);
        assert!(!says(&w, "Lay track") && !says(&w, "Findings (") && !says(&w, "idle state"));
        assert!(says(&w, "2 shorts"), "the verdict stays in sight");
        assert!(tallest(&w) > usual * 1.5, "{width}: {} and {usual}", tallest(&w));
        assert!(overlaps(&w).is_empty(), "{width}: {:#?}", overlaps(&w));
        // The next finding is said in full, and its place is shown.
        w_key(&mut w, Key::N);
        assert!(says(&w, "crossed"));
        assert!(overlaps(&w).is_empty(), "{width}: {:#?}", overlaps(&w));
        w_key(&mut w, Key::Escape);
        assert!(says(&w, "Lay track"));
    }
}

#[test]
fn nothing_is_edited_by_accident() {
    let mut w = sample("brake-idle");
    select(&mut w, "Cut Home gap (c1)");
    let before = file(&w);
    w_key(&mut w, Key::F5);
    for key in [Key::Delete, Key::Backspace, Key::M, Key::Q, Key::P, Key::T, Key::C] {
        w_key(&mut w, key);
    }
    pull_plan(&mut w);
    assert_eq!(file(&w), before);
    press(&mut w, "End the presentation");
    w_key(&mut w, Key::Delete);
    assert_ne!(file(&w), before, "it can be deleted again");
}

#[test]
fn letters_follow_the_distance_of_the_last_row() {
    let mut w = sample_in(window_of_size(1024.0, 768.0), "club");
    w_key(&mut w, Key::F5);
    set(&mut w, "Distance of the last row", 5.0);
    let near = tallest(&w);
    set(&mut w, "Distance of the last row", 9.0);
    assert!(tallest(&w) > near * 1.4, "{} and {near}", tallest(&w));
    set(&mut w, "Distance of the last row", 60.0);
    assert!(says(&w, "make the picture higher"));
}
