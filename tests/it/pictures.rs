//! Pictures under the plan: in the file, as edits, and found again when files are moved.

use std::path::Path;

use gapwright::findings::check;
use gapwright::layout::{
    Edit, EntityId, History, Layout, Picture, PictureId, applied, apply, load, read_path, save,
    write_path,
};

const PLAN: &str = r#"(
    version: 1,
    joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 1000, y_mm: 0)],
    runs: [(id: "r3", from: "j1", to: "j2")],
    pictures: [
        (id: "p4", path: "plans/yard.png", x_mm: -20, y_mm: 640, mm_per_pixel: 0.75, pixels: (1600, 900),
            turn_deg: -1.5, opacity: 0.4, locked: true),
        (id: "p5", path: "../photo.jpg", x_mm: 0, y_mm: 0, mm_per_pixel: 2),
    ],
)"#;

fn plan() -> Layout {
    load(PLAN).unwrap().layout
}

fn picture(path: &str) -> Picture {
    Picture {
        id: PictureId(0),
        path: path.into(),
        x_mm: 1.0,
        y_mm: 2.0,
        mm_per_pixel: 0.5,
        pixels: None,
        turn_deg: 0.0,
        opacity: 1.0,
        locked: false,
    }
}

/// An empty file where a picture should be; the layout reads no pixels.
fn put(path: &Path) {
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    std::fs::write(path, "").unwrap();
}

fn path_of(layout: &Layout, number: u32) -> &Path {
    Path::new(&layout.pictures[&PictureId(number)].path)
}

#[test]
fn pictures_come_back_as_they_were_written() {
    let layout = plan();
    assert_eq!(layout.next_id, 6);
    let first = &layout.pictures[&PictureId(4)];
    assert_eq!((first.pixels, first.turn_deg, first.locked), (Some((1600, 900)), -1.5, true));
    let second = &layout.pictures[&PictureId(5)];
    assert_eq!((second.pixels, second.turn_deg, second.locked), (None, 0.0, false));
    assert_eq!(second.opacity, 0.5);
    let text = save(&layout);
    assert_eq!(load(&text).unwrap().layout, layout);
    assert_eq!(save(&load(&text).unwrap().layout), text);
}

#[test]
fn a_layout_without_pictures_does_not_speak_of_them() {
    let mut layout = plan();
    let without = "(\n    version: 1,\n    joints: [(id: \"j1\", x_mm: 0, y_mm: 0)],\n)";
    assert!(!save(&load(without).unwrap().layout).contains("picture"));
    apply(&mut layout, Edit::Delete(vec![PictureId(4).into(), PictureId(5).into()])).unwrap();
    assert!(!save(&layout).contains("picture"));
}

#[test]
fn every_edit_of_a_picture_is_taken_back_byte_for_byte() {
    let mut layout = plan();
    let mut history = History::default();
    let before = save(&layout);
    let added = history.do_edit(&mut layout, Edit::Add(picture("a.png").into())).unwrap();
    let [EntityId::Picture(id)] = added[..] else { panic!("{added:?}") };
    assert_eq!(id, PictureId(6));
    let moved = layout.pictures[&id].moved(10.0, -4.0);
    assert_eq!((moved.x_mm, moved.y_mm), (11.0, -2.0));
    let scaled = moved.scaled((0.0, 0.0), (100.0, 0.0), 1000.0).unwrap();
    assert_eq!(scaled.mm_per_pixel, 10.0);
    for new in [moved, scaled.clone(), scaled.turned((100.0, 50.0), 12.5)] {
        history.do_edit(&mut layout, Edit::Replace(new.into())).unwrap();
    }
    history.do_edit(&mut layout, Edit::Delete(vec![id.into(), PictureId(4).into()])).unwrap();
    assert_eq!(layout.pictures.len(), 1);
    while history.can_undo() {
        history.undo(&mut layout).unwrap();
    }
    assert_eq!(save(&layout), before);
}

/// Makes a picture one that makes no sense.
type Spoil = fn(&mut Picture);

#[test]
fn what_makes_no_sense_is_refused_in_the_file_and_as_an_edit() {
    let wrong: [(&str, &str, Spoil); 7] = [
        ("mm_per_pixel: 2)", "mm_per_pixel: 0)", |p| p.mm_per_pixel = 0.0),
        ("mm_per_pixel: 2)", "mm_per_pixel: NaN)", |p| p.mm_per_pixel = f64::NAN),
        ("opacity: 0.4", "opacity: 1.4", |p| p.opacity = 1.4),
        ("turn_deg: -1.5", "turn_deg: 1e9", |p| p.turn_deg = 1e9),
        ("x_mm: -20", "x_mm: inf", |p| p.x_mm = f64::INFINITY),
        ("\"plans/yard.png\"", "\" \"", |p| p.path = " ".into()),
        ("(1600, 900)", "(0, 900)", |p| p.pixels = Some((0, 900))),
    ];
    for (good, bad, spoil) in wrong {
        assert_eq!(PLAN.matches(good).count(), 1, "{good}");
        let faults = load(&PLAN.replace(good, bad)).unwrap_err();
        assert_eq!(faults.len(), 1, "{bad}: {faults:?}");
        assert!(faults[0].place.starts_with("picture p"), "{faults:?}");
        let mut layout = plan();
        let mut new = layout.pictures[&PictureId(4)].clone();
        spoil(&mut new);
        apply(&mut layout, Edit::Replace(new.into())).unwrap_err();
        assert_eq!(layout, plan());
    }
}

