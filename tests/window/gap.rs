//! The Gap view: one gap, large.

use super::looks::looks;
use super::*;

/// The sample of two braking bridges in the Gap view.
pub fn at_the_gap() -> Window {
    let mut w = sample("brake-idle");
    w_key(&mut w, Key::G);
    w
}

#[track_caller]
pub fn labelled(w: &Window, start: &str) -> String {
    let all: Vec<_> =
        w.query_all(by().predicate(|n| n.label().is_some_and(|l| l.starts_with(start)))).collect();
    all.first()
        .unwrap_or_else(|| panic!("nothing begins with {start:?}"))
        .accesskit_node()
        .label()
        .unwrap()
}

/// Where the leading coupler is, mm past the gap.
pub fn lead_mm(w: &Window) -> f64 {
    let node = w
        .query_all(by().label("How far it is past the gap").role(Role::Slider))
        .next()
        .unwrap()
        .accesskit_node();
    node.numeric_value().unwrap()
}

#[test]
fn the_view_comes_and_goes_by_key_by_switch_and_by_button() {
    let mut w = sample("brake-idle");
    assert!(!says(&w, "Back to the plan"));
    w_key(&mut w, Key::G);
    assert!(says(&w, "Back to the plan") && says(&w, "Stage: "));
    assert!(
        w.query_by_role(Role::Canvas)
            .is_some_and(|n| { n.accesskit_node().label().unwrap().starts_with("Stage") })
    );
    w_key(&mut w, Key::Escape);
    assert!(!says(&w, "Stage: ") && says(&w, "Lay track"));
    press(&mut w, "Gap");
    assert!(says(&w, "Stage: "));
    press(&mut w, "Plan");
    assert!(!says(&w, "Stage: "));
    select(&mut w, "Cut Home gap (c1)");
    press(&mut w, "Look at this gap");
    assert!(says(&w, "Stage: "));
    press(&mut w, "Back to the plan");
    assert!(!says(&w, "Stage: "));
    // From the presentation too, which ends.
    w_key(&mut w, Key::F5);
    w_key(&mut w, Key::G);
    assert!(says(&w, "Stage: ") && !says(&w, "End the presentation"));
    w_key(&mut w, Key::Escape);
    assert!(says(&w, "Lay track"));
}

#[test]
fn a_double_click_on_the_mark_of_a_gap_looks_at_it() {
    let mut w = sample("brake-idle");
    press(&mut w, "Fit");
    let labels = w.state().labels_on_screen();
    let mark = labels.iter().find(|(words, _)| words.starts_with("mark Mark"));
    let mark = mark.unwrap_or_else(|| panic!("{labels:?}")).1.center();
    special::double_click(&mut w, mark);
    assert!(says(&w, "Stage: "), "{:?}", w.state().labels_on_screen());
}

#[test]
fn the_card_comes_first_and_a_cell_is_shown_on_the_stage() {
    let mut w = at_the_gap();
    assert!(
        says(&w, "short now") && says(&w, "Crossing this gap") && says(&w, "At the settings now")
    );
    assert!(says(&w, "What passes now"));
    // The reason stands there at once, in the words of the findings.
    assert!(says(&w, "Idle state clamps the neighbour") && says(&w, "operating rule"));
    let report = w.state().report().clone();
    let cells = w.query_all(by().label_contains("of the time").role(Role::Button)).count();
    assert_eq!(cells, report.cuts[0].card.len());
    // Stopped against stopped: both clamp, nothing flows.
    let quiet = w
        .query_all(by().label_contains("stopped, ").role(Role::Button))
        .map(|n| n.accesskit_node().label().unwrap())
        .find(|label| label.matches("stopped").count() == 2)
        .unwrap();
    press(&mut w, &quiet);
    assert!(says(&w, "standing here, in conflict 0 % of the time"), "{quiet}");
    press(&mut w, "Show the settings now");
    assert!(says(&w, "standing here, in conflict 56 % of the time"));
}

