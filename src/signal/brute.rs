//! The same by brute force, for tests only: dense scans of phases and fine steps of time.
#![allow(clippy::unwrap_used)]

use super::*;

/// Drive for a fraction of the period, then idle.
pub(crate) fn pwm(hz: f64, d: f64) -> Beat {
    let parts = [Part { state: 0, share: d }, Part { state: 1, share: 1.0 - d }];
    Beat::new(1.0 / hz, parts, ClockId::default())
}

/// Both on one clock, of unknown phase.
pub(crate) fn one_clock(mut beats: [Beat; 2]) -> [Beat; 2] {
    beats[0].clock = ClockId { shared: Some(1), phase: Some(0.0), tolerance: 0.0 };
    beats[1].clock = ClockId { shared: Some(1), phase: None, tolerance: 0.0 };
    beats
}

/// Every pair of phases on a grid of cell middles.
fn grid(n: usize) -> impl Iterator<Item = [f64; 2]> {
    let at = move |i: usize| (i as f64 + 0.5) / n as f64;
    (0..n).flat_map(move |i| (0..n).map(move |j| [at(i), at(j)]))
}

fn longest_over(w: &[Stretch], over: impl Fn(usize) -> bool) -> f64 {
    let (mut longest, mut run) = (0.0_f64, 0.0);
    for s in w {
        run = if over(s.joint) { run + s.to_s - s.from_s } else { 0.0 };
        longest = longest.max(run);
    }
    longest
}

/// Largest output of a filter from zero over a waveform.
fn filter_max(w: &[Stretch], amps: &[f64], tau: f64) -> f64 {
    let (mut y, mut most) = (0.0_f64, 0.0_f64);
    for s in w {
        let x = amps[s.joint];
        y = x + (y - x) * (-(s.to_s - s.from_s) / tau).exp();
        most = most.max(y);
    }
    most
}

/// The constant current that heats as much as a waveform has done up to some edge.
fn warmed(w: &[Stretch], amps: &[f64], curve: &Curve) -> f64 {
    let (mut heat, mut most) = (0.0, 0.0_f64);
    for s in w {
        heat += amps[s.joint].powi(2) * (s.to_s - s.from_s);
        most = most.max((heat / s.to_s).sqrt() / curve.multiple(s.to_s));
    }
    most
}

const CONFLICT: [bool; 4] = [false, true, true, false];

#[test]
fn longest_runs_against_a_scan() {
    for (fa, da, fb, db) in [
        (490.0, 0.4, 125.0, 0.8),
        (100.0, 0.2, 70.0, 0.35),
        (100.0, 0.5, 30.0, 0.9),
        (97.3, 0.3, 61.7, 0.6),
    ] {
        let beats = [pwm(fa, da), pwm(fb, db)];
        let Longest::Value(exact) = longest(&CONFLICT, &beats, None) else { panic!() };
        // Near the worst phase two runs are parted by a sliver: bridge slivers of the grid's size.
        let sliver = 1.0 / fa / 1500.0;
        let mut scanned = 0.0_f64;
        for i in 0..2000 {
            let w = waveform(&beats, &[0.0, f64::from(i) / 2000.0], 0.0, 1.0);
            let mut run = 0.0;
            for s in w {
                let length = s.to_s - s.from_s;
                if CONFLICT[s.joint] {
                    run += length;
                } else if length > sliver {
                    run = 0.0;
                }
                scanned = scanned.max(run);
            }
        }
        assert!((exact - scanned).abs() < 0.01 * exact, "{fa} {da} {fb} {db}: {exact} {scanned}");
    }
}

/// True in the joint states in which not all drive and not all are idle.
pub(crate) fn differ(beats: &[Beat]) -> Vec<bool> {
    let joint = Joint::of(beats);
    let all_same = |at: usize| joint.decode(at).windows(2).all(|two| two[0] == two[1]);
    (0..joint.count()).map(|at| !all_same(at)).collect()
}

