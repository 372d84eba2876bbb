//! Figures of a current as ranges, where a phase that nobody knows is frozen.

use super::beat::Beat;
use super::phase::{PhaseCase, phase_case};
use super::spread::{Spread, mean_spread, rms_spread};

/// What a current can amount to over a phase that nobody knows. A.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FiguresRange {
    /// Signed mean.
    pub mean: Spread,
    /// Mean of the magnitude.
    pub mean_abs: Spread,
    /// Root of the mean square.
    pub rms: Spread,
}

/// The figures of a current (one value per joint state, A) from least to largest over a frozen phase, in a window of so
/// many seconds (`None` is unlimited). `None` if no phase is frozen: [`figures`](super::figures) are then the figures.
pub fn figures_range(amps: &[f64], beats: &[Beat], window_s: Option<f64>) -> Option<FiguresRange> {
    (phase_case(beats, window_s) == PhaseCase::Frozen).then(|| {
        let magnitudes: Vec<f64> = amps.iter().map(|amps| amps.abs()).collect();
        FiguresRange {
            mean: mean_spread(amps, beats, window_s),
            mean_abs: mean_spread(&magnitudes, beats, window_s),
            rms: rms_spread(amps, beats, window_s),
        }
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::brute::{one_clock, pwm};
    use super::super::{figures, shares, waveform};
    use super::*;

    #[test]
    fn figures_of_one_clock_against_a_scan_of_the_phase() {
        for (hz_a, d_a, hz_b, d_b) in
            [(100.0, 0.4, 100.0, 0.8), (300.0, 0.3, 100.0, 0.55), (200.0, 0.5, 200.0, 0.5)]
        {
            let beats = one_clock([pwm(hz_a, d_a), pwm(hz_b, d_b)]);
            let amps = [1.0, 8.0, -5.0, 0.0];
            let found = figures_range(&amps, &beats, None).unwrap();
            let mut scanned = [[f64::INFINITY, f64::NEG_INFINITY]; 3];
            for k in 0..2000 {
                let whole = 1.0 / hz_b;
                let wave = waveform(&beats, &[0.0, f64::from(k) / 2000.0], 0.0, whole);
                let mean = |f: &dyn Fn(f64) -> f64| -> f64 {
                    wave.iter().map(|s| f(amps[s.joint]) * (s.to_s - s.from_s)).sum::<f64>() / whole
                };
                let now = [mean(&|i| i), mean(&f64::abs), mean(&|i| i * i).sqrt()];
                for (range, value) in scanned.iter_mut().zip(now) {
                    *range = [range[0].min(value), range[1].max(value)];
                }
            }
            for (spread, [least, most]) in
                [found.mean, found.mean_abs, found.rms].into_iter().zip(scanned)
            {
                assert!((spread.min - least).abs() < 0.02, "{spread:?} {least} {most}");
                assert!((spread.max - most).abs() < 0.02, "{spread:?} {least} {most}");
            }
            // The one mean that the shares give lies between.
            let middle = figures(&amps, &shares(&beats));
            assert!(found.mean.min <= middle.mean && middle.mean <= found.mean.max);
        }
    }

    #[test]
    fn free_clocks_that_drift_have_one_figure() {
        assert_eq!(figures_range(&[0.0; 4], &[pwm(490.0, 0.4), pwm(125.0, 0.8)], None), None);
    }
}
