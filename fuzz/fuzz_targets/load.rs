//! Any bytes: loading explains or succeeds; what it loads is saved and loaded again unchanged.
#![no_main]

mod mutator;

use gapwright::layout::{load, save};
use libfuzzer_sys::{fuzz_mutator, fuzz_target};

fuzz_target!(|text: &str| {
    match load(text) {
        Ok(loaded) => {
            let saved = save(&loaded.layout);
            let again = load(&saved).expect("what was saved loads");
            assert_eq!(again.layout, loaded.layout);
            assert_eq!(save(&again.layout), saved);
        }
        Err(faults) => assert!(!faults.is_empty()),
    }
});

fuzz_mutator!(|data: &mut [u8], size: usize, max_size: usize, seed: u32| {
    mutator::mutate(data, size, max_size, seed)
});
