//! Sums and first-order filters over a cycle, in closed form.

use std::collections::VecDeque;

use super::pair::{Cycle, Pair};
use super::stand_in::Weight;

/// The integral of a cycle's value from its first start.
pub(crate) struct Sums<'a> {
    cycle: &'a Cycle,
    /// Integral up to the start of each stretch.
    up_to: Vec<f64>,
    /// Integral over one period.
    pub total: f64,
}

impl<'a> Sums<'a> {
    pub fn of(cycle: &'a Cycle) -> Self {
        let mut total = 0.0;
        let up_to = (0..cycle.values.len())
            .map(|i| {
                let so_far = total;
                total += cycle.values[i] * cycle.length(i);
                so_far
            })
            .collect();
        Self { cycle, up_to, total }
    }

    /// Integral from `from` over `span`.
    pub fn over(&self, from: f64, span: f64) -> f64 {
        let whole = (span / self.cycle.period).floor();
        let rest = span - whole * self.cycle.period;
        let (i, a) = self.cycle.locate(from);
        let (j, b) = self.cycle.locate(from + rest);
        let at = |i: usize, into: f64| self.up_to[i] + self.cycle.values[i] * into;
        let mut part = at(j, b) - at(i, a);
        // The end may lie around the corner from the start.
        if self.cycle.starts[j] + b < self.cycle.starts[i] + a {
            part += self.total;
        }
        whole * self.total + part
    }

    /// Least and largest mean over a window of `span`: it starts or ends at an edge.
    pub fn window_means(&self, span: f64) -> (f64, f64) {
        let starts = self.cycle.starts.iter();
        starts
            .flat_map(|s| [*s, *s - span])
            .map(|from| self.over(from, span) / span)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), m| (l.min(m), h.max(m)))
    }
}

/// A first-order filter, `y' = (x - y) / tau`, that has run over a cycle for ever.
pub(crate) struct Filtered<'a> {
    cycle: &'a Cycle,
    tau: f64,
    /// Output at the start of each stretch.
    y: Vec<f64>,
}

impl<'a> Filtered<'a> {
    pub fn of(cycle: &'a Cycle, tau: f64) -> Self {
        let step = |y: f64, i: usize| {
            let x = cycle.values[i];
            // (x - y) * (1 - exp) keeps its digits where a stretch is short.
            y - (x - y) * (-cycle.length(i) / tau).exp_m1()
        };
        let n = cycle.values.len();
        let once = (0..n).fold(0.0, step);
        let mut at = once / -(-cycle.period / tau).exp_m1();
        let y = (0..n)
            .map(|i| {
                let here = at;
                at = step(at, i);
                here
            })
            .collect();
        Self { cycle, tau, y }
    }

    /// Output at `t`.
    pub fn at(&self, t: f64) -> f64 {
        let (i, into) = self.cycle.locate(t);
        let (x, y) = (self.cycle.values[i], self.y[i]);
        y - (x - y) * (-into / self.tau).exp_m1()
    }

    /// Output at `end` of a filter that started at zero `span` before.
    pub fn after(&self, span: f64, end: f64) -> f64 {
        if span.is_finite() {
            self.at(end) - (-span / self.tau).exp() * self.at(end - span)
        } else {
            self.at(end)
        }
    }

    /// The largest output after `span` over all starts: it starts or ends at an edge.
    pub fn largest_after(&self, span: f64) -> f64 {
        let (least, most) = self.extremes();
        if !span.is_finite() {
            return most.max(0.0);
        }
        let left = (-span / self.tau).exp();
        let edges = || self.cycle.starts.iter().copied().zip(self.y.iter().copied());
        let mut best = 0.0_f64;
        // The output never leaves what it is at the edges around it, so most edges need no exact look.
        for (s, y) in edges() {
            if y - left * least > best {
                best = best.max(y - left * self.at(s - span));
            }
        }
        for (s, y) in edges() {
            if most - left * y > best && self.bound_at(s + span) - left * y > best {
                best = best.max(self.at(s + span) - left * y);
            }
        }
        best
    }

