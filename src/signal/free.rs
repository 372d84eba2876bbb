//! Phases that one may choose: patterns that are free against each other, and when all of them repeat.

use super::beat::{Beat, RATIO_EPS, patterns, whole_ratio};

/// Most periods of the fastest pattern until all of them repeat.
const MOST_CYCLES: f64 = 20_000.0;

/// A rigid pattern of one or several beats. Its phase against the other patterns is free.
#[derive(Debug, Clone, PartialEq)]
pub struct Free {
    /// Period, s.
    pub period_s: f64,
    /// Its beats, each with its delay against the pattern, s.
    pub members: Vec<(usize, f64)>,
}

/// The patterns that beats make together, those of known phases as one. Beats of one part are in none.
pub fn free(beats: &[Beat]) -> Vec<Free> {
    let moving = patterns(beats).moving.into_iter();
    moving.map(|pattern| Free { period_s: pattern.period, members: pattern.members }).collect()
}

/// The phase of each beat where each pattern is delayed by a fraction of its period; a missing fraction is 0.
pub fn phases(beats: &[Beat], free: &[Free], delays: &[f64]) -> Vec<f64> {
    let mut phases = vec![0.0; beats.len()];
    for (at, pattern) in free.iter().enumerate() {
        let delay = delays.get(at).copied().filter(|delay| delay.is_finite()).unwrap_or(0.0);
        for &(beat, own_s) in &pattern.members {
            let period_s = beats[beat].period();
            phases[beat] = ((delay * pattern.period_s + own_s) / period_s).rem_euclid(1.0);
        }
    }
    phases
}

/// Time after which all patterns repeat together, s. `None` without any pattern, and where they repeat only after more
/// than 20,000 periods of the fastest one or never.
pub fn repeats_after_s(free: &[Free]) -> Option<f64> {
    let fastest = free.iter().map(|pattern| pattern.period_s).reduce(f64::min)?;
    let mut together = fastest;
    for pattern in free {
        let ratio = whole_ratio(together, pattern.period_s, 40_000);
        together *= ratio.a as f64;
        if ratio.error > RATIO_EPS || together > MOST_CYCLES * fastest {
            return None;
        }
    }
    Some(together)
}

#[cfg(test)]
mod tests {
    use super::super::{ClockId, Part, waveform};
    use super::*;

    fn half(hz: f64, clock: ClockId) -> Beat {
        let part = |state| Part { state, share: 0.5 };
        Beat::new(1.0 / hz, [part(0), part(1)], clock)
    }

    #[test]
    fn beats_of_one_clock_are_one_pattern_and_keep_their_delay() {
        let at = |phase| ClockId { shared: Some(1), phase: Some(phase), tolerance: 0.0 };
        let beats = [
            half(100.0, at(0.0)),
            half(100.0, at(0.25)),
            Beat::steady(0),
            half(40.0, ClockId::default()),
        ];
        let free = free(&beats);
        assert_eq!(free.len(), 2);
        let phases = phases(&beats, &free, &[0.5, 0.1]);
        let apart = (phases[1] - phases[0]).rem_euclid(1.0);
        assert!((apart - 0.25).abs() < 1e-9, "{phases:?}");
        assert!((phases[3] - 0.1).abs() < 1e-9);
        // 100 and 40 Hz repeat after five and two periods.
        assert!(repeats_after_s(&free).is_some_and(|s| (s - 0.05).abs() < 1e-9));
    }

    #[test]
    fn after_the_time_of_repetition_the_waveform_is_the_same() {
        let beats = [half(490.0, ClockId::default()), half(125.0, ClockId::default())];
        let patterns = free(&beats);
        let again_s = repeats_after_s(&patterns).unwrap_or(f64::NAN);
        assert!((again_s - 0.2).abs() < 1e-9, "{again_s}");
        let phases = phases(&beats, &patterns, &[0.0, 0.3]);
        let one = waveform(&beats, &phases, 0.0, 0.01);
        let other = waveform(&beats, &phases, again_s, again_s + 0.01);
        assert_eq!(one.len(), other.len());
        for (a, b) in one.iter().zip(&other) {
            assert!(a.joint == b.joint && (b.from_s - a.from_s - again_s).abs() < 1e-9);
        }
    }

    #[test]
    fn what_never_repeats_says_so() {
        let odd = half(100.0 * std::f64::consts::SQRT_2, ClockId::default());
        assert_eq!(repeats_after_s(&free(&[half(100.0, ClockId::default()), odd])), None);
        assert_eq!(repeats_after_s(&free(&[Beat::steady(0)])), None);
    }
}
