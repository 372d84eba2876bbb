//! The Gap view as a bench: what it shows is the card's worst, and nothing moves under the pointer.

use super::gap::{at_the_gap, labelled, lead_mm, reading};
use super::*;

fn at_the_gap_of(name: &str) -> Window {
    let mut w = sample(name);
    w_key(&mut w, Key::G);
    w
}

/// The place of a button or a field on the screen.
#[track_caller]
fn rect(w: &Window, name: &str) -> egui::Rect {
    let all: Vec<_> =
        w.query_all_by_label(name).filter(|n| n.accesskit_node().role() != Role::Label).collect();
    assert!(!all.is_empty(), "there is nothing named {name:?}");
    all[0].rect()
}

#[track_caller]
fn is_ticked(w: &Window, name: &str) -> bool {
    let node = w.query_all(by().label(name).role(Role::CheckBox)).next().unwrap();
    node.accesskit_node().toggled() == Some(egui::accesskit::Toggled::True)
}

#[test]
fn a_board_that_wakes_up_is_awake_on_the_bench() {
    let mut w = at_the_gap_of("neighbour-wakes");
    let now = w.state().report().cuts[0].now.clone();
    assert!(says(&w, "short now") && now.verdict == Verdict::Short);
    // The bench shows what the card says, and why.
    assert!(says(&w, "The rails power yard bridge, whose supply is off: it has woken up"));
    let share = gapwright::report::percent(now.share);
    assert!(says(&w, &format!("standing here, in conflict {share} of the time")));
    let figures = now.drivers.iter().find(|d| d.id.0 == 1).unwrap();
    assert!(figures.p.peak > 3.0, "{figures:?}");
    assert!((reading(&w, "main bridge, P", "peak") - figures.p.peak).abs() < 0.06);
    assert!(says(&w, "main bridge, its trip sees: with its threshold at 3.00 A it acts"));
    press(&mut w, "Path of the current");
    assert!(says(&w, "in conflict"));
    assert!(says(&w, "yard bridge: low switch of P"), "it brakes");
    // Clear of the gap it sleeps again.
    press(&mut w, "Waveforms");
    set(&mut w, "How far it is past the gap", -20.0);
    assert!(!says(&w, "it has woken up"));
}

/// The part of time that a plot shows, as its name says it.
#[track_caller]
fn shown_part(w: &Window, plot: &str) -> String {
    let words = labelled(w, &format!("{plot} over time: "));
    words.split(". Shown ").nth(1).unwrap().to_owned()
}

fn drag_with(w: &mut Window, button: egui::PointerButton, from: Pos2, to: Pos2) {
    let modifiers = Modifiers::NONE;
    w.event(egui::Event::PointerMoved(from));
    w.event(egui::Event::PointerButton { pos: from, button, pressed: true, modifiers });
    w.step();
    for n in 1..=4 {
        w.event(egui::Event::PointerMoved(from + (to - from) * (n as f32 / 4.0)));
        w.step();
    }
    w.event(egui::Event::PointerButton { pos: to, button, pressed: false, modifiers });
    w.run();
}

#[test]
fn volts_and_amps_share_their_time_however_one_zooms() {
    let mut w = at_the_gap();
    let whole = "from 0 ms to 16 ms";
    assert_eq!((shown_part(&w, "Volts"), shown_part(&w, "Amps")), (whole.into(), whole.into()));
    let mut before = shown_part(&w, "Volts");
    for (plot, button) in [
        ("Volts", egui::PointerButton::Secondary),
        ("Volts", egui::PointerButton::Primary),
        ("Amps", egui::PointerButton::Primary),
    ] {
        let name = format!("{plot} over time");
        let middle = w.query_all_by_label_contains(&name).next().unwrap().rect().center();
        drag_with(&mut w, button, middle, middle + vec2(60.0, 10.0));
        let now = shown_part(&w, "Volts");
        assert_ne!(now, before, "{plot} {button:?}");
        assert_eq!(now, shown_part(&w, "Amps"), "{plot} {button:?}");
        before = now;
    }
    press(&mut w, "Usual span");
    assert_eq!((shown_part(&w, "Volts"), shown_part(&w, "Amps")), (whole.into(), whole.into()));
}

