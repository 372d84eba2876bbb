//! *What is wrong?* in the Gap view: from what was seen to the fault, drawn, and its cure.

use super::*;

/// The sample of two braking bridges, drawn as if both coasted: what its builder believes.
fn believed_to_coast() -> Window {
    let drawn = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-layouts/brake-idle.gapwright");
    let text = std::fs::read_to_string(drawn).unwrap();
    let folder = dir();
    let path = folder.path().join("believed.gapwright");
    std::fs::write(&path, text.replace("idle: BrakeLow", "idle: HighImpedance")).unwrap();
    let mut w = window();
    open(&mut w, &path);
    w_key(&mut w, Key::G);
    press(&mut w, "What is wrong?");
    w
}

fn saw(w: &mut Window, first: f64, second: f64, what: &str) {
    set(w, "Throttle of Pimmerton bridge then", first);
    set(w, "Throttle of siding bridge then", second);
    choose(w, "What happened", what);
    press(w, "Add");
}

#[test]
fn three_things_seen_and_one_more_test_lead_to_both_bridges_and_to_their_cure() {
    let mut w = believed_to_coast();
    assert!(says(&w, "Nothing was seen yet"));
    saw(&mut w, 40.0, 80.0, "Something trips");
    saw(&mut w, 100.0, 100.0, "Nothing happens");
    saw(&mut w, 100.0, 10.0, "Something trips");
    assert!(says(&w, "Not sure yet. First suspect"), "{}", told(&w));
    assert!(says(&w, "3. Run long diesel over Home gap into Sawpit Siding"));
    assert!(says(
        &w,
        "1. Run long diesel over Home gap into Sawpit Siding, with Pimmerton bridge 0.1"
    ));
    press(&mut w, "Pimmerton bridge and siding bridge trip, test 1");
    assert!(says(&w, "All but sure"));
    let before = file(&w);
    press(
        &mut w,
        "It is so: draw it: Pimmerton bridge and siding bridge: idle states braking with both low switches on",
    );
    assert!(file(&w).matches("idle: BrakeLow").count() == 2, "{}", file(&w));
    press(&mut w, "Card");
    assert!(says(&w, "Idle state clamps the neighbour"));
    w.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    w.run();
    assert_eq!(file(&w), before, "one step");
}

#[test]
fn a_suspect_is_shown_on_the_stage_without_touching_the_layout() {
    let mut w = believed_to_coast();
    saw(&mut w, 100.0, 100.0, "Something trips");
    let before = file(&w);
    press(&mut w, "Show it on the stage: The two wires of feeder f2 (Sawpit Siding) are exchanged");
    assert!(says(&w, "trying out 1 change") && says(&w, "short now"));
    assert_eq!(file(&w), before);
    // What is supposed on the copy does not change what is suspected of the layout.
    assert!(says(&w, "Suspects") && !says(&w, "Working out"));
}

#[test]
fn a_mistaken_observation_is_taken_back_and_each_gap_has_its_own() {
    let mut w = believed_to_coast();
    saw(&mut w, 100.0, 100.0, "Something trips");
    assert!(says(&w, "First suspect"));
    press(&mut w, "Forget observation 1");
    assert!(says(&w, "Nothing was seen yet"));
}
