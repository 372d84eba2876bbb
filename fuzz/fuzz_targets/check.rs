//! Any layout that loads is checked and told: no panic, no endless time, and the same again from what is remembered.
#![no_main]

mod mutator;

use gapwright::findings::Checker;
use gapwright::layout::load;
use gapwright::report::{Units, document, text};
use libfuzzer_sys::{Corpus, fuzz_mutator, fuzz_target};

fuzz_target!(|file: &str| -> Corpus {
    let Ok(loaded) = load(file) else { return Corpus::Reject };
    let layout = loaded.layout;
    let mut checker = Checker::default();
    let told = |checker: &mut Checker| {
        let report = checker.check(&layout);
        (text("fuzzed", &layout, &report, Units::Metric), document("fuzzed", &layout, &report).to_string())
    };
    let first = told(&mut checker);
    assert_eq!(told(&mut checker), first);
    Corpus::Keep
});

fuzz_mutator!(|data: &mut [u8], size: usize, max_size: usize, seed: u32| {
    // Most changes make a text that is refused, which is for `load`: try some until one is a layout.
    let old = data[..size].to_vec();
    let mut new = size;
    for attempt in 0..16 {
        data[..size].copy_from_slice(&old);
        new = mutator::mutate(data, size, max_size, seed.wrapping_add(attempt));
        if str::from_utf8(&data[..new]).is_ok_and(|text| load(text).is_ok()) {
            break;
        }
    }
    new
});
