//! A study of an edited layout is the study that one would make anew, and keeps what the edit leaves alone.

use std::sync::Arc;

use gapwright::layout::{
    Bond, Cut, Drive, Edit, End, Entity, EntityId, Idle, Layout, Made, Quantity, Rail, Rails,
    RunId, Shape, Spot, Turn, Wire, WireSize, load,
};
use gapwright::study::{Memo, Study};

use super::support::dice::Dice;
use super::support::{power, random};

/// An edit of any kind, chosen at random among those that the layout has something for.
fn edit(layout: &Layout, dice: &mut Dice) -> Option<Edit> {
    fn one<K: Copy, V>(dice: &mut Dice, map: &std::collections::BTreeMap<K, V>) -> Option<K> {
        let keys: Vec<K> = map.keys().copied().collect();
        (!keys.is_empty()).then(|| *dice.pick(&keys))
    }
    let run = one(dice, &layout.runs)?;
    let at_mm = dice.between(20.0, 900.0);
    let ohm = Quantity::given(dice.between(0.01, 1.0));
    Some(match dice.below(22) {
        0 | 1 => {
            let driver = one(dice, &layout.drivers)?;
            let setting = power::setting(dice, &layout.drivers[&driver].drive);
            Edit::Set { driver, setting }
        }
        2 => {
            let supply = one(dice, &layout.supplies)?;
            Edit::Power { supply, on: !layout.supplies[&supply].powered }
        }
        3 => Edit::Throw {
            selector: one(dice, &layout.specials)?.into(),
            position: dice.below(3) as u32,
        },
        4 => Edit::Throw {
            selector: one(dice, &layout.devices)?.into(),
            position: dice.below(3) as u32,
        },
        5 => Edit::Swap { feed: one(dice, &layout.feeds)? },
        6 => {
            let mut feed = layout.feeds[&one(dice, &layout.feeds)?].clone();
            feed.wire = Some(Wire {
                size: WireSize::Mm2(0.5),
                length_m: dice.between(0.1, 9.0),
                rating_a: None,
            });
            Edit::Replace(feed.into())
        }
        7 => {
            let mut feed = layout.feeds[&one(dice, &layout.feeds)?].clone();
            feed.driver = one(dice, &layout.drivers)?.into();
            Edit::Replace(feed.into())
        }
        8 => Edit::Feed {
            driver: one(dice, &layout.drivers)?.into(),
            run,
            at_mm,
            p: Some(Rail::Left),
            m: dice.percent(70).then_some(Rail::Right),
            wire: None,
            ohm: Some(ohm),
        },
        9 => Edit::Cut {
            run,
            at_mm,
            rails: *dice.pick(&[Rails::Both, Rails::Left, Rails::Right]),
            width_mm: 0.8,
            stagger_mm: 0.0,
            made: Made::Open,
        },
        10 => {
            let mut driver = layout.drivers[&one(dice, &layout.drivers)?].clone();
            driver.high_ohm = ohm;
            driver.lowest_throttle = 0.1;
            Edit::Replace(driver.into())
        }
        11 => {
            let mut driver = layout.drivers[&one(dice, &layout.drivers)?].clone();
            if let Drive::PwmBridge { idle, .. } = &mut driver.drive {
                *idle = if *idle == Idle::BrakeLow { Idle::HighImpedance } else { Idle::BrakeLow };
            }
            driver.supply = one(dice, &layout.supplies)?;
            Edit::Replace(driver.into())
        }
        12 => {
            let mut supply = layout.supplies[&one(dice, &layout.supplies)?].clone();
            supply.open_v = Quantity::given(dice.between(9.0, 18.0));
            if dice.percent(30) {
                supply.negative = None;
            }
            Edit::Replace(supply.into())
        }
        13 => {
            let mut device = layout.devices[&one(dice, &layout.devices)?].clone();
            device.ohm = ohm;
            Edit::Replace(device.into())
        }
        14 => {
            let mut vehicle = layout.vehicles[&one(dice, &layout.vehicles)?].clone();
            vehicle.length_mm += dice.between(1.0, 40.0);
            Edit::Replace(vehicle.into())
        }
        15 => {
            let joints = vec![one(dice, &layout.joints)?];
            Edit::Move { joints, dx_mm: dice.between(-3.0, 3.0), dy_mm: dice.between(-3.0, 3.0) }
        }
        16 => Edit::Name { run, at_mm, name: "somewhere".into() },
        17 => Edit::Describe {
            name: Some("another name".into()),
            notes: None,
            scale: None,
            gauge_mm: dice.percent(30).then_some(12.0),
            rail_ohm_per_m: dice.percent(50).then_some(ohm),
            climate: None,
        },
        18 => delete(layout, dice)?,
        19 => match dice.below(3) {
            0 => Edit::Split { run, at_mm },
            1 => Edit::Lay {
                from: End::At(one(dice, &layout.joints)?),
                to: End::New(dice.between(0.0, 5000.0), 4000.0),
                shape: Shape::Straight,
                length_mm: None,
            },
            _ => Edit::Turn {
                joints: layout.joints.keys().copied().collect(),
                turn: Turn { about: (0.0, 0.0), mirrored: true, turn_deg: 90.0 },
            },
        },
        20 => {
            let spot = |at_mm, rail| Spot { run, at_mm, rail };
            let (from, to) = (spot(at_mm, Rail::Left), spot(at_mm + 5.0, Rail::Left));
            Edit::Add(Entity::Bond(Bond { id: gapwright::layout::BondId(0), from, to }))
        }
        _ => {
            let mut cut = layout.cuts[&one(dice, &layout.cuts)?].clone();
            cut.notes = "looked at".into();
            cut.width_mm += 0.1;
            Edit::Batch(vec![Edit::Replace(Cut { ..cut }.into()), edit(layout, dice)?])
        }
    })
}

