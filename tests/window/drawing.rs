//! Drawing: laying track in every way, and working on many things at once.

use super::*;
use gapwright::layout::geometry::{closest, curve};
use gapwright::layout::{Layout, Origin, RunId, Shape};

fn layout(w: &Window) -> Layout {
    w.state().layout().clone()
}

fn keys(w: &mut Window, modifiers: Modifiers, key: Key) {
    w.key_press_modifiers(modifiers, key);
    w.run();
}

fn shapes(w: &Window) -> Vec<Shape> {
    layout(w).runs.values().map(|run| run.shape).collect()
}

/// Two runs of half a metre in line, laid by clicks.
fn in_line() -> Window {
    let mut w = window();
    w_key(&mut w, Key::L);
    for x in [400.0, 600.0, 800.0] {
        pointer(&mut w, pos2(x, 400.0));
    }
    w_key(&mut w, Key::Escape);
    w_key(&mut w, Key::S);
    assert_eq!(shapes(&w), [Shape::Straight, Shape::Straight]);
    w
}

fn select_all(w: &mut Window) {
    keys(w, Modifiers::COMMAND, Key::A);
}

/// How far two runs turn against each other where the first ends and the second starts, degrees.
fn kink(layout: &Layout, first: RunId, second: RunId) -> f64 {
    let (a, b) = (curve(layout, &layout.runs[&first]), curve(layout, &layout.runs[&second]));
    let (a, b) = (a.at(a.length_mm()), b.at(0.0));
    (a.dx * b.dy - a.dy * b.dx).atan2(a.dx * b.dx + a.dy * b.dy).to_degrees()
}

#[test]
fn track_goes_on_from_its_end_in_one_direction() {
    let mut w = window();
    w_key(&mut w, Key::L);
    for at in [pos2(400.0, 500.0), pos2(600.0, 500.0), pos2(760.0, 400.0), pos2(760.0, 200.0)] {
        pointer(&mut w, at);
    }
    w_key(&mut w, Key::Escape);
    let layout = layout(&w);
    let runs: Vec<RunId> = layout.runs.keys().copied().collect();
    assert_eq!(runs.len(), 3);
    assert!(matches!(layout.runs[&runs[1]].shape, Shape::Arc { bend_deg } if bend_deg > 10.0));
    for pair in runs.windows(2) {
        let kink = kink(&layout, pair[0], pair[1]);
        assert!(kink.abs() < 0.2, "{kink}°");
    }
}

#[test]
fn two_ends_are_joined_smoothly() {
    let mut w = window();
    w_key(&mut w, Key::L);
    for (y, x) in [(500.0, 300.0), (400.0, 700.0)] {
        pointer(&mut w, pos2(x, y));
        pointer(&mut w, pos2(x + 140.0, y));
        w_key(&mut w, Key::Escape);
        w_key(&mut w, Key::L);
    }
    // From the end of the first to the start of the second.
    let (from, to) = (on_plan(&w, "Joint j2"), on_plan(&w, "Joint j4"));
    pointer(&mut w, from);
    pointer(&mut w, to);
    let layout = layout(&w);
    let runs: Vec<RunId> = layout.runs.keys().copied().collect();
    assert_eq!((runs.len(), layout.joints.len()), (3, 4));
    assert!(matches!(layout.runs[&runs[2]].shape, Shape::Cubic { .. }));
    assert!(kink(&layout, runs[0], runs[2]).abs() < 0.01);
    assert!(kink(&layout, runs[2], runs[1]).abs() < 0.01);
}

#[test]
fn three_clicks_lay_an_arc_through_them() {
    let mut w = window();
    press(&mut w, "Lay track");
    choose(&mut w, "Lay: How", "Three points");
    there_and_back(&mut w, "three points", |w| {
        for at in [pos2(400.0, 500.0), pos2(560.0, 440.0), pos2(720.0, 500.0)] {
            pointer(w, at);
        }
    });
    let layout = layout(&w);
    let run = layout.runs.values().next().unwrap();
    assert!(matches!(run.shape, Shape::Arc { bend_deg } if bend_deg < 0.0), "to the right");
    let (a, b) = (&layout.joints[&run.from], &layout.joints[&run.to]);
    let middle = ((a.x_mm + b.x_mm) / 2.0, a.y_mm + (b.x_mm - a.x_mm) * 60.0 / 320.0);
    assert!(closest(&layout, run, middle).off_mm.abs() < 5.0, "as near as the grid");
}