#[test]
fn the_vehicle_is_moved_by_pointer_by_keys_and_by_numbers() {
    let mut w = at_the_gap();
    assert!(says(&w, "standing here, in conflict 56 % of the time"));
    assert!(says(&w, "it joins M of Pimmerton bridge"), "the worst stands there at first");
    let stage = w.get_by_role(Role::Canvas).rect().center();
    let before = lead_mm(&w);
    drag(&mut w, stage, stage + vec2(40.0, 0.0));
    assert!(lead_mm(&w) > before + 5.0);
    // The stage has the focus now.
    let before = lead_mm(&w);
    w_key(&mut w, Key::ArrowLeft);
    assert!((lead_mm(&w) - before + 1.0).abs() < 1e-6);
    w.key_press_modifiers(Modifiers::SHIFT, Key::ArrowLeft);
    w.run();
    assert!((lead_mm(&w) - before + 11.0).abs() < 1e-6);
    for _ in 0..12 {
        w.key_press_modifiers(Modifiers::COMMAND, Key::ArrowLeft);
        w.run();
    }
    assert!(says(&w, "Standing here it joins nothing"), "{}", lead_mm(&w));
    press(&mut w, "Next change");
    press(&mut w, "Next change");
    assert!(says(&w, "it joins M of Pimmerton bridge"), "{}", lead_mm(&w));
    set(&mut w, "How far it is past the gap", -20.0);
    assert!(says(&w, "Standing here it joins nothing"));
    press(&mut w, "Worst place");
    assert!(says(&w, "standing here, in conflict 56 % of the time"));
}

#[test]
fn with_the_wheels_of_one_rail_lifted_isolated_supplies_carry_nothing() {
    let mut w = at_the_gap();
    press(&mut w, "Left wheels touch");
    assert!(says(&w, "Nothing touches on the left rail"));
    assert!(says(&w, "standing here, in conflict 0 % of the time"));
}

#[test]
fn another_vehicle_is_stood_there_from_its_pass_and_from_the_list() {
    let mut w = at_the_gap();
    press(&mut w, "Two-axle railcar");
    assert!(labelled(&w, "Stage").contains("Two-axle railcar"));
    choose(&mut w, "What stands there", "Long diesel");
    assert!(labelled(&w, "Stage").contains("Long diesel"));
    press(&mut w, "Front to Pimmerton");
    assert!(says(&w, "standing here, in conflict 56 % of the time"));
}

#[test]
fn no_gap_a_gap_that_goes_and_an_unfed_side_are_told_in_plain_words() {
    let mut w = window();
    w_key(&mut w, Key::G);
    assert!(says(&w, "There is no gap to look at yet"));
    w_key(&mut w, Key::Escape);
    let mut w = two_blocks();
    w_key(&mut w, Key::G);
    assert!(says(&w, "Stage: "));
    // The step that made the gap is taken back while one looks at it.
    for _ in 0..3 {
        press(&mut w, "Undo");
    }
    assert!(w.state().layout().cuts.is_empty());
    assert!(says(&w, "There is no gap to look at yet"));
    press(&mut w, "Redo");
    // Neither side is fed now.
    assert!(says(&w, "Stage: ") && says(&w, "unfed rail"));
    press(&mut w, "Redo");
    assert!(says(&w, "Stage: ") && says(&w, "unfed rail") && says(&w, "P of Driver A"));
}

#[test]
fn every_gap_of_every_sample_can_be_looked_at() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-layouts");
    let mut looked = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|ext| ext != "gapwright") {
            continue;
        }
        let mut w = window_of_size(1024.0, 768.0);
        open(&mut w, &path);
        w_key(&mut w, Key::G);
        // Of the club one turns a few pages.
        for _ in 0..w.state().layout().cuts.len().min(4) {
            assert!(says(&w, "Stage: "), "{path:?}");
            for (page, words) in [
                ("Path of the current", "Branch by branch"),
                ("Try out", "On a copy"),
                ("Waveforms", "Readings"),
                ("Card", "Crossing this gap"),
            ] {
                press(&mut w, page);
                assert!(says(&w, words) || says(&w, "No driver reaches"), "{path:?}: {page}");
            }
            looked += 1;
            let next: Vec<_> = w.query_all_by_label("The next gap").collect();
            if let Some(next) = next.first() {
                next.click_accesskit();
            }
            w.run();
        }
    }
    assert!(looked > 28, "{looked}");
}

#[test]
fn keys_of_the_plan_do_nothing_unseen() {
    let mut w = sample("brake-idle");
    select(&mut w, "Cut Home gap (c1)");
    w_key(&mut w, Key::G);
    let before = file(&w);
    for key in [Key::Delete, Key::M, Key::Q, Key::P, Key::T, Key::C, Key::L, Key::K] {
        w_key(&mut w, key);
    }
    assert_eq!(file(&w), before);
    assert!(says(&w, "Stage: "));
}

/// The reading of a trace, by what shows it.
#[track_caller]
pub fn reading(w: &Window, trace: &str, meter: &str) -> f64 {
    let start = format!("{trace}, {meter}: ");
    let words = labelled(w, &start);
    words[start.len()..].split(' ').next().unwrap().parse().unwrap()
}

