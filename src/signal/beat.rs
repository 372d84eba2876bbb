//! One driver's schedule over time, and the rigid patterns that several make together.

use serde::Serialize;

/// Most edges that a rigid pattern of several beats may have.
const MOST_EDGES: usize = 4096;
/// Two periods whose ratio is this close to one of whole numbers count as being in it.
pub(crate) const RATIO_EPS: f64 = 1e-9;

/// A stretch of a schedule.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Part {
    /// The caller's number for what the driver does meanwhile. This room only carries it.
    pub state: usize,
    /// Fraction of the period, 0 to 1.
    pub share: f64,
}

/// Whose clock a beat runs from.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct ClockId {
    /// Beats with the same number run from one clock; none is a clock of its own.
    pub shared: Option<u32>,
    /// Delay of the schedule against its clock, as a fraction of the period; none if unknown. Means something only
    /// between beats of one clock.
    pub phase: Option<f64>,
    /// How far the clock may be off its frequency, as a fraction of it.
    pub tolerance: f64,
}

/// One driver's periodic schedule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Beat {
    /// Period, s. Without meaning for a beat of one part.
    pub period_s: f64,
    /// What it does, in order. The shares should add up to 1; they are scaled to do so.
    pub parts: Vec<Part>,
    /// Its clock.
    pub clock: ClockId,
}

impl Beat {
    /// A schedule. Parts of no share are dropped.
    pub fn new(period_s: f64, parts: impl IntoIterator<Item = Part>, clock: ClockId) -> Self {
        let parts = parts.into_iter().filter(|p| usable(p.share) > 0.0).collect();
        Self { period_s, parts, clock }
    }

    /// A driver that does one thing for ever.
    pub fn steady(state: usize) -> Self {
        Self::new(1.0, [Part { state, share: 1.0 }], ClockId::default())
    }

    /// Whether it does one thing for ever.
    pub fn is_steady(&self) -> bool {
        self.parts.iter().filter(|p| usable(p.share) > 0.0).count() <= 1
    }

    /// Period that can be computed with, s.
    pub(crate) fn period(&self) -> f64 {
        if self.period_s.is_finite() && self.period_s > 0.0 { self.period_s } else { 1.0 }
    }

    /// Fraction of the period at which each part of some share starts, and its index.
    pub(crate) fn starts(&self) -> Vec<(f64, usize)> {
        let total: f64 = self.parts.iter().map(|p| usable(p.share)).sum();
        if total <= 0.0 {
            return vec![(0.0, 0)];
        }
        let mut at = 0.0;
        let mut starts = Vec::with_capacity(self.parts.len());
        for (index, part) in self.parts.iter().enumerate() {
            let share = usable(part.share) / total;
            if share > 0.0 {
                starts.push((at, index));
                at += share;
            }
        }
        starts
    }
}

fn usable(share: f64) -> f64 {
    if share.is_finite() && share > 0.0 { share } else { 0.0 }
}

/// Numbering of the joint states of several beats: mixed radix over their parts, the last beat fastest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Joint {
    radix: Vec<usize>,
}

impl Joint {
    /// The joint states of these beats.
    pub fn of(beats: &[Beat]) -> Self {
        Self { radix: beats.iter().map(|b| b.parts.len().max(1)).collect() }
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.radix.iter().product()
    }

    /// The part index of each beat in a joint state.
    pub fn decode(&self, mut joint: usize) -> Vec<usize> {
        let mut parts = vec![0; self.radix.len()];
        for (part, radix) in parts.iter_mut().zip(&self.radix).rev() {
            *part = joint % radix;
            joint /= radix;
        }
        parts
    }

    /// The joint state in which each beat is in the given part.
    pub fn encode(&self, parts: &[usize]) -> usize {
        self.radix.iter().zip(parts).fold(0, |joint, (radix, part)| joint * radix + part)
    }

    /// What the state of each beat is in a joint state: [`Part::state`] of the parts.
    pub fn states(&self, beats: &[Beat], joint: usize) -> Vec<usize> {
        let parts = self.decode(joint);
        beats.iter().zip(parts).map(|(b, p)| b.parts.get(p).map_or(0, |part| part.state)).collect()
    }

    fn stride(&self, beat: usize) -> usize {
        self.radix[beat + 1..].iter().product()
    }
}

