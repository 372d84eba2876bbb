//! The Review view: one finding at a time for a room, and what the club decides on it.

use super::labels::overlaps;
use super::*;

fn review(sample_name: &str) -> Window {
    let mut w = sample(sample_name);
    w_key(&mut w, Key::V);
    w
}

/// Notes a decision on the finding that is shown.
fn decide(w: &mut Window, state: &str, words: &str, owner: &str) {
    w_key(w, Key::D);
    choose(w, "Decision: State", state);
    write(w, "Decision: Decided", words);
    write(w, "Decision: Owner", owner);
    write(w, "Decision: Date", "2026-12-01");
    press(w, "Close");
}

#[test]
fn a_clicker_goes_from_finding_to_finding_and_stops_at_the_ends() {
    let mut w = review("club");
    let count = w.state().report().findings.len();
    assert!(count > 3);
    assert!(!says(&w, "Lay track") && !says(&w, "Findings ("), "the tools are away");
    assert!(says(&w, &format!("1 of {count}")) && says(&w, "crossed"));
    assert!(says(&w, "Cure, proved: ") && says(&w, "Exchange the two wires of feeder f312"));
    assert!(says(&w, "After it, this finding"));
    w_key(&mut w, Key::PageUp);
    assert!(says(&w, &format!("1 of {count}")) && says(&w, "This is the first finding."));
    for n in 2..=count {
        w_key(&mut w, Key::PageDown);
        assert!(says(&w, &format!("{n} of {count}")), "{n}");
    }
    w_key(&mut w, Key::PageDown);
    assert!(says(&w, "That was the last finding."));
    w_key(&mut w, Key::Home);
    assert!(says(&w, &format!("1 of {count}")));
    // The way out leads to the same finding on the plan, and back.
    w_key(&mut w, Key::PageDown);
    w_key(&mut w, Key::Escape);
    assert!(says(&w, "Lay track") && says(&w, "What to do"));
    press(&mut w, "Review");
    assert!(says(&w, &format!("2 of {count}")));
}

#[test]
fn a_decision_is_noted_saved_and_there_again_and_undo_takes_it_back() {
    let folder = dir();
    let path = folder.path().join("decided.gapwright");
    let mut w = review("brake-idle");
    let before = file(&w);
    assert!(says(&w, "Nothing is decided yet."));
    decide(&mut w, "To do", "Set it to high impedance.", "Ada");
    assert!(says(&w, "To do, Ada, 2026-12-01") && says(&w, "Set it to high impedance."));
    save_as(&mut w, &path);
    let mut again = window();
    open(&mut again, &path);
    w_key(&mut again, Key::V);
    assert!(says(&again, "To do, Ada, 2026-12-01"));
    assert!(!says(&again, "The ground has changed"));
    // In the review itself the steps of the decision can be taken back, one field at a time.
    for _ in 0..4 {
        w.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        w.run();
    }
    assert_eq!(file(&w), before);
    assert!(says(&w, "Nothing is decided yet."));
    w.key_press_modifiers(Modifiers::COMMAND, Key::Y);
    w.run();
    assert!(says(&w, "To do"));
}

#[test]
fn nothing_on_the_plan_is_edited_by_accident() {
    let mut w = sample("brake-idle");
    select(&mut w, "Cut Home gap (c1)");
    w_key(&mut w, Key::Delete);
    press(&mut w, "Undo");
    w_key(&mut w, Key::V);
    let before = file(&w);
    for key in [Key::Delete, Key::Backspace, Key::M, Key::Q, Key::P, Key::T, Key::C, Key::K, Key::X]
    {
        w_key(&mut w, key);
    }
    for key in [Key::Z, Key::Y, Key::A, Key::V, Key::X] {
        w.key_press_modifiers(Modifiers::COMMAND, key);
        w.run();
    }
    presenter::pull_plan(&mut w);
    assert_eq!(file(&w), before);
    // The comparison shows the cure and does not do it.
    w_key(&mut w, Key::A);
    assert!(says(&w, "Before and after") && says(&w, "Back to the review"));
    assert!(w.query_by_label("Apply to the layout").is_none());
    w.key_press_modifiers(Modifiers::COMMAND, Key::Enter);
    w.run();
    assert_eq!(file(&w), before);
    w_key(&mut w, Key::Escape);
    assert!(says(&w, "1 of "), "back in the review");
}