#[test]
fn readings_stand_beside_every_trace_with_leads_and_caution() {
    let w = at_the_gap();
    for words in [
        "Pimmerton, rail to rail",
        "siding bridge, its trip sees",
        "red lead on the right rail of Pimmerton, black lead on its left rail",
        "in the long run, the phases drifting",
        "joined to earth",
        "it acts 840 µs after",
    ] {
        assert!(says(&w, words), "{words}");
    }
    // What the report says of the same situation.
    let now = &w.state().report().cuts[0].now;
    for (name, figures) in ["Pimmerton bridge", "siding bridge"].iter().zip(&now.drivers) {
        for (output, current) in [("P", &figures.p), ("M", &figures.m)] {
            let trace = format!("{name}, {output}");
            assert!((reading(&w, &trace, "averaging meter") - current.mean).abs() < 0.06);
            assert!((reading(&w, &trace, "true-RMS meter") - current.rms).abs() < 0.06);
            assert!((reading(&w, &trace, "peak") - current.peak).abs() < 0.06);
        }
    }
}

#[test]
fn the_throttles_at_which_it_trips_are_worked_out() {
    let mut w = at_the_gap();
    press(&mut w, "Work it out");
    // Both brake in the off part: only at full throttle of both nobody brakes.
    assert!(says(&w, "Pimmerton bridge, forward: a trip acts at every throttle."));
    press(&mut w, "Left wheels touch");
    press(&mut w, "Work it out");
    assert!(says(&w, "siding bridge, forward: a trip acts at no throttle."));
    set(&mut w, "How far it is past the gap", -20.0);
    assert!(says(&w, "Move it over the gap first"));
}

#[test]
fn a_phase_is_chosen_and_stays() {
    let mut w = sample("boosters-in-phase");
    w_key(&mut w, Key::G);
    assert!(says(&w, "there is no phase to choose") || says(&w, "no driver switches"));
    let mut w = at_the_gap();
    press(&mut w, "Stay as below");
    assert!(says(&w, "the phases as chosen"));
    set(&mut w, "Phase of siding bridge", 25.0);
    assert!(says(&w, "the phases as chosen"));
    press(&mut w, "Drift");
    assert!(says(&w, "in the long run"));
}

#[test]
fn cursors_span_and_traces_are_set_by_keys_too() {
    let mut w = at_the_gap();
    set(&mut w, "Shown for", 4.0);
    set(&mut w, "Cursor A", 0.5);
    set(&mut w, "Cursor B", 2.5);
    assert!(says(&w, "2.0 ms apart, 500.0 Hz"));
    press(&mut w, "Without B");
    assert!(!says(&w, "ms apart"));
    press(&mut w, "Draw: siding bridge, P");
    assert!(
        says(&w, "Amps over time: ") && labelled(&w, "Amps over time").contains("siding bridge, P")
    );
    press(&mut w, "Longer");
    press(&mut w, "Usual span");
    assert!(says(&w, "Readings"));
}

#[test]
fn a_click_in_the_traces_sets_the_cursors() {
    let mut w = at_the_gap();
    let above = w.get_by_label("Usual span").rect();
    let at = above.center_bottom() + vec2(0.0, 70.0);
    pointer(&mut w, at);
    let at = at + vec2(100.0, 0.0);
    w.event(egui::Event::PointerMoved(at));
    w.event(egui::Event::ModifiersChanged(Modifiers::SHIFT));
    for pressed in [true, false] {
        let (button, modifiers) = (egui::PointerButton::Primary, Modifiers::SHIFT);
        w.event(egui::Event::PointerButton { pos: at, button, pressed, modifiers });
    }
    w.run();
    assert!(says(&w, "ms apart"));
}

#[test]
fn the_traces_are_written_as_a_table() {
    let mut w = at_the_gap();
    let dir = dir();
    let path = dir.path().join("traces.csv");
    press(&mut w, "Write the traces to a file…");
    write(&mut w, "Path of the traces", dir.path().join("no/such/folder.csv").to_str().unwrap());
    press(&mut w, "Write");
    assert!(says(&w, "Could not write"));
    write(&mut w, "Path of the traces", path.to_str().unwrap());
    press(&mut w, "Write");
    assert!(says(&w, "The traces are written to"), "{}", told(&w));
    let text = std::fs::read_to_string(&path).unwrap();
    let mut lines = text.lines();
    let head = lines.next().unwrap();
    assert!(head.starts_with("time (s),conflict,\"Pimmerton, rail to rail (V)\""), "{head}");
    assert!(head.contains("\"siding bridge, its trip senses (A)\""), "{head}");
    let rows: Vec<Vec<f64>> = lines
        .map(|line| line.split(',').map(|field| field.parse().unwrap_or(f64::NAN)).collect())
        .collect();
    assert!(rows.len() > 20 && rows.iter().all(|row| row.len() == rows[0].len()));
    assert!(rows.windows(2).all(|pair| pair[1][0] >= pair[0][0]), "time goes on");
    // 56 % of two periods of the slower one are in conflict, edge by edge.
    let mut conflict = 0.0;
    for pair in rows.chunks(2) {
        conflict += pair[0][1] * (pair[1][0] - pair[0][0]);
    }
    let all = rows.last().unwrap()[0] - rows[0][0];
    assert!((all - 0.016).abs() < 1e-6 && (conflict / all - 0.56).abs() < 0.08, "{conflict} {all}");
}