/// A rigid periodic pattern of one or several beats. A piece adds `offset` to the joint index.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Pattern {
    /// Period, s.
    pub period: f64,
    /// Start of each piece as a fraction of the period, ascending, the first 0; and its part of the joint index.
    pub pieces: Vec<(f64, usize)>,
    /// Clock and tolerance, for how it drifts against others.
    pub shared: Option<u32>,
    /// Tolerance of its clock, as a fraction.
    pub tolerance: f64,
    /// The beats in it, each with its delay in s against the pattern's start.
    pub members: Vec<(usize, f64)>,
}

impl Pattern {
    /// A pattern that adds nothing.
    pub fn idle(period: f64) -> Self {
        Self { period, pieces: vec![(0.0, 0)], shared: None, tolerance: 0.0, members: vec![] }
    }

    /// Share of each piece.
    pub fn shares(&self) -> impl Iterator<Item = (f64, usize)> + '_ {
        self.pieces.iter().enumerate().map(|(i, &(start, offset))| {
            let end = self.pieces.get(i + 1).map_or(1.0, |next| next.0);
            (end - start, offset)
        })
    }
}

/// The beats as rigid patterns.
#[derive(Debug, Clone)]
pub(crate) struct Patterns {
    /// Part of the joint index that the steady beats add.
    pub base: usize,
    /// Patterns that change over time; their phases against each other are free.
    pub moving: Vec<Pattern>,
}

/// Gathers beats into patterns.
pub(crate) fn patterns(beats: &[Beat]) -> Patterns {
    let joint = Joint::of(beats);
    let mut base = 0;
    let mut moving: Vec<Pattern> = Vec::new();
    let mut rigid: Vec<usize> = Vec::new();
    for (index, beat) in beats.iter().enumerate() {
        let stride = joint.stride(index);
        let starts = beat.starts();
        if starts.len() <= 1 {
            base += stride * starts.first().map_or(0, |s| s.1);
            continue;
        }
        let tolerance = beat.clock.tolerance;
        let alone = Pattern {
            period: beat.period(),
            pieces: starts.iter().map(|&(at, part)| (at, part * stride)).collect(),
            shared: beat.clock.shared,
            tolerance: if tolerance.is_finite() { tolerance.abs() } else { 0.0 },
            members: vec![(index, 0.0)],
        };
        let known = beat.clock.phase.filter(|p| p.is_finite() && beat.clock.shared.is_some());
        let Some(phase) = known else {
            moving.push(alone);
            continue;
        };
        // A pattern of known phase is held with time zero of the clock as its start.
        let placed = alone.delayed(phase.rem_euclid(1.0));
        let found = rigid.iter().find_map(|&at| {
            let other: &Pattern = &moving[at];
            (other.shared == placed.shared).then(|| other.with(&placed)).flatten().map(|p| (at, p))
        });
        match found {
            Some((at, pattern)) => moving[at] = pattern,
            None => {
                rigid.push(moving.len());
                moving.push(placed);
            }
        }
    }
    Patterns { base, moving }
}

impl Pattern {
    /// The same, delayed by a fraction of its period.
    fn delayed(mut self, phase: f64) -> Self {
        if phase > 0.0 {
            let mut pieces: Vec<(f64, usize)> = self
                .pieces
                .iter()
                .map(|&(at, offset)| {
                    let at = at + phase;
                    (if at >= 1.0 { at - 1.0 } else { at }, offset)
                })
                .collect();
            pieces.sort_by(|a, b| a.0.total_cmp(&b.0));
            // What runs at time zero is the piece that started last.
            if let (Some(first), Some(last)) = (pieces.first(), pieces.last())
                && first.0 > 0.0
            {
                pieces.insert(0, (0.0, last.1));
            }
            self.pieces = pieces;
            for member in &mut self.members {
                member.1 += phase * self.period;
            }
        }
        self
    }

    /// Both together, where their periods are in a ratio of small whole numbers.
    fn with(&self, other: &Self) -> Option<Self> {
        let ratio = whole_ratio(self.period, other.period, 256);
        let edges = self.pieces.len() * ratio.a as usize + other.pieces.len() * ratio.b as usize;
        if ratio.error > RATIO_EPS || edges > MOST_EDGES {
            return None;
        }
        let eps = RATIO_EPS / (ratio.a.max(ratio.b) as f64);
        let events = |p: &Self, cycles: u64, which: usize| -> Vec<(f64, usize, usize)> {
            (0..cycles)
                .flat_map(|k| {
                    p.pieces
                        .iter()
                        .map(move |&(at, offset)| ((k as f64 + at) / cycles as f64, which, offset))
                })
                .collect()
        };
        let mut all = events(self, ratio.a, 0);
        all.extend(events(other, ratio.b, 1));
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut now = [0, 0];
        let mut pieces: Vec<(f64, usize)> = Vec::new();
        for (at, which, offset) in all {
            now[which] = offset;
            match pieces.last_mut() {
                Some(last) if at - last.0 <= eps => last.1 = now[0] + now[1],
                _ => pieces.push((at, now[0] + now[1])),
            }
        }
        let mut members = self.members.clone();
        members.extend(&other.members);
        Some(Self {
            period: self.period * ratio.a as f64,
            pieces,
            shared: self.shared,
            tolerance: self.tolerance.max(other.tolerance),
            members,
        })
    }
}