    /// Least and largest output.
    fn extremes(&self) -> (f64, f64) {
        self.y.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), y| (l.min(*y), h.max(*y)))
    }

    /// What the output at `t` does not exceed: the larger at the edges around it.
    fn bound_at(&self, t: f64) -> f64 {
        let (i, _) = self.cycle.locate(t);
        self.y[i].max(self.y[(i + 1) % self.y.len()]) * (1.0 + 1e-12)
    }

    /// Share of the starts (over one cycle) of which a filter that starts at zero exceeds `threshold` within `span`.
    pub fn share_over(&self, threshold: f64, span: f64) -> f64 {
        let (cycle, tau) = (self.cycle, self.tau);
        let n = cycle.starts.len();
        // Where the output is at a maximum, and the settled one over the threshold: the others cannot trip.
        let falls: Vec<(f64, f64)> = (0..n)
            .filter(|&i| {
                let before = cycle.values[(i + n - 1) % n];
                before > threshold && cycle.values[i] <= threshold && self.y[i] > threshold
            })
            .map(|i| (cycle.starts[i], self.y[i]))
            .collect();
        let fall = |k: usize| {
            let (t, y) = falls[k % falls.len()];
            (t + (k / falls.len()) as f64 * cycle.period, y)
        };
        // Of the falls within the window the one that trips the latest start is the best; this orders them.
        let rank = |(t, y): (f64, f64)| (y - threshold).ln() + t / tau;
        let mut best: VecDeque<usize> = VecDeque::new();
        let mut ahead = 0;
        let mut marks: Vec<f64> =
            cycle.starts.iter().flat_map(|s| [cycle.within(*s), cycle.within(s - span)]).collect();
        marks.sort_by(f64::total_cmp);
        let ends: Vec<f64> =
            marks.iter().skip(1).copied().chain([marks[0] + cycle.period]).collect();
        let ending = |start: f64| self.after(span, start + span) > threshold;
        let mut share = 0.0;
        for (&from, &to) in marks.iter().zip(&ends) {
            if to - from <= 1e-12 * cycle.period {
                continue;
            }
            // Within these starts the falls passed are the same. The output at each is less the later the start; at the
            // end of the window it goes one way.
            let middle = 0.5 * (from + to);
            while !falls.is_empty() && fall(ahead).0 < middle + span {
                let new = rank(fall(ahead));
                while best.back().is_some_and(|last| rank(fall(*last)) <= new) {
                    best.pop_back();
                }
                best.push_back(ahead);
                ahead += 1;
            }
            while best.front().is_some_and(|first| fall(*first).0 <= middle) {
                best.pop_front();
            }
            let top = best.front().map(|first| fall(*first));
            let passing = |start: f64| {
                top.is_some_and(|(t, y)| {
                    y - (-(t - start) / tau).exp() * self.at(start) > threshold
                })
            };
            let early = match (passing(from), passing(to)) {
                (_, true) => to,
                (true, false) => crossing(from, to, passing),
                (false, false) => from,
            };
            let late = match (ending(from), ending(to)) {
                (true, true) => (from, to),
                (true, false) => (from, crossing(from, to, ending)),
                (false, true) => (crossing_up(from, to, ending), to),
                (false, false) => (to, to),
            };
            share += if late.0 <= early {
                early.max(late.1) - from
            } else {
                early - from + late.1 - late.0
            };
        }
        (share / cycle.period).clamp(0.0, 1.0)
    }
}

/// Where a condition that holds at `from` and not at `to` ends.
fn crossing(from: f64, to: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (from, to);
    for _ in 0..40 {
        let mid = 0.5 * (low + high);
        if holds(mid) {
            low = mid;
        } else {
            high = mid;
        }
    }
    0.5 * (low + high)
}

fn crossing_up(from: f64, to: f64, holds: impl Fn(f64) -> bool) -> f64 {
    crossing(from, to, |x| !holds(x))
}

