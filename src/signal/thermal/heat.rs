//! The heat of a current over any span, and whether it is as much as the curve asks.

use super::curve::Curve;
use crate::signal::filter::{GAUSS_3, Sums};
use crate::signal::pair::{Cycle, MANY_EDGES, Pair};

/// An upper bound of the heat `∫i²dt` of a current over any span, A²s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Heat {
    /// Mean square in the long run, A².
    pub mean: f64,
    /// What a stretch has beyond that at most, A²s.
    pub surplus: f64,
    /// Largest square, A².
    pub peak: f64,
    /// How far the mean can be off in a common cycle that is a stand-in: A², and A² for each second of the span.
    pub off: (f64, f64),
}

impl Heat {
    /// That of a pair whose values are squares, at any relative phase.
    pub(super) fn of(squares: &Pair) -> Self {
        // Between coincidences of edges the heat of a stretch from edge to edge is linear in the relative phase.
        let looks = squares.looks(&[0.0]);
        let cycles: Vec<Cycle> =
            looks.phases.into_iter().map(|phase| squares.cycle(phase)).collect();
        let mean = cycles.iter().map(mean_of).fold(0.0, f64::max);
        let surplus = cycles.iter().map(|cycle| surplus_of(cycle, mean)).fold(0.0, f64::max);
        let (more_surplus, more_mean) = squares.drift_by_the_second(looks.apart);
        Self {
            mean: mean + more_mean,
            surplus: surplus + more_surplus,
            peak: squares.extremes().1,
            off: squares.off_by_the_second(),
        }
    }

    /// That of one cycle of squares.
    pub(super) fn of_cycle(cycle: &Cycle) -> Self {
        let mean = mean_of(cycle);
        Self {
            mean,
            surplus: surplus_of(cycle, mean),
            peak: cycle.values.iter().copied().fold(0.0, f64::max),
            off: (0.0, 0.0),
        }
    }

    /// Over a span, A²s.
    pub(super) fn over(&self, s: f64) -> f64 {
        let settled = (self.mean + self.off.0 + self.off.1 * s) * s + self.surplus;
        settled.min(self.peak * s)
    }

    /// Spans, ascending, at one of which the heat comes nearest to what the curve asks: the end of the window, the times
    /// of the curve, and where the bound turns from the largest square to the mean. Between two of them the ratio of
    /// the two falls at most before it rises.
    pub(super) fn spans(&self, curve: &Curve, window: f64) -> Vec<f64> {
        // What does not act by the curve's longest time never does.
        let end = window.min(curve.longest_s());
        let slope = self.peak - self.mean - self.off.0;
        let root = (slope * slope - 4.0 * self.off.1 * self.surplus).max(0.0).sqrt();
        let turn = 2.0 * self.surplus / (slope + root);
        let mut spans: Vec<f64> = curve.points().iter().map(|p| p.1).collect();
        spans.extend([end, turn]);
        spans.retain(|s| *s > 0.0 && *s <= end);
        spans.sort_by(f64::total_cmp);
        spans.dedup();
        spans
    }

    /// The constant current, A, that comes as near to acting in a span as this heat does, as if held for ever: it acts if
    /// that is more than the current of the curve's first point.
    pub(super) fn as_held(&self, curve: &Curve, s: f64) -> f64 {
        (self.over(s) / s).sqrt() / curve.multiple(s)
    }

    /// The largest of that within a window, and the span that has it, s.
    pub fn worst(&self, curve: &Curve, window: f64) -> (f64, f64) {
        self.spans(curve, window)
            .into_iter()
            .map(|s| (self.as_held(curve, s), s))
            .fold((0.0, 0.0), |most, new| if new.0 > most.0 { new } else { most })
    }