/// A ratio of periods in whole numbers: `a` periods of the one are `b` of the other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct WholeRatio {
    /// Periods of the first.
    pub a: u64,
    /// Periods of the second.
    pub b: u64,
    /// How far the true ratio is off, as a fraction.
    pub error: f64,
}

/// The last convergent of the continued fraction of `period_a / period_b` with `a + b` at most `most`, or the first one
/// that holds within [`RATIO_EPS`].
pub(crate) fn whole_ratio(period_a: f64, period_b: f64, most: u64) -> WholeRatio {
    let ratio = period_b / period_a;
    // a / b tends to period_b / period_a.
    let (mut a0, mut b0, mut a1, mut b1) = (0_u64, 1_u64, 1_u64, 0_u64);
    let mut x = ratio;
    let mut best: Option<WholeRatio> = None;
    for _ in 0..40 {
        let whole = x.floor();
        if !whole.is_finite() || whole > 1e9 {
            break;
        }
        let whole_u = whole as u64;
        let (a, b) = (
            whole_u.saturating_mul(a1).saturating_add(a0),
            whole_u.saturating_mul(b1).saturating_add(b0),
        );
        if a.saturating_add(b) > most && best.is_some() {
            break;
        }
        if a > 0 && b > 0 {
            let error = (a as f64 / b as f64 / ratio - 1.0).abs();
            best = Some(WholeRatio { a, b, error });
            if error <= RATIO_EPS {
                break;
            }
        }
        (a0, b0, a1, b1) = (a1, b1, a, b);
        let rest = x - whole;
        if rest <= 0.0 {
            break;
        }
        x = 1.0 / rest;
    }
    let mut best = best.unwrap_or(WholeRatio { a: 1, b: 1, error: (1.0 / ratio - 1.0).abs() });
    // Beyond this the faster one is as good as its mean; the error says how far off the stand-in is.
    const MOST_CYCLES: u64 = 20_000;
    best.limit(MOST_CYCLES, ratio);
    best
}

impl WholeRatio {
    /// Holds both numbers to at most `most`, as a stand-in for `ratio`.
    pub fn limit(&mut self, most: u64, ratio: f64) {
        let most = most.max(1);
        if self.a > most || self.b > most {
            self.a = self.a.clamp(1, most);
            self.b = self.b.clamp(1, most);
            self.error = (self.a as f64 / self.b as f64 / ratio - 1.0).abs();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn joint_states_are_numbered_last_beat_fastest() {
        let part = |state| Part { state, share: 0.5 };
        let two = Beat::new(1.0, [part(3), part(1)], ClockId::default());
        let beats = [two.clone(), Beat::steady(7), two];
        let joint = Joint::of(&beats);
        assert_eq!(joint.count(), 4);
        for j in 0..4 {
            assert_eq!(joint.encode(&joint.decode(j)), j);
        }
        assert_eq!(joint.decode(2), [1, 0, 0]);
        assert_eq!(joint.states(&beats, 2), [1, 7, 3]);
    }

    #[test]
    fn parts_of_no_share_are_dropped() {
        let parts = [Part { state: 0, share: 0.0 }, Part { state: 1, share: 1.0 }];
        let beat = Beat::new(1.0, parts, ClockId::default());
        assert_eq!(beat.parts, [Part { state: 1, share: 1.0 }]);
        assert!(beat.is_steady());
    }

    #[test]
    fn ratios_of_usual_frequencies_are_found() {
        let r = whole_ratio(1.0 / 490.0, 1.0 / 125.0, 4096);
        assert_eq!((r.a, r.b), (98, 25));
        assert!(r.error < 1e-12);
        let r = whole_ratio(1.0 / 491.0, 1.0 / 490.0, 4096);
        assert_eq!((r.a, r.b), (491, 490));
        let r = whole_ratio(1.0, 1.0, 4096);
        assert_eq!((r.a, r.b), (1, 1));
        let r = whole_ratio(1.0, std::f64::consts::SQRT_2, 600);
        assert!(r.a + r.b <= 600 && r.error > 0.0 && r.error < 1e-5);
    }
}