#[test]
fn keep_discard_and_the_controls_stay_where_they_are() {
    let mut w = at_the_gap();
    press(&mut w, "Try out");
    let all = ["Keep", "Discard", "Try siding bridge: throttle", "Try siding bridge: Reverse"];
    let before = all.map(|name| rect(&w, name));
    set(&mut w, "Try siding bridge: throttle", 50.0);
    press(&mut w, "Try Pimmerton bridge: Reverse");
    choose(&mut w, "Try Pimmerton bridge: idle state", "High-impedance");
    assert!(says(&w, "3 changes are tried out"));
    assert_eq!(all.map(|name| rect(&w, name)), before);
    press(&mut w, "Discard");
    assert_eq!(all.map(|name| rect(&w, name)), before);
}

#[test]
fn the_whole_table_is_in_sight_on_a_small_screen() {
    let mut w = sample_in(window_of_size(1024.0, 768.0), "brake-idle");
    w_key(&mut w, Key::G);
    set(&mut w, "Cursor B", 2.5);
    let is_peak = by().predicate(|n| n.label().is_some_and(|l| l.contains(", peak: ")));
    let peaks: Vec<f32> = w.query_all(is_peak).map(|node| node.rect().right()).collect();
    assert!(peaks.len() > 6, "{}", peaks.len());
    assert!(peaks.iter().all(|right| *right < 1024.0 - 10.0), "{peaks:?}");
    assert!(w.query_all_by_label("Peak").any(|node| node.rect().right() < 1014.0));
}

#[test]
fn an_averaging_trip_is_shown_with_what_its_filter_gives() {
    let mut w = at_the_gap_of("railcar-slips-by");
    let now = w.state().report().cuts[0].now.clone();
    let (compares, peak) = now
        .drivers
        .iter()
        .filter_map(|d| Some((d.trip_compares_a?, d.sensed?.peak)))
        .next()
        .unwrap();
    assert!(compares < 0.95 * peak, "{compares} {peak}");
    let amps = gapwright::report::amps;
    assert!(says(&w, &format!("Its trip sees: {}", amps(compares))));
    assert!(says(&w, &format!("Peak: {}", amps(peak))));
    let shown = labelled(&w, "Amps over time");
    assert!(shown.contains("its trip's filter"), "{shown}");
    // Its line starts at zero with the span, and rises.
    let listed = shown.trim_start_matches("Amps over time: ").split(". Shown").next().unwrap();
    let name = listed.split("; ").find(|name| name.ends_with("filter")).unwrap().to_owned();
    assert!((reading(&w, &name, "peak") - compares).abs() < 0.01);
    let at_a = |w: &mut Window, at_ms: f64| {
        set(w, "Cursor A", at_ms);
        labelled(w, &format!("{name}, at A: "))
    };
    let after = "within what is shown it does not act, but 0.17 s after the wheels join the rails";
    assert!(says(&w, &format!("{name}: its threshold is 3.00 A; {after}")));
    let (start, later) = (at_a(&mut w, 0.0), at_a(&mut w, 3.0));
    assert!(start.ends_with(": 0.00 A"), "{start}");
    assert_ne!(start.split(": ").last(), later.split(": ").last());
}

