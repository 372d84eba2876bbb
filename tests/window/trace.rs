//! Pictures under the plan: added, scaled, moved, locked, found again.

use super::*;
use gapwright::layout::{Picture, PictureId, read_path};
use image::{Rgb, RgbImage};

/// A picture of 200 by 100 pixels with a line across it.
fn drawing(path: &Path) {
    RgbImage::from_fn(200, 100, |x, y| if x == 2 * y { Rgb([0; 3]) } else { Rgb([250; 3]) })
        .save(path)
        .unwrap();
}

fn picture(w: &Window) -> Picture {
    w.state().layout().pictures.values().next().unwrap().clone()
}

#[track_caller]
fn name_file(w: &mut Window, path: &Path, button: &str) {
    write(w, "Path of the file", path.to_str().unwrap());
    press(w, button);
}

/// A window with a picture in the middle of the canvas, and the folder of its file.
fn traced() -> (Window, tempfile::TempDir) {
    let dir = dir();
    drawing(&dir.path().join("plan.png"));
    let mut w = window();
    w_keys(&mut w, Modifiers::SHIFT, Key::U);
    name_file(&mut w, &dir.path().join("plan.png"), "Add");
    assert_eq!(w.state().layout().pictures.len(), 1, "{}", told(&w));
    (w, dir)
}

fn w_keys(w: &mut Window, modifiers: Modifiers, key: Key) {
    w.key_press_modifiers(modifiers, key);
    w.run();
}

/// Where a pixel of the picture is on the screen. The picture must not be turned, and its middle must be in view.
fn on_screen(w: &Window, (right, down): (f32, f32)) -> Pos2 {
    let canvas = w.query_all(by().role(Role::Canvas)).next().unwrap().rect();
    let (middle, scale) = view(w);
    let is = picture(w);
    let (x, y) = is.place((f64::from(right), f64::from(down)));
    canvas.center() + vec2(((x - middle.0) * scale) as f32, ((middle.1 - y) * scale) as f32)
}

/// The middle of the canvas on the plan, mm, and the points per mm, as an empty window has them.
fn view(_: &Window) -> ((f64, f64), f64) {
    ((900.0, 300.0), 0.4)
}

const NODE: &str = "Picture plan.png (p1)";

#[test]
fn a_picture_is_added_by_its_path_and_fills_the_view() {
    let (w, dir) = traced();
    let is = picture(&w);
    assert_eq!(Path::new(&is.path), std::fs::canonicalize(dir.path()).unwrap().join("plan.png"));
    assert_eq!((is.pixels, is.locked, is.turn_deg), (Some((200, 100)), false, 0.0));
    assert!(says(&w, "200 × 100 pixels"), "its particulars are shown");
    let canvas = w.query_all(by().role(Role::Canvas)).next().unwrap().rect();
    let size = on_screen(&w, (200.0, 100.0)) - on_screen(&w, (0.0, 0.0));
    assert!(
        (size.x / canvas.width() - 0.8).abs() < 0.02
            || (size.y / canvas.height() - 0.8).abs() < 0.02
    );
    assert!(on_plan(&w, NODE).distance(canvas.center()) < 3.0, "in the middle of what one sees");
    // The picture itself is painted: a mesh with a texture of its own.
    let textured = w.output().shapes.iter().any(|shape| {
        matches!(&shape.shape, egui::Shape::Mesh(mesh) if mesh.texture_id != egui::TextureId::default())
    });
    assert!(textured);
}

#[test]
fn adding_changing_and_deleting_a_picture_go_there_and_back() {
    let dir = dir();
    drawing(&dir.path().join("plan.png"));
    let mut w = window();
    there_and_back(&mut w, "add", |w| {
        press(w, "Layout");
        press(w, "Add a picture…");
        name_file(w, &dir.path().join("plan.png"), "Add");
    });
    select(&mut w, NODE);
    there_and_back(&mut w, "x", |w| set(w, "Picture: Corner x", -50.0));
    there_and_back(&mut w, "y", |w| set(w, "Picture: Corner y", 800.0));
    there_and_back(&mut w, "pixel", |w| set(w, "Picture: One pixel", 2.5));
    there_and_back(&mut w, "width", |w| set(w, "Picture: Width", 1000.0));
    assert_eq!(picture(&w).mm_per_pixel, 5.0);
    there_and_back(&mut w, "turn", |w| set(w, "Picture: Turn", 90.0));
    let is = picture(&w);
    assert_eq!((is.x_mm, is.y_mm), (200.0, 50.0), "turned about its middle");
    there_and_back(&mut w, "strength", |w| set(w, "Picture: Strength", 25.0));
    assert_eq!(picture(&w).opacity, 0.25);
    there_and_back(&mut w, "lock", |w| press(w, "Picture: Locked"));
    there_and_back(&mut w, "delete", |w| press(w, "Delete"));
}

