//! Rules of the layout file that need special work, bonds and wires: what is refused, where, and that an edit is refused
//! for the same reason.
#![allow(clippy::unwrap_used)]

use gapwright::layout::{
    BondId, CutId, Edit, Entity, Layout, Lineup, LoadError, Rail, RunId, SpecialId, Spot, apply,
    load, save,
};

/// Two straight runs, a turnout with a live frog at the end of the second, and further lists and fields.
fn text(contact: &str, more: &str) -> String {
    format!(
        r#"(version: 1,
    joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 1000, y_mm: 0), (id: "j3", x_mm: 2000, y_mm: 0),
        (id: "j4", x_mm: 3000, y_mm: 0), (id: "j5", x_mm: 2980, y_mm: -200)],
    runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j3", to: "j2"), (id: "r3", from: "j3", to: "j4"),
        (id: "r4", from: "j3", to: "j5")],
    specials: [(id: "w1", contact: ({contact}), work: Turnout(toe: (run: "r2", end: Start),
        exits: [(run: "r3", end: Start), (run: "r4", end: Start)], frog: PowerRoutingWithContact, frog_mm: 150))],
    {more}
)"#
    )
}

fn layout(contact: &str, more: &str) -> Layout {
    load(&text(contact, more)).unwrap_or_else(|e| panic!("{e:?}")).layout
}

/// The faults of a text, and the line and column of the mark `§` in it.
fn faults(text: &str) -> (Vec<LoadError>, (usize, usize)) {
    let (before, _) = text.split_once('§').unwrap();
    let line = before.matches('\n').count() + 1;
    let column = before.rsplit('\n').next().unwrap().chars().count() + 1;
    (load(&text.replace('§', "")).map(|_| ()).expect_err(text), (line, column))
}

fn bonded(cut: &str, from: &str) -> String {
    text(
        "",
        &format!(
            r#"cuts: [(id: "c1", {cut})], bonds: [(id: "y1", from: ({from}), to: (run: "r4", at_mm: 900, rail: Left))],"#
        ),
    )
}

