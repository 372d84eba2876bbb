//! Running a train in the window.

use super::*;

#[test]
fn a_train_moved_by_hand_over_a_short_says_so_and_the_log_tells_what_trips() {
    let mut w = sample("brake-idle");
    w_key(&mut w, Key::R);
    // The home gap is at 1000 mm of run r2.
    let run = w.state().called(gapwright::layout::RunId(2).into());
    choose(&mut w, "Run: From run", &run);
    set(&mut w, "Run: At", 0.0);
    set(&mut w, "Run: Way", 1200.0);
    set(&mut w, "Run: how far it has come", 300.0);
    assert!(says(&w, "clear here"));
    set(&mut w, "Run: how far it has come", 1100.0);
    assert!(says(&w, "short here, 12"), "{}", told(&w));
    assert!(says(&w, "Over Cut Home gap"), "{}", told(&w));
    // The keys take it on, and back.
    for _ in 0..20 {
        w_key(&mut w, Key::OpenBracket);
    }
    assert!(says(&w, "clear here"));
    press(&mut w, "Run it");
    assert!(says(&w, "trip"), "{}", told(&w));
    // A line of the log puts the train where it says.
    let short = w.query_all_by_label_contains("joins blocks: short").next().unwrap();
    short.click_accesskit();
    w.run();
    assert!(says(&w, "short here, 12"), "{}", told(&w));
    assert!(
        says(&w, "joins: on the left Pimmerton with Sawpit Siding"),
        "rails are told by their blocks"
    );
    // Throwing a throttle makes the log one about another layout.
    let before = file(&w);
    press(&mut w, "Run it");
    assert_eq!(file(&w), before, "running changes nothing");
}

#[test]
fn with_nothing_to_run_it_says_what_is_missing() {
    let mut w = window();
    w_key(&mut w, Key::R);
    assert!(says(&w, "There is nothing to run yet"));
}
