//! Whether clocks drift through each other while a window lasts.

use super::beat::{Beat, Pattern, RATIO_EPS, patterns, whole_ratio};

/// Ratios `p : q` of frequencies with `p * q` up to this can freeze.
const MOST_PRODUCT: u64 = 25;

/// How phases stand to each other while a window lasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PhaseCase {
    /// They drift through every relation within the window.
    Sweeps,
    /// Some two keep one unknown relation through the window.
    Frozen,
    /// There is at most one pattern: nothing to drift.
    Known,
}

/// How the phases of beats stand to each other during a window of so many seconds; none is for ever.
///
/// Frozen if for some two patterns and some coprime `p * q` up to 25, `|q * f_A - p * f_B| * T < 1` is possible within
/// the tolerances of the clocks. For ever, only beats of one clock stay frozen.
pub fn phase_case(beats: &[Beat], window_s: Option<f64>) -> PhaseCase {
    phase_case_of(&patterns(beats).moving, window_s)
}

pub(crate) fn phase_case_of(moving: &[Pattern], window_s: Option<f64>) -> PhaseCase {
    if moving.len() < 2 {
        return PhaseCase::Known;
    }
    let frozen = moving
        .iter()
        .enumerate()
        .any(|(i, a)| moving[i + 1..].iter().any(|b| frozen(a, b, window_s)));
    if frozen { PhaseCase::Frozen } else { PhaseCase::Sweeps }
}

fn frozen(a: &Pattern, b: &Pattern, window_s: Option<f64>) -> bool {
    let one_clock = a.shared.is_some() && a.shared == b.shared;
    if one_clock {
        let ratio = whole_ratio(a.period, b.period, 2 * MOST_PRODUCT);
        if ratio.a * ratio.b <= MOST_PRODUCT && ratio.error <= RATIO_EPS {
            return true;
        }
    }
    let Some(window) = window_s else { return false };
    let (fa, fb) = (1.0 / a.period, 1.0 / b.period);
    let off = |p: &Pattern| if one_clock { 0.0 } else { p.tolerance };
    for q in 1..=MOST_PRODUCT {
        for p in 1..=MOST_PRODUCT / q {
            if gcd(p, q) != 1 {
                continue;
            }
            let (qa, pb) = (q as f64 * fa, p as f64 * fb);
            let least = ((qa - pb).abs() - qa * off(a) - pb * off(b)).max(0.0);
            if least * window < 1.0 {
                return true;
            }
        }
    }
    false
}

fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::super::{ClockId, Part};
    use super::*;

    fn half(hz: f64, clock: ClockId) -> Beat {
        let part = |state| Part { state, share: 0.5 };
        Beat::new(1.0 / hz, [part(0), part(1)], clock)
    }

    #[test]
    fn near_frequencies_freeze_in_a_short_window() {
        let free = ClockId::default();
        let pair = [half(100.0, free), half(101.0, free)];
        assert_eq!(phase_case(&pair, Some(0.9)), PhaseCase::Frozen);
        assert_eq!(phase_case(&pair, Some(1.1)), PhaseCase::Sweeps);
        assert_eq!(phase_case(&pair, None), PhaseCase::Sweeps);
    }

    #[test]
    fn near_small_ratios_freeze_too() {
        // 490 is near 4 times 125: 10 Hz apart.
        let free = ClockId::default();
        let pair = [half(490.0, free), half(125.0, free)];
        assert_eq!(phase_case(&pair, Some(0.09)), PhaseCase::Frozen);
        assert_eq!(phase_case(&pair, Some(0.11)), PhaseCase::Sweeps);
    }

    #[test]
    fn tolerance_may_freeze_what_is_apart() {
        let loose = ClockId { tolerance: 0.02, ..ClockId::default() };
        let pair = [half(490.0, loose), half(125.0, loose)];
        assert_eq!(phase_case(&pair, Some(10.0)), PhaseCase::Frozen);
    }

    #[test]
    fn one_clock_stays_frozen_for_ever_or_is_known() {
        let at = |phase| ClockId { shared: Some(4), phase, tolerance: 0.1 };
        let unknown = [half(100.0, at(Some(0.0))), half(100.0, at(None))];
        assert_eq!(phase_case(&unknown, None), PhaseCase::Frozen);
        let known = [half(100.0, at(Some(0.0))), half(50.0, at(Some(0.3)))];
        assert_eq!(phase_case(&known, None), PhaseCase::Known);
        assert_eq!(
            phase_case(&[half(1.0, at(None)), Beat::steady(0)], Some(1.0)),
            PhaseCase::Known
        );
    }
}
