//! Trying a law on many layouts.

use std::ops::Range;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use gapwright::layout::{self, Layout};

use crate::samples;
use crate::support::dice::Dice;
use crate::support::normal::Normal;
use crate::support::{random, shrink};

/// A law: nothing is wrong with a layout, or what is.
pub type Law = fn(&Layout, &mut Dice) -> Result<(), String>;

/// A law by its name.
pub type Named = (&'static str, Law);

/// The laws that hold.
pub const LAWS: &[Named] = &[
    ("worst", super::worst::law),
    ("reordered", super::symmetry::reordered),
    ("silence", super::silence::law),
    ("settings", super::settings::law),
    ("plan moved", super::symmetry::plan_moved),
    ("runs redrawn", super::symmetry::runs_redrawn),
    ("plan mirrored", super::symmetry::plan_mirrored),
    ("locality beside a short", super::locality::beside_a_short),
];

/// The laws that do not hold yet.
pub const DUE: &[Named] = &[
    ("locality", super::locality::law),
    ("renamed", super::symmetry::renamed),
    ("poles exchanged", super::symmetry::poles_exchanged),
    ("volts", super::scaling::volts),
    ("ohms", super::scaling::ohms),
    ("cause", super::causes::cause),
    ("advice", super::causes::advice),
];

pub fn all_laws() -> impl Iterator<Item = &'static Named> {
    LAWS.iter().chain(DUE)
}

/// How many random layouts a law is tried on by `cargo test`.
pub const FEW: u64 = 300;

/// What differs between two reports, as a complaint.
pub fn same(one: &Normal, other: &Normal) -> Result<(), String> {
    let differences = one.differences(other);
    if differences.is_empty() { Ok(()) } else { Err(differences.join("\n")) }
}

/// Tries a law on the layout of a seed.
pub fn on_seed(law: Law, seed: u64) -> Result<(), String> {
    law(&random::layout(seed), &mut Dice::new(!seed))
}

/// Tries a law on the layouts of some seeds, on all cores; returns the seeds on which it does not hold, and what was wrong.
pub fn breaches(law: Law, seeds: Range<u64>) -> Vec<(u64, String)> {
    let next = AtomicU64::new(seeds.start);
    let found = Mutex::new(Vec::new());
    let threads = std::thread::available_parallelism().map_or(2, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed >= seeds.end {
                        return;
                    }
                    if let Err(wrong) = on_seed(law, seed) {
                        found.lock().unwrap().push((seed, wrong));
                    }
                }
            });
        }
    });
    let mut found = found.into_inner().unwrap();
    found.sort();
    found
}

/// Asserts that a law holds on every sample and on the random layouts of the first seeds.
#[track_caller]
pub fn holds(law: Law, layouts: u64) {
    for path in samples::files() {
        let sample = layout::read_path(&path).unwrap().layout;
        if let Err(wrong) = law(&sample, &mut Dice::new(7)) {
            panic!("{}:\n{wrong}", samples::stem(&path));
        }
    }
    if let Some((seed, wrong)) = breaches(law, 0..layouts).first() {
        panic!("seed {seed}:\n{wrong}\n{}", layout::save(&random::layout(*seed)));
    }
}

/// Every law that holds, on 100,000 random layouts.
#[test]
#[ignore = "takes hours: run it with --release"]
fn laws_at_length() {
    for (name, law) in LAWS {
        let found = breaches(*law, 0..100_000);
        println!("{name}: {} of 100,000", found.len());
        if let Some((seed, wrong)) = found.first() {
            panic!("{name}: {} breaches, the first on seed {seed}:\n{wrong}", found.len());
        }
    }
}

