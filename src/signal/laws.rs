//! What holds for all schedules.
#![allow(clippy::unwrap_used)]

use proptest::prelude::*;

use super::*;

fn beat() -> impl Strategy<Value = Beat> {
    let hz = prop_oneof![Just(490.0), Just(125.0), Just(100.0), 20.0..2000.0];
    (hz, prop::collection::vec(0.01..1.0_f64, 1..4)).prop_map(|(hz, weights)| {
        let sum: f64 = weights.iter().sum();
        let parts = weights.iter().enumerate().map(|(state, w)| Part { state, share: w / sum });
        Beat::new(1.0 / hz, parts, ClockId::default())
    })
}

fn clocked() -> impl Strategy<Value = Beat> {
    (beat(), prop::option::of(0..2_u32), prop::option::of(0.0..1.0_f64)).prop_map(
        |(mut beat, shared, phase)| {
            beat.clock = ClockId { shared, phase, tolerance: 0.0 };
            beat
        },
    )
}

fn any_trip() -> impl Strategy<Value = Trip> {
    prop_oneof![
        (0.0..5e-3_f64).prop_map(|blanking_s| Trip::Instant { blanking_s }),
        (1e-4..5e-3_f64, 1..4_u32).prop_map(|(every_s, in_a_row)| Trip::Sampled {
            every_s,
            in_a_row,
            locked: None
        }),
        (5e-4..0.1_f64).prop_map(|tau_s| Trip::Averaged { tau_s }),
        (1.1..6.0_f64, 1e-3..0.1_f64, 1.5..100.0_f64).prop_map(|(times, seconds, slower)| {
            let curve = Curve::new(&[(1.0, seconds * slower), (times, seconds)]);
            Trip::Thermal { curve: curve.unwrap() }
        }),
    ]
}

fn amps_for(beats: &[Beat], pool: &[f64]) -> Vec<f64> {
    (0..Joint::of(beats).count()).map(|j| pool[(j * 7 + 3) % pool.len()]).collect()
}

