//! Two free patterns against each other, as one cycle of values for each relative phase.

use std::cmp::Ordering;

use super::beat::{Beat, Pattern, RATIO_EPS, WholeRatio, patterns, whole_ratio};
use super::work::count;

/// Edges in the common cycle above which the share of phases of an averaged trip is taken more coarsely.
pub(crate) const MANY_EDGES: u64 = 400;

/// Most cycles of both patterns together for which their ratio is sought exactly, and otherwise.
const MOST_EXACT: u64 = 2048;
const MOST_STAND_IN: u64 = 1500;

/// Most edges in a common cycle.
const MOST_IN_CYCLE: u64 = 40_000;

/// Most edges that one figure looks at over all relative phases. Beyond it the phases looked at are fewer, evenly spaced,
/// and what can lie between them is added.
const MOST_LOOKED_AT: u64 = 150_000;

/// Relative phases at which a figure is computed.
pub(crate) struct Looks {
    /// Delays of `b`, s.
    pub phases: Vec<f64>,
    /// How far any other phase is from one of them, s: 0 where the extremes are among them.
    pub apart: f64,
}

/// Two patterns and a value for each pair of their pieces.
#[derive(Debug, Clone)]
pub(crate) struct Pair {
    pub a: Pattern,
    pub b: Pattern,
    /// Value by piece of `a`, then piece of `b`.
    pub values: Vec<Vec<f64>>,
    /// Whether `b` only stands for nothing: there is one pattern.
    pub single: bool,
    /// How often each goes into the common cycle.
    pub ratio: WholeRatio,
}

/// Values over joint states, brought down to what moves.
pub(crate) enum Reduced {
    /// Nothing changes over time.
    Steady(f64),
    /// One pattern, or two.
    Pair(Pair),
    /// Three or more: the two that change the value most, with the least and the largest value over the others. Three are
    /// bounded by each of their pairs.
    Bounds(Vec<(Pair, Pair)>),
}

/// Brings values per joint state down to the patterns that move.
pub(crate) fn reduce(values: &[f64], beats: &[Beat]) -> Reduced {
    let patterns = patterns(beats);
    let value = |joint: usize| values.get(joint).copied().filter(|v| v.is_finite()).unwrap_or(0.0);
    let mut moving = patterns.moving;
    match moving.len() {
        0 => Reduced::Steady(value(patterns.base)),
        1 => {
            let a = moving.remove(0);
            let b = Pattern::idle(a.period);
            Reduced::Pair(Pair::new(a, b, true, |p, q| value(patterns.base + p + q)))
        }
        2 => Reduced::Pair(ordered(&moving[0], &moving[1], |p, q| value(patterns.base + p + q))),
        n => {
            let mut bounds = Vec::new();
            let most = most_influential(&moving, patterns.base, &value);
            for i in 0..n {
                for j in i + 1..n {
                    if n > 3 && !(most.contains(&i) && most.contains(&j)) {
                        continue;
                    }
                    let mut others = vec![patterns.base];
                    for (k, other) in moving.iter().enumerate() {
                        if k != i && k != j {
                            let mut offsets: Vec<usize> =
                                other.pieces.iter().map(|p| p.1).collect();
                            offsets.sort_unstable();
                            offsets.dedup();
                            others = others
                                .iter()
                                .flat_map(|o| offsets.iter().map(move |p| o + p))
                                .collect();
                        }
                    }
                    let over = |p: usize, q: usize, pick: fn(f64, f64) -> f64| {
                        others.iter().map(|o| value(o + p + q)).reduce(pick).unwrap_or(0.0)
                    };
                    let pair = |pick: fn(f64, f64) -> f64| {
                        ordered(&moving[i], &moving[j], |p, q| over(p, q, pick))
                    };
                    bounds.push((pair(f64::min), pair(f64::max)));
                }
            }
            Reduced::Bounds(bounds)
        }
    }
}