#[test]
fn the_worst_place_keeps_the_wheels_that_touch_where_it_is_as_bad() {
    let mut w = at_the_gap_of("directions-must-match");
    // With both rails joined it is as bad as with the right one alone, which the check names.
    let now = &w.state().report().cuts[0].now;
    let sides: Vec<_> = now.joins.iter().map(|join| join.side).collect();
    assert_eq!(sides, [gapwright::findings::SideWord::Right]);
    assert!(is_ticked(&w, "Left wheels touch") && is_ticked(&w, "Right wheels touch"));
    set(&mut w, "How far it is past the gap", -20.0);
    press(&mut w, "Worst place");
    assert!(is_ticked(&w, "Left wheels touch") && lead_mm(&w) > 0.0);
    press(&mut w, "Left wheels touch");
    press(&mut w, "Worst place");
    assert!(!is_ticked(&w, "Left wheels touch") && is_ticked(&w, "Right wheels touch"));
    // Where it is less bad, the wheels that make it worse touch again.
    let mut w = at_the_gap();
    press(&mut w, "Left wheels touch");
    press(&mut w, "Worst place");
    assert!(is_ticked(&w, "Left wheels touch"));
    assert!(says(&w, "standing here, in conflict 56 % of the time"));
}

#[test]
fn what_an_edit_did_moves_no_finding_and_undo_says_what_it_did() {
    let mut w = sample("brake-idle");
    let title = |w: &Window| {
        let found = w.query_all_by_label_contains("Idle state clamps the neighbour");
        found.map(|node| node.rect().top()).reduce(f32::min)
    };
    press(&mut w, "siding bridge: Reverse");
    assert!(says(&w, "Cured "));
    let with = title(&w).unwrap();
    let forgets = |w: &mut Window| {
        w.run_steps(40);
        assert!(!["Cured ", "Undone: ", "Done again"].iter().any(|words| says(w, words)));
    };
    forgets(&mut w);
    assert_eq!(title(&w), Some(with), "the list stays when the words go");
    press(&mut w, "Undo");
    assert!(!says(&w, "Cured ") && says(&w, "Undone: "));
    let with = title(&w).unwrap();
    forgets(&mut w);
    assert_eq!(title(&w), Some(with));
    press(&mut w, "Redo");
    assert!(says(&w, "Done again: cured "));
}

#[test]
fn escape_in_a_field_leaves_the_field_and_not_the_view() {
    let mut w = at_the_gap();
    press(&mut w, "Write the traces to a file…");
    assert!(w.ctx.text_edit_focused(), "one can type the path at once");
    w_key(&mut w, Key::Escape);
    assert!(says(&w, "Stage: "), "the view stays");
    assert!(!w.ctx.text_edit_focused() && says(&w, "Path of the traces"));
    // Once more into it, and Escape again.
    w.query_all(by().label("Path of the traces").role(Role::TextInput)).next().unwrap().focus();
    w.run();
    assert!(w.ctx.text_edit_focused());
    w_key(&mut w, Key::Escape);
    assert!(says(&w, "Stage: ") && says(&w, "Path of the traces"));
    // The question is closed before the view.
    w_key(&mut w, Key::Escape);
    assert!(says(&w, "Stage: ") && !says(&w, "Path of the traces"));
    w_key(&mut w, Key::Escape);
    assert!(!says(&w, "Stage: "));
    // A number that is typed, likewise.
    let mut w = at_the_gap();
    let number = w.query_all(by().label("Shown for").role(Role::SpinButton)).next().unwrap();
    let place = number.rect().center();
    special::double_click(&mut w, place);
    assert!(w.ctx.text_edit_focused());
    w_key(&mut w, Key::Escape);
    assert!(!w.ctx.text_edit_focused());
    assert!(says(&w, "Stage: "), "the view stays");
}