#[test]
fn longest_runs_of_three_and_four_against_random_phases() {
    // Multiples of these cover the phases evenly.
    let steps = [0.0, 2.0_f64.sqrt(), 3.0_f64.sqrt(), 5.0_f64.sqrt()];
    let cases: [(&[(f64, f64)], f64); 6] = [
        (&[(490.0, 0.4), (125.0, 0.6), (310.0, 0.3)], 1.6),
        (&[(490.0, 0.2), (125.0, 0.2), (97.0, 0.2)], 1.6),
        (&[(100.0, 0.5), (30.0, 0.3), (70.0, 0.25)], 1.6),
        (&[(490.0, 0.45), (491.0, 0.4), (480.0, 0.35)], 40.0),
        (&[(97.31, 0.4), (61.73, 0.3), (210.7, 0.2)], 400.0),
        (&[(490.0, 0.3), (125.0, 0.2), (310.0, 0.3), (200.0, 0.1)], 400.0),
    ];
    for (clocks, loose) in cases {
        let beats: Vec<Beat> = clocks.iter().map(|&(hz, d)| pwm(hz, d)).collect();
        let over = differ(&beats);
        let found = longest(&over, &beats, None);
        let most = found.seconds().unwrap();
        let mut scanned = 0.0_f64;
        for at in 0..400 {
            let phases: Vec<f64> = steps.map(|step| (f64::from(at) * step).fract()).to_vec();
            let w = waveform(&beats, &phases, 0.0, 0.5);
            scanned = scanned.max(longest_over(&w, |joint| over[joint]));
        }
        assert!(scanned <= most * (1.0 + 1e-9), "{clocks:?}: {found:?} {scanned}");
        assert!(most <= loose * scanned, "{clocks:?} is loose: {found:?} {scanned}");
    }
}

#[test]
fn share_spread_against_a_scan() {
    let n = 120;
    for (fa, da, fb, db, window) in [
        (490.0, 0.4, 125.0, 0.8, 6e-3),
        (490.0, 0.4, 125.0, 0.8, 40e-3),
        (100.0, 0.2, 99.0, 0.35, 33e-3),
        (100.0, 0.5, 61.0, 0.3, 13e-3),
    ] {
        let beats = [pwm(fa, da), pwm(fb, db)];
        assert_eq!(phase_case(&beats, Some(window)), PhaseCase::Frozen);
        let exact = share_spread(&CONFLICT, &beats, Some(window));
        assert!(exact.exact);
        let (mut low, mut high) = (1.0_f64, 0.0_f64);
        for phases in grid(n) {
            let w = waveform(&beats, &phases, 0.0, window);
            let over: f64 = w.iter().filter(|s| CONFLICT[s.joint]).map(|s| s.to_s - s.from_s).sum();
            low = low.min(over / window);
            high = high.max(over / window);
        }
        // The grid misses the extremes by no more than its pitch times the edges in the window.
        let miss = 2.0 / n as f64 * 2.0;
        assert!(exact.min <= low + 1e-9 && low - exact.min < miss, "{exact:?} {low}");
        assert!(exact.max >= high - 1e-9 && exact.max - high < miss, "{exact:?} {high}");
    }
}

