//! Papers from the window: a folder, what is wanted, and the files in it.

use super::*;

#[test]
fn papers_are_made_from_the_menu_into_a_folder_that_is_named() {
    let folder = dir();
    let into = folder.path().join("bench");
    let mut w = sample("two-cabs");
    w.key_press_modifiers(Modifiers::COMMAND, Key::P);
    w.run();
    assert!(says(&w, "Papers for the bench"));
    write(&mut w, "Path of the file", &into.display().to_string());
    press(&mut w, "One page of HTML too, for a phone at the layout");
    press(&mut w, "Make the papers");
    assert!(says(&w, "papers are written into"), "{}", told(&w));
    assert!(!says(&w, "Make the papers"), "the question is closed");
    for name in ["plan.pdf", "cuts.csv", "cards.pdf", "layout.html"] {
        assert!(into.join(name).is_file(), "{name} is not there");
    }
}

#[test]
fn papers_say_in_the_question_what_is_in_the_way() {
    let folder = dir();
    std::fs::write(folder.path().join("plan.pdf"), "somebody else's").unwrap();
    let mut w = sample("two-cabs");
    w.key_press_modifiers(Modifiers::COMMAND, Key::P);
    w.run();
    write(&mut w, "Path of the file", &folder.path().display().to_string());
    press(&mut w, "Make the papers");
    assert!(says(&w, "this program did not write it"));
    assert!(says(&w, "Make the papers"), "the question stays open");
    assert_eq!(std::fs::read(folder.path().join("plan.pdf")).unwrap(), b"somebody else's");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "nothing is written");
    w_key(&mut w, Key::Escape);
    assert!(!says(&w, "Make the papers"));
}
