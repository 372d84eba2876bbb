//! The main states of the window as pictures, at the sizes people use. They are drawn by the machine's graphics driver,
//! so they are compared where that is known: in `.ci/run`, with the software driver.

use super::*;
use egui_kittest::SnapshotOptions;

/// Compares with the picture in `tests/window/looks`. A driver rounds the edges of lines and letters in its own way, so
/// that one pixel in two thousand may differ.
#[track_caller]
pub fn looks(w: &mut Window, name: &str) {
    let size = w.ctx.content_rect().size();
    let few = (size.x * size.y * 5e-4) as usize;
    let options = SnapshotOptions::new().output_path("tests/window/looks").max_failed_pixels(few);
    if let Err(why) = w.try_snapshot_options(name, &options) {
        panic!("{why}");
    }
}

#[test]
#[ignore = "needs a graphics driver"]
fn looks_at_1280_by_800() {
    let mut w = window_of_size(1280.0, 800.0);
    looks(&mut w, "empty");
    let mut w = sample_in(window_of_size(1280.0, 800.0), "brake-idle");
    select(&mut w, "Cut Home gap (c1)");
    looks(&mut w, "a-gap");
    w.key_press_modifiers(Modifiers::COMMAND, Key::L);
    w.run();
    looks(&mut w, "a-gap-light");
    w_key(&mut w, Key::H);
    looks(&mut w, "legend");
}

#[test]
#[ignore = "needs a graphics driver"]
fn looks_on_a_projector() {
    let mut w = sample_in(window_of_size(1024.0, 768.0), "wye");
    w_key(&mut w, Key::N);
    looks(&mut w, "a-loop");
    select(&mut w, "Turnout west corner (w1)");
    press(&mut w, "Go there");
    looks(&mut w, "a-turnout");
    let mut w = sample_in(window_of_size(1024.0, 768.0), "club");
    w_key(&mut w, Key::F5);
    looks(&mut w, "presenter");
    w_key(&mut w, Key::N);
    looks(&mut w, "presenter-finding");
}

#[test]
#[ignore = "needs a graphics driver"]
fn looks_on_a_large_screen() {
    let mut w = sample_in(window_of_size(1920.0, 1080.0), "club");
    looks(&mut w, "club");
    w_key(&mut w, Key::N);
    (0..7).for_each(|_| w_key(&mut w, Key::Minus));
    looks(&mut w, "club-nearer");
    (0..6).for_each(|_| w_key(&mut w, Key::Plus));
    looks(&mut w, "club-near");
}
