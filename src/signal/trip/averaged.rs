//! Trips that act on the output of a first-order filter.

use super::outcome::{Judged, Want};
use crate::signal::filter::{Filtered, GAUSS_3};
use crate::signal::pair::{MANY_EDGES, Pair};
use crate::signal::phase::PhaseCase;

/// Time constants after which a filter has forgotten where it came from (6 parts in a million).
pub(super) const FORGETS: f64 = 12.0;

pub(super) fn judge_averaged(
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
    let mut exact = pair.exact() && !pair.thinned();
    if worst <= threshold {
        return Judged { worst, share: 0.0, after: None, exact };
    }
    if want == Want::WorstOnly {
        return Judged { worst, share: 1.0, after: None, exact };
    }
    let after = (want == Want::Everything).then(|| first_crossing(pair, threshold, tau, span));
    let always = case == PhaseCase::Sweeps || (case == PhaseCase::Known && window.is_infinite());
    let share = if always || pair.filter_surely_passes(threshold, tau, window) {
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
            exact &= pair.single;
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