#[test]
fn filter_maxima_and_shares_against_a_scan() {
    let amps = [0.0, 8.0, 5.0, 0.0];
    let n = 150;
    for (fa, da, fb, db, window, tau, threshold) in [
        (490.0, 0.4, 125.0, 0.8, 8e-3, 5e-3, 3.0),
        (100.0, 0.3, 99.0, 0.6, 25e-3, 10e-3, 3.5),
        (100.0, 0.5, 61.0, 0.3, 13e-3, 40e-3, 1.2),
        (200.0, 0.25, 200.0, 0.5, 50e-3, 3e-3, 3.0),
        (490.0, 0.4, 491.0, 0.8, 60e-3, 20e-3, 3.0),
        (490.0, 0.4, 122.7, 0.8, 30e-3, 5e-3, 4.0),
    ] {
        let beats = [pwm(fa, da), pwm(fb, db)];
        let kind = Trip::Averaged { tau_s: tau };
        let got = trip(&amps, &beats, threshold, &kind, Some(window));
        let (mut worst, mut trips, mut soonest) = (0.0_f64, 0, f64::INFINITY);
        for phases in grid(n) {
            let w = waveform(&beats, &phases, 0.0, window);
            let most = filter_max(&w, &amps, tau);
            worst = worst.max(most);
            if most > threshold {
                trips += 1;
                let mut y = 0.0;
                for s in &w {
                    let x = amps[s.joint];
                    let end = x + (y - x) * (-(s.to_s - s.from_s) / tau).exp();
                    if end > threshold {
                        soonest = soonest.min(s.from_s - tau * ((threshold - x) / (y - x)).ln());
                        break;
                    }
                    y = end;
                }
            }
        }
        let share = f64::from(trips) / (n * n) as f64;
        assert!(got.exact || fb > 490.0 || fb == 122.7, "{got:?}");
        assert!(got.worst >= worst - 1e-9 && got.worst - worst < 0.03 * worst, "{got:?} {worst}");
        assert!((got.share - share).abs() < 0.01, "{got:?} {share}");
        let after = got.after_s.unwrap();
        assert!(after <= soonest + 1e-9 && soonest - after < 0.05 * soonest, "{got:?} {soonest}");
    }
}

#[test]
fn a_settled_filter_against_a_scan() {
    let amps = [0.0, 8.0, 5.0, 0.0];
    for (fa, da, fb, db, tau) in [
        (490.0, 0.4, 125.0, 0.8, 5e-3),
        (490.0, 0.1, 125.0, 0.6, 20e-3),
        (97.31, 0.3, 61.73, 0.6, 15e-3),
    ] {
        let beats = [pwm(fa, da), pwm(fb, db)];
        let got = trip(&amps, &beats, 2.0, &Trip::Averaged { tau_s: tau }, None);
        let mut worst = 0.0_f64;
        for i in 0..1000 {
            let w = waveform(&beats, &[0.0, f64::from(i) / 1000.0], 0.0, 20.0 * tau + 0.1);
            worst = worst.max(filter_max(&w, &amps, tau));
        }
        assert!(got.worst >= worst - 1e-4 && got.worst - worst < 0.01 * worst, "{got:?} {worst}");
        assert_eq!(got.trips, Trips::Yes);
    }
}

#[test]
fn instant_shares_against_a_scan() {
    let amps = [0.0, 8.0, 5.0, 0.0];
    let n = 300;
    for (fa, da, fb, db, window, blanking, threshold) in [
        (490.0, 0.4, 125.0, 0.8, 2e-3, 0.5e-3, 6.0),
        (100.0, 0.3, 99.0, 0.6, 12e-3, 1.5e-3, 3.0),
        (100.0, 0.3, 99.0, 0.6, 12e-3, 5.2e-3, 3.0),
        (100.0, 0.5, 61.0, 0.3, 3e-3, 2e-3, 4.0),
    ] {
        let beats = [pwm(fa, da), pwm(fb, db)];
        let kind = Trip::Instant { blanking_s: blanking };
        let got = trip(&amps, &beats, threshold, &kind, Some(window));
        let mut trips = 0;
        for phases in grid(n) {
            let w = waveform(&beats, &phases, 0.0, window);
            if longest_over(&w, |j| amps[j] > threshold) > blanking {
                trips += 1;
            }
        }
        let share = f64::from(trips) / (n * n) as f64;
        assert!((got.share - share).abs() < 0.01, "{got:?} {share}");
    }
}