#[test]
fn a_decision_whose_ground_has_changed_says_so() {
    let mut w = review("swapped-feed");
    decide(&mut w, "Accepted as it is", "We watch it.", "Ben");
    assert!(says(&w, "Accepted as it is, Ben") && !says(&w, "The ground has changed"));
    press(&mut w, "Back to the plan");
    select(&mut w, "Cawmoss supply (s1)");
    set(&mut w, "Supply: Open voltage", 9.0);
    w_key(&mut w, Key::V);
    assert!(says(&w, "The ground has changed since: it was \"short, "), "{}", file(&w));
    // A note does not decide anew; that it holds all the same has a button.
    w_key(&mut w, Key::D);
    write(&mut w, "Decision: Owner", "Cleo");
    press(&mut w, "Close");
    assert!(says(&w, "The ground has changed") && says(&w, "Cleo"));
    w_key(&mut w, Key::D);
    press(&mut w, "It holds all the same");
    press(&mut w, "Close");
    assert!(!says(&w, "The ground has changed"));
}

#[test]
fn all_findings_are_listed_with_their_states_and_those_that_are_past() {
    let mut w = review("club");
    let count = w.state().report().findings.len();
    decide(&mut w, "Done", "Wires exchanged.", "Ada");
    w_key(&mut w, Key::PageDown);
    decide(&mut w, "To do", "On Tuesday.", "Ben");
    w_key(&mut w, Key::O);
    let counts = format!("{count} findings: {} open, 1 to do, 1 done", count - 2);
    assert!(says(&w, &counts), "{counts}");
    // A row leads to its finding.
    let row = w.query_all_by_label_contains(" Done, Ada").next().unwrap();
    row.click_accesskit();
    w.run();
    assert!(says(&w, &format!("1 of {count}")));
    // By owner and by state they come in another order, and the finding stays.
    choose(&mut w, "Order of the findings", "By owner");
    assert!(says(&w, &format!("1 of {count}")) && says(&w, "Done, Ada"));
    w_key(&mut w, Key::PageDown);
    assert!(says(&w, "To do, Ben"));
    choose(&mut w, "Order of the findings", "By state");
    assert!(says(&w, &format!("{} of {count}", count - 1)));
    // Once cured, its decision is among those on what is past, and can be forgotten and had back.
    w_key(&mut w, Key::Escape);
    press(&mut w, "Cure all faults…");
    w.key_press_modifiers(Modifiers::COMMAND, Key::Enter);
    w.run();
    w_key(&mut w, Key::V);
    w_key(&mut w, Key::O);
    assert!(says(&w, "No longer found (") && says(&w, "Done, Ada, 2026-12-01: "));
    assert!(says(&w, "Wires exchanged."), "what was decided stays to be read");
    let before = file(&w);
    press(&mut w, "Forget these decisions");
    assert!(!says(&w, "No longer found ("));
    w.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    w.run();
    assert_eq!(file(&w), before);
}

#[test]
fn the_gap_view_leads_back_to_the_review() {
    let mut w = review("brake-idle");
    w_key(&mut w, Key::G);
    assert!(says(&w, "Waveforms") && !says(&w, "Cure, proved"));
    w_key(&mut w, Key::Escape);
    assert!(says(&w, "Cure, proved") && says(&w, "1 of "));
    w_key(&mut w, Key::G);
    press(&mut w, "Back to the review");
    assert!(says(&w, "1 of "), "back where one came from");
}

#[test]
fn letters_read_from_the_last_row_at_every_size_of_projector() {
    for (width, height) in [(1024.0, 768.0), (1280.0, 720.0), (1920.0, 1080.0)] {
        let mut w = sample_in(window_of_size(width, height), "club");
        w_key(&mut w, Key::V);
        assert!(says(&w, "letters read from 8.0 m"), "{width}");
        assert!(overlaps(&w).is_empty(), "{width}: {:#?}", overlaps(&w));
        // Number, headline and reason stand in the window without scrolling.
        let shown = egui::Rect::from_min_size(Pos2::ZERO, vec2(width, height));
        for words in ["Short, ", "crossed"] {
            let label = w.query_all_by_label_contains(words).next().unwrap().rect();
            assert!(shown.contains_rect(label), "{width}: {words} {label:?}");
        }
    }
}