impl Pair {
    /// The largest output over all phases of a first-order filter that starts at zero `span` before: an upper bound where
    /// the common cycle is a stand-in or phases are left out.
    pub fn filter_largest(&self, tau: f64, span: f64) -> f64 {
        let lags = [0.0, span, -span];
        let looks = self.looks(if span.is_finite() { &lags[..] } else { &lags[..1] });
        let most = looks
            .phases
            .into_iter()
            .map(|phase| Filtered::of(&self.cycle(phase), tau).largest_after(span))
            .fold(0.0, f64::max);
        let (_, highest) = self.extremes();
        (most + self.off_filtered(tau, looks.apart)).min(highest)
    }

    /// Whether, by a bound, a first-order filter that starts at zero passes the threshold within `span` from every start
    /// at every phase: at the end of the span it stands at least at its least settled output, less what is left of the
    /// largest one. Where that is not so it may still pass.
    pub fn filter_surely_passes(&self, threshold: f64, tau: f64, span: f64) -> bool {
        let left = (-span / tau).exp();
        // Between coincidences the output at each edge goes one way, so its extremes are at the ends.
        let extremes = |phase: f64| Filtered::of(&self.cycle(phase), tau).extremes();
        let looks = self.looks(&[0.0]);
        let off = self.off_filtered(tau, looks.apart);
        let (least, most) = (looks.phases.into_iter().map(extremes))
            .fold((f64::INFINITY, 0.0_f64), |(least, most), (l, m)| (least.min(l), most.max(m)));
        least - off - left * (most + off) > threshold * (1.0 + 1e-9)
    }

    fn off_filtered(&self, tau: f64, apart: f64) -> f64 {
        let weight = Weight::Filter(tau);
        self.off(weight) + self.drift(weight, apart)
    }

    /// Share of the relative phases at which the filter, running for ever, exceeds the threshold.
    pub fn filter_share_standing(&self, threshold: f64, tau: f64) -> f64 {
        let most = |phase: f64| Filtered::of(&self.cycle(phase), tau).largest_after(f64::INFINITY);
        if self.single {
            return f64::from(u8::from(most(0.0) > threshold));
        }
        if self.thinned() {
            let over = |phase: f64| f64::from(u8::from(most(phase) > threshold));
            return self.mean_over_phases(&[], &[], over);
        }
        // The largest output is at least the mean, which is linear in the phase between coincidences.
        let mean = |phase: f64| Sums::of(&self.cycle(phase)).total / self.period();
        let mut share = 0.0;
        for (from, to) in self.cells(&[0.0]) {
            if mean(from).min(mean(to)) > threshold * (1.0 + 1e-9) {
                share += to - from;
                continue;
            }
            // Between coincidences the output at each edge goes one way, so the largest of them is high at the ends only.
            let (mut low, mut high) = (from, to);
            let (mut y_low, mut y_high) = (most(from), most(to));
            if y_low <= threshold && y_high <= threshold {
                continue;
            }
            let mut least = if y_low <= y_high { (y_low, from) } else { (y_high, to) };
            for _ in 0..50 {
                if least.0 <= threshold {
                    break;
                }
                let (p, q) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
                let (y_p, y_q) = (most(p), most(q));
                for found in [(y_p, p), (y_q, q)] {
                    if found.0 < least.0 {
                        least = found;
                    }
                }
                if y_p < y_q {
                    (high, y_high) = (q, y_q);
                } else {
                    (low, y_low) = (p, y_p);
                }
                if (y_high - y_low).abs() <= 1e-12 * threshold && high - low <= 1e-6 * (to - from) {
                    break;
                }
            }
            let over = |phase: f64| most(phase) > threshold;
            share += if least.0 > threshold {
                to - from
            } else {
                let left = if over(from) { crossing(from, least.1, over) - from } else { 0.0 };
                let right = if over(to) { to - crossing_up(least.1, to, over) } else { 0.0 };
                left + right
            };
        }
        (share / self.turn()).clamp(0.0, 1.0)
    }