/// A pair in an order that does not depend on which pattern comes first, so that a stand-in does not either. The value
/// is a function of the sum of both offsets.
fn ordered(x: &Pattern, y: &Pattern, value: impl Fn(usize, usize) -> f64) -> Pair {
    let starts = |p: &Pattern| p.pieces.iter().map(|piece| piece.0).collect::<Vec<_>>();
    let order = x.period.total_cmp(&y.period);
    let order = order.then_with(|| {
        let (x, y) = (starts(x), starts(y));
        x.partial_cmp(&y).unwrap_or(Ordering::Equal)
    });
    let (a, b) = if order.is_gt() { (y, x) } else { (x, y) };
    Pair::new(a.clone(), b.clone(), false, value)
}

/// The two of many patterns between whose pieces the value differs most, whatever the others do.
fn most_influential(moving: &[Pattern], base: usize, value: &impl Fn(usize) -> f64) -> [usize; 2] {
    let mut joints = vec![(base, Vec::new())];
    for pattern in moving {
        joints = joints
            .iter()
            .flat_map(|(at, chosen): &(usize, Vec<usize>)| {
                pattern.pieces.iter().enumerate().map(move |(piece, p)| {
                    let mut chosen = chosen.clone();
                    chosen.push(piece);
                    (at + p.1, chosen)
                })
            })
            .collect();
    }
    let spread = |k: usize| {
        let pieces = moving[k].pieces.len();
        let mut most = vec![f64::NEG_INFINITY; pieces];
        let mut least = vec![f64::INFINITY; pieces];
        for (at, chosen) in &joints {
            let v = value(*at);
            most[chosen[k]] = most[chosen[k]].max(v);
            least[chosen[k]] = least[chosen[k]].min(v);
        }
        let range = |of: &[f64]| {
            of.iter().copied().fold(f64::NEG_INFINITY, f64::max)
                - of.iter().copied().fold(f64::INFINITY, f64::min)
        };
        range(&most) + range(&least)
    };
    let mut order: Vec<(f64, f64, usize)> =
        (0..moving.len()).map(|k| (spread(k), moving[k].period, k)).collect();
    order.sort_by(|a, b| b.0.total_cmp(&a.0).then(b.1.total_cmp(&a.1)).then(a.2.cmp(&b.2)));
    [order[0].2, order[1].2]
}

impl Pair {
    pub fn new(a: Pattern, b: Pattern, single: bool, value: impl Fn(usize, usize) -> f64) -> Self {
        let values =
            a.pieces.iter().map(|p| b.pieces.iter().map(|q| value(p.1, q.1)).collect()).collect();
        // Patterns of many pieces have a shorter common cycle.
        let cycles = MOST_IN_CYCLE / a.pieces.len().max(b.pieces.len()).max(1) as u64;
        let mut ratio = whole_ratio(a.period, b.period, MOST_EXACT.min(cycles));
        if ratio.error > RATIO_EPS {
            ratio = whole_ratio(a.period, b.period, MOST_STAND_IN.min(cycles));
        }
        ratio.limit(cycles, b.period / a.period);
        Self { a, b, values, single, ratio }
    }

    /// Whether the common cycle is that of the true periods.
    pub fn exact(&self) -> bool {
        self.ratio.error <= RATIO_EPS
    }

    /// Common cycle, s.
    pub fn period(&self) -> f64 {
        self.a.period * self.ratio.a as f64
    }

    /// Period of `b` as it stands in the common cycle, s.
    pub fn b_period(&self) -> f64 {
        self.period() / self.ratio.b as f64
    }

    /// Relative phases beyond which nothing new comes, s.
    pub fn turn(&self) -> f64 {
        self.a.period / self.ratio.b as f64
    }

    /// Times closer than this are one.
    pub fn eps(&self) -> f64 {
        RATIO_EPS * self.a.period.min(self.b.period)
    }

