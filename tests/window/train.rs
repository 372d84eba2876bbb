//! A train on the plan: placed by a click, played, paused, stepped, with words beside it.

use super::*;

/// What is said beside the train, and where it is.
fn beside_the_train(w: &Window) -> Option<(String, egui::Rect)> {
    let node = w.query_all_by_label_contains("Train on the plan: ").next()?;
    let rect = node.rect();
    let node = node.accesskit_node();
    Some((node.label().or_else(|| node.value())?, rect))
}

fn number(w: &Window, name: &str) -> f64 {
    let all = w.query_all_by_label(name);
    let numbers =
        all.filter(|n| matches!(n.accesskit_node().role(), Role::SpinButton | Role::Slider));
    numbers.map(|n| n.accesskit_node().numeric_value().unwrap()).next().unwrap()
}

/// The home gap is at 1000 mm of run r2.
fn before_the_home_gap() -> Window {
    let mut w = sample("brake-idle");
    w_key(&mut w, Key::R);
    let run = w.state().called(gapwright::layout::RunId(2).into());
    choose(&mut w, "Run: From run", &run);
    set(&mut w, "Run: At", 0.0);
    set(&mut w, "Run: Way", 1400.0);
    w
}

/// Presses a control without waiting until all is still: a train that runs never is.
fn press_once(w: &mut Window, name: &str) {
    w.get_by_role_and_label(Role::Button, name).click_accesskit();
    w.step();
    w.step();
}

#[test]
fn a_click_on_the_plan_places_the_train() {
    let mut w = before_the_home_gap();
    press(&mut w, "Fit");
    let (at, gap) = (on_plan(&w, "Run r2"), on_plan(&w, "Cut Home gap (c1)"));
    pointer(&mut w, at);
    let middle = number(&w, "Run: At");
    assert!(middle > 100.0, "{middle}");
    let (_, first) = beside_the_train(&w).unwrap();
    // The run is straight: on towards its gap.
    let by = (gap - at) * 0.4;
    pointer(&mut w, at + by);
    assert!(says(&w, "Run: how far it has come"), "the tab stays");
    let (_, second) = beside_the_train(&w).unwrap();
    let moved = second.center() - first.center();
    assert!(by.length() > 20.0 && (moved - by).length() < 3.0, "{by:?} {moved:?}");
    assert_ne!(number(&w, "Run: At"), middle);
    // A gap on the plan still leads to its particulars.
    pointer(&mut w, gap);
    assert!(says(&w, "Crossing this gap"));
}

#[test]
fn it_plays_pauses_and_steps_and_says_what_the_log_says() {
    let mut w = before_the_home_gap();
    press(&mut w, "Fit");
    let (_, start) = beside_the_train(&w).unwrap();
    press_once(&mut w, "Play");
    for _ in 0..6 {
        w.step();
    }
    let (_, later) = beside_the_train(&w).unwrap();
    assert!((later.center() - start.center()).length() > 5.0, "it moves: {start:?} {later:?}");
    // Space pauses it, and nothing moves any more.
    w.key_press(Key::Space);
    w.step();
    w.run();
    let still = beside_the_train(&w).unwrap();
    w.run_steps(4);
    assert_eq!(beside_the_train(&w).unwrap(), still);
    // On to the short, event by event: the words beside the train are those of the chosen line of the log.
    let mut words = Vec::new();
    for _ in 0..40 {
        press(&mut w, "Next event");
        let (beside, _) = beside_the_train(&w).unwrap();
        let beside = beside.trim_start_matches("Train on the plan: ").to_owned();
        let chosen = w
            .query_all_by_label_contains(" s: ")
            .map(|n| n.accesskit_node())
            .find(|n| n.toggled() == Some(egui::accesskit::Toggled::True))
            .and_then(|n| n.label())
            .unwrap();
        assert!(chosen.ends_with(&beside), "{chosen:?} {beside:?}");
        words.push(beside);
    }
    let short = words.iter().find(|said| said.contains("joins blocks: short here")).unwrap();
    assert!(short.contains("A at the peak"), "{short}");
    assert!(words.iter().any(|said| said.contains(" trip")), "{words:?}");
    press(&mut w, "Event back");
    assert_ne!(&beside_the_train(&w).unwrap().0, words.last().unwrap());
}

