//! Whether a trip acts, at which phases, when, and on what.

use super::beat::{Beat, Pattern, patterns};
use super::filter::{Filtered, GAUSS_2, GAUSS_3};
use super::pair::{Cycle, Pair, Reduced, reduce};
use super::phase::{PhaseCase, phase_case_of};
use super::runs::window_of;
use super::sampled::{Sampler, covered, judge};
use super::thermal::{Curve, Warmed};

/// Time constants after which a filter has forgotten where it came from (6 parts in a million).
const FORGETS: f64 = 12.0;
/// Edges in the common cycle above which the share of phases of an averaged trip is taken more coarsely.
pub(crate) const MANY_EDGES: u64 = 400;

/// How a trip judges what it senses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Trip {
    /// Over the threshold for longer than a blanking time.
    Instant {
        /// Blanking time, s.
        blanking_s: f64,
    },
    /// Over the threshold in several samples in a row.
    Sampled {
        /// Time between samples, s.
        every_s: f64,
        /// How many in a row.
        in_a_row: u32,
        /// If locked to a beat: its index, and at which fraction of its period it looks. `every_s` is then rounded to
        /// whole periods. A beat that never changes locks nothing.
        locked: Option<(usize, f64)>,
    },
    /// The output of a first-order filter over the threshold.
    Averaged {
        /// Time constant, s.
        tau_s: f64,
    },
    /// By heat, along a time–current curve whose first point is at the threshold. See the `thermal` room's rule: exact for
    /// a constant current, else it errs towards acting.
    Thermal {
        /// The curve.
        curve: Curve,
    },
}

/// Whether a trip acts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Trips {
    /// At no phase.
    #[default]
    No,
    /// At some phases only.
    Sometimes,
    /// At every phase, or the phases sweep through one at which it does.
    Yes,
}

/// What a trip does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TripOutcome {
    /// Whether it acts.
    pub trips: Trips,
    /// Share of phases in which it does; 1 if the phases sweep through one in which it does. Where not exact, it counts
    /// the first few hundred samples only, or takes the mean over relative phases coarsely.
    pub share: f64,
    /// Time from the start of the straddle until it acts, at the phase at which that is soonest, s; if it acts at all.
    pub after_s: Option<f64>,
    /// What is compared with the threshold at the worst phase: the largest value exceeded or held for longer than the
    /// blanking; the largest that so many samples in a row reach; the largest output of the filter; the constant current
    /// that, held for ever, would come as near to making a thermal trip act. A.
    pub worst: f64,
    /// Whether `worst`, `share` and `after_s` are exact. Else `worst` is an upper bound and `after_s` a lower one.
    pub exact: bool,
}

/// What one pair says, before it is put in words.
#[derive(Debug, Clone, Copy)]
struct Judged {
    worst: f64,
    share: f64,
    after: Option<f64>,
    exact: bool,
}

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

/// How much of the answer about an averaged trip is wanted: the worst value is cheap, the share of phases dearer, the
/// time dearest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Want {
    Everything,
    NoTime,
    WorstOnly,
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

fn say(judged: Judged, threshold: f64, case: PhaseCase) -> TripOutcome {
    let Judged { worst, share, after, exact } = judged;
    if worst <= threshold {
        return TripOutcome { trips: Trips::No, share: 0.0, after_s: None, worst, exact };
    }
    let every = case == PhaseCase::Sweeps || share >= 1.0 - 1e-9;
    TripOutcome {
        trips: if every { Trips::Yes } else { Trips::Sometimes },
        share: if every { 1.0 } else { share },
        after_s: after,
        worst,
        exact,
    }
}

fn judge_steady(value: f64, threshold: f64, trip: &Trip, window: f64) -> Judged {
    let over = value > threshold;
    let (worst, share, after) = match *trip {
        Trip::Instant { blanking_s } => {
            let worst = if window > blanking_s { value } else { 0.0 };
            (worst, 1.0, blanking_s)
        }
        Trip::Sampled { every_s, in_a_row, .. } => {
            let after = (f64::from(in_a_row.max(1)) - 1.0) * every_s;
            let worst = if window > after { value } else { 0.0 };
            (worst, ((window - after) / every_s).clamp(0.0, 1.0), after)
        }
        Trip::Averaged { tau_s } => {
            let worst = value * -(-window / tau_s).exp_m1();
            let after = if over { -tau_s * (-threshold / value).ln_1p() } else { 0.0 };
            (worst, 1.0, after)
        }
        Trip::Thermal { curve } => {
            (value / curve.multiple(window), 1.0, curve.seconds(value / threshold).unwrap_or(0.0))
        }
    };
    Judged { worst, share, after: (worst > threshold).then_some(after), exact: true }
}

fn judge_pair(
    pair: &Pair,
    beats: &[Beat],
    threshold: f64,
    trip: &Trip,
    window: f64,
    case: PhaseCase,
    want: Want,
) -> Judged {
    let (least, most) = pair.extremes();
    if least == most {
        return judge_steady(most, threshold, trip, window);
    }
    match *trip {
        Trip::Instant { blanking_s } => judge_instant(pair, threshold, blanking_s, window, case),
        Trip::Averaged { tau_s } => judge_averaged(pair, threshold, tau_s, window, case, want),
        Trip::Thermal { curve } => {
            let warmed = Warmed::of(pair, &curve, threshold, window);
            let share = match want {
                Want::WorstOnly => 1.0,
                _ if warmed.worst <= threshold => 0.0,
                _ => warmed.share(&curve, threshold, window),
            };
            Judged { worst: warmed.worst, share, after: warmed.after, exact: false }
        }
        Trip::Sampled { every_s, in_a_row, locked } => {
            let sampler = Sampler::new(every_s, in_a_row, locked, beats);
            let found = judge(pair, &sampler, threshold, window, case == PhaseCase::Frozen);
            let after = (sampler.in_a_row as f64 - 1.0) * sampler.every;
            Judged {
                worst: found.worst,
                share: found.share,
                after: (found.worst > threshold).then_some(after),
                exact: found.exact,
            }
        }
    }
}