/// Takes something away, at random.
fn delete(layout: &Layout, dice: &mut Dice) -> Option<Edit> {
    let cuts = layout.cuts.keys().map(|&id| EntityId::from(id));
    let feeds = layout.feeds.keys().map(|&id| EntityId::from(id));
    let drivers = layout.drivers.keys().map(|&id| EntityId::from(id));
    let vehicles = layout.vehicles.keys().map(|&id| EntityId::from(id));
    let specials = layout.specials.keys().map(|&id| EntityId::from(id));
    let devices = layout.devices.keys().map(|&id| EntityId::from(id));
    let all: Vec<EntityId> =
        cuts.chain(feeds).chain(drivers).chain(vehicles).chain(specials).chain(devices).collect();
    (!all.is_empty()).then(|| Edit::Delete(vec![*dice.pick(&all)]))
}

/// Edits a layout so many times, each time as a what-if on the study before; returns how many were not refused.
fn holds(name: &str, layout: &Layout, edits: usize, dice: &mut Dice) -> usize {
    let mut study = Study::of(layout, &Memo::default());
    let mut done = 0;
    for _ in 0..edits {
        let Some(edit) = edit(study.layout(), dice) else { continue };
        let Ok(edited) = study.with(&edit) else { continue };
        // Nothing is remembered here, so that a key that says too little shows as well.
        let anew = Study::of(edited.layout(), &Memo::default());
        assert!(edited == anew, "{name} after {edit:?}");
        study = edited;
        done += 1;
    }
    done
}

#[test]
fn a_what_if_on_a_sample_is_the_study_made_anew() {
    let mut done = 0;
    for (at, entry) in std::fs::read_dir("sample-layouts").unwrap().enumerate() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|extension| extension != "gapwright") {
            continue;
        }
        let layout = load(&std::fs::read_to_string(&path).unwrap()).unwrap().layout;
        // The club takes as long as all others together.
        let edits = if layout.cuts.len() > 20 { 2 } else { 5 };
        done += holds(&path.display().to_string(), &layout, edits, &mut Dice::new(at as u64));
    }
    assert!(done > 60, "only {done} edits were possible");
}

#[test]
fn a_what_if_on_a_random_layout_is_the_study_made_anew() {
    let mut done = 0;
    for seed in 0..25 {
        let mut dice = Dice::new(1_000 + seed);
        done += holds(&format!("seed {seed}"), &random::layout(seed), 5, &mut dice);
    }
    assert!(done > 60, "only {done} edits were possible");
}

/// The transfer sample has feeds, drivers and a selector.
fn transfer() -> Layout {
    load(&std::fs::read_to_string("sample-layouts/transfer.gapwright").unwrap()).unwrap().layout
}

#[test]
fn a_setting_touches_no_rails_and_a_feed_no_metal() {
    let layout = transfer();
    let study = Study::of(&layout, &Memo::default());
    let before = study.now();
    let bridge = layout.drivers.values().find(|d| matches!(d.drive, Drive::PwmBridge { .. }));
    let driver = bridge.unwrap().id;
    let setting = gapwright::layout::Setting {
        direction: gapwright::layout::Direction::Reverse,
        throttle: 0.37,
    };
    let set = study.with(&Edit::Set { driver, setting }).unwrap();
    assert!(set != study);
    assert!(Arc::ptr_eq(&set.now().plan, &before.plan));
    assert!(Arc::ptr_eq(&set.now().loops, &before.loops));
    // A cut that the driver has no part in keeps its result.
    for (cut, known) in &set.now().known {
        let there = known.around.names.drivers.contains(&driver);
        assert_eq!(Arc::ptr_eq(&known.result, &before.known[cut].result), !there, "{cut}");
    }

    let feed = *layout.feeds.keys().next().unwrap();
    let swapped = study.with(&Edit::Swap { feed }).unwrap();
    assert!(!Arc::ptr_eq(&swapped.now().plan, &before.plan));
    assert!(Arc::ptr_eq(&swapped.now().plan.metal, &before.plan.metal));

    let run: RunId = *layout.runs.keys().next().unwrap();
    let cut = Edit::Cut {
        run,
        at_mm: 31.0,
        rails: Rails::Both,
        width_mm: 0.8,
        stagger_mm: 0.0,
        made: Made::Open,
    };
    let cut = study.with(&cut).unwrap();
    assert!(!Arc::ptr_eq(&cut.now().plan.metal, &before.plan.metal));
}

#[test]
fn a_refused_edit_says_why_and_leaves_the_study_as_it_was() {
    let study = Study::of(&transfer(), &Memo::default());
    let nothing = Edit::Swap { feed: gapwright::layout::FeedId(9999) };
    assert!(study.with(&nothing).is_err_and(|refused| !refused.0.is_empty()));
    assert!(study == Study::of(&transfer(), &Memo::default()));
}
