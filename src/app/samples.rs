//! The sample layouts that the program carries.

use crate::layout::load;

macro_rules! samples {
    ($($file:literal)*) => {
        /// The files, by name.
        pub const SAMPLES: &[(&str, &str)] =
            &[$(($file, include_str!(concat!("../../sample-layouts/", $file, ".gapwright"))),)*];
    };
}

samples! {
    "boosters-in-phase"
    "boosters-out-of-phase"
    "brake-high"
    "brake-idle"
    "club"
    "coasting-bridges"
    "common-rail-bridges"
    "common-rail-split"
    "dcc-beside-dc"
    "directions-must-match"
    "dogbone"
    "inrush"
    "matched-throttles"
    "neighbour-wakes"
    "not-yet-known"
    "one-board"
    "railcar-slips-by"
    "set-against-each-other"
    "split-pickup"
    "swapped-feed"
    "terminus"
    "transfer"
    "trip-above-the-supply"
    "turntable"
    "two-cabs"
    "unequal-supplies"
    "wiring-day"
    "wye"
}

/// What a sample is called and what there is to learn from it: its name, and the first sentences of its notes.
pub fn described(n: usize) -> Option<(String, String)> {
    let (file, text) = SAMPLES.get(n)?;
    let layout = load(text).ok()?.layout;
    let name = if layout.name.is_empty() { (*file).to_owned() } else { layout.name };
    let mut learn = String::new();
    for sentence in layout.notes.split_inclusive(". ") {
        if !learn.is_empty() && learn.len() + sentence.len() > 160 {
            break;
        }
        learn.push_str(sentence);
    }
    Some((name, learn.trim().to_owned()))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn every_sample_is_carried_and_reads() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-layouts");
        let there = std::fs::read_dir(folder)
            .unwrap()
            .filter(|f| f.as_ref().unwrap().path().extension().is_some_and(|e| e == "gapwright"))
            .count();
        assert_eq!(SAMPLES.len(), there);
        for (n, (file, _)) in SAMPLES.iter().enumerate() {
            let (name, learn) = described(n).unwrap();
            assert!(!name.is_empty() && !learn.is_empty(), "{file}");
        }
    }
}
