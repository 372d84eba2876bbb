//! Millimetres and inches.

use super::*;

#[test]
fn lengths_are_shown_and_typed_in_the_units_that_are_chosen() {
    let mut w = two_blocks();
    let before = file(&w);
    select(&mut w, "Run r3");
    assert!(says(&w, "Drawn: 2.0 m"));
    w.key_press_modifiers(Modifiers::COMMAND, Key::U);
    w.run();
    assert_eq!(file(&w), before, "it changes nothing on the layout");
    assert!(says(&w, "Drawn: 78.7 in"));
    // A number that is set is in inches.
    there_and_back(&mut w, "end x", |w| set(w, "Run: End x", 100.0));
    let layout = w.state().layout();
    assert!((layout.joints.values().last().unwrap().x_mm - 2540.0).abs() < 1e-9);
    w.key_press_modifiers(Modifiers::COMMAND, Key::U);
    w.run();
    select(&mut w, "Run r3");
    assert!(says(&w, "Drawn: 2.54 m"));
}

#[test]
fn a_legend_says_what_marks_and_lines_mean() {
    let mut w = sample("brake-idle");
    assert!(!says(&w, "fed with both at once"));
    w_key(&mut w, Key::H);
    for words in ["positive now", "fed with both at once", "a block: colour and dash"] {
        assert!(says(&w, words), "{words}");
    }
    press(&mut w, "Close the legend");
    assert!(!says(&w, "fed with both at once"));
}

#[test]
fn the_words_of_findings_are_in_the_units_too() {
    let mut w = sample("wye");
    assert!(says(&w, "1325 mm can be bridged"));
    w.key_press_modifiers(Modifiers::COMMAND, Key::U);
    w.run();
    assert!(says(&w, "52.2 in can be bridged"));
    assert!(!says(&w, "1325 mm"));
}

#[test]
fn temperatures_are_in_fahrenheit_with_inches() {
    let mut w = two_blocks();
    press(&mut w, "Layout");
    press(&mut w, "Layout: State the room's temperatures");
    w.key_press_modifiers(Modifiers::COMMAND, Key::U);
    w.run();
    there_and_back(&mut w, "coldest", |w| set(w, "Layout: Coldest", 50.0));
    let coldest = |w: &Window| w.state().layout().climate.as_ref().unwrap().coldest_c;
    assert!((coldest(&w) - 10.0).abs() < 1e-9);
    w.key_press_modifiers(Modifiers::COMMAND, Key::U);
    w.run();
    set(&mut w, "Layout: Hottest", 40.0);
    assert!((w.state().layout().climate.as_ref().unwrap().hottest_c - 40.0).abs() < 1e-9);
}