#[test]
fn two_clicks_and_a_distance_scale_a_picture_about_the_first() {
    let (mut w, _dir) = traced();
    press(&mut w, "Scale it by two points");
    let (a, b) = ((40.0, 60.0), (140.0, 60.0));
    let (first, second) = (on_screen(&w, a), on_screen(&w, b));
    pointer(&mut w, first);
    pointer(&mut w, second);
    there_and_back(&mut w, "scale", |w| {
        set(w, "Trace: Distance", 350.0);
        press(w, "Scale the picture");
    });
    let is = picture(&w);
    // Two clicks are as exact as a point on the screen.
    assert!((is.mm_per_pixel - 3.5).abs() < 0.02, "{}", is.mm_per_pixel);
    assert!(on_screen(&w, a).distance(first) < 1.0, "the first point stays");
    // Once more, with the distance typed over what stands there, and Enter.
    press(&mut w, "Undo");
    pointer(&mut w, first);
    pointer(&mut w, second);
    there_and_back(&mut w, "scale", |w| {
        w.event(egui::Event::Text("350".into()));
        w_key(w, Key::Enter);
    });
    assert!((picture(&w).mm_per_pixel - 3.5).abs() < 0.02, "{}", picture(&w).mm_per_pixel);
    pointer(&mut w, first);
    w_key(&mut w, Key::Escape);
    w_key(&mut w, Key::Escape);
    assert!(w.query_by_label("Trace: Distance").is_none(), "Escape lays the tool down");
}

#[test]
fn the_keyboard_scales_a_picture_by_typed_points() {
    let (mut w, _dir) = traced();
    w_key(&mut w, Key::U);
    there_and_back(&mut w, "scale", |w| {
        set(w, "Trace: First x", 50.0);
        set(w, "Trace: First y", 0.0);
        set(w, "Trace: Second x", 50.0);
        set(w, "Trace: Second y", 80.0);
        set(w, "Trace: Distance", 240.0);
        press(w, "Scale the picture");
    });
    assert_eq!(picture(&w).mm_per_pixel, 3.0);
    set(&mut w, "Trace: Second y", 0.0);
    let before = file(&w);
    press(&mut w, "Scale the picture");
    assert!(says(&w, "the two points are one"));
    assert_eq!(file(&w), before);
}

#[test]
fn a_picture_is_dragged_and_nudged_in_one_step() {
    let (mut w, _dir) = traced();
    let at = on_screen(&w, (30.0, 30.0));
    let was = picture(&w);
    there_and_back(&mut w, "drag", |w| drag(w, at, at + vec2(80.0, -40.0)));
    let is = picture(&w);
    assert!((is.x_mm - was.x_mm - 200.0).abs() < 1.0 && (is.y_mm - was.y_mm - 100.0).abs() < 1.0);
    press(&mut w, "Undo");
    pointer(&mut w, at);
    there_and_back(&mut w, "nudge", |w| w_keys(w, Modifiers::COMMAND, Key::ArrowRight));
    assert!(picture(&w).x_mm > was.x_mm);
}

#[test]
fn a_locked_picture_lets_the_pointer_through() {
    let (mut w, _dir) = traced();
    press(&mut w, "Picture: Locked");
    let at = on_screen(&w, (30.0, 30.0));
    let before = file(&w);
    pointer(&mut w, at);
    press(&mut w, "Selected");
    assert!(says(&w, "Nothing is selected."), "a click goes through it");
    drag(&mut w, at, at + vec2(80.0, -40.0));
    assert_eq!(file(&w), before);
    w_key(&mut w, Key::U);
    pointer(&mut w, at);
    assert!(says(&w, "is locked"));
    // It is still reached through the list.
    select(&mut w, NODE);
    press(&mut w, "Picture: Locked");
    assert!(!picture(&w).locked);
    w_key(&mut w, Key::S);
    pointer(&mut w, at);
    press(&mut w, "Selected");
    assert!(says(&w, "200 × 100 pixels"), "unlocked, a click selects it");
}

#[test]
fn track_over_a_picture_is_hit_first() {
    let (mut w, _dir) = traced();
    w_key(&mut w, Key::L);
    let (a, b) = (on_screen(&w, (50.0, 50.0)), on_screen(&w, (150.0, 50.0)));
    for at in [a, b] {
        pointer(&mut w, at);
    }
    w_key(&mut w, Key::Escape);
    w_key(&mut w, Key::S);
    pointer(&mut w, a.lerp(b, 0.5));
    press(&mut w, "Selected");
    assert!(says(&w, "Run: Start x") || says(&w, "Run r4"));
}