#[test]
fn the_check_takes_no_notice_of_pictures() {
    let mut layout =
        load(include_str!("../../sample-layouts/brake-idle.gapwright")).unwrap().layout;
    let before = check(&layout);
    applied(&mut layout, Edit::Add(picture("plan.png").into())).unwrap();
    assert_eq!(format!("{:?}", check(&layout)), format!("{before:?}"));
}

#[test]
fn pictures_are_named_by_the_way_from_the_layout_wherever_it_is_saved() {
    let folder = tempfile::tempdir().unwrap();
    let root = std::fs::canonicalize(folder.path()).unwrap();
    put(&root.join("club/plans/yard.png"));
    put(&root.join("photo.jpg"));
    let first = root.join("club/yard.gapwright");
    std::fs::write(&first, PLAN).unwrap();
    let layout = read_path(&first).unwrap().layout;
    assert_eq!(path_of(&layout, 4), root.join("club/plans/yard.png"));
    assert_eq!(path_of(&layout, 5), root.join("photo.jpg"));

    // Saved where it was, the file names them as it did.
    write_path(&layout, &first).unwrap();
    assert_eq!(std::fs::read_to_string(&first).unwrap(), save(&plan()));

    // Saved elsewhere, it names them by the way from there, although one of that name lies beside it.
    let second = root.join("copies/old/yard.gapwright");
    put(&root.join("copies/old/yard.png"));
    write_path(&layout, &second).unwrap();
    let text = std::fs::read_to_string(&second).unwrap();
    for way in ["\"../../club/plans/yard.png\"", "\"../../photo.jpg\""] {
        assert!(text.contains(way), "{text}");
    }
    assert_eq!(read_path(&second).unwrap().layout, layout);
}

#[test]
fn a_picture_that_was_moved_beside_the_layout_is_found_there() {
    let folder = tempfile::tempdir().unwrap();
    let root = std::fs::canonicalize(folder.path()).unwrap();
    let file = root.join("yard.gapwright");
    put(&root.join("yard.png"));
    std::fs::write(&file, PLAN).unwrap();
    let layout = read_path(&file).unwrap().layout;
    assert_eq!(path_of(&layout, 4), root.join("yard.png"));
    write_path(&layout, &file).unwrap();
    assert!(std::fs::read_to_string(&file).unwrap().contains("path: \"yard.png\""));
}

#[test]
fn a_picture_that_is_gone_keeps_its_place_in_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let root = std::fs::canonicalize(folder.path()).unwrap();
    let file = root.join("yard.gapwright");
    std::fs::write(&file, PLAN).unwrap();
    let layout = read_path(&file).unwrap().layout;
    write_path(&layout, &file).unwrap();
    assert_eq!(std::fs::read_to_string(&file).unwrap(), save(&plan()));
    // A layout that was never saved knows its pictures from the root; its first file names them by the way.
    let mut new = Layout::default();
    let path = root.join("sub/plan.png").to_str().unwrap().to_owned();
    apply(&mut new, Edit::Add(picture(&path).into())).unwrap();
    write_path(&new, &file).unwrap();
    assert!(std::fs::read_to_string(&file).unwrap().contains("path: \"sub/plan.png\""));
}

#[cfg(unix)]
#[test]
fn a_layout_that_is_opened_through_a_link_finds_its_pictures() {
    let folder = tempfile::tempdir().unwrap();
    let root = std::fs::canonicalize(folder.path()).unwrap();
    put(&root.join("real/club/plans/yard.png"));
    put(&root.join("real/photo.jpg"));
    std::fs::write(root.join("real/club/yard.gapwright"), PLAN).unwrap();
    std::fs::create_dir(root.join("desk")).unwrap();
    std::os::unix::fs::symlink(root.join("real/club"), root.join("desk/club")).unwrap();
    let through = root.join("desk/club/yard.gapwright");
    let layout = read_path(&through).unwrap().layout;
    assert_eq!(path_of(&layout, 5), root.join("real/photo.jpg"));
    write_path(&layout, &through).unwrap();
    assert_eq!(std::fs::read_to_string(&through).unwrap(), save(&plan()));
}

#[test]
fn there_is_an_end_to_the_pictures() {
    let mut layout = Layout::default();
    for n in 0..100 {
        apply(&mut layout, Edit::Add(picture(&format!("{n}.png")).into())).unwrap();
    }
    let before = layout.clone();
    let refused = apply(&mut layout, Edit::Add(picture("one more.png").into())).unwrap_err();
    assert!(refused.0.contains("101 pictures"), "{refused}");
    assert_eq!(layout, before);
}

#[test]
fn every_field_of_a_picture_is_documented() {
    let docs = include_str!("../../docs/layout-file.md");
    let (_, about) = docs.split_once("## Pictures").unwrap();
    let (about, _) = about.split_once("\n## ").unwrap();
    let text = save(&plan());
    let (_, pictures) = text.split_once("pictures: [").unwrap();
    let fields: Vec<&str> = pictures
        .match_indices(": ")
        .map(|(at, _)| pictures[..at].rsplit(|c: char| !c.is_alphanumeric() && c != '_').next())
        .map(Option::unwrap)
        .collect();
    assert!(fields.len() > 12, "{fields:?}");
    for field in fields {
        assert!(about.contains(&format!("`{field}`")), "{field}");
    }
}
