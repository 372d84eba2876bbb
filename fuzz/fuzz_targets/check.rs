//! Any layout that loads is checked and told: no panic, no endless time, and the same again from what is remembered.
#![no_main]

mod mutator;

use gapwright::check::Checker;
use gapwright::layout::load;
use gapwright::report::{document, text};
use libfuzzer_sys::{fuzz_mutator, fuzz_target};

fuzz_target!(|file: &str| {
    let Ok(loaded) = load(file) else { return };
    let layout = loaded.layout;
    let mut checker = Checker::default();
    let told = |checker: &mut Checker| {
        let report = checker.check(&layout);
        (text("fuzzed", &layout, &report), document("fuzzed", &layout, &report).to_string())
    };
    let first = told(&mut checker);
    assert_eq!(told(&mut checker), first);
});

fuzz_mutator!(|data: &mut [u8], size: usize, max_size: usize, seed: u32| {
    mutator::mutate(data, size, max_size, seed)
});