#[test]
fn a_picture_that_is_gone_is_told_kept_and_found_again() {
    let (mut w, dir) = traced();
    let layout = dir.path().join("yard.gapwright");
    save_as(&mut w, &layout);
    let text = std::fs::read_to_string(&layout).unwrap();
    assert!(text.contains("path: \"plan.png\""), "{text}");
    std::fs::create_dir(dir.path().join("scans")).unwrap();
    let moved = dir.path().join("scans/renamed.png");
    std::fs::rename(dir.path().join("plan.png"), &moved).unwrap();

    open(&mut w, &layout);
    let gone = format!("{NODE}: it is not where it was");
    assert!(says(&w, &gone), "on the canvas");
    press(&mut w, "Layout");
    assert!(says(&w, "cannot be shown"), "in the list");
    select(&mut w, NODE);
    assert!(says(&w, &format!("{gone}.")), "in its particulars");
    // Nothing is lost by saving.
    w_keys(&mut w, Modifiers::COMMAND, Key::S);
    assert_eq!(std::fs::read_to_string(&layout).unwrap(), text);

    there_and_back(&mut w, "find", |w| {
        press(w, "Find it…");
        name_file(w, &moved, "Use this file");
    });
    assert!(!says(&w, "it is not where it was"));
    assert!(says(&w, "200 × 100 pixels"));
    w_keys(&mut w, Modifiers::COMMAND, Key::S);
    let text = std::fs::read_to_string(&layout).unwrap();
    assert!(text.contains("path: \"scans/renamed.png\""), "{text}");
}

#[test]
fn a_picture_that_comes_back_is_read_again() {
    let (mut w, dir) = traced();
    let path = dir.path().join("plan.png");
    std::fs::write(&path, "no picture any more").unwrap();
    press(&mut w, "Read it again");
    assert!(says(&w, "it is no PNG and no JPEG picture"));
    drawing(&path);
    press(&mut w, "Read it again");
    assert!(says(&w, "200 × 100 pixels"));
    std::fs::remove_file(&path).unwrap();
    press(&mut w, "Read it again");
    assert!(says(&w, "it is not where it was"));
    drawing(&path);
    w.event(egui::Event::WindowFocused(true));
    w.run();
    assert!(!says(&w, "it is not where it was"), "whoever comes back to the window sees it");
}

#[test]
fn a_layout_saved_elsewhere_still_finds_its_picture() {
    let (mut w, dir) = traced();
    for folder in ["club", "copies"] {
        std::fs::create_dir(dir.path().join(folder)).unwrap();
    }
    save_as(&mut w, &dir.path().join("club/yard.gapwright"));
    set(&mut w, "Picture: Corner x", 5.0);
    save_as(&mut w, &dir.path().join("copies/yard.gapwright"));
    // What is undone after that does not lead the path astray.
    press(&mut w, "Undo");
    w_keys(&mut w, Modifiers::COMMAND, Key::S);
    for folder in ["club", "copies"] {
        let file = dir.path().join(format!("{folder}/yard.gapwright"));
        let text = std::fs::read_to_string(&file).unwrap();
        assert!(text.contains("path: \"../plan.png\""), "{text}");
        let there = read_path(&file).unwrap().layout.pictures[&PictureId(1)].path.clone();
        assert!(Path::new(&there).is_file());
    }
}

#[test]
fn what_is_no_picture_is_told_where_it_was_asked_for() {
    let dir = dir();
    let mut w = window();
    w_key(&mut w, Key::U);
    press(&mut w, "Add a picture…");
    let before = file(&w);
    name_file(&mut w, &dir.path().join("nowhere.png"), "Add");
    assert!(says(&w, "there is no such file"));
    let bad = dir.path().join("bad.png");
    std::fs::write(&bad, "not a picture").unwrap();
    name_file(&mut w, &bad, "Add");
    assert!(says(&w, "it is no PNG and no JPEG picture"));
    name_file(&mut w, dir.path(), "Add");
    assert!(says(&w, "it is not a file"));
    assert_eq!(file(&w), before);
    press(&mut w, "Cancel");
}

#[test]
fn pictures_dropped_on_the_window_are_put_under_the_plan() {
    let dir = dir();
    let (one, two, bad) =
        (dir.path().join("plan.png"), dir.path().join("two.JPG"), dir.path().join("bad.png"));
    drawing(&one);
    RgbImage::new(10, 10).save_with_format(&two, image::ImageFormat::Jpeg).unwrap();
    std::fs::write(&bad, "not a picture").unwrap();
    let mut w = two_blocks();
    let drop = |w: &mut Window, paths: &[&PathBuf]| {
        for path in paths {
            w.input_mut().dropped_files.push(std::sync::Arc::new(Dropped((*path).clone())));
        }
        w.run();
    };
    drop(&mut w, &[&one]);
    assert_eq!((w.state().layout().pictures.len(), w.state().layout().runs.len()), (1, 1));
    press(&mut w, "Undo");
    assert!(w.state().layout().pictures.is_empty(), "one step");
    drop(&mut w, &[&one, &two]);
    assert_eq!(w.state().layout().pictures.len(), 2);
    drop(&mut w, &[&bad]);
    assert!(says(&w, "it is no PNG and no JPEG picture"));
    assert_eq!(w.state().layout().pictures.len(), 2);
}

#[test]
fn a_picture_alone_is_shown_whole() {
    let (mut w, dir) = traced();
    assert!(!says(&w, "Which gaps will short"), "it is not hidden by the welcome");
    set(&mut w, "Picture: Corner x", 50_000.0);
    w_key(&mut w, Key::Home);
    assert!(!says(&w, "it is being read"));
    on_plan(&w, NODE);
    save_as(&mut w, &dir.path().join("only.gapwright"));
    open(&mut w, &dir.path().join("only.gapwright"));
    on_plan(&w, NODE);
}
