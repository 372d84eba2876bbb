//! Coins across the rails at the far end of a block, against ngspice: the engine's coin test and a deck of the same circuit.

use std::collections::BTreeMap;

use gapwright::layout::Layout;
use gapwright::rails::{Lengths, Plan};
use gapwright::signal;
use gapwright::study::coin::{COIN_OHM, coin_of};

use super::bench::{Bench, D, S, booster, bridge, half, railcar, smooth};
use super::deck::{self, Window};
use super::spice::{self, Figures};

/// One block of 1 m on rails of 0.4 Ω/m, fed in its middle: 0.5 m of rail there and back.
fn block(driver: D) -> Bench {
    Bench {
        supplies: vec![S::default()],
        drivers: vec![driver],
        cuts: vec![],
        vehicles: vec![railcar()],
        devices: Vec::new(),
        train: false,
        rail_ohm_per_m: 0.4,
    }
}

/// A coin test and the window in which its deck is measured: whole periods.
pub struct Coin {
    pub name: String,
    pub bench: Bench,
    pub window: Window,
}

pub fn all() -> Vec<Coin> {
    let split = Bench {
        supplies: vec![S { split: true, ..S::default() }],
        ..block(half(500.0, "HighImpedance", "Forward", 0.4))
    };
    [
        ("coin-low", block(bridge(500.0, "BrakeLow", "Forward", 0.4))),
        ("coin-high-reverse", block(bridge(500.0, "BrakeHigh", "Reverse", 0.25))),
        ("coin-z", block(bridge(500.0, "HighImpedance", "Forward", 0.1))),
        ("coin-opposed", block(bridge(500.0, "Opposed", "Forward", 0.3))),
        ("coin-full", block(bridge(500.0, "BrakeLow", "Forward", 1.0))),
        ("coin-smooth", block(smooth(false, false, "Forward", 0.35))),
        ("coin-dcc", block(booster(false, 0.0))),
        ("coin-split", split),
    ]
    .map(|(name, bench)| {
        // 2 ms at 500 Hz; whole bits of 110 µs for the booster.
        let length_s = if name == "coin-dcc" { 1.1e-3 } else { 2e-3 };
        Coin { name: name.into(), bench, window: Window { from_s: 2.2e-3, length_s } }
    })
    .into()
}

/// The engine's figures at the setting now: RMS of P and of M, and peak of the larger leg.
fn engine(layout: &Layout) -> ([f64; 2], signal::Figures) {
    let plan = Plan::derive(layout);
    let lengths = Lengths::of(layout, &plan);
    let driver = *layout.drivers.keys().next().unwrap();
    let (case, at) = coin_of(layout, &plan, &lengths, 0, driver, None).unwrap();
    assert_eq!(at.rail_mm, [500.0, 500.0]);
    let now = case.case.controls[case.driver].now;
    let tried = case.at(now).unwrap();
    (tried.rms_a, tried.leg)
}

fn deck_of(coin: &Coin, layout: &Layout) -> String {
    deck::coin_deck(&coin.name, layout, 0.5, COIN_OHM, coin.window)
}

fn differences(
    ours: &([f64; 2], signal::Figures),
    theirs: &BTreeMap<String, spice::Legs>,
) -> Vec<String> {
    let (rms_a, leg) = ours;
    let their = theirs.values().next().unwrap();
    let larger: &Figures = if their.m.rms > their.p.rms { &their.m } else { &their.p };
    [
        ("P, RMS", rms_a[0], their.p.rms),
        ("M, RMS", rms_a[1], their.m.rms),
        ("peak", leg.peak, larger.peak),
        ("mean of magnitude", leg.mean_abs, larger.mean_abs),
    ]
    .into_iter()
    .filter(|(_, a, b)| (a - b).abs() > (0.01 * b).max(1e-3))
    .map(|(what, a, b)| format!("{what}: ours {a}, ngspice {b}"))
    .collect()
}

#[test]
fn coins_agree_with_the_recorded_values() {
    for coin in all() {
        let layout = coin.bench.layout();
        assert!(deck::holds_whole_periods(&layout, coin.window), "{}", coin.name);
        let old = std::fs::read_to_string(spice::deck_path(&coin.name)).unwrap();
        assert_eq!(old, deck_of(&coin, &layout), "{}: record the deck anew", coin.name);
        let recorded = spice::recorded(&coin.name).drivers;
        assert!(recorded.values().any(|legs| legs.p.peak > 1.0), "{}: nothing flows", coin.name);
        let wrong = differences(&engine(&layout), &recorded);
        assert!(wrong.is_empty(), "{}: {}", coin.name, wrong.join("; "));
    }
}

/// The comparison is sharp enough to see rails that are a tenth too long.
#[test]
fn a_tenth_more_rail_is_noticed() {
    for coin in all() {
        let mut layout = coin.bench.layout();
        layout.rail_ohm_per_m = gapwright::layout::Quantity::given(0.44);
        let recorded = spice::recorded(&coin.name).drivers;
        assert!(!differences(&engine(&layout), &recorded).is_empty(), "{}", coin.name);
    }
}

/// Runs ngspice (Debian package `ngspice`) on every coin; with `GAPWRIGHT_RECORD=1` it writes decks and values anew.
#[test]
#[ignore = "runs ngspice, which must be installed"]
fn live_ngspice_coins() {
    let version = spice::version();
    let record = std::env::var("GAPWRIGHT_RECORD").is_ok_and(|v| v == "1");
    for coin in all() {
        let layout = coin.bench.layout();
        let text = deck_of(&coin, &layout);
        let ids: Vec<(String, Option<String>)> =
            layout.drivers.keys().map(|id| (id.to_string(), None)).collect();
        let live = spice::run(&coin.name, &text, &ids, coin.window, &version).unwrap();
        let wrong = differences(&engine(&layout), &live.drivers);
        assert!(wrong.is_empty(), "{}: {}", coin.name, wrong.join("; "));
        if record {
            spice::record(&coin.name, &text, &live);
        }
    }
}