#[test]
fn a_bond_in_the_opening_of_a_cut_is_refused_at_its_place() {
    for (cut, from) in [
        (r#"run: "r1", at_mm: 400, rails: Right"#, r#"run: "r1", at_mm: §400, rail: Right"#),
        (r#"run: "r1", at_mm: 400, rails: Both"#, r#"run: "r1", at_mm: §400.4, rail: Left"#),
        // The right rail is cut where the stagger puts it.
        (
            r#"run: "r1", at_mm: 400, rails: Both, stagger_mm: -30, width_mm: 2"#,
            r#"run: "r1", at_mm: §371, rail: Right"#,
        ),
        // At a joint: on the run that has the cut, and on the run beyond, where the left rail goes on as the right one.
        (
            r#"run: "r1", at_mm: 1000, rails: Right, made: InsulatedJoiner"#,
            r#"run: "r1", at_mm: §1000, rail: Right"#,
        ),
        (
            r#"run: "r1", at_mm: 1000, rails: Right, made: InsulatedJoiner"#,
            r#"run: "r2", at_mm: §1000, rail: Left"#,
        ),
        (r#"run: "r1", at_mm: 999.9, rails: Left"#, r#"run: "r2", at_mm: §999.8, rail: Right"#),
    ] {
        let (faults, place) = faults(&bonded(cut, from));
        let [fault] = &faults[..] else { panic!("{cut} {from}: {faults:#?}") };
        assert_eq!((fault.line, fault.column), place, "{fault}");
        assert_eq!(fault.place, "bond y1, from.at_mm");
        assert!(fault.says.contains("where cut c1 takes the rail away"), "{fault}");
        assert!(fault.hint.contains("on which side of cut c1"), "{fault}");
    }
}

#[test]
fn a_bond_beside_a_cut_or_on_the_other_rail_is_fine() {
    for (cut, from) in [
        (r#"run: "r1", at_mm: 400, rails: Right"#, r#"run: "r1", at_mm: 400, rail: Left"#),
        (r#"run: "r1", at_mm: 400, rails: Both"#, r#"run: "r1", at_mm: 400.5, rail: Left"#),
        (
            r#"run: "r1", at_mm: 400, rails: Both, stagger_mm: -30"#,
            r#"run: "r1", at_mm: 400, rail: Right"#,
        ),
        (
            r#"run: "r1", at_mm: 1000, rails: Right, made: InsulatedJoiner"#,
            r#"run: "r2", at_mm: 1000, rail: Right"#,
        ),
        (r#"run: "r1", at_mm: 999.9, rails: Left"#, r#"run: "r2", at_mm: 999, rail: Right"#),
    ] {
        load(&bonded(cut, from)).unwrap_or_else(|e| panic!("{cut} {from}: {e:?}"));
    }
}

#[test]
fn the_wire_of_a_frogs_contact_is_refused_on_a_cut_too() {
    let sources = r#"sources: [[(run: "r2", at_mm: §500, rail: Left), (run: "r2", at_mm: 600, rail: Right)]]"#;
    let cut = r#"cuts: [(id: "c1", run: "r2", at_mm: 500, rails: Both)],"#;
    let (faults, place) = faults(&text(sources, cut));
    let [fault] = &faults[..] else { panic!("{faults:#?}") };
    assert_eq!((fault.line, fault.column), place, "{fault}");
    assert_eq!(fault.place, "special work w1, contact.sources[0][0].at_mm");
}

#[test]
fn an_edit_that_brings_a_bond_and_a_cut_together_is_refused_and_leaves_no_trace() {
    let cut = r#"run: "r1", at_mm: 400, rails: Right"#;
    let mut layout = load(&bonded(cut, r#"run: "r1", at_mm: 500, rail: Right"#)).unwrap().layout;
    let before = layout.clone();
    let mut bond = layout.bonds[&BondId(1)].clone();
    bond.from.at_mm = 400.0;
    let mut cut = layout.cuts[&CutId(1)].clone();
    cut.at_mm = 500.2;
    let wide = gapwright::layout::Cut { width_mm: 50.0, at_mm: 480.0, ..cut.clone() };
    for edit in [
        Edit::Add(Entity::Bond(bond.clone())),
        Edit::Replace(bond.into()),
        Edit::Replace(cut.into()),
        Edit::Replace(wide.into()),
    ] {
        let refused = apply(&mut layout, edit.clone()).expect_err(&format!("{edit:?}"));
        assert!(refused.0.contains("takes the rail away"), "{refused}");
        assert_eq!(layout, before);
    }
    // Beside it, the same edit is done.
    let spot = Spot { run: RunId(1), at_mm: 410.0, rail: Rail::Right };
    let bond = gapwright::layout::Bond { id: BondId(0), from: spot, to: spot };
    apply(&mut layout, Edit::Add(bond.into())).unwrap();
}

#[test]
fn a_contact_on_a_lever_of_its_own_is_kept_and_thrown_by_itself() {
    let mut layout = layout("lever: Own, position: 1", "");
    assert!(save(&layout).contains("contact: (lever: Own, position: 1)"));
    assert_eq!(load(&save(&layout)).unwrap().layout, layout);
    let before = layout.clone();
    let stands = |layout: &Layout| {
        let special = &layout.specials[&SpecialId(1)];
        (special.position, special.contact_position())
    };
    assert_eq!(stands(&layout), (0, 1));
    let points = Edit::Throw { selector: SpecialId(1).into(), position: 1 };
    let back = apply(&mut layout, points).unwrap();
    assert_eq!(stands(&layout), (1, 1));
    apply(&mut layout, Edit::ThrowContact { special: SpecialId(1), position: 0 }).unwrap();
    assert_eq!(stands(&layout), (1, 0));
    apply(&mut layout, Edit::ThrowContact { special: SpecialId(1), position: 1 }).unwrap();
    apply(&mut layout, back).unwrap();
    assert_eq!(layout, before);

    let refused = apply(&mut layout, Edit::ThrowContact { special: SpecialId(1), position: 2 });
    assert!(refused.unwrap_err().0.contains("the contact has 2 positions"));
    // Not stated, a contact of its own lever stands in position 0, whatever the points do.
    let unstated = self::layout("lever: Own", "");
    assert_eq!(stands(&unstated), (0, 0));
    let mut follows = self::layout("", "");
    let refused = apply(&mut follows, Edit::ThrowContact { special: SpecialId(1), position: 1 });
    assert!(refused.unwrap_err().0.contains("no contact on a lever of its own"));
}

#[test]
fn a_lineup_sets_a_contact_on_a_lever_of_its_own() {
    let mut layout = layout("lever: Own, position: 1", "");
    let now = Lineup::now(&layout, "as it is");
    apply(&mut layout, Edit::ThrowContact { special: SpecialId(1), position: 0 }).unwrap();
    assert!(!now.is_set(&layout));
    assert_eq!(now.applied(&layout).unwrap().specials[&SpecialId(1)].contact_position(), 1);
    // Points whose contact follows them have nothing to list.
    let follows = self::layout("", "");
    assert_eq!(Lineup::now(&follows, "").points[0].contact, None);
}

#[test]
fn a_contact_that_is_not_thrown_with_the_points_cannot_be_timed_by_them() {
    for field in ["before_points", "open_between"] {
        let (faults, place) = faults(&text(&format!("lever: Own, {field}: §true"), ""));
        let [fault] = &faults[..] else { panic!("{faults:#?}") };
        assert_eq!((fault.line, fault.column), place, "{fault}");
        assert!(fault.says.contains("not thrown with the points"), "{fault}");
    }
}
