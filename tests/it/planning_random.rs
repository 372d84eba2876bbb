//! Plans of random bare track with random names.

use gapwright::findings::{Class, Kind};
use gapwright::layout::{Label, LabelId, Layout, RunId, Work, length_mm, load, save};
use gapwright::planning::{Finished, finished, plan, wishes_of};

use super::support::dice::Dice;
use super::support::{redrawn, renamed, stock, track};

/// Bare track with two to four names in the middle of runs, from a seed. No turntables: the planning does not know them.
pub fn bare(seed: u64) -> Layout {
    let mut dice = Dice::new(seed);
    loop {
        let mut ground = track::ground(&mut dice);
        stock::stock(&mut ground, &mut dice);
        let mut runs: Vec<RunId> = ground.layout.runs.keys().copied().collect();
        dice.shuffle(&mut runs);
        let names = 2 + dice.below(3);
        for (n, run) in runs.into_iter().take(names).enumerate() {
            let id = LabelId(ground.fresh());
            let at_mm = length_mm(&ground.layout, &ground.layout.runs[&run]) / 2.0;
            let name = ["North", "East", "South", "West"][n].to_owned();
            ground.layout.labels.insert(id, Label { id, name, run, at_mm });
        }
        for special in ground.layout.specials.values_mut() {
            special.contact.sources.clear();
        }
        let layout = ground.layout;
        let bridges = layout.specials.values().any(|s| matches!(s.work, Work::Turntable { .. }));
        let saved = load(&save(&layout));
        if let (false, true, Ok(loaded)) = (bridges, layout.labels.len() > 1, saved) {
            return loaded.layout;
        }
    }
}

/// What became of the plans of some seeds.
#[derive(Debug, Default)]
struct Tally {
    planned: usize,
    refused: Vec<(u64, String)>,
    clear: usize,
    half_fed: Vec<u64>,
    other: Vec<(u64, Vec<Kind>)>,
}

fn tally(seeds: std::ops::Range<u64>) -> Tally {
    let mut tally = Tally::default();
    for seed in seeds {
        let layout = bare(seed);
        match finished(&layout, &wishes_of(&layout)) {
            Err(why) => tally.refused.push((seed, why.to_string())),
            Ok(Finished { report, .. }) => {
                tally.planned += 1;
                let faults = report.findings.iter().filter(|f| f.class == Class::Fault);
                let kinds: Vec<Kind> = faults.map(|f| f.kind).collect();
                match kinds[..] {
                    [] => tally.clear += 1,
                    _ if kinds.contains(&Kind::HalfFed) => tally.half_fed.push(seed),
                    _ => tally.other.push((seed, kinds)),
                }
            }
        }
    }
    tally
}

/// Prints how many plans of 150 random layouts end without a fault: the figure of docs/planning.md.
#[test]
#[ignore = "a measurement"]
fn planning_measured_on_random_layouts() {
    println!("{:#?}", tally(0..150));
}

/// A wire more ends what a plan left fed on one rail.
#[test]
fn no_plan_leaves_track_fed_on_one_rail() {
    let found = tally(0..40);
    assert!(found.refused.is_empty(), "{found:?}");
    assert_eq!(found.half_fed, Vec::<u64>::new());
}

/// Cuts and reversers are the same in a mirror, under other numbers, and with runs drawn from their other ends.
#[test]
fn plans_of_the_same_track_drawn_otherwise_count_the_same() {
    let counts = |layout: &Layout| {
        let planned = plan(layout, &wishes_of(layout));
        planned.map(|planned| (planned.rail_cuts, planned.reversers))
    };
    for seed in 0..40 {
        let layout = bare(seed);
        let as_drawn = counts(&layout);
        assert_eq!(counts(&redrawn::mirrored(&layout)), as_drawn, "mirrored, seed {seed}");
        let turned = redrawn::runs_turned(&layout, |run| run.0 % 2 == 0);
        assert_eq!(counts(&turned), as_drawn, "runs turned, seed {seed}");
        let (renamed, _) = renamed::at_random(&layout, &mut Dice::new(seed));
        assert_eq!(counts(&renamed), as_drawn, "renamed, seed {seed}");
    }
}
