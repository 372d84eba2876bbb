//! Trips that act on what lasts longer than a blanking time.

use super::outcome::Judged;
use crate::signal::filter::GAUSS_2;
use crate::signal::pair::{Cycle, Pair};
use crate::signal::phase::PhaseCase;
use crate::signal::sampled::covered;

pub(super) fn judge_instant(
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
    Judged { share, exact: pair.exact() && !pair.thinned(), ..alone }
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