    /// How soon it acts if the current of the curve's first point is `holds_a`, s; a lower bound.
    pub fn acts_after(&self, curve: &Curve, holds_a: f64, window: f64) -> Option<f64> {
        let mut low = 0.0;
        for s in self.spans(curve, window) {
            if self.as_held(curve, s) > holds_a {
                let mut high = s;
                for _ in 0..80 {
                    let middle = 0.5 * (low + high);
                    if middle > 0.0 && self.as_held(curve, middle) > holds_a {
                        high = middle;
                    } else {
                        low = middle;
                    }
                }
                return Some(high);
            }
            low = s;
        }
        None
    }
}

fn mean_of(cycle: &Cycle) -> f64 {
    Sums::of(cycle).total / cycle.period
}

/// The most that the integral over a stretch of a cycle, going round, exceeds a mean that is not below its own.
fn surplus_of(cycle: &Cycle, mean: f64) -> f64 {
    let (mut sum, mut least, mut most) = (0.0_f64, 0.0_f64, 0.0_f64);
    for k in 0..2 * cycle.values.len() {
        let i = k % cycle.values.len();
        sum += (cycle.values[i] - mean) * cycle.length(i);
        least = least.min(sum);
        most = most.max(sum - least);
    }
    most
}

/// What a thermal trip makes of a pair.
pub(crate) struct Warmed {
    /// See [`Heat::worst`], A.
    pub worst: f64,
    /// When it acts at the soonest, s.
    pub after: Option<f64>,
    squares: Pair,
}

impl Warmed {
    pub fn of(pair: &Pair, curve: &Curve, holds_a: f64, window: f64) -> Self {
        let mut squares = pair.clone();
        for value in squares.values.iter_mut().flatten() {
            *value *= *value;
        }
        let heat = Heat::of(&squares);
        let (worst, _) = heat.worst(curve, window);
        Self { worst, after: heat.acts_after(curve, holds_a, window), squares }
    }

    /// Share of the starts and relative phases at which it acts within a window.
    pub fn share(&self, curve: &Curve, holds_a: f64, window: f64) -> f64 {
        let share = |phase: f64| share_of(&self.squares.cycle(phase), curve, holds_a, window);
        let lags = [0.0, window, -window];
        let lags = if window.is_finite() { &lags[..] } else { &lags[..1] };
        if self.squares.edges() <= MANY_EDGES {
            self.squares.mean_over_phases(lags, &GAUSS_3, share)
        } else {
            self.squares.mean_over_phases(&lags[..1], &[(0.5, 1.0)], share)
        }
    }
}

/// Share of the starts in one cycle of squares from which it acts within a window.
fn share_of(cycle: &Cycle, curve: &Curve, holds_a: f64, window: f64) -> f64 {
    let (worst, span) = Heat::of_cycle(cycle).worst(curve, window);
    // From any start the worst span comes by.
    if span + cycle.period <= window {
        return f64::from(u8::from(worst > holds_a));
    }
    if worst <= holds_a {
        return 0.0;
    }
    // In so short a window the heat of the whole of it counts. It is linear in the start between edges.
    let sums = Sums::of(cycle);
    let asked = (holds_a * curve.multiple(window)).powi(2) * window;
    let mut marks: Vec<f64> =
        cycle.starts.iter().flat_map(|s| [cycle.within(*s), cycle.within(s - window)]).collect();
    marks.sort_by(f64::total_cmp);
    let ends = marks.iter().skip(1).copied().chain(marks.first().map(|m| m + cycle.period));
    let mut share = 0.0;
    for (&from, to) in marks.iter().zip(ends) {
        // Two places within show the line; at the marks themselves rounding may take the neighbouring piece.
        let at = |x: f64| sums.over(from + x * (to - from), window) - asked;
        let (a, b) = (at(0.25), at(0.75));
        let (low, high) = (1.5 * a - 0.5 * b, 1.5 * b - 0.5 * a);
        share += (to - from)
            * match (low > 0.0, high > 0.0) {
                (true, true) => 1.0,
                (false, false) => 0.0,
                (true, false) => low / (low - high),
                (false, true) => high / (high - low),
            };
    }
    (share / cycle.period).clamp(0.0, 1.0)
}