fn stretched(beats: &[Beat], by: f64) -> Vec<Beat> {
    beats.iter().map(|b| Beat { period_s: b.period_s * by, ..b.clone() }).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    #[test]
    fn shares_add_up_and_figures_are_ordered(
        beats in prop::collection::vec(clocked(), 1..4),
        pool in prop::collection::vec(-10.0..10.0_f64, 11),
    ) {
        let shares = shares(&beats);
        prop_assert!((shares.iter().sum::<f64>() - 1.0).abs() < 1e-9);
        prop_assert!(shares.iter().all(|s| *s >= 0.0));
        let f = figures(&amps_for(&beats, &pool), &shares);
        prop_assert!(f.mean.abs() <= f.mean_abs + 1e-9);
        prop_assert!(f.mean_abs <= f.rms + 1e-9);
        prop_assert!(f.rms <= f.peak + 1e-9);
    }

    #[test]
    fn the_order_of_drivers_does_not_matter(
        beats in prop::collection::vec(clocked(), 2..4),
        pool in prop::collection::vec(0.0..10.0_f64, 11),
        kind in any_trip(),
        window in prop::option::of(1e-3..0.05_f64),
    ) {
        let amps = amps_for(&beats, &pool);
        let turned: Vec<Beat> = beats.iter().rev().cloned().collect();
        let (joint, other) = (Joint::of(&beats), Joint::of(&turned));
        let turned_amps: Vec<f64> = (0..other.count())
            .map(|j| {
                let mut parts = other.decode(j);
                parts.reverse();
                amps[joint.encode(&parts)]
            })
            .collect();
        let f = figures(&amps, &shares(&beats));
        let g = figures(&turned_amps, &shares(&turned));
        prop_assert!((f.rms - g.rms).abs() < 1e-9 && (f.mean - g.mean).abs() < 1e-9);
        let over = |a: &[f64]| a.iter().map(|i| *i > 5.0).collect::<Vec<_>>();
        let (r, s) = (
            longest(&over(&amps), &beats, window),
            longest(&over(&turned_amps), &turned, window),
        );
        match (r, s) {
            (Longest::Value(x), Longest::Value(y)) => prop_assert!((x - y).abs() < 1e-8),
            // Bounds depend on what they are built from, but never lie below a length.
            (Longest::Value(x), Longest::AtMost(most)) | (Longest::AtMost(most), Longest::Value(x)) => {
                prop_assert!(x <= most + 1e-8);
            }
            (Longest::Value(_), other) | (other, Longest::Value(_)) => {
                prop_assert!(beats.len() > 2, "{:?}", other);
            }
            (Longest::Endless, other) | (other, Longest::Endless) => {
                let both = other == Longest::Endless;
                prop_assert!(both || matches!(other, Longest::NotComputed(_)), "{:?}", other);
            }
            _ => {}
        }
        let t = trip(&amps, &beats, 5.0, &kind, window);
        let u = trip(&turned_amps, &turned, 5.0, &kind, window);
        // A stand-in for an odd ratio of periods raises the bound by what it can be off.
        let loose = if t.exact && u.exact { 1e-6 } else { 0.1 };
        // How far the heat of a stand-in can be off grows with the span, so that two stand-ins for one odd ratio may bound
        // it very differently: of heat only exact values must agree.
        let of_heat = matches!(kind, Trip::Thermal { .. });
        if (t.exact && u.exact) || !of_heat {
            prop_assert!((t.worst - u.worst).abs() <= loose * 10.0, "{:?} {:?}", t, u);
        }
        if t.exact && u.exact {
            prop_assert!((t.share - u.share).abs() <= 1e-2, "{:?} {:?}", t, u);
        }
    }

    #[test]
    fn stretching_all_times_changes_nothing_but_times(
        beats in prop::collection::vec(clocked(), 1..3),
        pool in prop::collection::vec(0.0..10.0_f64, 11),
        kind in any_trip(),
        window in prop::option::of(1e-3..0.05_f64),
        halvings in -3..4_i32,
    ) {
        let by = 2.0_f64.powi(halvings);
        let amps = amps_for(&beats, &pool);
        let slow = stretched(&beats, by);
        let slow_kind = match kind {
            Trip::Instant { blanking_s } => Trip::Instant { blanking_s: blanking_s * by },
            Trip::Averaged { tau_s } => Trip::Averaged { tau_s: tau_s * by },
            Trip::Sampled { every_s, in_a_row, locked } =>
                Trip::Sampled { every_s: every_s * by, in_a_row, locked },
            Trip::Thermal { curve } => Trip::Thermal { curve: curve.stretched(by) },
        };
        let slow_window = window.map(|w| w * by);
        prop_assert_eq!(shares(&beats), shares(&slow));
        let (s, t) = (mean_spread(&amps, &beats, window), mean_spread(&amps, &slow, slow_window));
        prop_assert!((s.min - t.min).abs() < 1e-9 && (s.max - t.max).abs() < 1e-9);
        let over: Vec<bool> = amps.iter().map(|i| *i > 5.0).collect();
        let (run, slow_run) = (longest(&over, &beats, window), longest(&over, &slow, slow_window));
        prop_assert_eq!(std::mem::discriminant(&run), std::mem::discriminant(&slow_run));
        let seconds = |run: Longest| run.seconds().unwrap_or(0.0);
        prop_assert!((seconds(run) * by - seconds(slow_run)).abs() < 1e-9);
        let (t, u) = (
            trip(&amps, &beats, 5.0, &kind, window),
            trip(&amps, &slow, 5.0, &slow_kind, slow_window),
        );
        prop_assert_eq!(t.trips, u.trips);
        prop_assert!((t.worst - u.worst).abs() < 1e-9);
        prop_assert!((t.share - u.share).abs() < 1e-9);
    }

    #[test]
    fn a_trip_is_monotone(
        beats in prop::collection::vec(clocked(), 1..4),
        pool in prop::collection::vec(0.0..10.0_f64, 11),
        kind in any_trip(),
        window in 1e-3..0.05_f64,
        more in 1.0..3.0_f64,
    ) {
        let amps = amps_for(&beats, &pool);
        let base = trip(&amps, &beats, 5.0, &kind, Some(window));
        let acts = |t: &TripOutcome| t.trips != Trips::No;
        let larger: Vec<f64> = amps.iter().map(|i| i * more).collect();
        let with_more = trip(&larger, &beats, 5.0, &kind, Some(window));
        prop_assert!(with_more.worst >= base.worst - 1e-9);
        prop_assert!(!acts(&base) || acts(&with_more));
        let higher = trip(&amps, &beats, 5.0 * more, &kind, Some(window));
        prop_assert!((higher.worst - base.worst).abs() < 1e-9);
        prop_assert!(acts(&base) || !acts(&higher));
        let longer = trip(&amps, &beats, 5.0, &kind, Some(window * more));
        prop_assert!(longer.worst >= base.worst * (1.0 - 1e-5) - 1e-9, "{:?} {:?}", base, longer);
        if let (Some(x), Some(y)) = (base.after_s, higher.after_s) {
            prop_assert!(y >= x * (1.0 - 1e-5));
        }
    }

    #[test]
    fn spreads_hold_the_mean_and_outcomes_are_in_range(
        beats in prop::collection::vec(clocked(), 1..4),
        pool in prop::collection::vec(0.0..10.0_f64, 11),
        kind in any_trip(),
        window in prop::option::of(1e-4..0.05_f64),
    ) {
        let amps = amps_for(&beats, &pool);
        let f = figures(&amps, &shares(&beats));
        let s = mean_spread(&amps, &beats, window);
        prop_assert!(s.min <= f.mean + 1e-7 && f.mean <= s.max + 1e-7, "{:?} {:?}", s, f);
        let t = trip(&amps, &beats, 3.0, &kind, window);
        prop_assert!((0.0..=1.0).contains(&t.share));
        prop_assert!(t.worst <= f.peak + 1e-9);
        prop_assert_eq!(t.trips == Trips::No, t.after_s.is_none());
        if let (Some(after), Some(window)) = (t.after_s, window) {
            prop_assert!(after <= window + 1e-9, "{:?}", t);
        }
    }
}