#[test]
fn the_pair_of_settings_that_is_looked_at_is_named_with_a_way_back() {
    let mut w = at_the_gap();
    assert!(says(&w, "Shown below: the settings now"));
    let place = rect(&w, "Show the settings now");
    let quiet = w
        .query_all(by().label_contains("stopped, ").role(Role::Button))
        .map(|n| n.accesskit_node().label().unwrap())
        .find(|label| label.matches("stopped").count() == 2)
        .unwrap();
    let stage = w.get_by_role(Role::Canvas).rect();
    for back in ["button", "key"] {
        press(&mut w, &quiet);
        assert!(says(&w, "Shown below: Pimmerton stopped, Sawpit Siding stopped (not as set now)"));
        assert_eq!(rect(&w, "Show the settings now"), place);
        assert_eq!(w.get_by_role(Role::Canvas).rect(), stage, "the stage stays");
        match back {
            "button" => press(&mut w, "Show the settings now"),
            _ => w_key(&mut w, Key::Num0),
        }
        assert!(says(&w, "Shown below: the settings now"), "{back}");
        assert!(says(&w, "standing here, in conflict 56 % of the time"));
    }
}

/// The cell of the card of the sample `inrush` in which the shed's supply is off and the main line drives.
pub fn shed_off(w: &Window) -> String {
    w.query_all(by().label_contains("Engine Shed unpowered: ").role(Role::Button))
        .map(|n| n.accesskit_node().label().unwrap())
        .find(|label| label.starts_with("Garrowfell Main forward"))
        .unwrap()
}

#[test]
fn a_capacitor_that_is_charged_has_a_trace_of_its_own() {
    let mut w = at_the_gap_of("inrush");
    // With both supplies on there is none; with that of the shed off there are 12 A, as the finding says.
    assert!(!says(&w, "At the first moment"));
    let cell = shed_off(&w);
    press(&mut w, &cell);
    assert!(says(&w, "At the first moment"));
    assert!(says(&w, "12 A into shed supply at first"), "{}", labelled(&w, "12"));
    assert!(says(&w, "main bridge: its trip acts 20 µs after the joint"));
    press(&mut w, "First milliseconds");
    let said = labelled(&w, "Amps after the wheels join the rails");
    assert!(said.contains("Into shed supply, 12 A at first"), "{said}");
    assert!(said.contains("0 ms to 14.2"), "six time constants of 2.4 ms: {said}");
    set(&mut w, "How far it is past the gap", -20.0);
    assert!(says(&w, "Move it over the gap first"));
    let mut w = at_the_gap();
    press(&mut w, "First milliseconds");
    assert!(says(&w, "No capacitor is charged"));
}

#[test]
fn what_stands_there_rolls_over_the_gap_at_its_speed_and_its_wheels_are_told() {
    let mut w = at_the_gap();
    set(&mut w, "How far it is past the gap", -20.0);
    assert!(says(&w, "Standing here it joins nothing"));
    let below = rect(&w, "Path of the current");
    // A press of the key, then frame by frame: the harness' clock goes on by a quarter of a second.
    w.key_press(Key::Space);
    w.step();
    let start = lead_mm(&w);
    w.step();
    w.step();
    let speed = (lead_mm(&w) - start) / 2.0;
    assert!(speed > 0.1, "{speed}");
    let mut joined = false;
    for _ in 0..20 {
        w.step();
        joined |= says(&w, "it joins M of Pimmerton bridge");
        assert_eq!(rect(&w, "Path of the current"), below, "nothing moves while it rolls");
    }
    assert!(w.query_by_label("Pause").is_some());
    assert!(joined, "{}", lead_mm(&w));
    w.key_press(Key::Space);
    w.step();
    let stands = lead_mm(&w);
    w.step();
    assert_eq!(lead_mm(&w), stands);
    assert!(w.query_by_label("Play").is_some());
    // By steps, with keys.
    w_key(&mut w, Key::OpenBracket);
    assert!(lead_mm(&w) < stands);
    w_key(&mut w, Key::CloseBracket);
    w_key(&mut w, Key::CloseBracket);
    assert!(lead_mm(&w) > stands);
    // With its largest speed it comes to its end, and stops by itself.
    let quick = w
        .query_all(by().label_contains(" mm/s").role(Role::Button))
        .map(|n| n.accesskit_node().label().unwrap())
        .next_back()
        .unwrap();
    press(&mut w, &quick);
    w.key_press(Key::Space);
    for _ in 0..40 {
        w.step();
    }
    assert!(w.query_by_label("Play").is_some(), "it has ended");
    assert!(says(&w, "Standing here it joins nothing"));
}

