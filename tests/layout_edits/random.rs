//! Random edits: none does harm, and each can be taken back.

use super::*;
use proptest::prelude::*;

/// A seed of an edit: numbers that become an edit once there is a layout to choose from.
#[derive(Debug, Clone)]
struct Seed {
    kind: u8,
    pick: [usize; 3],
    share: f64,
    size: [f64; 2],
    flag: bool,
    word: String,
}

fn seed() -> impl Strategy<Value = Seed> {
    (
        0u8..22,
        any::<[usize; 3]>(),
        0.0..=1.0f64,
        [-2e3..2e3f64, -2e3..2e3f64],
        any::<bool>(),
        "\\PC{0,6}",
    )
        .prop_map(|(kind, pick, share, size, flag, word)| Seed {
            kind,
            pick,
            share,
            size,
            flag,
            word,
        })
}

fn pick<K: Copy, V>(map: &std::collections::BTreeMap<K, V>, pick: usize) -> Option<K> {
    (!map.is_empty()).then(|| map.keys().nth(pick % map.len()).copied()).flatten()
}

fn edit_of(layout: &Layout, seed: &Seed) -> Option<Edit> {
    let Seed { pick: [a, b, c], share, size: [x, y], flag, ref word, .. } = *seed;
    let run = pick(&layout.runs, a);
    let at_mm = |run: RunId| length_mm(layout, &layout.runs[&run]) * share;
    let shape = match b % 3 {
        0 => Shape::Straight,
        1 => Shape::Arc { bend_deg: x / 6.0 },
        _ => Shape::Cubic { c1: (y, x), c2: (x / 2.0, -y) },
    };
    let rails = [Rails::Both, Rails::Left, Rails::Right][c % 3];
    let range = |v: f64| {
        if flag { Quantity::given(v) } else { Quantity::assumed(v, v / 2.0, v * 2.0) }
    };
    Some(match seed.kind {
        0 | 1 => {
            let from = match pick(&layout.joints, a) {
                Some(joint) if flag => End::At(joint),
                _ => End::New(y, x),
            };
            let length_mm = (c % 4 == 0).then_some(x.abs());
            Edit::Lay { from, to: End::New(x, y), shape, length_mm }
        }
        2 => {
            let run = run?;
            let stagger_mm = if flag && rails == Rails::Both { x / 100.0 } else { 0.0 };
            Edit::Cut {
                run,
                at_mm: at_mm(run),
                rails,
                width_mm: y.abs() / 1e3,
                stagger_mm,
                made: Made::Open,
            }
        }
        3 => {
            let run = run?;
            let at_mm = if flag { 0.0 } else { length_mm(layout, &layout.runs[&run]) };
            Edit::Cut {
                run,
                at_mm,
                rails,
                width_mm: 0.8,
                stagger_mm: 0.0,
                made: Made::InsulatedJoiner,
            }
        }
        4 => {
            let run = run?;
            let wire = flag.then_some(Wire {
                size: WireSize::Awg((b % 45) as u32),
                length_m: x.abs() / 1e3,
                rating_a: None,
            });
            let (p, m) = [
                (Some(Rail::Left), Some(Rail::Right)),
                (None, Some(Rail::Left)),
                (Some(Rail::Right), None),
            ][c % 3];
            Edit::Feed {
                driver: pick(&layout.drivers, b)?.into(),
                run,
                at_mm: at_mm(run),
                p,
                m,
                wire,
                ohm: None,
            }
        }
        5 => Edit::Name { run: run?, at_mm: at_mm(run?), name: word.clone() },
        6 => {
            let mut supply = if flag { defaults::split_supply() } else { defaults::supply() };
            supply.name = word.clone();
            supply.open_v = range(x.abs() / 20.0);
            Edit::Add(supply.into())
        }
        7 => {
            let mut drives = drive::examples();
            let drive = drives.swap_remove(b % drives.len());
            let mut driver = defaults::driver(pick(&layout.supplies, a)?, drive);
            driver.notes = word.clone();
            driver.low_ohm = range(y.abs() / 1e3);
            Edit::Add(driver.into())
        }
        8 => {
            let mut vehicle = defaults::vehicles().swap_remove(a % 5);
            vehicle.name = word.clone();
            vehicle.pickups_joined = c % 3 > 0;
            vehicle.load = if flag { Load::Resistor { ohm: range(x.abs()) } } else { vehicle.load };
            match (pick(&layout.vehicles, b), pick(&layout.vehicles, c)) {
                (Some(one), Some(two)) if flag => {
                    let mut train = defaults::train(&[one, two, one]);
                    train.vehicles[a % 3].joined = true;
                    train.vehicles[b % 3].turned = true;
                    Edit::Batch(vec![Edit::Add(vehicle.into()), Edit::Add(train.into())])
                }
                _ => Edit::Add(vehicle.into()),
            }
        }
        9 => {
            let direction = [
                Direction::Forward,
                Direction::Reverse,
                Direction::Stopped,
                Direction::On,
                Direction::Off,
            ][b % 5];
            Edit::Set {
                driver: pick(&layout.drivers, a)?,
                setting: Setting { direction, throttle: share },
            }
        }
        10 => Edit::Power { supply: pick(&layout.supplies, a)?, on: flag },
        11 => Edit::Swap { feed: pick(&layout.feeds, a)? },
        12 | 13 => {
            let joints = [a, b, c].iter().filter_map(|&n| pick(&layout.joints, n)).collect();
            match flag {
                true => Edit::Move { joints, dx_mm: x, dy_mm: y },
                false => {
                    let turn = Turn { about: (y, x), mirrored: c % 2 == 0, turn_deg: x };
                    Edit::Turn {
                        joints: layout.joints.keys().copied().chain(joints).collect(),
                        turn,
                    }
                }
            }
        }
        14 => Edit::Split { run: run?, at_mm: at_mm(run?) },
        15 => Edit::Join { joint: pick(&layout.joints, a)? },
        16 => {
            let ids = [
                run.map(EntityId::from),
                pick(&layout.cuts, b).map(EntityId::from),
                pick(&layout.feeds, c).map(EntityId::from),
                pick(&layout.drivers, b).map(EntityId::from),
                pick(&layout.supplies, c).map(EntityId::from),
                pick(&layout.joints, b).map(EntityId::from),
                pick(&layout.vehicles, a).map(EntityId::from),
                pick(&layout.trains, b).map(EntityId::from),
            ];
            Edit::Delete(ids[c % 8].into_iter().chain(ids[b % 8]).collect())
        }
        17 => Edit::Describe {
            name: Some(word.clone()),
            notes: flag.then(|| word.repeat(3)),
            scale: Some(x.abs()),
            gauge_mm: None,
            rail_ohm_per_m: Some(range(share)),
            climate: Some(flag.then(|| Climate { coldest_c: x, ..Climate::default() })),
        },
        18 => {
            let cut = layout.cuts[&pick(&layout.cuts, a)?].clone();
            Edit::Replace(
                Cut { name: word.clone(), notes: word.clone(), rails, stagger_mm: 0.0, ..cut }
                    .into(),
            )
        }
        19 => {
            let feed = layout.feeds[&pick(&layout.feeds, a)?].clone();
            Edit::Replace(Feed { ohm: Some(range(share)), ..feed }.into())
        }
        20 => {
            let old = layout.runs[&run?].clone();
            Edit::Replace(Run { length_mm: flag.then_some(x.abs()), ..old }.into())
        }
        _ => {
            let mut edits = Vec::new();
            for kind in [b % 20, c % 20] {
                edits.extend(edit_of(layout, &Seed { kind: kind as u8, ..seed.clone() }));
            }
            Edit::Batch(edits)
        }
    })
}