    /// Mean of `f` over all relative phases, by a Gauss rule within each cell of phases: two nodes are exact where `f` is
    /// linear, three or more where it is smooth. Where that is too much work, the mean over a grid of phases.
    pub fn mean_over_phases(
        &self,
        lags: &[f64],
        nodes: &[(f64, f64)],
        f: impl Fn(f64) -> f64,
    ) -> f64 {
        if self.single {
            return f(0.0);
        }
        let mut mean = 0.0;
        if self.thinned() {
            let phases = self.looks(lags).phases;
            return phases.iter().map(|phase| f(*phase)).sum::<f64>() / phases.len() as f64;
        }
        for (from, to) in self.cells(lags) {
            for (x, weight) in nodes {
                mean += weight * (to - from) * f(from + x * (to - from));
            }
        }
        mean / self.turn()
    }
}

/// Gauss nodes and weights on 0 to 1.
pub(crate) const GAUSS_2: [(f64, f64); 2] =
    [(0.211_324_865_405_187_1, 0.5), (0.788_675_134_594_812_9, 0.5)];
/// Gauss nodes and weights on 0 to 1.
pub(crate) const GAUSS_3: [(f64, f64); 3] = [
    (0.112_701_665_379_258_3, 5.0 / 18.0),
    (0.5, 8.0 / 18.0),
    (0.887_298_334_620_741_7, 5.0 / 18.0),
];

#[cfg(test)]
mod tests {
    use super::*;
    use approx::{assert_abs_diff_eq, assert_relative_eq};

    fn square() -> Cycle {
        Cycle { period: 2.0, starts: vec![0.5, 1.0], values: vec![4.0, 0.0] }
    }

    #[test]
    fn sums_go_around() {
        let cycle = square();
        let sums = Sums::of(&cycle);
        assert_abs_diff_eq!(sums.total, 2.0, epsilon = 1e-12);
        assert_abs_diff_eq!(sums.over(0.75, 2.0), 2.0, epsilon = 1e-12);
        assert_abs_diff_eq!(sums.over(0.75, 1.9), 1.0 + 0.6, epsilon = 1e-12);
        assert_abs_diff_eq!(sums.over(-0.25, 1.0), 1.0, epsilon = 1e-12);
        assert_abs_diff_eq!(sums.over(0.0, 7.0), 8.0, epsilon = 1e-12);
        let (least, most) = sums.window_means(0.5);
        assert_eq!(least, 0.0);
        assert_abs_diff_eq!(most, 4.0, epsilon = 1e-12);
    }

    #[test]
    fn ripple_of_a_square_wave() {
        let cycle = square();
        let tau = 0.7;
        let f = Filtered::of(&cycle, tau);
        // Known: on for t1 of T, maximum x (1 - e^(-t1/tau)) / (1 - e^(-T/tau)).
        let known = 4.0 * (1.0 - (-0.5_f64 / tau).exp()) / (1.0 - (-2.0_f64 / tau).exp());
        assert_relative_eq!(f.largest_after(f64::INFINITY), known, max_relative = 1e-12);
        // From zero over one drive only.
        assert_relative_eq!(
            f.largest_after(0.5),
            4.0 * (1.0 - (-0.5_f64 / tau).exp()),
            max_relative = 1e-12
        );
    }

    #[test]
    fn share_of_starts_that_trip() {
        let cycle = square();
        let f = Filtered::of(&cycle, 0.7);
        // Within half a second only a start near the drive sees enough of it: it needs -tau ln(1 - 1/4) of drive.
        let need = -0.7 * (1.0_f64 - 0.25).ln();
        let share = f.share_over(1.0, 0.5);
        // Starts that meet at least `need` of the drive within the window; those that start before the drive see it at
        // the end, those within it at the start.
        assert_relative_eq!(share, 2.0 * (0.5 - need) / 2.0, max_relative = 1e-6);
    }
}
