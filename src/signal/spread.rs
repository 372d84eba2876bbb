//! Between what means over a window lie, when phases are frozen.

use super::beat::{Beat, patterns};
use super::figures::shares;
use super::filter::Sums;
use super::pair::{Pair, Reduced, reduce};
use super::phase::{PhaseCase, phase_case_of};
use super::runs::window_of;
use super::stand_in::Weight;

/// The least and the largest that a mean can be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Least.
    pub min: f64,
    /// Largest.
    pub max: f64,
    /// Whether both are attained; else they are bounds.
    pub exact: bool,
}

/// Between what the mean of a value (one per joint state) over a window lies. Sweeping phases, or for ever with known
/// ones: the long-run mean. Frozen phases: over all relative phases, in the long run of a fixed phase if the window is
/// for ever (none), else within a window of so many seconds that starts at any phase.
pub fn mean_spread(values: &[f64], beats: &[Beat], window_s: Option<f64>) -> Spread {
    let long_run = || {
        let mean = values.iter().zip(shares(beats)).map(|(v, s)| v * s).sum();
        Spread { min: mean, max: mean, exact: true }
    };
    let case = phase_case_of(&patterns(beats).moving, window_s);
    let window = window_of(window_s);
    if case == PhaseCase::Sweeps || (case == PhaseCase::Known && window.is_infinite()) {
        return long_run();
    }
    match reduce(values, beats) {
        Reduced::Steady(v) => Spread { min: v, max: v, exact: true },
        Reduced::Pair(pair) => pair.mean_spread(window),
        Reduced::Bounds(pairs) => {
            let mut out = Spread { min: f64::NEG_INFINITY, max: f64::INFINITY, exact: false };
            for (least, most) in pairs {
                out.min = out.min.max(least.mean_spread(window).min);
                out.max = out.max.min(most.mean_spread(window).max);
            }
            out
        }
    }
}

/// Between what the share of time of a set of joint states lies; see [`mean_spread`].
pub fn share_spread(over: &[bool], beats: &[Beat], window_s: Option<f64>) -> Spread {
    let values: Vec<f64> = over.iter().map(|o| f64::from(u8::from(*o))).collect();
    let s = mean_spread(&values, beats, window_s);
    Spread { min: s.min.clamp(0.0, 1.0), max: s.max.clamp(0.0, 1.0), exact: s.exact }
}

/// Between what the RMS of a current (one value per joint state) lies; see [`mean_spread`].
pub fn rms_spread(amps: &[f64], beats: &[Beat], window_s: Option<f64>) -> Spread {
    let squares: Vec<f64> = amps.iter().map(|i| i * i).collect();
    let s = mean_spread(&squares, beats, window_s);
    Spread { min: s.min.max(0.0).sqrt(), max: s.max.max(0.0).sqrt(), exact: s.exact }
}

impl Pair {
    fn mean_spread(&self, window: f64) -> Spread {
        let (least, most) = self.extremes();
        let exact = self.exact() && !self.thinned();
        let mut out = Spread { min: f64::INFINITY, max: f64::NEG_INFINITY, exact };
        if window <= 0.0 {
            return Spread { min: least, max: most, exact: true };
        }
        let lags = [0.0, window, -window];
        let lags = if window.is_finite() { &lags[..] } else { &lags[..1] };
        let looks = self.looks(lags);
        for phase in looks.phases {
            let cycle = self.cycle(phase);
            let sums = Sums::of(&cycle);
            let (low, high) = if window.is_finite() {
                sums.window_means(window)
            } else {
                let mean = sums.total / cycle.period;
                (mean, mean)
            };
            out.min = out.min.min(low);
            out.max = out.max.max(high);
        }
        let weight = Weight::Window(window);
        let off = self.off(weight) + self.drift(weight, looks.apart);
        out.min = (out.min - off).max(least);
        out.max = (out.max + off).min(most);
        out
    }
}

#[cfg(test)]
mod tests {
    use super::super::brute::{one_clock, pwm};
    use super::*;
    use approx::assert_abs_diff_eq;

    const CONFLICT: [bool; 4] = [false, true, true, false];

    #[test]
    fn one_clock_of_unknown_phase() {
        // 0.4 and 0.8 of one period: at best one lies in the other, at worst they overlap by 0.2 only.
        let beats = one_clock([pwm(100.0, 0.4), pwm(100.0, 0.8)]);
        let s = share_spread(&CONFLICT, &beats, None);
        assert_abs_diff_eq!(s.min, 0.4, epsilon = 1e-9);
        assert_abs_diff_eq!(s.max, 0.8, epsilon = 1e-9);
        assert!(s.exact);
        let rms = rms_spread(&[0.0, 5.0, -5.0, 0.0], &beats, None);
        assert_abs_diff_eq!(rms.min, 5.0 * 0.4_f64.sqrt(), epsilon = 1e-9);
        assert_abs_diff_eq!(rms.max, 5.0 * 0.8_f64.sqrt(), epsilon = 1e-9);
    }

    #[test]
    fn sweeping_clocks_have_one_share() {
        let s = share_spread(&CONFLICT, &[pwm(490.0, 0.4), pwm(125.0, 0.8)], None);
        assert_abs_diff_eq!(s.min, 0.56, epsilon = 1e-12);
        assert_eq!(s.min, s.max);
    }

    #[test]
    fn a_window_shorter_than_a_drive() {
        let s = share_spread(&CONFLICT, &[pwm(490.0, 0.4), pwm(125.0, 0.8)], Some(1e-4));
        assert_eq!((s.min, s.max), (0.0, 1.0));
    }
}