#[test]
fn senseless_numbers_do_no_harm() {
    let bad = [f64::NAN, f64::INFINITY, -1.0, 0.0];
    for x in bad {
        for y in bad {
            let part = |share| Part { state: 0, share };
            let clock = ClockId { shared: Some(0), phase: Some(y), tolerance: x };
            let beats = [
                Beat::new(x, [part(0.5), part(y), part(0.5)], clock),
                Beat { period_s: y, parts: vec![part(x), part(0.3), part(0.7)], clock },
                Beat { period_s: 1.0, parts: vec![], clock },
            ];
            let count = Joint::of(&beats).count();
            let _ = shares(&beats);
            let amps = vec![x; count];
            for kind in [
                Trip::Instant { blanking_s: x },
                Trip::Averaged { tau_s: x },
                Trip::Sampled { every_s: x, in_a_row: 0, locked: Some((9, y)) },
                Trip::Sampled { every_s: 1e-3, in_a_row: u32::MAX, locked: Some((0, y)) },
            ] {
                for window in [None, Some(y), Some(1.0)] {
                    let _ = trip(&amps, &beats, y, &kind, window);
                    let _ = trip(&[1.0], &beats, 0.5, &kind, window);
                    let _ = mean_spread(&amps, &beats, window);
                    let _ = longest(&vec![true; count], &beats, window);
                }
            }
            let _ = waveform(&beats, &[x, y], 0.0, 1.0);
            let _ = inrush(x, y, 1.0).trips(1.0, &Trip::Averaged { tau_s: 1.0 }, Some(x));
        }
    }
}
