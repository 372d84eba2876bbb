//! Shares of the joint states, and the figures of a current over them.

use super::beat::{Beat, Joint, patterns};
use super::range::FiguresRange;

/// Share of time of each joint state in the long run, adding up to 1.
///
/// Beats of one clock with known phases overlap exactly as they lie; all others are independent, or have the mean over
/// a uniform unknown phase, which is the same: their shares multiply.
pub fn shares(beats: &[Beat]) -> Vec<f64> {
    let patterns = patterns(beats);
    let mut filled = vec![(patterns.base, 1.0)];
    for pattern in &patterns.moving {
        filled = filled
            .iter()
            .flat_map(|&(joint, share)| {
                pattern.shares().map(move |(more, offset)| (joint + offset, share * more))
            })
            .collect();
        // Pieces of a rigid pattern repeat joint states: gather, or the list grows with the pattern.
        filled.sort_by_key(|f| f.0);
        filled.dedup_by(|next, kept| {
            let same = next.0 == kept.0;
            if same {
                kept.1 += next.1;
            }
            same
        });
    }
    let mut shares = vec![0.0; Joint::of(beats).count()];
    for (joint, share) in filled {
        shares[joint] += share;
    }
    shares
}

/// What a current amounts to over time. A.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Figures {
    /// Largest magnitude.
    pub peak: f64,
    /// Signed mean.
    pub mean: f64,
    /// Mean of the magnitude.
    pub mean_abs: f64,
    /// Root of the mean square.
    pub rms: f64,
    /// Least and largest over a frozen phase, where that was asked for.
    pub range: Option<FiguresRange>,
}

/// Figures of a current from its value in each joint state, A, and the shares of those states. A state without a share
/// counts nowhere.
pub fn figures(amps: &[f64], shares: &[f64]) -> Figures {
    let mut f = Figures::default();
    let mut square = 0.0;
    for (&i, &share) in amps.iter().zip(shares).filter(|(_, share)| **share > 0.0) {
        f.peak = f.peak.max(i.abs());
        f.mean += share * i;
        f.mean_abs += share * i.abs();
        square += share * i * i;
    }
    f.rms = square.sqrt();
    f
}

/// What different instruments make of one current. A.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Meters {
    /// What the trip compares with its threshold at the worst phase.
    pub trip_sees: f64,
    /// What an averaging meter shows: the signed mean.
    pub averaging: f64,
    /// What a true-RMS meter shows.
    pub true_rms: f64,
}

/// What meters show of a current, beside what its trip sees.
pub fn meters(figures: &Figures, trip_sees: f64) -> Meters {
    Meters { trip_sees, averaging: figures.mean, true_rms: figures.rms }
}

#[cfg(test)]
mod tests {
    use super::super::{ClockId, Part};
    use super::*;
    use approx::assert_abs_diff_eq;

    fn pwm(hz: f64, d: f64, clock: ClockId) -> Beat {
        let parts = [Part { state: 0, share: d }, Part { state: 1, share: 1.0 - d }];
        Beat::new(1.0 / hz, parts, clock)
    }

    fn clock(shared: u32, phase: Option<f64>) -> ClockId {
        ClockId { shared: Some(shared), phase, tolerance: 0.0 }
    }

    #[test]
    fn independent_clocks_multiply() {
        let free = ClockId::default();
        let s = shares(&[pwm(490.0, 0.4, free), pwm(125.0, 0.8, free)]);
        for (got, want) in s.iter().zip([0.32, 0.08, 0.48, 0.12]) {
            assert_abs_diff_eq!(*got, want, epsilon = 1e-12);
        }
        assert_abs_diff_eq!(s[1] + s[2], 0.56, epsilon = 1e-12);
    }

