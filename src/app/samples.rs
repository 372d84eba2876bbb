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
    "club-redesign"
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

/// Which sample teaches what, by groups: the list for readers is the one that the window shows.
const LIST: &str = include_str!("../../sample-layouts/README.md");

/// A sample as it is offered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Described {
    /// Its place in [`SAMPLES`].
    pub n: usize,
    /// The group that it is in.
    pub group: String,
    /// What it is called.
    pub name: String,
    /// What there is to learn from it, in one line.
    pub learn: String,
}

impl Described {
    /// Whether it answers to all words that were typed.
    pub fn answers(&self, text: &str) -> bool {
        let about = format!("{} {} {}", self.group, self.name, self.learn).to_lowercase();
        text.to_lowercase().split_whitespace().all(|word| about.contains(word))
    }
}

/// All samples with what there is to learn from them, group by group, in the order of the list.
pub fn described() -> Vec<Described> {
    let mut all = Vec::new();
    let mut group = "";
    for line in LIST.lines() {
        if let Some(title) = line.strip_prefix("## ") {
            group = title;
        }
        let row = line.strip_prefix("| `").and_then(|row| row.split_once(".gapwright` | "));
        let Some((file, learn)) = row else { continue };
        let Some(n) = SAMPLES.iter().position(|(name, _)| *name == file) else { continue };
        let name = load(SAMPLES[n].1).map_or_else(|_| String::new(), |loaded| loaded.layout.name);
        let name = if name.is_empty() { file.to_owned() } else { name };
        let learn = learn.trim_end_matches(['|', ' ']).to_owned();
        all.push(Described { n, group: group.to_owned(), name, learn });
    }
    all
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
        let described = described();
        for (n, (file, _)) in SAMPLES.iter().enumerate() {
            let of: Vec<&Described> = described.iter().filter(|one| one.n == n).collect();
            assert_eq!(of.len(), 1, "{file} stands once in the list");
            assert!(!of[0].group.is_empty() && !of[0].learn.is_empty(), "{file}");
        }
    }
}
