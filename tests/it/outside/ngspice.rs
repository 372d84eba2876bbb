//! The engine against ngspice: recorded values on every test run, the program itself when asked to.
//!
//! To run it live: `cargo test --test it live_ngspice -- --ignored`. With `GAPWRIGHT_RECORD=1` in the environment that
//! writes decks and values anew; nothing else does.

use std::collections::{BTreeMap, BTreeSet};

use gapwright::findings::{Current, DriverFigures, Situation, check};
use gapwright::layout::{DeviceKind, Drive, Layout, Quantity};

use super::cases::{self, Crossing};
use super::deck;
use super::spice::{self, Figures, Legs};

fn now(layout: &Layout) -> Situation {
    check(layout).cuts.swap_remove(0).now
}

fn figures(current: &Current) -> Figures {
    Figures { peak: current.peak, mean: current.mean, mean_abs: current.mean_abs, rms: current.rms }
}

fn legs(drivers: &[DriverFigures]) -> BTreeMap<String, Legs> {
    drivers
        .iter()
        .map(|d| {
            let legs = Legs {
                p: figures(&d.p),
                m: figures(&d.m),
                supply: figures(&d.supply),
                pole_v: d.positive_pole_v,
            };
            (d.id.to_string(), legs)
        })
        .collect()
}

/// What the engine says of a crossing, with the deck of the same.
fn engine(crossing: &Crossing, layout: &Layout) -> (BTreeMap<String, Legs>, String) {
    let now = now(layout);
    let text = deck::deck(&crossing.name, layout, &now, crossing.window, crossing.loaded);
    let ours = if crossing.loaded {
        let loaded = now.loaded.as_ref();
        legs(loaded.unwrap_or_else(|| panic!("{}: no figures with the load", crossing.name)))
    } else {
        legs(&now.drivers)
    };
    (ours, text)
}

#[test]
fn there_are_crossings_enough_and_their_windows_are_whole() {
    let all = cases::all();
    assert!(all.len() >= 34, "{}", all.len());
    let names: BTreeSet<&str> = all.iter().map(|c| c.name.as_str()).collect();
    assert_eq!(names.len(), all.len(), "a name stands for one crossing");
    for crossing in &all {
        let layout = crossing.bench.layout();
        assert!(deck::holds_whole_periods(&layout, crossing.window), "{}", crossing.name);
    }
}

#[test]
fn vehicles_join_the_rails_that_the_crossings_are_about() {
    for crossing in cases::all() {
        let now = now(&crossing.bench.layout());
        if let Some(joins) = crossing.joins {
            let found = ["left", "right"].map(|side| {
                now.joins.iter().any(|j| serde_json::to_value(j.side).unwrap() == side)
            });
            assert_eq!(found, joins, "{}", crossing.name);
        }
        if crossing.bench.train {
            let groups: BTreeSet<usize> = now.joins.iter().map(|j| j.group).collect();
            assert_eq!((now.train.is_some(), groups.len()), (true, 2), "{}", crossing.name);
        }
    }
}

