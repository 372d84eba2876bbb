//! Labels of the plan: none lies on a label, a mark or track, at any distance.

use super::*;
use eframe::egui::Rect;

/// Every sample, by its file's name.
fn samples() -> Vec<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-layouts");
    let files = std::fs::read_dir(folder).unwrap().map(|file| file.unwrap().path());
    let layouts = files.filter(|path| path.extension().is_some_and(|e| e == "gapwright"));
    let mut names: Vec<String> =
        layouts.map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned()).collect();
    names.sort();
    names
}

/// Whether a line of some thickness enters a box.
fn enters(rect: Rect, line: &[Pos2], thick: f32) -> bool {
    let rect = rect.expand(thick / 2.0);
    line.windows(2).any(|ends| {
        let steps = (ends[0].distance(ends[1]) / 2.0).ceil().clamp(1.0, 5000.0) as u32;
        let near = Rect::from_two_pos(ends[0], ends[1]).intersects(rect);
        near && (0..=steps).any(|n| rect.contains(ends[0].lerp(ends[1], n as f32 / steps as f32)))
    })
}

/// Labels that lie on each other or on track.
pub fn overlaps(w: &Window) -> Vec<String> {
    let labels = w.state().labels_on_screen();
    let (track, thick) = w.state().track_on_screen();
    let mut wrong = Vec::new();
    for (n, (words, rect)) in labels.iter().enumerate() {
        let rect = rect.shrink(0.5);
        for (other, its) in &labels[n + 1..] {
            if rect.intersects(its.shrink(0.5)) {
                wrong.push(format!("{words:?} lies on {other:?}"));
            }
        }
        if track.iter().any(|line| enters(rect, line, thick)) {
            wrong.push(format!("{words:?} lies on track"));
        }
    }
    wrong
}

#[test]
fn no_label_lies_on_a_label_or_on_track() {
    for (width, height) in [(1024.0, 768.0), (1280.0, 800.0), (1920.0, 1080.0)] {
        let mut w = window_of_size(width, height);
        let mut labels = 0;
        for name in samples() {
            w = sample_in(w, &name);
            w_key(&mut w, Key::Home);
            for zoom in ["whole", "nearer", "near", "nearest", "far"] {
                let wrong = overlaps(&w);
                assert!(wrong.is_empty(), "{name} at {width}, {zoom}: {wrong:#?}");
                labels += w.state().labels_on_screen().len();
                let (key, times) =
                    if zoom == "nearest" { (Key::Minus, 24) } else { (Key::Plus, 5) };
                for _ in 0..times {
                    w.key_press(key);
                    w.step();
                }
            }
        }
        assert!(labels > 1000, "only {labels} labels");
    }
}

#[test]
fn panning_moves_no_label_against_the_track() {
    let mut w = sample("club");
    let before: Vec<Rect> = w.state().labels_on_screen().into_iter().map(|l| l.1).collect();
    let middle = w.get_by_role(Role::Canvas).rect().center();
    w.drag_at(middle);
    w.event(egui::Event::PointerButton {
        pos: middle,
        button: egui::PointerButton::Secondary,
        pressed: true,
        modifiers: Modifiers::NONE,
    });
    w.step();
    w.hover_at(middle + vec2(130.0, -57.0));
    w.step();
    let after: Vec<Rect> = w.state().labels_on_screen().into_iter().map(|l| l.1).collect();
    assert_eq!(before.len(), after.len());
    let moved: Vec<_> = before.iter().zip(&after).map(|(a, b)| b.center() - a.center()).collect();
    assert!(moved[0].length() > 50.0, "{:?}", moved[0]);
    assert!(moved.iter().all(|m| (*m - moved[0]).length() < 0.5), "{moved:?}");
}

#[test]
fn the_same_layout_is_labelled_alike_and_a_deleted_label_frees_its_place() {
    let one = sample("club").state().labels_on_screen();
    assert_eq!(one, sample("club").state().labels_on_screen());
    let mut w = two_blocks();
    let marks = |w: &Window| {
        let labels = w.state().labels_on_screen();
        labels.into_iter().filter(|l| l.0.starts_with("mark")).map(|l| l.1).collect::<Vec<_>>()
    };
    let place = marks(&w);
    assert_eq!(place.len(), 1);
    select(&mut w, "Cut c4");
    w_key(&mut w, Key::Delete);
    assert!(marks(&w).is_empty());
    press(&mut w, "Undo");
    assert_eq!(marks(&w).len(), 1);
    assert!(overlaps(&w).is_empty());
}

/// From afar the marks of gaps that crowd are one, which says how many they are and goes there.
#[test]
fn a_crowd_of_gaps_is_one_mark_with_a_count() {
    let mut w = sample("club");
    let crowd = |w: &Window| -> Vec<String> {
        let all = w.query_all_by_label_contains(" gaps: ");
        all.filter_map(|node| node.accesskit_node().label()).collect()
    };
    for _ in 0..12 {
        w_key(&mut w, Key::Minus);
    }
    let far = crowd(&w);
    assert!(far.iter().any(|words| words.contains("short")), "{far:?}");
    press(&mut w, &far[0].clone());
    assert_ne!(crowd(&w), far, "a press goes nearer");
}

/// A block is named where it is drawn.
#[test]
fn a_double_click_on_a_block_or_its_name_names_it() {
    let mut w = two_blocks();
    press(&mut w, "Fit");
    let name_of = |w: &Window| {
        let labels = w.state().layout().labels.values();
        labels.map(|label| label.name.clone()).collect::<Vec<_>>()
    };
    let (lines, _) = w.state().track_on_screen();
    let track = lines[0][0].lerp(*lines[0].last().unwrap(), 0.7);
    for (words, at) in [("Fen", None), ("Moor", Some("Fen"))] {
        let place = match at {
            None => track,
            Some(name) => {
                let labels = w.state().labels_on_screen();
                labels.iter().find(|label| label.0 == name).unwrap().1.center()
            }
        };
        there_and_back(&mut w, "a name", |w| {
            special::double_click(w, place);
            w.key_press_modifiers(Modifiers::COMMAND, Key::A);
            w.event(egui::Event::Text(words.to_owned()));
            w.run();
            w_key(w, Key::Enter);
        });
        assert_eq!(name_of(&w), [words]);
    }
}