    #[test]
    fn worked_example_of_two_clamping_bridges() {
        // Two bridges into one loop: when A drives against B's clamp its supply, its P and B's legs carry i; when B
        // drives, A's P takes the same current back.
        let i = 8.0925;
        let free = ClockId::default();
        let s = shares(&[pwm(490.0, 0.4, free), pwm(125.0, 0.8, free)]);
        let a_supply = figures(&[0.0, i, 0.0, 0.0], &s);
        assert_abs_diff_eq!(a_supply.mean, 0.6474, epsilon = 5e-4);
        assert_abs_diff_eq!(a_supply.rms, 2.289, epsilon = 5e-4);
        let a_p = figures(&[0.0, i, -i, 0.0], &s);
        assert_abs_diff_eq!(a_p.mean, -3.237, epsilon = 5e-4);
        assert_abs_diff_eq!(a_p.mean_abs, 4.532, epsilon = 5e-4);
        assert_abs_diff_eq!(a_p.rms, 6.056, epsilon = 5e-4);
        let b_supply = figures(&[0.0, 0.0, i, 0.0], &s);
        assert_abs_diff_eq!(b_supply.mean, 3.884, epsilon = 5e-4);
        assert_abs_diff_eq!(b_supply.rms, 5.607, epsilon = 1e-3);
    }

    #[test]
    fn one_clock_overlaps_as_it_lies() {
        // In step: the shorter drive lies within the longer one.
        let s =
            shares(&[pwm(100.0, 0.4, clock(1, Some(0.0))), pwm(100.0, 0.8, clock(1, Some(0.0)))]);
        for (got, want) in s.iter().zip([0.4, 0.0, 0.4, 0.2]) {
            assert_abs_diff_eq!(*got, want, epsilon = 1e-12);
        }
        // B half a period late drives over 0.5 to 1.3, that is all but 0.3 to 0.5; A over 0 to 0.4.
        let s =
            shares(&[pwm(100.0, 0.4, clock(1, Some(0.0))), pwm(100.0, 0.8, clock(1, Some(0.5)))]);
        for (got, want) in s.iter().zip([0.3, 0.1, 0.5, 0.1]) {
            assert_abs_diff_eq!(*got, want, epsilon = 1e-12);
        }
    }

    #[test]
    fn one_clock_of_unknown_phase_is_the_mean_over_phases() {
        let s = shares(&[pwm(100.0, 0.4, clock(1, Some(0.0))), pwm(100.0, 0.8, clock(1, None))]);
        assert_abs_diff_eq!(s[0], 0.32, epsilon = 1e-12);
    }

    #[test]
    fn one_clock_divided_by_three() {
        // A at 300, B at 100, both from 0: A is on in 0-1/6, 2/6-3/6, 4/6-5/6; B on in 0-1/2.
        let s =
            shares(&[pwm(300.0, 0.5, clock(1, Some(0.0))), pwm(100.0, 0.5, clock(1, Some(0.0)))]);
        for (got, want) in s.iter().zip([2.0 / 6.0, 1.0 / 6.0, 1.0 / 6.0, 2.0 / 6.0]) {
            assert_abs_diff_eq!(*got, want, epsilon = 1e-9);
        }
    }

    #[test]
    fn groups_of_one_clock_multiply_with_others() {
        let s = shares(&[
            pwm(100.0, 0.4, clock(1, Some(0.2))),
            pwm(40.0, 0.25, ClockId::default()),
            pwm(100.0, 0.4, clock(1, Some(0.2))),
            Beat::steady(0),
        ]);
        // A and C are never apart.
        let joint = Joint::of(&[
            pwm(1.0, 0.4, ClockId::default()),
            pwm(1.0, 0.4, ClockId::default()),
            pwm(1.0, 0.4, ClockId::default()),
        ]);
        assert_abs_diff_eq!(s[joint.encode(&[0, 0, 0])], 0.4 * 0.25, epsilon = 1e-12);
        assert_abs_diff_eq!(s[joint.encode(&[1, 1, 1])], 0.6 * 0.75, epsilon = 1e-12);
        assert_abs_diff_eq!(s[joint.encode(&[0, 0, 1])], 0.0, epsilon = 1e-12);
    }

    #[test]
    fn a_state_without_share_has_no_peak() {
        assert_eq!(figures(&[100.0, -2.0], &[0.0, 1.0]).peak, 2.0);
    }
}
