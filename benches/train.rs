//! A train of an engine and twenty lit carriages over 24 short blocks: the check, which asks at each of 23 cuts what the
//! vehicles join at once, and the log of its way.
//!
//! Run with `cargo bench --no-default-features --bench train`.

use gapwright::findings::check;
use gapwright::layout::{RunId, TrainId};
use gapwright::rails::Plan;
use gapwright::study::run::{Rolls, Running, run};

// This program needs one yard of many.
#[allow(unused_imports)]
#[path = "../tests/it/support/yards/mod.rs"]
mod yards;

fn main() {
    divan::main();
}

#[divan::bench(max_time = 10)]
fn checked(bencher: divan::Bencher) {
    let layout = yards::many_short_blocks();
    bencher.bench_local(|| check(&layout));
}

#[divan::bench(max_time = 10)]
fn on_its_way(bencher: divan::Bencher) {
    let layout = yards::many_short_blocks();
    let plan = Plan::derive(&layout);
    let way = Running {
        rolls: Rolls::Train(TrainId(1)),
        run: RunId(1),
        at_mm: 500.0,
        along: true,
        rear_first: false,
        speed_mm_s: 100.0,
        distance_mm: 11_000.0,
        pushed: false,
    };
    bencher.bench_local(|| run(&layout, &plan, &way));
}