    /// Least, largest value.
    pub fn extremes(&self) -> (f64, f64) {
        let all = self.values.iter().flatten();
        all.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)))
    }

    /// All values, ascending, each once.
    pub fn levels(&self) -> Vec<f64> {
        let mut levels: Vec<f64> = self.values.iter().flatten().copied().collect();
        levels.sort_by(f64::total_cmp);
        levels.dedup();
        levels
    }

    /// Relative phases (delay of `b`, s, in `[0, turn)`) at which an edge of `b` is later than one of `a` by one of
    /// `lags`, ascending. With one pattern only: the one phase there is.
    pub fn phases(&self, lags: &[f64]) -> Vec<f64> {
        if self.single {
            return vec![0.0];
        }
        let (turn, eps) = (self.turn(), self.eps());
        let mut phases = Vec::new();
        for &(a, _) in &self.a.pieces {
            for &(b, _) in &self.b.pieces {
                for lag in lags {
                    let phase = (a * self.a.period - b * self.b_period() + lag).rem_euclid(turn);
                    phases.push(if turn - phase <= eps { 0.0 } else { phase });
                }
            }
        }
        phases.sort_by(f64::total_cmp);
        phases.dedup_by(|next, kept| *next - *kept <= eps);
        phases
    }

    /// Relative phases at which a figure can be extreme, as [`Self::phases`]; where that is too much work, a grid.
    pub fn looks(&self, lags: &[f64]) -> Looks {
        if !self.thinned() {
            return Looks { phases: self.phases(lags), apart: 0.0 };
        }
        let step = self.turn() / self.grid() as f64;
        let phases = (0..self.grid()).map(|k| (k as f64 + 0.5) * step).collect();
        Looks { phases, apart: 0.5 * step }
    }

    /// Whether figures look at a grid of phases only. One answer for all lags, so that a longer window is not looked at
    /// more closely than a shorter one.
    pub fn thinned(&self) -> bool {
        const LAGS: u64 = 3;
        let phases = LAGS * (self.a.pieces.len() * self.b.pieces.len()) as u64;
        !self.single && phases.saturating_mul(self.edges()) > MOST_LOOKED_AT
    }

    /// Phases of the grid.
    pub fn grid(&self) -> u64 {
        (MOST_LOOKED_AT / self.edges().max(1)).max(1)
    }

    /// The stretches of relative phase between [`Self::phases`], all around. With one pattern only: one of no length.
    pub fn cells(&self, lags: &[f64]) -> Vec<(f64, f64)> {
        let phases = self.phases(lags);
        let Some(&first) = phases.first() else { return vec![] };
        if self.single {
            return vec![(first, first)];
        }
        let ends = phases.iter().skip(1).copied().chain([first + self.turn()]);
        phases.iter().copied().zip(ends).collect()
    }

    /// Edges in a common cycle.
    pub fn edges(&self) -> u64 {
        self.a.pieces.len() as u64 * self.ratio.a + self.b.pieces.len() as u64 * self.ratio.b
    }

    /// One common cycle at a relative phase.
    pub fn cycle(&self, phase: f64) -> Cycle {
        count(self.edges() as usize);
        let period = self.period();
        let eps = self.eps();
        let a = edges(&self.a, self.a.period, self.ratio.a, 0.0, (period, eps));
        let b = match self.single {
            true => Vec::new(),
            false => edges(&self.b, self.b_period(), self.ratio.b, phase, (period, eps)),
        };
        let (last_a, last_b) = (a.last().map_or(0, |e| e.1), b.last().map_or(0, |e| e.1));
        let mut cycle = Cycle {
            period,
            starts: Vec::with_capacity(a.len() + b.len()),
            values: Vec::with_capacity(a.len() + b.len()),
        };
        let (mut at_a, mut at_b) = (last_a, last_b);
        let (mut next_a, mut next_b) = (a.iter().peekable(), b.iter().peekable());
        loop {
            // Of edges at one time that of `a` comes first.
            let t = match (next_a.peek(), next_b.peek()) {
                (Some(&&(t, piece)), other) if other.is_none_or(|other| t <= other.0) => {
                    next_a.next();
                    at_a = piece;
                    t
                }
                (_, Some(&&(t, piece))) => {
                    next_b.next();
                    at_b = piece;
                    t
                }
                _ => break,
            };
            let value = self.values[at_a][at_b];
            match cycle.starts.last() {
                Some(start) if t - start <= eps => {
                    if let Some(last) = cycle.values.last_mut() {
                        *last = value;
                    }
                }
                _ => {
                    cycle.starts.push(t);
                    cycle.values.push(value);
                }
            }
        }
        cycle.merge_equal();
        cycle
    }
}