#[test]
fn sampled_shares_against_a_scan() {
    let amps = [0.0, 8.0, 5.0, 0.0];
    let n = 80;
    for (fa, da, fb, db, window, every, row, locked) in [
        (490.0, 0.4, 125.0, 0.8, 5e-3, 1e-3, 2, None),
        (100.0, 0.3, 99.0, 0.6, 12e-3, 1.3e-3, 3, None),
        (490.0, 0.4, 125.0, 0.8, 6e-3, 2e-3, 2, Some((0, 0.2))),
        (490.0, 0.4, 125.0, 0.8, 5e-3, 2e-3, 1, Some((0, 0.7))),
    ] {
        let beats = [pwm(fa, da), pwm(fb, db)];
        let threshold = 4.0;
        let kind = Trip::Sampled { every_s: every, in_a_row: row, locked };
        let got = trip(&amps, &beats, threshold, &kind, Some(window));
        let step = if locked.is_some() { 1.0 / fa } else { every };
        let (mut trips, mut count) = (0, 0);
        for phases in grid(n) {
            let w = waveform(&beats, &phases, 0.0, window);
            let firsts: Vec<f64> = match locked {
                Some((_, at)) => vec![((phases[0] + at) / fa).rem_euclid(1.0 / fa)],
                None => (0..20).map(|k| (f64::from(k) + 0.5) / 20.0 * every).collect(),
            };
            for first in firsts {
                count += 1;
                let (mut t, mut so_far) = (first, 0);
                while t <= window {
                    let s = w.iter().find(|s| t <= s.to_s).unwrap();
                    so_far = if amps[s.joint] > threshold { so_far + 1 } else { 0 };
                    if so_far == row {
                        trips += 1;
                        break;
                    }
                    t += step;
                }
            }
        }
        let share = f64::from(trips) / f64::from(count);
        assert!((got.share - share).abs() < 0.015, "{got:?} {share}");
    }
}

#[test]
fn three_free_beats_are_bounded() {
    // Three loops: the current is that of how many drive against how few.
    let beats = [pwm(490.0, 0.4), pwm(125.0, 0.6), pwm(310.0, 0.3)];
    let joint = Joint::of(&beats);
    let amps: Vec<f64> = (0..joint.count())
        .map(|j| {
            let drives = joint.decode(j).iter().filter(|p| **p == 0).count();
            (drives * (3 - drives)) as f64 * 2.5
        })
        .collect();
    let window = 6e-3;
    for kind in [
        Trip::Instant { blanking_s: 0.4e-3 },
        Trip::Averaged { tau_s: 3e-3 },
        Trip::Sampled { every_s: 0.7e-3, in_a_row: 2, locked: None },
        Trip::Thermal { curve: Curve::new(&[(1.0, 20e-3), (1.3, 4e-3)]).unwrap() },
    ] {
        let got = trip(&amps, &beats, 3.0, &kind, Some(window));
        assert!(!got.exact);
        assert_ne!(got.trips, Trips::No);
        let n = 20;
        let mut worst = 0.0_f64;
        for phases in grid(n) {
            for third in 0..n {
                let phases = [phases[0], phases[1], third as f64 / n as f64];
                let w = waveform(&beats, &phases, 0.0, window);
                let figure = match kind {
                    Trip::Averaged { tau_s } => filter_max(&w, &amps, tau_s),
                    Trip::Thermal { curve } => warmed(&w, &amps, &curve),
                    Trip::Instant { blanking_s } => {
                        let lasts =
                            |level: &&f64| longest_over(&w, |j| amps[j] >= **level) > blanking_s;
                        amps.iter().filter(lasts).copied().fold(0.0, f64::max)
                    }
                    Trip::Sampled { every_s, .. } => {
                        let at =
                            |t: f64| w.iter().find(|s| t <= s.to_s).map_or(0.0, |s| amps[s.joint]);
                        (0..60)
                            .map(|k| f64::from(k) * 0.08e-3)
                            .map(|t| at(t).min(at(t + every_s)))
                            .fold(0.0, f64::max)
                    }
                };
                worst = worst.max(figure);
            }
        }
        assert!(got.worst >= worst - 1e-9, "{kind:?} {got:?} {worst}");
        assert!(got.worst <= 1.5 * worst, "the bound is loose: {kind:?} {got:?} {worst}");
    }
}

