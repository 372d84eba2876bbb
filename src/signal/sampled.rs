//! A trip that looks from time to time, by exact intersection of stretches on the phase circles.

use super::beat::{Beat, Pattern};
use super::pair::Pair;

/// Most comparisons of samples in one judgement.
const MOST_WORK: usize = 3_000_000;

/// Phases of a pattern at the first sample that see the same pieces in all samples.
struct Arc {
    /// From, to, as fractions of the period; equal if the phase is one of a few.
    from: f64,
    to: f64,
    /// Probability.
    share: f64,
    /// The piece that each sample sees.
    pieces: Vec<usize>,
}

/// When samples are taken.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sampler {
    /// Time between samples, s.
    pub every: f64,
    /// How many in a row must be over.
    pub in_a_row: usize,
    /// Its own beat, that beat's period, s, and where in it it looks, as a fraction.
    pub own: Option<(usize, f64, f64)>,
}

impl Sampler {
    /// A sampler as stated, locked only if its own beat is one that changes.
    pub fn new(every_s: f64, in_a_row: u32, locked: Option<(usize, f64)>, beats: &[Beat]) -> Self {
        let own = locked.and_then(|(index, fraction)| {
            let beat = beats.get(index).filter(|b| !b.is_steady())?;
            let fraction = if fraction.is_finite() { fraction.rem_euclid(1.0) } else { 0.0 };
            Some((index, beat.period(), fraction))
        });
        // A locked sampler looks every so many periods of its own.
        let every =
            own.map_or(every_s, |(_, period, _)| period * (every_s / period).round().max(1.0));
        Self { every, in_a_row: in_a_row.max(1) as usize, own }
    }

    /// Whether its samples drift against a pattern or a pair.
    pub fn is_free(&self, patterns: &[Pattern]) -> bool {
        !patterns.iter().any(|p| self.delay_in(p).is_some())
    }

    fn delay_in(&self, pattern: &Pattern) -> Option<(f64, f64, f64)> {
        let (own, period, fraction) = self.own?;
        let delay = pattern.members.iter().find(|m| m.0 == own)?.1;
        Some((delay, period, fraction))
    }

    fn arcs(&self, pattern: &Pattern, samples: usize) -> Vec<Arc> {
        let step = self.every / pattern.period;
        let see = |phase: f64| -> Vec<usize> {
            (0..samples).map(|k| piece_at(pattern, phase + k as f64 * step)).collect()
        };
        if let Some((delay, period, fraction)) = self.delay_in(pattern) {
            let cycles = (pattern.period / period).round().max(1.0);
            return (0..cycles as usize)
                .map(|j| {
                    let at = (delay + (fraction + j as f64) * period) / pattern.period;
                    let at = at.rem_euclid(1.0);
                    Arc { from: at, to: at, share: 1.0 / cycles, pieces: see(at) }
                })
                .collect();
        }
        if pattern.pieces.len() == 1 {
            return vec![Arc { from: 0.0, to: 1.0, share: 1.0, pieces: vec![0; samples] }];
        }
        let mut marks: Vec<f64> = pattern
            .pieces
            .iter()
            .flat_map(|p| (0..samples).map(move |k| (p.0 - k as f64 * step).rem_euclid(1.0)))
            .collect();
        marks.sort_by(f64::total_cmp);
        let ends = marks.iter().skip(1).copied().chain([marks[0] + 1.0]);
        marks
            .iter()
            .zip(ends)
            .filter(|(from, to)| to - **from > 1e-11)
            .map(|(&from, to)| Arc { from, to, share: to - from, pieces: see(0.5 * (from + to)) })
            .collect()
    }
}

fn piece_at(pattern: &Pattern, phase: f64) -> usize {
    // A sample that falls on an edge sees what begins there.
    let phase = phase.rem_euclid(1.0) + 1e-12;
    pattern.pieces.partition_point(|p| p.0 <= phase).saturating_sub(1)
}

/// What a sampled trip makes of a pair.
pub(crate) struct SampledOutcome {
    /// The largest value that so many samples in a row can all reach.
    pub worst: f64,
    /// Share of phases at which the threshold is passed by so many in a row.
    pub share: f64,
    pub exact: bool,
}