/// The edges of a pattern that runs for some `cycles` of `step`, s, from a `delay`, s: time within a period, and the piece
/// that begins there. In order of time; times within `eps` of the end of the period count as its start.
fn edges(
    pattern: &Pattern,
    step: f64,
    cycles: u64,
    delay: f64,
    (period, eps): (f64, f64),
) -> Vec<(f64, usize)> {
    let mut edges = Vec::with_capacity(cycles as usize * pattern.pieces.len());
    for k in 0..cycles {
        for (piece, &(at, _)) in pattern.pieces.iter().enumerate() {
            let t = (k as f64 + at) * step + delay;
            let t = if (0.0..period).contains(&t) { t } else { t.rem_euclid(period) };
            edges.push((if period - t <= eps { 0.0 } else { t }, piece));
        }
    }
    // Ascending but for what has come around the end.
    edges.sort_by(|x, y| x.0.total_cmp(&y.0));
    edges
}

/// A value that is piecewise constant and periodic.
#[derive(Debug, Clone)]
pub(crate) struct Cycle {
    /// Period, s.
    pub period: f64,
    /// Start of each stretch, s, ascending within one period; the last one reaches around to the first.
    pub starts: Vec<f64>,
    /// Value of each.
    pub values: Vec<f64>,
}

impl Cycle {
    fn merge_equal(&mut self) {
        if self.values.len() < 2 {
            return;
        }
        let n = self.values.len();
        let keep: Vec<bool> =
            (0..n).map(|i| self.values[i] != self.values[(i + n - 1) % n]).collect();
        if !keep.contains(&true) {
            self.starts.truncate(1);
            self.values.truncate(1);
            return;
        }
        let pick = |v: &[f64]| -> Vec<f64> {
            v.iter().zip(&keep).filter(|(_, k)| **k).map(|(x, _)| *x).collect()
        };
        self.starts = pick(&self.starts);
        self.values = pick(&self.values);
    }

    /// Length of stretch `i`, s.
    pub fn length(&self, i: usize) -> f64 {
        match self.starts.get(i + 1) {
            Some(next) => next - self.starts[i],
            None => self.starts[0] + self.period - self.starts[i],
        }
    }

    /// `t` brought into one period.
    pub fn within(&self, t: f64) -> f64 {
        (t - (t / self.period).floor() * self.period).max(0.0)
    }

    /// The stretch that holds time `t`, and how far into it `t` is, s.
    pub fn locate(&self, t: f64) -> (usize, f64) {
        count(1);
        let t = self.within(t);
        match self.starts.partition_point(|s| *s <= t) {
            0 => {
                let last = self.starts.len() - 1;
                (last, t + self.period - self.starts[last])
            }
            n => (n - 1, t - self.starts[n - 1]),
        }
    }

    /// Maximal stretches with a value above `level`: start and end, s, each starting within one period. None if that
    /// is always.
    pub fn runs_above(&self, level: f64) -> Option<Vec<(f64, f64)>> {
        let n = self.values.len();
        let below = self.values.iter().position(|v| *v <= level)?;
        let mut runs: Vec<(f64, f64)> = Vec::new();
        let mut open: Option<(f64, f64)> = None;
        for k in 1..=n {
            let i = (below + k) % n;
            if self.values[i] > level {
                let start = self.starts[i];
                let run = open.get_or_insert((start, start));
                run.1 += self.length(i);
            } else if let Some(run) = open.take() {
                runs.push(run);
            }
        }
        Some(runs)
    }
}
