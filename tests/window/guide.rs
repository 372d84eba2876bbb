//! What guides a newcomer: the glossary, and the first steps.

use super::*;

fn keys(w: &mut Window, modifiers: Modifiers, key: Key) {
    w.key_press_modifiers(modifiers, key);
    w.run();
}

#[test]
fn the_glossary_is_found_searched_and_closed() {
    let mut w = window();
    press(&mut w, "Help");
    press(&mut w, "Glossary");
    assert!(says(&w, "The two outputs of a driver."));
    write(&mut w, "Search the glossary", "straddle");
    assert!(says(&w, "A vehicle over a cut, its pickups on both sides"));
    assert!(!says(&w, "A PWM throttle") && !says(&w, "The two outputs of a driver. With"));
    write(&mut w, "Search the glossary", "no such word anywhere");
    assert!(says(&w, "No entry has all these words."));
    w_key(&mut w, Key::Escape);
    assert!(!says(&w, "No entry has all these words."));
    // By its key.
    keys(&mut w, Modifiers::COMMAND, Key::F1);
    for word in [
        "agree, disagree",
        "clamp",
        "feed chain",
        "idle state",
        "P and M",
        "party",
        "reversing section",
        "stagger",
        "straddle",
    ] {
        assert!(w.query_by_label(word).is_some(), "{word}");
    }
    press(&mut w, "Close");
    assert!(w.query_by_label("Search the glossary").is_none());
}

#[test]
fn a_word_in_a_panel_leads_to_its_entry() {
    let mut w = window();
    keys(&mut w, Modifiers::SHIFT, Key::F1);
    // With the focus it says what it means.
    w.get_by_label("What is meant: run").focus();
    w.run();
    assert!(says(&w, "A piece of track between two joints as it is drawn."));
    press(&mut w, "What is meant: run");
    assert!(w.query_by_label("Search the glossary").is_some());
    assert!(says(&w, "A piece of track between two joints as it is drawn."));
    press(&mut w, "Close");
    press(&mut w, "Layout");
    press(&mut w, "What is meant: lineup");
    assert!(says(&w, "Throttles and points as they are set together"));
}

#[test]
fn the_first_steps_cover_nothing_and_follow_the_layout() {
    let mut w = window();
    let plan = |w: &Window| {
        w.query_all(by().label_contains("Plan, ").role(Role::Canvas)).next().unwrap().rect()
    };
    keys(&mut w, Modifiers::SHIFT, Key::F1);
    let strip = w.get_by_label("First steps").rect();
    let hide = w.get_by_label("Hide the first steps").rect();
    assert!(!plan(&w).intersects(strip) && !plan(&w).intersects(hide), "{:?} {hide:?}", plan(&w));
    // A layout that is there already lacks none of the first three.
    let mut w = sample("brake-idle");
    keys(&mut w, Modifiers::SHIFT, Key::F1);
    assert!(says(&w, "3  Feed both sides: done"));
    assert!(says(&w, "A gap shorts although the throttles agree."));
    press_finding(&mut w, "Idle state clamps the neighbour");
    assert!(says(&w, "4  See what shorts: done"));
    // What is taken away is lacking again.
    select(&mut w, "Cut Home gap (c1)");
    let before = file(&w);
    press(&mut w, "Delete");
    assert_ne!(file(&w), before);
    assert!(says(&w, "Press C and click on the track"), "the gap is gone");
    assert!(!says(&w, "2  Cut the rails: done"));
    press(&mut w, "Undo");
    assert!(says(&w, "2  Cut the rails: done"));
}

#[test]
fn the_last_step_cautions_those_who_go_on_to_saw_and_solder() {
    let mut w = two_blocks();
    keys(&mut w, Modifiers::SHIFT, Key::F1);
    assert!(!says(&w, "Before you saw and solder"));
    for driver in ["Driver A", "Driver B"] {
        choose(&mut w, &format!("{driver}: idle state"), "High-impedance");
    }
    assert!(says(&w, "That is the whole job."));
    assert!(says(&w, "Before you saw and solder: switch off and pull the plug"));
    assert!(says(&w, "local codes"));
}
