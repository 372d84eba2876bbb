//! One frame of the window without a graphics driver: the user interface and its tessellation.
//!
//! Run with `cargo bench --bench frame`; with `--profile dev` it is built with the tests' optimisation, which takes less
//! time to build and more to run.
//!
//! A chain of blocks is shown whole; folded, its rows stand under each other. Nothing is clicked: `idle` repeats a frame
//! in which nothing changes, `pan` moves the plan by some points, `zoom` changes the scale, so that all labels are placed
//! anew, and `drag` pulls a joint.

use eframe::egui::{self, Event, Modifiers, PointerButton, Pos2, RawInput, Rect, pos2, vec2};
use gapwright::app::{App, dress};

fn main() {
    divan::main();
}

const SIZE: egui::Vec2 = vec2(1920.0, 1080.0);
/// Length of a block, mm.
const BLOCK_MM: u32 = 1200;

/// A chain of blocks, in rows of so many, each with a driver of its own.
fn chain(cuts: u32, row: u32) -> String {
    let place = |n: u32| {
        let (x, y) = (n % row, n / row);
        let x = if y % 2 == 0 { x } else { row - 1 - x };
        (x * BLOCK_MM, y * 400)
    };
    let list = |of: &dyn Fn(u32) -> String, from: u32, to: u32| {
        (from..=to).map(|n| of(n) + ",").collect::<Vec<_>>().join("\n")
    };
    let joint = |n: u32| {
        let (x, y) = place(n);
        format!(r#"(id: "j{n}", x_mm: {x}, y_mm: {y})"#)
    };
    let run = |n: u32| format!(r#"(id: "r{n}", from: "j{n}", to: "j{}")"#, n + 1);
    let cut =
        |n: u32| format!(r#"(id: "c{n}", name: "Gap {n}", run: "r{n}", at_mm: 60, rails: Both)"#);
    let feed = |n: u32| {
        format!(r#"(id: "f{n}", driver: "d{n}", run: "r{n}", at_mm: 300, p: Right, m: Left)"#)
    };
    let supply = |n: u32| format!(r#"(id: "s{n}", open_v: 14, source_ohm: 0.1)"#);
    let driver = |n: u32| {
        format!(
            r#"(id: "d{n}", name: "Driver {n}", supply: "s{n}", drive: PwmBridge(clock: (hz: 490), idle: HighImpedance), high_ohm: 0.15, low_ohm: 0.15, diode_v: 0.7, diode_ohm: 0.05, setting: (direction: Forward, throttle: 0.5))"#
        )
    };
    format!(
        "(version: 1, name: \"Chain\", scale: 87, gauge_mm: 16.5, joints: [{}], runs: [{}], cuts: [{}], feeds: [{}], \
         supplies: [{}], drivers: [{}])",
        list(&joint, 0, cuts + 1),
        list(&run, 0, cuts),
        list(&cut, 1, cuts),
        list(&feed, 0, cuts),
        list(&supply, 0, cuts),
        list(&driver, 0, cuts),
    )
}

/// A window and its clock.
struct Window {
    ctx: egui::Context,
    app: App,
    time: f64,
}

impl Window {
    fn on(text: &str) -> Self {
        let folder = tempfile::tempdir().unwrap_or_else(|e| panic!("{e}"));
        let path = folder.path().join("layout.gapwright");
        std::fs::write(&path, text).unwrap_or_else(|e| panic!("{e}"));
        let mut app = App::for_tests();
        app.open_path(&path);
        let ctx = egui::Context::default();
        dress(&ctx);
        let mut window = Self { ctx, app, time: 0.0 };
        assert!(!window.app.layout().runs.is_empty(), "the layout loads");
        (0..8).for_each(|_| window.frame(Vec::new()));
        window
    }

    fn chain(cuts: u32) -> Self {
        Self::on(&chain(cuts, 40))
    }

    fn club() -> Self {
        Self::on(include_str!("../sample-layouts/club.gapwright"))
    }

    fn frame(&mut self, events: Vec<Event>) {
        self.time += 1.0 / 60.0;
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, SIZE)),
            time: Some(self.time),
            events,
            ..RawInput::default()
        };
        let mut out = self.ctx.run_ui(input, |ui| self.app.show(ui));
        out.textures_delta.clear();
        divan::black_box(self.ctx.tessellate(out.shapes, out.pixels_per_point));
    }

    fn button(&mut self, button: PointerButton, pressed: bool, at: Pos2) {
        self.frame(vec![
            Event::PointerMoved(at),
            Event::PointerButton { pos: at, button, pressed, modifiers: Modifiers::NONE },
        ]);
    }
}

/// The middle of the plan.
const MIDDLE: Pos2 = pos2(760.0, 480.0);

fn idle(bencher: divan::Bencher<'_, '_>, mut window: Window) {
    bencher.bench_local(|| window.frame(Vec::new()));
}

fn pan(bencher: divan::Bencher<'_, '_>, mut window: Window) {
    window.button(PointerButton::Secondary, true, MIDDLE);
    let mut n = 0;
    bencher.bench_local(|| {
        n += 1;
        let aside = if n % 2 == 0 { 6.0 } else { 0.0 };
        window.frame(vec![Event::PointerMoved(MIDDLE + vec2(aside, 0.0))]);
    });
}

fn zoom(bencher: divan::Bencher<'_, '_>, mut window: Window) {
    window.frame(vec![Event::PointerMoved(MIDDLE)]);
    let mut n = 0;
    bencher.bench_local(|| {
        n += 1;
        let by = if n % 2 == 0 { 1.02 } else { 1.0 / 1.02 };
        window.frame(vec![Event::Zoom(by)]);
    });
}

#[divan::bench]
fn idle_club(bencher: divan::Bencher<'_, '_>) {
    idle(bencher, Window::club());
}

#[divan::bench]
fn pan_club(bencher: divan::Bencher<'_, '_>) {
    pan(bencher, Window::club());
}

#[divan::bench]
fn zoom_club(bencher: divan::Bencher<'_, '_>) {
    zoom(bencher, Window::club());
}

#[divan::bench(args = [100, 1000])]
fn idle_chain(bencher: divan::Bencher<'_, '_>, cuts: u32) {
    idle(bencher, Window::chain(cuts));
}

#[divan::bench(args = [100, 1000])]
fn pan_chain(bencher: divan::Bencher<'_, '_>, cuts: u32) {
    pan(bencher, Window::chain(cuts));
}

#[divan::bench(args = [100, 1000])]
fn zoom_chain(bencher: divan::Bencher<'_, '_>, cuts: u32) {
    zoom(bencher, Window::chain(cuts));
}

/// Pulls the joint in the middle of the plan, or whatever is there.
#[divan::bench(args = [100, 1000])]
fn drag_chain(bencher: divan::Bencher<'_, '_>, cuts: u32) {
    let mut window = Window::chain(cuts);
    let at = window.app.joint_on_screen(cuts / 2).unwrap_or(MIDDLE);
    window.button(PointerButton::Primary, true, at);
    let mut n = 0;
    bencher.bench_local(|| {
        n += 1;
        let aside = if n % 2 == 0 { 30.0 } else { 34.0 };
        window.frame(vec![Event::PointerMoved(at + vec2(0.0, aside))]);
    });
}