#[test]
fn what_happens_after_the_first_trip_is_told_step_by_step() {
    let w = at_the_gap();
    assert!(says(&w, "What happens, step by step"));
    assert!(says(&w, "At once: its wheels join rails, short here, 12 A at the peak"));
    assert!(says(&w, "trip"), "{}", labelled(&w, "After"));
    let w = at_the_gap_of("neighbour-wakes");
    assert!(says(
        &w,
        "After 20 µs: main bridge trips; it goes to high-impedance until somebody resets it"
    ));
    assert!(says(&w, "the train stops: no motor gets current"));
    assert!(says(&w, "the train stands on the gap until somebody resets it"));
    let w = at_the_gap_of("coasting-bridges");
    assert!(says(&w, "At once: its wheels join rails, clear here"));
    assert!(says(&w, "the train has left the gap behind"));
}

#[test]
fn the_page_of_keys_names_those_of_the_gap_view() {
    let mut w = at_the_gap();
    w_key(&mut w, Key::F1);
    for words in ["Settings now, at a gap", "Space at a gap", "[ and ] at a gap"] {
        assert!(says(&w, words), "{words}");
    }
}

/// The texts and the boxes that are drawn within a rectangle.
fn drawn_within(w: &Window, within: egui::Rect) -> (Vec<egui::Rect>, Vec<egui::Rect>) {
    fn gather(shape: &egui::Shape, found: &mut (Vec<egui::Rect>, Vec<egui::Rect>)) {
        match shape {
            egui::Shape::Text(text) => found.0.push(text.visual_bounding_rect()),
            egui::Shape::Rect(rect) => found.1.push(rect.rect),
            egui::Shape::Vec(all) => all.iter().for_each(|shape| gather(shape, found)),
            _ => {}
        }
    }
    let mut found = (Vec::new(), Vec::new());
    w.output().shapes.iter().for_each(|clipped| gather(&clipped.shape, &mut found));
    found.0.retain(|text| within.contains_rect(*text));
    found.1.retain(|rect| within.contains_rect(*rect));
    found
}

#[test]
fn words_on_the_stage_and_in_the_schematic_lie_on_no_others() {
    for name in ["brake-idle", "common-rail-split", "transfer", "two-cabs", "dogbone", "wye"] {
        let mut w = sample_in(window_of_size(1024.0, 1600.0), name);
        w_key(&mut w, Key::G);
        for at_mm in [-25.0, 0.0, 105.0, 235.0] {
            set(&mut w, "How far it is past the gap", at_mm);
            let stage = w.query_by_role(Role::Canvas).unwrap().rect();
            let (texts, boxes) = drawn_within(&w, stage);
            assert!(texts.len() >= 6, "{name}: {texts:?}");
            // The outline of what stands there.
            let rolling = boxes.iter().find(|rect| (rect.height() - 38.0).abs() < 1.0).unwrap();
            for (n, text) in texts.iter().enumerate() {
                assert!(!rolling.intersects(*text), "{name} {at_mm}: {text:?} on {rolling:?}");
                let other = texts[n + 1..].iter().find(|other| other.shrink(1.0).intersects(*text));
                assert!(other.is_none(), "{name} {at_mm}: {text:?} on {other:?}");
            }
        }
        press(&mut w, "Path of the current");
        let sheet = w.get_by_label_contains("Schematic of the path").rect();
        let (texts, _) = drawn_within(&w, sheet);
        assert!(texts.len() > 4, "{name}: {texts:?}");
        for (n, text) in texts.iter().enumerate() {
            let other = texts[n + 1..].iter().find(|other| other.shrink(1.0).intersects(*text));
            assert!(other.is_none(), "{name}: {text:?} on {other:?}");
        }
    }
}