#[test]
fn the_path_of_the_current_says_each_branch() {
    let mut w = at_the_gap();
    press(&mut w, "Path of the current");
    assert!(says(&w, "At cursor A") && says(&w, "in conflict"));
    for words in [
        "Pimmerton bridge: low switch of P, from the output",
        "siding bridge: low switch of M, from the output",
        "Pimmerton bridge: feeder of P, right rail of Pimmerton, from the rail",
        "Wheels on the left rail of Sawpit Siding, out of the pickups",
        "siding supply, out of its positive pole",
    ] {
        assert!(says(&w, words), "{words}");
    }
    press(&mut w, "Next moment");
    press(&mut w, "Moment before");
    press(&mut w, "Left wheels touch");
    assert!(says(&w, "Nothing flows at this moment"));
}

#[test]
fn what_is_tried_out_is_kept_as_one_step_or_leaves_no_trace() {
    let mut w = at_the_gap();
    let before = file(&w);
    press(&mut w, "Try out");
    assert!(says(&w, "Nothing differs from the layout"));
    for driver in ["Pimmerton bridge", "siding bridge"] {
        choose(&mut w, &format!("Try {driver}: idle state"), "High-impedance");
    }
    set(&mut w, "Try siding bridge: throttle", 50.0);
    assert_eq!(file(&w), before, "the layout is not touched");
    assert!(says(&w, "trying out 3 changes"));
    assert!(says(&w, "siding bridge: high-impedance instead of brake-low"));
    assert!(says(&w, "siding bridge: forward 50 % instead of forward 80 %"));
    assert!(!says(&w, "short now") && says(&w, "standing here, in conflict 0 % of the time"));
    press(&mut w, "Discard");
    assert_eq!(file(&w), before);
    assert!(says(&w, "short now") && says(&w, "Nothing differs from the layout"));
    // The same again, and kept.
    for driver in ["Pimmerton bridge", "siding bridge"] {
        choose(&mut w, &format!("Try {driver}: idle state"), "High-impedance");
    }
    there_and_back(&mut w, "keep", |w| press(w, "Keep"));
    assert!(!says(&w, "short now") && says(&w, "Nothing differs from the layout"));
    press(&mut w, "Undo");
    assert_eq!(file(&w), before, "one step");
}

#[test]
fn wires_supplies_and_directions_can_be_tried_out() {
    let mut w = at_the_gap();
    press(&mut w, "Try out");
    press(&mut w, "Try siding supply: on");
    assert!(says(&w, "siding supply: switched off"));
    press(&mut w, "Try siding supply: on");
    assert!(says(&w, "Nothing differs from the layout"), "as it was is nothing tried");
    press(&mut w, "Try feed f2 from siding bridge: wires exchanged");
    assert!(says(&w, "Feed f2 from siding bridge: its two wires exchanged"));
    press(&mut w, "Try siding bridge: Reverse");
    assert!(says(&w, "siding bridge: reverse 80 % instead of forward 80 %"));
    // The layout changes underneath: what is tried stays as far as it still differs.
    press(&mut w, "Discard");
    press(&mut w, "Try siding bridge: Stopped");
    press(&mut w, "Plan");
    press(&mut w, "siding bridge: Stopped");
    press(&mut w, "Gap");
    assert!(says(&w, "Nothing differs from the layout"));
}

#[test]
#[ignore = "needs a graphics driver"]
fn looks_of_the_gap_view() {
    let mut w = sample_in(window_of_size(1280.0, 800.0), "brake-idle");
    w_key(&mut w, Key::G);
    looks(&mut w, "gap-view");
    press(&mut w, "Path of the current");
    press(&mut w, "Try out");
    looks(&mut w, "gap-path");
    let mut w = sample_in(window_of_size(1024.0, 768.0), "club");
    w_key(&mut w, Key::G);
    looks(&mut w, "gap-view-club");
    let mut w = sample_in(window_of_size(1920.0, 1080.0), "inrush");
    w_key(&mut w, Key::G);
    let cell = gap_bench::shed_off(&w);
    press(&mut w, &cell);
    press(&mut w, "First milliseconds");
    looks(&mut w, "gap-rush");
}
