//! Whether a trip acts, at which phases, when, and on what.

mod averaged;
mod instant;
mod judge;
mod kind;
mod outcome;

use super::beat::{Beat, Pattern, patterns};
use super::pair::{Pair, Reduced, reduce};
use super::phase::{PhaseCase, phase_case_of};
use super::runs::window_of;
use super::sampled::Sampler;
use averaged::FORGETS;
use judge::{judge_pair, judge_steady};
use outcome::{Judged, Want, say};

pub use kind::Trip;
pub use outcome::{TripOutcome, Trips};

/// Judges a trip on a value (one per joint state, not negative: the caller has taken the magnitude or dropped the sign
/// that is not sensed; a negative one counts as 0) against a threshold. The window is how long the straddle lasts, s; none
/// is standing for ever. A straddle begins at any phase, and a filter begins it at zero; standing, it has settled.
///
/// A relative phase that two patterns of independent clocks can have counts, even where their periods are in a simple
/// ratio. With three and more free patterns `worst` is an upper bound and *yes* is said of sweeping phases on its
/// strength; *no* is always sure.
pub fn trip(
    amps: &[f64],
    beats: &[Beat],
    threshold_a: f64,
    trip: &Trip,
    window_s: Option<f64>,
) -> TripOutcome {
    judge_trip(amps, beats, threshold_a, trip, window_s, Want::Everything)
}

/// As [`trip`], without the time at which an averaged trip acts, which takes most of the work: `after_s` is `None` there.
pub fn trip_acts(
    amps: &[f64],
    beats: &[Beat],
    threshold_a: f64,
    trip: &Trip,
    window_s: Option<f64>,
) -> TripOutcome {
    judge_trip(amps, beats, threshold_a, trip, window_s, Want::NoTime)
}

fn judge_trip(
    amps: &[f64],
    beats: &[Beat],
    threshold_a: f64,
    trip: &Trip,
    window_s: Option<f64>,
    want: Want,
) -> TripOutcome {
    let sensed: Vec<f64> = amps.iter().map(|i| i.max(0.0)).collect();
    let window = window_of(window_s);
    let threshold = if threshold_a.is_nan() { f64::INFINITY } else { threshold_a.max(0.0) };
    let moving = patterns(beats).moving;
    let trip = usable(trip);
    let case = case_of(&trip, beats, &moving, window);
    let judge = |pair: &Pair| judge_pair(pair, beats, threshold, &trip, window, case, want);
    match reduce(&sensed, beats) {
        Reduced::Steady(value) => {
            say(judge_steady(value, threshold, &trip, window), threshold, case)
        }
        Reduced::Pair(pair) => say(judge(&pair), threshold, case),
        // Nothing over the threshold at any moment: of more than three patterns the peak is bound enough.
        Reduced::Bounds(_) if moving.len() > 3 && sensed.iter().all(|amps| *amps <= threshold) => {
            let worst = sensed.iter().copied().fold(0.0, f64::max);
            let none = Judged { worst, share: 0.0, after: None, exact: worst <= 0.0 };
            say(none, threshold, case)
        }
        Reduced::Bounds(pairs) => {
            let mut all: Option<Judged> = None;
            let mut surely = false;
            // The time of a bound is itself only a bound: as soon as if the largest value lasted.
            let judge = |pair: &Pair| {
                let judged =
                    judge_pair(pair, beats, threshold, &trip, window, case, Want::WorstOnly);
                let most = judge_steady(pair.extremes().1, threshold, &trip, window);
                Judged { after: most.after.filter(|_| judged.worst > threshold), ..judged }
            };
            for (least, most) in &pairs {
                let upper = judge(most);
                let so_far = all.get_or_insert(upper);
                so_far.worst = so_far.worst.min(upper.worst);
                so_far.share = so_far.share.min(upper.share);
                so_far.after = match (so_far.after, upper.after) {
                    (Some(x), Some(y)) => Some(x.max(y)),
                    _ => None,
                };
                surely |= say(judge(least), threshold, case).trips == Trips::Yes;
            }
            let mut bound =
                all.unwrap_or(Judged { worst: 0.0, share: 0.0, after: None, exact: false });
            bound.exact = bound.worst <= 0.0;
            if surely {
                bound.share = 1.0;
            } else if case != PhaseCase::Sweeps {
                // An upper bound of all phases is not all phases.
                bound.share = bound.share.min(1.0 - 1e-6);
            }
            say(bound, threshold, case)
        }
    }
}