#[test]
fn engine_agrees_with_the_recorded_values() {
    let mut wrong = Vec::new();
    let mut flowing = 0;
    for crossing in cases::all() {
        let layout = crossing.bench.layout();
        let (ours, text) = engine(&crossing, &layout);
        let path = spice::deck_path(&crossing.name);
        match std::fs::read_to_string(&path) {
            Ok(old) if old == text => {}
            Ok(_) => wrong.push(format!(
                "{}: the deck would be written differently today: record it anew",
                crossing.name
            )),
            Err(e) => {
                wrong.push(format!("{}: {e}", path.display()));
                continue;
            }
        }
        let recorded = spice::recorded(&crossing.name);
        assert_eq!(recorded.drivers.len(), layout.drivers.len(), "{}", crossing.name);
        flowing += usize::from(recorded.drivers.values().any(|l| l.p.peak > 1.0));
        let different = spice::differences(&ours, &recorded.drivers);
        wrong.extend(different.into_iter().map(|d| format!("{}: {d}", crossing.name)));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // Zero agrees with zero easily: most crossings must carry something.
    assert!(flowing >= 34, "only {flowing} crossings carry a current");
}

#[test]
fn no_recording_is_left_over() {
    let known: BTreeSet<String> = cases::all()
        .into_iter()
        .map(|c| c.name)
        .chain(super::coins::all().into_iter().map(|c| c.name))
        .collect();
    for entry in std::fs::read_dir(spice::folder()).unwrap() {
        let path = entry.unwrap().path();
        let is_ours = path.extension().is_some_and(|e| e == "cir" || e == "ron");
        let stem = path.file_stem().unwrap().to_string_lossy().into_owned();
        assert!(!is_ours || known.contains(&stem), "{} belongs to no crossing", path.display());
    }
}

/// The comparison is sharp enough to see one resistance that is 5 % off.
#[test]
fn one_resistance_off_by_a_twentieth_is_noticed() {
    let names = [
        "idle-low-low",
        "idle-opposed-high",
        "reverse-z-low",
        "shared-negative-both",
        "dcc-swapped",
        "one-clock-early",
        "worked-example-1",
        "unequal-sink-full",
    ];
    for crossing in cases::all().iter().filter(|c| names.contains(&c.name.as_str())) {
        let recorded = spice::recorded(&crossing.name).drivers;
        let mut layout = crossing.bench.layout();
        assert!(spice::differences(&engine(crossing, &layout).0, &recorded).is_empty());
        let feed = layout.feeds.values_mut().next().unwrap();
        feed.ohm = feed.ohm.map(|ohm| Quantity::given(ohm.value * 1.05));
        let ours = engine(crossing, &layout).0;
        assert!(
            !spice::differences(&ours, &recorded).is_empty(),
            "{}: a feeder 5 % off goes unnoticed",
            crossing.name
        );
    }
    assert_eq!(cases::all().iter().filter(|c| names.contains(&c.name.as_str())).count(), 8);
}

/// So it does a device's.
#[test]
fn a_device_off_by_a_fifth_is_noticed() {
    let mut tried = 0;
    for crossing in cases::all().iter().filter(|c| c.name.starts_with("chain-")) {
        let recorded = spice::recorded(&crossing.name).drivers;
        let mut layout = crossing.bench.layout();
        for device in layout.devices.values_mut() {
            match &mut device.kind {
                DeviceKind::Resistor { ohm, .. } => ohm.value *= 1.2,
                DeviceKind::DiodePair { volts, .. } => volts.value *= 1.2,
                _ => device.ohm.value += 0.02,
            }
        }
        let ours = engine(crossing, &layout).0;
        assert!(!spice::differences(&ours, &recorded).is_empty(), "{}", crossing.name);
        tried += 1;
    }
    assert_eq!(tried, 4);
}

/// Runs ngspice (Debian package `ngspice`) on every crossing and holds both the engine and the recorded values against it.
#[test]
#[ignore = "runs ngspice, which must be installed"]
fn live_ngspice() {
    let version = spice::version();
    let record = std::env::var("GAPWRIGHT_RECORD").is_ok_and(|v| v == "1");
    let mut wrong = Vec::new();
    for crossing in cases::all() {
        let name = &crossing.name;
        let layout = crossing.bench.layout();
        let (ours, text) = engine(&crossing, &layout);
        let ids: Vec<(String, Option<String>)> = layout
            .drivers
            .values()
            .map(|d| {
                let smooth = matches!(d.drive, Drive::SmoothDc { .. });
                (d.id.to_string(), (!smooth).then(|| d.supply.to_string()))
            })
            .collect();
        let live = match spice::run(name, &text, &ids, crossing.window, &version) {
            Ok(live) => live,
            Err(why) => {
                wrong.push(why);
                continue;
            }
        };
        if record {
            spice::record(name, &text, &live);
        } else {
            let recorded = spice::recorded(name);
            for d in spice::differences(&recorded.drivers, &live.drivers) {
                wrong.push(format!("{name}: recorded against live: {d}"));
            }
        }
        for d in spice::differences(&ours, &live.drivers) {
            wrong.push(format!("{name}: {d}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
