//! One edit of a large layout: joints of a line of curves with a cut in every one are moved, and the whole is validated.
//! A rule that grows with the square of the layout shows in the step from 100 runs to 1000.
//!
//! Run with `cargo bench --no-default-features --bench edit`.

use std::fmt::Write;

use gapwright::layout::{Edit, JointId, Layout, apply, load};

fn main() {
    divan::main();
}

/// So many curved runs one after the other, 500 mm apart, with a cut in each.
fn line(runs: usize) -> Layout {
    let mut text = String::from("(version: 1, joints: [");
    for i in 0..=runs {
        let _ = write!(text, "(id: \"j{i}\", x_mm: {}, y_mm: 0),", i * 500);
    }
    text.push_str("], runs: [");
    for i in 0..runs {
        let (a, b) = (i * 500 + 150, i * 500 + 350);
        let to = i + 1;
        let _ = write!(
            text,
            "(id: \"r{i}\", from: \"j{i}\", to: \"j{to}\", shape: Cubic(c1: ({a}, 90), c2: ({b}, -90))),"
        );
    }
    text.push_str("], cuts: [");
    for i in 0..runs {
        let _ = write!(text, "(id: \"c{i}\", run: \"r{i}\", at_mm: 100, rails: Both),");
    }
    text.push_str("])");
    match load(&text) {
        Ok(loaded) => loaded.layout,
        Err(error) => panic!("{error:?}"),
    }
}

#[divan::bench(args = [100, 1000])]
fn move_a_joint(bencher: divan::Bencher, runs: usize) {
    let joints = vec![JointId(runs as u32 / 2)];
    bencher.with_inputs(|| line(runs)).bench_local_refs(|layout| {
        let edit = Edit::Move { joints: joints.clone(), dx_mm: 1.0, dy_mm: 1.0 };
        apply(layout, edit).map_err(|refused| panic!("{refused:?}"))
    });
}