fn judge_instant(
    pair: &Pair,
    threshold: f64,
    blanking: f64,
    window: f64,
    case: PhaseCase,
) -> Judged {
    let eps = if blanking > 0.0 { pair.eps() } else { 0.0 };
    let lasts = |level: f64| pair.longest_above(level, window).min(window) > blanking + eps;
    let levels = pair.levels();
    let worst = (0..levels.len())
        .rev()
        .find(|&k| lasts(if k == 0 { f64::NEG_INFINITY } else { levels[k - 1] }))
        .map_or(0.0, |k| levels[k]);
    if worst <= threshold {
        return Judged { worst, share: 0.0, after: None, exact: true };
    }
    let alone = Judged { worst, share: 1.0, after: Some(blanking), exact: true };
    if case == PhaseCase::Sweeps || (case == PhaseCase::Known && window.is_infinite()) {
        return alone;
    }
    let mut lags = vec![0.0, blanking, -blanking];
    if window.is_finite() {
        lags.extend([window - 2.0 * blanking, 2.0 * blanking - window]);
    }
    let share = pair.mean_over_phases(&lags, &GAUSS_2, |phase| {
        run_share(&pair.cycle(phase), threshold, blanking, window)
    });
    Judged { share, exact: pair.exact(), ..alone }
}

/// Share of the starts of a window that meet more than the blanking time of a run.
fn run_share(cycle: &Cycle, threshold: f64, blanking: f64, window: f64) -> f64 {
    let Some(runs) = cycle.runs_above(threshold) else { return 1.0 };
    let mut long = runs.iter().filter(|(from, to)| to - from > blanking).peekable();
    if window.is_infinite() {
        return f64::from(u8::from(long.peek().is_some()));
    }
    let starts: Vec<(f64, f64)> =
        long.map(|(from, to)| (from + blanking - window, to - blanking)).collect();
    covered(&starts, cycle.period) / cycle.period
}

fn judge_averaged(
    pair: &Pair,
    threshold: f64,
    tau: f64,
    window: f64,
    case: PhaseCase,
    want: Want,
) -> Judged {
    // What is further back than the filter remembers is as good as for ever.
    let span = if window < FORGETS * tau { window } else { f64::INFINITY };
    let worst = if span > 0.0 { pair.filter_largest(tau, span) } else { 0.0 };
    let mut exact = pair.exact();
    if worst <= threshold {
        return Judged { worst, share: 0.0, after: None, exact };
    }
    if want == Want::WorstOnly {
        return Judged { worst, share: 1.0, after: None, exact };
    }
    let after = (want == Want::Everything).then(|| first_crossing(pair, threshold, tau, span));
    let share = if case == PhaseCase::Sweeps || (case == PhaseCase::Known && window.is_infinite()) {
        1.0
    } else if window >= FORGETS * tau + pair.period() {
        pair.filter_share_standing(threshold, tau)
    } else {
        let share =
            |phase: f64| Filtered::of(&pair.cycle(phase), tau).share_over(threshold, window);
        if pair.edges() <= MANY_EDGES {
            pair.mean_over_phases(&[0.0, window, -window], &GAUSS_3, share)
        } else {
            // In so long a cycle nearly every relative phase comes by: one look between coincidences does.
            exact = pair.single;
            pair.mean_over_phases(&[0.0], &[(0.5, 1.0)], share)
        }
    };
    Judged { worst, share, after, exact }
}

/// The soonest, over all phases, that a filter from zero passes the threshold, if it does within `span`.
fn first_crossing(pair: &Pair, threshold: f64, tau: f64, span: f64) -> f64 {
    let levels = pair.levels();
    let Some(&most) = levels.last() else { return 0.0 };
    let soonest = -tau * (-threshold / most).ln_1p();
    let below = levels.iter().rev().nth(1).copied().unwrap_or(f64::NEG_INFINITY);
    if pair.longest_above(below, f64::INFINITY) >= soonest {
        return soonest;
    }
    // The largest output rises with the time it has had: close in on the crossing from both sides.
    let (mut low, mut high) = (soonest, if span.is_finite() { span } else { FORGETS * tau });
    let off = |t: f64| pair.filter_largest(tau, t) - threshold;
    let (mut y_low, mut y_high) = (off(low), off(high));
    if y_low > 0.0 {
        return low;
    }
    // False position, halving the weight of an end that stays put. A millionth of the time is close enough.
    let mut side = 0;
    for _ in 0..100 {
        if high - low <= 1e-6 * high || y_high <= 1e-12 * threshold {
            break;
        }
        let guess = (low * y_high - high * y_low) / (y_high - y_low);
        // Step over the crossing once it is close, so that the interval closes from both sides.
        let nudge = 4e-7 * high;
        let guess = if side == 1 { guess - nudge } else { guess + nudge };
        let guess = guess.clamp(low + 0.25 * nudge, high - 0.25 * nudge);
        let y = off(guess);
        if y > 0.0 {
            (high, y_high) = (guess, y);
            if side == 1 {
                y_low *= 0.5;
            }
            side = 1;
        } else {
            (low, y_low) = (guess, y);
            if side == -1 {
                y_high *= 0.5;
            }
            side = -1;
        }
    }
    high
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