#[test]
fn space_plays_only_while_the_tab_is_shown_and_no_control_is_in_use() {
    let mut w = before_the_home_gap();
    w.key_press(Key::Space);
    w.step();
    w.step();
    assert!(w.query_by_label("Pause").is_some(), "it plays");
    w.key_press(Key::Space);
    w.step();
    w.run();
    assert!(w.query_by_label("Play").is_some());
    // A control with the focus keeps its key.
    w.get_by_role_and_label(Role::CheckBox, "Run: Rear first").focus();
    w.run();
    w_key(&mut w, Key::Space);
    assert!(w.query_by_label("Play").is_some(), "the tick box had the key");
    press(&mut w, "Layout");
    w_key(&mut w, Key::Space);
    w_key(&mut w, Key::R);
    assert!(w.query_by_label("Play").is_some());
}

#[test]
fn played_to_its_end_it_stands_where_the_log_ends() {
    let mut w = before_the_home_gap();
    set(&mut w, "Run: Speed", 1000.0);
    press_once(&mut w, "Play");
    for _ in 0..4000 {
        if w.query_by_label("Pause").is_none() {
            break;
        }
        w.step();
    }
    assert!(w.query_by_label("Play").is_some(), "it has ended");
    w.run();
    let (beside, _) = beside_the_train(&w).unwrap();
    let log =
        w.query_all_by_label_contains(" s: ").last().unwrap().accesskit_node().label().unwrap();
    assert!(log.ends_with(beside.trim_start_matches("Train on the plan: ")), "{log} {beside}");
}

#[test]
fn a_run_without_a_gap_says_so() {
    let mut w = sample("brake-idle");
    w_key(&mut w, Key::R);
    let run = w.state().called(gapwright::layout::RunId(2).into());
    choose(&mut w, "Run: From run", &run);
    set(&mut w, "Run: At", 0.0);
    set(&mut w, "Run: Way", 200.0);
    press(&mut w, "Run it");
    assert!(says(&w, "It meets no gap on this way."));
    set(&mut w, "Run: Way", 1400.0);
    assert!(says(&w, "The layout or the way has changed since"));
    press(&mut w, "Run it");
    assert!(!says(&w, "It meets no gap on this way."));
}

#[test]
fn a_gap_card_leads_to_a_run_over_it() {
    let mut w = sample("brake-idle");
    select(&mut w, "Cut Home gap (c1)");
    press(&mut w, "Run a train over it");
    assert_eq!(number(&w, "Run: At"), 900.0);
    press(&mut w, "Run it");
    assert!(says(&w, "begins to straddle Home gap"));
    assert!(says(&w, "has left Home gap behind") || says(&w, "trip"), "{}", told(&w));
}

#[test]
fn where_nothing_rolls_yet_a_vehicle_is_added_in_the_tab() {
    let mut w = two_blocks();
    w_key(&mut w, Key::R);
    if w.state().layout().vehicles.is_empty() {
        let vehicle = gapwright::layout::defaults::vehicles().remove(0).name;
        there_and_back(&mut w, "add", |w| {
            press(w, "Add a vehicle");
            press(w, &vehicle);
        });
    }
    assert!(says(&w, "Run: how far it has come"));
}

#[test]
fn a_drag_that_kinks_the_track_at_points_says_so() {
    let mut w = window();
    press(&mut w, "Lay track");
    set(&mut w, "Lay to: x", 2000.0);
    press(&mut w, "Lay this run");
    press(&mut w, "Special work");
    set(&mut w, "Special work: At", 800.0);
    press(&mut w, "Place it here");
    press(&mut w, "Fit");
    press(&mut w, "Select");
    // Along the track nothing kinks.
    let end = on_plan(&w, "Joint j2");
    drag(&mut w, end, end + vec2(30.0, 0.0));
    assert!(!says(&w, "The track kinks"));
    press(&mut w, "Undo");
    let end = on_plan(&w, "Joint j2");
    there_and_back(&mut w, "drag", |w| {
        drag(w, end, end + vec2(0.0, -60.0));
        assert!(says(w, "The track kinks by"), "{}", told(w));
        assert!(says(w, "Undo, or lay the run anew"));
    });
    assert!(!says(&w, "The track kinks"), "it went with the step");
}