/// How laws fare: `LAWS=settings,renamed SEEDS=0..500 cargo test --test it -- --ignored laws_explored --nocapture`. With
/// `WHOLE=1` all that differs is listed.
#[test]
#[ignore = "a survey that asserts nothing"]
fn laws_explored() {
    let wanted = std::env::var("LAWS").unwrap_or_default();
    let seeds = std::env::var("SEEDS").unwrap_or_else(|_| "0..200".into());
    let (from, to) = seeds.split_once("..").unwrap();
    let seeds = from.parse::<u64>().unwrap()..to.parse::<u64>().unwrap();
    for (name, law) in all_laws() {
        if !wanted.is_empty() && !wanted.split(',').any(|w| w == *name) {
            continue;
        }
        let start = std::time::Instant::now();
        let found = breaches(*law, seeds.clone());
        let each = start.elapsed().as_secs_f64() * 1e3 / (seeds.end - seeds.start) as f64;
        println!("== {name}: {} of {} ({each:.1} ms each)", found.len(), seeds.end - seeds.start);
        if std::env::var_os("WHOLE").is_some() {
            found.iter().for_each(|(seed, wrong)| println!("seed {seed}:\n{wrong}"));
        }
        let mut tally: std::collections::BTreeMap<String, Vec<u64>> = Default::default();
        for (seed, wrong) in &found {
            tally.entry(about(wrong)).or_default().push(*seed);
        }
        for (what, seeds) in tally {
            println!("{:4} {what}: {:?}", seeds.len(), &seeds[..seeds.len().min(8)]);
        }
        for path in samples::files() {
            let sample = layout::read_path(&path).unwrap().layout;
            if let Err(wrong) = law(&sample, &mut Dice::new(7)) {
                let lines: Vec<&str> = wrong.lines().take(4).collect();
                println!("{}:\n  {}", samples::stem(&path), lines.join("\n  "));
            }
        }
    }
}

/// What a complaint is about, in a word: the kinds of findings that differ, and whether lines of cuts do.
fn about(wrong: &str) -> String {
    let mut kinds: Vec<&str> = wrong
        .lines()
        .map(|line| match line.split([' ', ':']).nth(1) {
            Some("finding") => line.split(' ').nth(2).unwrap_or(""),
            Some("cut") if line.contains("margin") => "margin",
            Some("cut") => "line",
            Some(other) => other,
            None => "",
        })
        .filter(|word| *word != "verdict")
        .collect();
    kinds.sort_unstable();
    kinds.dedup();
    kinds.join(", ")
}

/// The smallest layout on which a law does not hold, of one seed:
/// `LAWS=renamed SEED=5 LIKE=common-rail cargo test --test it -- --ignored law_shrunk --nocapture`.
#[test]
#[ignore = "a survey that asserts nothing"]
fn law_shrunk() {
    let wanted = std::env::var("LAWS").unwrap();
    let like = std::env::var("LIKE").unwrap_or_default();
    let seed: u64 = std::env::var("SEED").unwrap().parse().unwrap();
    let law = all_laws().find(|(name, _)| *name == wanted).unwrap().1;
    let wrong = |layout: &Layout| match law(layout, &mut Dice::new(!seed)) {
        Ok(()) => false,
        Err(wrong) => like.is_empty() || wrong.lines().any(|line| line.contains(&like)),
    };
    let layout = random::layout(seed);
    assert!(wrong(&layout), "the law holds");
    let least = shrink::smallest(&layout, wrong);
    println!("{}", layout::save(&least));
    println!("{}", law(&least, &mut Dice::new(!seed)).unwrap_err());
}

/// Random layouts are what the laws need: checked fast, and of all kinds.
#[test]
#[ignore = "a survey that asserts nothing"]
fn layouts_explored() {
    use std::collections::BTreeMap;
    let mut kinds: BTreeMap<String, usize> = BTreeMap::new();
    let mut slow: Vec<(f64, u64)> = Vec::new();
    let mut sizes = [0; 5];
    let start = std::time::Instant::now();
    for seed in 0..300 {
        let layout = random::layout(seed);
        let began = std::time::Instant::now();
        let report = gapwright::findings::check(&layout);
        slow.push((began.elapsed().as_secs_f64(), seed));
        for (size, n) in sizes.iter_mut().zip([
            report.blocks.len(),
            layout.cuts.len(),
            layout.drivers.len(),
            layout.specials.len(),
            layout.devices.len(),
        ]) {
            *size += n;
        }
        let mut here: Vec<String> = report.findings.iter().map(|f| f.kind.to_string()).collect();
        here.sort();
        here.dedup();
        here.into_iter().for_each(|kind| *kinds.entry(kind).or_default() += 1);
    }
    slow.sort_by(|a, b| b.0.total_cmp(&a.0));
    let total: f64 = slow.iter().map(|s| s.0).sum();
    println!("mean {:.1} ms of {:?}, slowest {:?}", total / 0.3, start.elapsed(), &slow[..6]);
    println!("blocks, cuts, drivers, specials, devices per 300: {sizes:?}\n{kinds:#?}");
}