#[test]
fn a_line_drawn_by_hand_becomes_track() {
    let mut w = window();
    press(&mut w, "Lay track");
    choose(&mut w, "Lay: How", "By hand");
    there_and_back(&mut w, "by hand", |w| {
        w.drag_at(pos2(400.0, 500.0));
        w.run();
        for n in 1..=40 {
            let t = n as f32 / 40.0;
            w.hover_at(pos2(400.0 + 400.0 * t, 500.0 - 100.0 * (t * 3.1).sin()));
            w.step();
        }
        w.drop_at(pos2(800.0, 496.0));
        w.run();
    });
    let shapes = shapes(&w);
    assert!((1..=6).contains(&shapes.len()), "{}", shapes.len());
    assert!(shapes.iter().all(|shape| matches!(shape, Shape::Cubic { .. })));
    assert_eq!(w.state().report().blocks.len(), 1, "it is one stretch of metal");
    // There is no kink in it, and no stub at its end.
    let there = layout(&w);
    let runs: Vec<RunId> = there.runs.keys().copied().collect();
    for pair in runs.windows(2) {
        assert!(kink(&there, pair[0], pair[1]).abs() < 0.5);
    }
    for run in there.runs.values() {
        let curve = curve(&there, run);
        assert!(curve.length_mm() > 100.0, "{}", curve.length_mm());
        let least = curve.least_radius_mm().map_or(f64::INFINITY, |(radius, _)| radius);
        assert!(least > 150.0, "{least}");
    }
}

#[test]
fn straights_and_curves_are_laid_on_as_typed() {
    let mut w = window();
    press(&mut w, "Lay track");
    press(&mut w, "Lay this run");
    there_and_back(&mut w, "a curve", |w| {
        choose(w, "Lay on: Way", "Curve left");
        set(w, "Lay on: Radius", 500.0);
        set(w, "Lay on: Angle", 90.0);
        press(w, "Lay it on");
    });
    // Undoing took away the end that it had come to.
    select(&mut w, "Joint j4");
    press(&mut w, "Lay track");
    there_and_back(&mut w, "a straight", |w| {
        choose(w, "Lay on: Way", "Straight");
        set(w, "Lay on: Length", 300.0);
        press(w, "Lay it on");
    });
    let layout = layout(&w);
    let last = layout.runs.values().last().unwrap();
    let end = &layout.joints[&last.to];
    assert_eq!((end.x_mm, end.y_mm), (1500.0, 800.0));
    assert!(shapes(&w).contains(&Shape::Arc { bend_deg: 90.0 }));
    // Without an end to go on from it says what to do.
    w_key(&mut w, Key::Escape);
    w_key(&mut w, Key::Escape);
    press(&mut w, "Lay track");
    let before = file(&w);
    press(&mut w, "Lay it on");
    assert_eq!(file(&w), before);
    assert!(says(&w, "Choose the end of track to go on from"));
    // Too tight a curve is told in its particulars.
    select(&mut w, "Run r5");
    assert!(says(&w, "radius 500 mm, 90.0° left"));
    press(&mut w, "Lay track");
    set(&mut w, "Lay: Tightest", 600.0);
    select(&mut w, "Run r5");
    assert!(says(&w, "tighter than 600 mm"));
}

#[test]
fn many_things_are_moved_turned_mirrored_and_aligned() {
    let mut w = in_line();
    select_all(&mut w);
    w_key(&mut w, Key::Num2);
    assert!(says(&w, "2 things are selected"));
    there_and_back(&mut w, "move", |w| {
        set(w, "Selection: Move right by", 30.0);
        press(w, "Move it");
    });
    there_and_back(&mut w, "turn", |w| {
        set(w, "Selection: Turn by", 30.0);
        press(w, "Turn it");
    });
    for name in ["Turn a quarter left", "Turn a quarter right", "Mirror left to right"] {
        there_and_back(&mut w, name, |w| press(w, name));
    }
    there_and_back(&mut w, "align", |w| press(w, "Align level"));
    let heights: Vec<f64> = layout(&w).joints.values().map(|j| j.y_mm).collect();
    assert!(heights.iter().all(|y| *y == heights[0]), "{heights:?}");
    there_and_back(&mut w, "by key", |w| w_key(w, Key::Q));
    there_and_back(&mut w, "mirror by key", |w| keys(w, Modifiers::SHIFT, Key::M));
    there_and_back(&mut w, "delete", |w| press(w, "Delete"));
}