/// A trip without blanking, filter or samples that can be computed with looks at every moment.
fn usable(trip: &Trip) -> Trip {
    let at_once = Trip::Instant { blanking_s: 0.0 };
    match *trip {
        Trip::Instant { blanking_s } if blanking_s > 0.0 => *trip,
        Trip::Sampled { every_s, .. } if every_s > 0.0 && every_s.is_finite() => *trip,
        Trip::Averaged { tau_s } if tau_s > 0.0 && tau_s.is_finite() => *trip,
        Trip::Thermal { .. } => *trip,
        _ => at_once,
    }
}

fn case_of(trip: &Trip, beats: &[Beat], moving: &[Pattern], window: f64) -> PhaseCase {
    let finite = |w: f64| w.is_finite().then_some(w);
    match *trip {
        Trip::Instant { .. } => phase_case_of(moving, finite(window)),
        Trip::Averaged { tau_s } => {
            phase_case_of(moving, finite(window).map(|w| w.min(FORGETS * tau_s)))
        }
        // What sweeps past does not heat for long: the share of phases says at how many of them it acts.
        Trip::Thermal { .. } if moving.len() < 2 => PhaseCase::Known,
        Trip::Thermal { .. } => PhaseCase::Frozen,
        Trip::Sampled { every_s, in_a_row, locked } => {
            let sampler = Sampler::new(every_s, in_a_row, locked, beats);
            let mut all = moving.to_vec();
            if sampler.is_free(moving) {
                all.push(Pattern::idle(sampler.every));
            }
            phase_case_of(&all, finite(window))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::ClockId;
    use super::super::brute::pwm;
    use super::*;
    use approx::{assert_abs_diff_eq, assert_relative_eq};

    const INSTANT: Trip = Trip::Instant { blanking_s: 1e-3 };
    const AVERAGED: Trip = Trip::Averaged { tau_s: 10e-3 };
    const SAMPLED: Trip = Trip::Sampled { every_s: 2e-3, in_a_row: 3, locked: None };

    fn steady(amps: f64, kind: &Trip, window: Option<f64>) -> TripOutcome {
        trip(&[amps], &[Beat::steady(0), Beat::steady(4)], 3.0, kind, window)
    }

    #[test]
    fn a_constant_current() {
        let t = steady(8.0, &INSTANT, None);
        assert_eq!((t.trips, t.after_s, t.worst, t.exact), (Trips::Yes, Some(1e-3), 8.0, true));
        assert_eq!(steady(8.0, &INSTANT, Some(1e-3)).trips, Trips::No);
        assert_eq!(steady(3.0, &INSTANT, None).trips, Trips::No, "only beyond the threshold");

        let t = steady(8.0, &AVERAGED, None);
        let known = -10e-3 * (1.0_f64 - 3.0 / 8.0).ln();
        assert_relative_eq!(t.after_s.unwrap_or(0.0), known, max_relative = 1e-12);
        assert_eq!(steady(8.0, &AVERAGED, Some(0.99 * known)).trips, Trips::No);
        assert_eq!(steady(8.0, &AVERAGED, Some(1.01 * known)).trips, Trips::Yes);

        let t = steady(8.0, &SAMPLED, None);
        assert_eq!((t.trips, t.after_s), (Trips::Yes, Some(4e-3)));
        assert_eq!(steady(8.0, &SAMPLED, Some(3.9e-3)).trips, Trips::No);
        let t = steady(8.0, &SAMPLED, Some(5e-3));
        assert_eq!(t.trips, Trips::Sometimes);
        assert_abs_diff_eq!(t.share, 0.5, epsilon = 1e-9);
        assert_eq!(steady(8.0, &SAMPLED, Some(6e-3)).trips, Trips::Yes);
    }

    #[test]
    fn one_beat_under_a_short_straddle_trips_at_some_phases() {
        // 4 ms of 8 A in every 10 ms, 1 ms of blanking, 3 ms of straddle: it must meet more than 1 ms of it, so it starts
        // from 2 ms before the drive to 3 ms into it.
        let t = trip(&[8.0, 0.0], &[pwm(100.0, 0.4)], 3.0, &INSTANT, Some(3e-3));
        assert_eq!(t.trips, Trips::Sometimes);
        assert_abs_diff_eq!(t.share, 0.5, epsilon = 1e-9);
        assert_eq!(
            trip(&[8.0, 0.0], &[pwm(100.0, 0.4)], 3.0, &INSTANT, Some(9e-3)).trips,
            Trips::Yes
        );
    }

    #[test]
    fn blanking_hides_what_is_shorter() {
        // 8 A for 0.5 ms, then 4 A for 3 ms: with 1 ms of blanking only 4 A counts.
        let parts = [0.05, 0.3, 0.65].map(|share| super::super::Part { state: 0, share });
        let beats = [Beat::new(10e-3, parts, ClockId::default())];
        let worst = |ms: f64| {
            trip(&[8.0, 4.0, 0.0], &beats, 3.0, &Trip::Instant { blanking_s: ms * 1e-3 }, None)
                .worst
        };
        assert_eq!(worst(0.0), 8.0);
        assert_eq!(worst(0.4), 8.0);
        assert_eq!(worst(1.0), 4.0);
        assert_eq!(worst(3.6), 0.0);
    }

    #[test]
    fn a_locked_sampler_sees_only_its_own_moment() {
        // It looks in the middle of its own drive, when the neighbour fights or not: never at its own idle time.
        let beats = [pwm(500.0, 0.4), Beat::steady(1)];
        let at =
            |fraction| Trip::Sampled { every_s: 2e-3, in_a_row: 2, locked: Some((0, fraction)) };
        assert_eq!(trip(&[8.0, 0.0], &beats, 3.0, &at(0.2), None).trips, Trips::Yes);
        assert_eq!(trip(&[8.0, 0.0], &beats, 3.0, &at(0.7), None).trips, Trips::No);
        // A sampler of its own drifts through both.
        let free = Trip::Sampled { every_s: 2.3e-3, in_a_row: 2, locked: None };
        assert_eq!(trip(&[8.0, 0.0], &beats, 3.0, &free, None).trips, Trips::Yes);
    }

    #[test]
    fn an_averaging_meter_shows_a_tenth_of_what_trips() {
        let beats = [pwm(490.0, 0.1), Beat::steady(0)];
        let t = trip(&[8.0, 0.0], &beats, 3.0, &Trip::Instant { blanking_s: 0.0 }, None);
        let f = super::super::figures(&[8.0, 0.0], &super::super::shares(&beats));
        let m = super::super::meters(&f, t.worst);
        assert_eq!(t.trips, Trips::Yes);
        assert_relative_eq!(m.averaging / m.trip_sees, 0.1, max_relative = 1e-9);
    }

    #[test]
    fn clocks_that_sweep_trip_where_frozen_ones_do_so_at_times() {
        // Both must drive at once to pass the threshold.
        let amps = [4.0, 2.0, 2.0, 0.0];
        let beats = [pwm(100.0, 0.2), pwm(101.0, 0.2)];
        let kind = Trip::Instant { blanking_s: 0.5e-3 };
        let frozen = trip(&amps, &beats, 3.0, &kind, Some(0.1));
        assert_eq!(frozen.trips, Trips::Sometimes);
        assert!(frozen.share > 0.3 && frozen.share < 0.5, "{frozen:?}");
        assert_eq!(trip(&amps, &beats, 3.0, &kind, Some(1.5)).trips, Trips::Yes);
        assert_eq!(trip(&amps, &beats, 3.0, &kind, None).trips, Trips::Yes);
        // Never for longer than the shorter drive.
        let longer = Trip::Instant { blanking_s: 2.1e-3 };
        assert_eq!(trip(&amps, &beats, 3.0, &longer, None).trips, Trips::No);
    }
}