#[test]
fn a_layout_without_findings_says_so() {
    let mut w = window();
    w_key(&mut w, Key::V);
    assert!(says(&w, "There is nothing to review."));
    w_key(&mut w, Key::Escape);
    assert!(says(&w, "Lay track"));
}

#[test]
fn a_finding_is_looked_at_in_a_lineup() {
    let mut w = sample("brake-idle");
    w_key(&mut w, Key::K);
    write(&mut w, "Lineup: Name", "Evening");
    w_key(&mut w, Key::V);
    w_key(&mut w, Key::D);
    choose(&mut w, "Decision: Looked at in", "Evening");
    press(&mut w, "Close");
    assert!(says(&w, "In Evening it stands: short, "));
    // The lineup gone, the decision stays.
    w_key(&mut w, Key::Escape);
    let id = *w.state().layout().lineups.keys().next().unwrap();
    select(&mut w, &format!("Lineup Evening ({id})"));
    w_key(&mut w, Key::Delete);
    w_key(&mut w, Key::V);
    assert!(says(&w, "Open") && !says(&w, "In Evening"));
}

#[test]
fn the_form_of_one_finding_takes_back_nothing_of_another() {
    let mut w = review("club");
    decide(&mut w, "To do", "First decision", "Ada");
    w_key(&mut w, Key::PageDown);
    w_key(&mut w, Key::D);
    for _ in 0..3 {
        w.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        w.run();
    }
    assert_eq!(file(&w).matches("First decision").count(), 1, "{}", file(&w));
    let decision = w.state().layout().decisions.values().next().unwrap();
    assert_eq!(w.state().layout().decisions.len(), 1);
    assert_eq!(decision.decision, "First decision");
}

#[test]
fn a_decision_is_saved_from_its_form_and_notes_keep_their_lines() {
    let folder = dir();
    let path = folder.path().join("saved.gapwright");
    let mut w = sample("brake-idle");
    save_as(&mut w, &path);
    w_key(&mut w, Key::V);
    w_key(&mut w, Key::D);
    write(&mut w, "Decision: Decided", "Coast.");
    write(&mut w, "Decision: Notes", "First line\nSecond line");
    w.key_press_modifiers(Modifiers::COMMAND, Key::S);
    w.run();
    let saved = std::fs::read_to_string(&path).unwrap();
    assert!(saved.contains("Coast.") && saved.contains("Second line"), "{saved}");
    press(&mut w, "Close");
    assert!(says(&w, "First line") && says(&w, "Second line") && !says(&w, "\\n"));
}

#[test]
fn the_key_of_the_list_notes_on_the_row_that_has_the_focus() {
    let mut w = review("club");
    w_key(&mut w, Key::O);
    let row = w.query_all_by_label_contains(": not decided").nth(1);
    // The words of a row are labels; the row itself is the button around them.
    assert!(row.is_some());
    let rows = || {
        by().role(Role::Button).predicate(|n| n.label().is_some_and(|l| l.contains("not decided")))
    };
    w.query_all(rows()).nth(1).unwrap().focus();
    w.run();
    w_key(&mut w, Key::D);
    write(&mut w, "Decision: Decided", "This one.");
    press(&mut w, "Close");
    let second = w.state().report().findings[1].id().to_string();
    assert_eq!(w.state().layout().decisions.values().next().unwrap().finding, second);
}

#[test]
fn what_the_cure_makes_new_is_told_and_done_work_that_is_still_found_too() {
    let mut w = review("swapped-feed");
    assert!(says(&w, "New after it, as rules or notes: "));
    decide(&mut w, "Done", "Wires exchanged.", "Ada");
    assert!(says(&w, "It is noted as done, and the check still finds it."));
}

#[test]
#[ignore = "needs a graphics driver"]
fn looks_of_the_review() {
    for (width, height, name) in [(1024.0, 768.0, "1024"), (1920.0, 1080.0, "1920")] {
        let mut w = sample_in(window_of_size(width, height), "club-redesign");
        w_key(&mut w, Key::V);
        w.run();
        super::looks::looks(&mut w, &format!("review-{name}"));
        w_key(&mut w, Key::O);
        w.run();
        super::looks::looks(&mut w, &format!("review-all-{name}"));
    }
}