#[test]
fn a_box_selects_what_is_in_it() {
    let mut w = in_line();
    let shift = Modifiers::SHIFT;
    let before = file(&w);
    w.event(egui::Event::PointerMoved(pos2(560.0, 340.0)));
    w.event(egui::Event::ModifiersChanged(shift));
    w.step();
    let button = |pos, pressed| egui::Event::PointerButton {
        pos,
        button: egui::PointerButton::Primary,
        pressed,
        modifiers: shift,
    };
    w.event(button(pos2(560.0, 340.0), true));
    w.step();
    for x in [640.0, 760.0, 840.0] {
        w.event(egui::Event::PointerMoved(pos2(x, 460.0)));
        w.step();
    }
    w.event(button(pos2(840.0, 460.0), false));
    w.run();
    w.event(egui::Event::ModifiersChanged(Modifiers::NONE));
    w.run();
    assert_eq!(file(&w), before);
    assert!(says(&w, "Run r5 selected"), "the second run is inside, the first is not");
}

#[test]
fn what_is_copied_is_pasted_with_what_stands_on_it() {
    let mut w = two_blocks();
    select_all(&mut w);
    let cuts = layout(&w).cuts.len();
    there_and_back(&mut w, "duplicate", |w| keys(w, Modifiers::COMMAND, Key::D));
    assert_eq!(layout(&w).cuts.len(), 2 * cuts);
    assert_eq!(layout(&w).drivers.len(), 2, "fed by the same drivers");
    select_all(&mut w);
    keys(&mut w, Modifiers::COMMAND, Key::C);
    there_and_back(&mut w, "paste", |w| keys(w, Modifiers::COMMAND, Key::V));
    assert_eq!(layout(&w).cuts.len(), 4 * cuts);
    // As text, from another window.
    let text = file(&w);
    there_and_back(&mut w, "paste text", |w| {
        w.event(egui::Event::Paste(text.clone()));
        w.run();
    });
    assert_eq!(layout(&w).cuts.len(), 8 * cuts);
    select_all(&mut w);
    there_and_back(&mut w, "cut out", |w| keys(w, Modifiers::COMMAND, Key::X));
    // What cannot be copied is not taken away.
    press(&mut w, "Undo");
    select(&mut w, "Joint j1");
    let before = file(&w);
    keys(&mut w, Modifiers::COMMAND, Key::X);
    assert_eq!(file(&w), before);
    assert!(says(&w, "There is no run in what is selected"));
    // Nonsense is told, and nothing is lost.
    let mut w = window();
    w.event(egui::Event::Paste("no layout".into()));
    w.run();
    assert!(says(&w, "is no piece of a layout"));
}

#[test]
fn parallel_track_and_split_and_joined_runs() {
    let mut w = in_line();
    select_all(&mut w);
    w_key(&mut w, Key::Num2);
    there_and_back(&mut w, "parallel", |w| press(w, "Lay one on the left"));
    let there = layout(&w);
    assert_eq!((there.runs.len(), there.joints.len()), (4, 6));
    let heights: std::collections::BTreeSet<i64> =
        there.joints.values().map(|j| j.y_mm.round() as i64).collect();
    let heights: Vec<i64> = heights.into_iter().collect();
    assert_eq!(heights[1] - heights[0], 46, "4 m at 1:87");
    select(&mut w, "Joint j7");
    there_and_back(&mut w, "join", |w| w_key(w, Key::J));
    assert_eq!(layout(&w).runs.len(), 3);
    select(&mut w, "Joint j2");
    there_and_back(&mut w, "join at a joint", |w| press(w, "Join the runs at a joint"));
    assert_eq!(layout(&w).runs.len(), 2);
    select(&mut w, "Run r3");
    there_and_back(&mut w, "split", |w| keys(w, Modifiers::SHIFT, Key::J));
}

#[test]
fn a_throttle_dragged_to_the_track_feeds_it() {
    let mut w = two_blocks();
    let feeds = layout(&w).feeds.len();
    let from = w.get_by_label("Driver Driver B").rect().center();
    let to = on_plan(&w, "Cut c4") + vec2(60.0, 0.0);
    there_and_back(&mut w, "drag a throttle", |w| drag(w, from, to));
    let there = layout(&w);
    assert_eq!(there.feeds.len(), feeds + 1);
    let (id, feed) = there.feeds.iter().last().unwrap();
    assert_eq!(feed.driver, Origin::Driver(*there.drivers.keys().last().unwrap()));
    assert!(w.state().layout().feeds.contains_key(id));
}