/// A layout made by edits, as a user would make it.
fn built(seeds: &[Seed]) -> Layout {
    let (mut layout, _) = plan();
    for seed in seeds {
        if let Some(edit) = edit_of(&layout, seed) {
            let _ = apply(&mut layout, edit);
        }
    }
    layout
}

/// The properties below would prove little if the random edits were mostly refused.
#[test]
fn random_edits_of_every_kind_are_accepted() {
    use proptest::strategy::ValueTree;
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let mut accepted = [0usize; 22];
    for _ in 0..60 {
        let (mut layout, _) = plan();
        for _ in 0..60 {
            let seed = seed().new_tree(&mut runner).unwrap().current();
            if let Some(edit) = edit_of(&layout, &seed)
                && apply(&mut layout, edit).is_ok()
            {
                accepted[usize::from(seed.kind)] += 1;
            }
        }
    }
    assert!(accepted.iter().all(|&count| count >= 5), "{accepted:?}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn edits_undone_and_redone_give_the_same_file_to_the_byte(
        seeds in proptest::collection::vec(seed(), 1..60)
    ) {
        let (mut layout, _) = plan();
        let mut history = History::default();
        let mut files = vec![save(&layout)];
        for (i, seed) in seeds.iter().enumerate() {
            let Some(edit) = edit_of(&layout, seed) else { continue };
            let before = layout.clone();
            let outcome = if seed.flag {
                history.do_edit(&mut layout, edit)
            } else {
                history.do_coalesced(&mut layout, edit, &i.to_string())
            };
            match outcome {
                Ok(made) => {
                    prop_assert!(made.iter().all(|&id| id.number() >= before.next_id));
                    prop_assert!(layout.next_id >= before.next_id);
                    let file = save(&layout);
                    if file != *files.last().unwrap() {
                        files.push(file);
                    }
                }
                Err(refused) => {
                    prop_assert_eq!(&layout, &before);
                    prop_assert!(!refused.0.is_empty());
                }
            }
        }
        let last = layout.clone();
        for file in files.iter().rev().skip(1) {
            prop_assert!(history.undo(&mut layout).unwrap());
            prop_assert_eq!(&save(&layout), file);
        }
        prop_assert!(!history.undo(&mut layout).unwrap());
        prop_assert!(!history.is_changed());
        for file in files.iter().skip(1) {
            prop_assert!(history.redo(&mut layout).unwrap());
            prop_assert_eq!(&save(&layout), file);
        }
        prop_assert!(!history.redo(&mut layout).unwrap());
        prop_assert_eq!(layout, last);
    }

    #[test]
    fn a_coalesced_series_is_undone_as_one(seeds in proptest::collection::vec(seed(), 1..30)) {
        let (mut layout, _) = plan();
        let mut history = History::default();
        let start = save(&layout);
        for seed in &seeds {
            if let Some(edit) = edit_of(&layout, seed) {
                let _ = history.do_coalesced(&mut layout, edit, "one");
            }
        }
        let end = save(&layout);
        if history.undo(&mut layout).unwrap() {
            prop_assert_eq!(save(&layout), start);
            prop_assert!(!history.can_undo());
            history.redo(&mut layout).unwrap();
        }
        prop_assert_eq!(save(&layout), end);
    }

    #[test]
    fn what_is_saved_loads_as_it_was(seeds in proptest::collection::vec(seed(), 1..80)) {
        let layout = built(&seeds);
        let text = save(&layout);
        let loaded = load(&text).map_err(|e| TestCaseError::fail(format!("{e:?}\n{text}")))?;
        prop_assert!(!loaded.had_comments);
        prop_assert_eq!(&loaded.layout, &layout);
        prop_assert_eq!(save(&loaded.layout), text);
    }

    #[test]
    fn spoilt_files_never_panic_and_are_always_explained(
        seeds in proptest::collection::vec(seed(), 0..10),
        spoils in proptest::collection::vec((any::<proptest::sample::Index>(), 0usize..4, "\\PC{0,3}|[()\\[\\]{},:\"#/*0-9eE.\\-]{1,4}"), 1..6),
    ) {
        let mut text: Vec<char> = save(&built(&seeds)).chars().collect();
        for (place, drop, put) in spoils {
            let at = place.index(text.len() + 1);
            let end = (at + drop).min(text.len());
            text.splice(at..end, put.chars());
        }
        let text: String = text.into_iter().collect();
        let lines = text.lines().count().max(1);
        if let Err(faults) = load(&text) {
            prop_assert!(!faults.is_empty());
            for fault in faults {
                prop_assert!(fault.line >= 1 && fault.line <= lines + 1 && fault.column >= 1);
                prop_assert!(!fault.says.is_empty() && !fault.expected.is_empty(), "{}", fault);
            }
        }
    }

    #[test]
    fn garbage_never_panics(text in "\\PC*") {
        let _ = load(&text);
    }

    #[test]
    fn the_place_found_is_the_place_asked_for(seeds in proptest::collection::vec(seed(), 1..30), share in 0.0..1.0f64, off in -5.0..5.0f64) {
        let layout = built(&seeds);
        for run in layout.runs.values() {
            let curve = geometry::curve(&layout, run);
            let at_mm = share * curve.length_mm();
            let pose = curve.at(at_mm);
            prop_assert!((pose.dx.hypot(pose.dy) - 1.0).abs() < 1e-6);
            let found = curve.closest((pose.x_mm, pose.y_mm));
            prop_assert!(found.off_mm.abs() <= curve.drawn_mm() / 100.0 + 1e-6, "{:?} {:?}", run, found);
            let found = curve.closest(pose.left_by(off));
            prop_assert!(found.off_mm.abs() <= off.abs() + curve.drawn_mm() / 100.0 + 1e-6);
        }
    }
}