/// Judges a pair. For ever (an infinite window), `frozen` tells whether the relative phase stays; if not, what can happen
/// happens.
pub(crate) fn judge(
    pair: &Pair,
    sampler: &Sampler,
    threshold: f64,
    window: f64,
    frozen: bool,
) -> SampledOutcome {
    let mut exact = true;
    // Samples in a window: so many, and one more for the fraction `more` of its phases.
    let whole = window / sampler.every;
    let (samples, more) = (whole.floor(), whole - whole.floor());
    let most = if more > 1e-12 { samples + 1.0 } else { samples };
    if most < sampler.in_a_row as f64 {
        return SampledOutcome { worst: 0.0, share: 0.0, exact };
    }
    let n = pair.affordable(sampler.in_a_row);
    if n < sampler.in_a_row {
        // Fewer samples in a row are easier to reach: an upper bound.
        exact = false;
    }
    let (a, b) = (sampler.arcs(&pair.a, n), sampler.arcs(&pair.b, n));
    let mut worst = 0.0_f64;
    let mut phases: Vec<(f64, f64)> = Vec::new();
    for p in &a {
        for q in &b {
            let seen = p.pieces.iter().zip(&q.pieces).map(|(i, j)| pair.values[*i][*j]);
            let level = seen.fold(f64::INFINITY, f64::min);
            worst = worst.max(level);
            if level > threshold {
                phases.push((
                    p.from * pair.a.period - q.to * pair.b.period,
                    p.to * pair.a.period - q.from * pair.b.period,
                ));
            }
        }
    }
    let share = if worst <= threshold {
        0.0
    } else if window.is_infinite() {
        if frozen && !pair.single { covered(&phases, pair.turn()) / pair.turn() } else { 1.0 }
    } else {
        let chance = |count: f64| -> (f64, bool) {
            let count = count as usize;
            if count < sampler.in_a_row {
                return (0.0, true);
            }
            let m = pair.affordable(count);
            let row = sampler.in_a_row.min(m);
            (pair.chance(sampler, m, row, threshold), m == count)
        };
        let (few, few_exact) = chance(samples);
        if more <= 1e-12 || few >= 1.0 - 1e-12 {
            exact &= few_exact;
            few
        } else {
            let (many, many_exact) = chance(samples + 1.0);
            exact &= few_exact && many_exact;
            few * (1.0 - more) + many * more
        }
    };
    SampledOutcome { worst, share, exact }
}

impl Pair {
    /// The largest number of samples, up to those wanted, that can be compared in reasonable time.
    fn affordable(&self, wanted: usize) -> usize {
        let (a, b) = (self.a.pieces.len(), self.b.pieces.len());
        let b_arcs = |m: usize| if b == 1 { 1 } else { b * m };
        let fits = |m: usize| {
            (a * m)
                .checked_mul(b_arcs(m))
                .and_then(|w| w.checked_mul(m))
                .is_some_and(|w| w <= MOST_WORK)
        };
        let (mut low, mut high) = (1, wanted.max(1));
        if fits(high) {
            return high;
        }
        while low + 1 < high {
            let mid = low + (high - low) / 2;
            if fits(mid) {
                low = mid;
            } else {
                high = mid;
            }
        }
        low
    }

    /// Probability that among so many samples some `row` in a row are over the threshold.
    fn chance(&self, sampler: &Sampler, samples: usize, row: usize, threshold: f64) -> f64 {
        let (a, b) = (sampler.arcs(&self.a, samples), sampler.arcs(&self.b, samples));
        let mut chance = 0.0;
        for p in &a {
            for q in &b {
                let mut so_far = 0;
                for (i, j) in p.pieces.iter().zip(&q.pieces) {
                    so_far = if self.values[*i][*j] > threshold { so_far + 1 } else { 0 };
                    if so_far == row {
                        chance += p.share * q.share;
                        break;
                    }
                }
            }
        }
        chance.min(1.0)
    }
}

/// Length that stretches cover of a circle.
pub(crate) fn covered(stretches: &[(f64, f64)], circle: f64) -> f64 {
    let mut flat: Vec<(f64, f64)> = Vec::new();
    for &(from, to) in stretches {
        if to - from >= circle {
            return circle;
        }
        if to <= from {
            continue;
        }
        let start = from.rem_euclid(circle);
        let end = start + (to - from);
        flat.push((start, end.min(circle)));
        if end > circle {
            flat.push((0.0, end - circle));
        }
    }
    flat.sort_by(|x, y| x.0.total_cmp(&y.0));
    let (mut sum, mut reach) = (0.0, 0.0_f64);
    for (from, to) in flat {
        sum += (to - from.max(reach)).max(0.0);
        reach = reach.max(to);
    }
    sum
}