#[test]
fn actions_are_found_by_a_word_and_done() {
    let mut w = in_line();
    keys(&mut w, Modifiers::COMMAND, Key::K);
    write(&mut w, "Search actions", "every");
    let found: Vec<String> =
        w.query_all(by().role(Role::Button)).filter_map(|n| n.accesskit_node().label()).collect();
    assert!(found.contains(&"Select everything".to_owned()), "{found:?}");
    assert!(!found.contains(&"Mirror left to right".to_owned()), "{found:?}");
    press(&mut w, "Select everything");
    assert!(says(&w, "2 things selected"));
    // While the list is open, letters are words.
    let before = file(&w);
    keys(&mut w, Modifiers::COMMAND, Key::K);
    w_key(&mut w, Key::Delete);
    assert_eq!(file(&w), before);
    w_key(&mut w, Key::Escape);
    assert!(w.query_by_label("Search actions").is_none());
}

#[test]
fn every_action_stands_on_the_page_of_keys_and_in_a_menu() {
    let mut w = window();
    w_key(&mut w, Key::F1);
    for name in ["Undo", "Lay a parallel track", "Run a train", "Find an action…"] {
        assert!(w.query_all_by_label(name).next().is_some(), "{name}");
    }
    assert!(says(&w, "Shift and drag the ground"));
    press(&mut w, "Close");
    assert!(!says(&w, "Shift and drag the ground"));
    press(&mut w, "Edit");
    assert!(w.query_all_by_label("Select everything").next().is_some());
}

#[test]
fn keys_go_from_finding_to_finding() {
    let mut w = sample("brake-idle");
    let count = w.state().report().findings.len();
    assert!(count > 1);
    w_key(&mut w, Key::N);
    assert!(says(&w, "What to do"));
    let selected = |w: &Window| {
        let canvas = w.query_all(by().label_contains("Plan, ").role(Role::Canvas)).next().unwrap();
        canvas.accesskit_node().label().unwrap()
    };
    assert!(selected(&w).contains("Home gap"), "{}", selected(&w));
    for _ in 0..count {
        w_key(&mut w, Key::N);
    }
    assert!(selected(&w).contains("Home gap"), "once round");
    keys(&mut w, Modifiers::SHIFT, Key::N);
}

#[test]
fn the_first_steps_are_ticked_off_as_they_are_done() {
    let mut w = window();
    keys(&mut w, Modifiers::SHIFT, Key::F1);
    assert!(says(&w, "Press L, then click twice"));
    press(&mut w, "Take the tool: Lay track");
    pointer(&mut w, pos2(560.0, 500.0));
    pointer(&mut w, pos2(860.0, 500.0));
    w_key(&mut w, Key::Escape);
    assert!(says(&w, "1  Lay track: done"));
    w_key(&mut w, Key::C);
    pointer(&mut w, pos2(700.0, 500.0));
    w_key(&mut w, Key::F);
    pointer(&mut w, pos2(620.0, 500.0));
    pointer(&mut w, pos2(800.0, 500.0));
    assert!(says(&w, "3  Feed both sides: done"));
    w.query_all_by_label_contains("Idle state clamps the neighbour at")
        .next()
        .unwrap()
        .click_accesskit();
    w.run();
    assert!(says(&w, "4  See what shorts: done"));
    for driver in ["Driver A", "Driver B"] {
        choose(&mut w, &format!("{driver}: idle state"), "High-impedance");
    }
    assert!(says(&w, "That is the whole job."));
    press(&mut w, "Close the first steps for good");
    assert!(!says(&w, "First steps"));
}

#[test]
fn an_end_that_is_dragged_to_another_is_joined_to_it() {
    let mut w = window();
    w_key(&mut w, Key::L);
    for x in [300.0, 620.0] {
        pointer(&mut w, pos2(x, 400.0));
        pointer(&mut w, pos2(x + 200.0, 400.0));
        w_key(&mut w, Key::Escape);
        w_key(&mut w, Key::L);
    }
    w_key(&mut w, Key::S);
    assert_eq!(layout(&w).joints.len(), 4);
    let (from, to) = (on_plan(&w, "Joint j2"), on_plan(&w, "Joint j4"));
    there_and_back(&mut w, "drag", |w| drag(w, from, to + vec2(5.0, 4.0)));
    let there = layout(&w);
    assert_eq!(there.joints.len(), 3);
    assert_eq!(w.state().report().blocks.len(), 1, "it is one stretch of metal");
}