#[test]
fn a_frozen_phase_of_one_clock_against_a_scan() {
    let amps = [0.0, 8.0, 5.0, 0.0];
    let beats = one_clock([pwm(400.0, 0.3), pwm(200.0, 0.55)]);
    for kind in [
        Trip::Instant { blanking_s: 1.2e-3 },
        Trip::Averaged { tau_s: 4e-3 },
        Trip::Averaged { tau_s: 0.4e-3 },
        Trip::Sampled { every_s: 0.9e-3, in_a_row: 2, locked: None },
        Trip::Sampled { every_s: 2.5e-3, in_a_row: 3, locked: Some((0, 0.1)) },
    ] {
        let sampled = matches!(kind, Trip::Sampled { .. });
        let n = if sampled { 500 } else { 4000 };
        for threshold in [2.0, 3.0, 4.5] {
            let got = trip(&amps, &beats, threshold, &kind, None);
            let mut trips = 0;
            for k in 0..n {
                let phase = (f64::from(k) + 0.5) / f64::from(n);
                let w = waveform(&beats, &[0.0, phase], 0.0, 0.06);
                let at = |t: f64| w.iter().find(|s| t < s.to_s).map_or(0.0, |s| amps[s.joint]);
                let acts = match kind {
                    Trip::Instant { blanking_s } => {
                        longest_over(&w, |j| amps[j] > threshold) > blanking_s
                    }
                    Trip::Averaged { tau_s } => filter_max(&w, &amps, tau_s) > threshold,
                    Trip::Thermal { curve } => warmed(&w, &amps, &curve) > threshold,
                    Trip::Sampled { every_s, in_a_row, locked } => {
                        let first = |k: u32| match locked {
                            Some((_, f)) => (f + f64::from(k % 2)) * 2.5e-3,
                            None => f64::from(k) * 1e-5,
                        };
                        (0..500).any(|k| {
                            (0..in_a_row).all(|i| at(first(k) + f64::from(i) * every_s) > threshold)
                        })
                    }
                };
                trips += i32::from(acts);
            }
            let share = f64::from(trips) / f64::from(n);
            let pitch = if sampled { 0.02 } else { 2e-3 };
            assert!((got.share - share).abs() < pitch, "{kind:?} {threshold} {got:?} {share}");
        }
    }
}

#[test]
fn a_slow_average_over_odd_periods_against_a_scan() {
    // One joint state carries current; 8 ms against 0.57 ms, of which 14 are nearly, but not quite, 8 ms.
    let slow = Beat { period_s: 8e-3, ..pwm(125.0, 0.5) };
    let fast = Beat { period_s: 0.571_802_890_734_436_5e-3, ..pwm(125.0, 0.5) };
    let tau = 82.275_448_743_923_7e-3;
    let amps = [0.0, 0.0, 6.519, 0.0];
    let turned_amps = [0.0, 6.519, 0.0, 0.0];
    let worst = |amps: &[f64], beats: &[Beat]| {
        trip(amps, beats, 5.0, &Trip::Averaged { tau_s: tau }, None).worst
    };
    let beats = [slow.clone(), fast.clone()];
    let (one, other) = (worst(&amps, &beats), worst(&turned_amps, &[fast, slow]));
    let mut scanned = 0.0_f64;
    for i in 0..200 {
        let w = waveform(&beats, &[0.0, f64::from(i) / 200.0], 0.0, 12.0 * tau);
        scanned = scanned.max(filter_max(&w, &amps, tau));
    }
    for bound in [one, other] {
        assert!(bound >= scanned && bound < 1.06 * scanned, "{one} {other} {scanned}");
    }
    assert!((one - other).abs() < 1e-9, "the order of drivers matters: {one} {other}");
}
