//! How far figures can be off where the common cycle of two patterns is a stand-in, or where not every relative phase is
//! looked at.
//!
//! # The bound
//! A figure is a weighted mean `y = ∫ w(s) v(s) ds` of a value over the time `s` before some moment: a filter's output
//! with `w = exp(-s/τ)/τ`, or the mean over a window of length `W` with `w = 1/W`. Both weights fall, and may be cut
//! off. The stand-in has the pattern `b` at a period `P'` instead of `P`. Let the two have one phase at `s = m`, and let
//! `θ`, the logarithm of the period, go from `ln P` to `ln P'`. An edge of `b` at `s_k` moves by `(s_k - m) dθ`, and the
//! value changes there by at most the edge's jump, so
//!
//! `|y - y'| ≤ |ln(P'/P)| · Σ_k jump_k · w(s_k) · |s_k - m|`.
//!
//! Equal edges are one period apart. A function that rises, then falls, sums over such points to at most its integral
//! through the period, and its largest value once more. `w(s)·|s - m|` is two of these, one to each side of `m`, so with
//! `J` for the jumps of one period and `P` for the shorter of the two periods:
//!
//! - filter, `m = τ ln 2`: at most `J · (ln 2 · τ/P + ln 2 + 1/(2e))`; with `m = 0`: `J · (τ/P + 1/e)`;
//! - window, `m = W/2`: at most `J · (W/(4P) + 1)`.
//!
//! The same holds with the roles exchanged: the stand-in that keeps the period of `b` and changes that of `a` is off by
//! at most this with the jumps and period of `a`. It is the first stand-in with all times stretched by `P/P'`. A stretch
//! of `dθ` about `s = 0` changes `y` by `∫ (w·s)' (v - c) ds · dθ` for any constant `c`; with `c` midway between the
//! extremes of the value, that is at most half their distance `D` times the variation of `w·s`. This rises to at most 1
//! and falls to 0, so the stretch adds at most `D · |ln(P'/P)|`. The tighter of both roles holds.
//!
//! # Phases between those looked at
//! A change `dφ` of the relative phase moves each edge of one pattern by `dφ`, so `y` changes by at most
//! `Σ_k jump_k · w(s_k) · dφ`, and a falling weight sums to at most `J · (1/P + w(0))`. Either pattern can be taken as
//! the one that moves, as the moment is free.

use std::f64::consts::{E, LN_2};

use super::pair::Pair;

/// One pattern taken as the one that moves: the jumps of value in one period, the shorter of its two periods, s, and what
/// the role adds.
type Role = (f64, f64, f64);

/// The role with fewer jumps in a second.
fn calmer([one, other]: [Role; 2]) -> Role {
    if other.0 / other.1 < one.0 / one.1 { other } else { one }
}

/// A weight over the time before a moment.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Weight {
    /// A first-order filter with this time constant, s.
    Filter(f64),
    /// A window of this length, s. An infinite one is a long-run mean.
    Window(f64),
}

impl Weight {
    /// The sum of `w(s)·|s - m|` over points `period` apart, at most.
    fn distances(self, period: f64) -> f64 {
        match self {
            Weight::Filter(tau) => {
                let n = tau / period;
                (LN_2 * n + LN_2 + 0.5 / E).min(n + 1.0 / E)
            }
            Weight::Window(span) => span / (4.0 * period) + 1.0,
        }
    }

    /// The sum of `w(s)` over points `period` apart, at most.
    fn points(self, period: f64) -> f64 {
        match self {
            Weight::Filter(s) | Weight::Window(s) => 1.0 / period + 1.0 / s,
        }
    }
}

impl Pair {
    /// The most that a weighted mean, at its worst phase and moment, differs between the common cycle and the true
    /// periods. A long-run mean has no error: its mean over all phases is the true one.
    pub fn off(&self, weight: Weight) -> f64 {
        if matches!(weight, Weight::Window(span) if span.is_infinite()) {
            return 0.0;
        }
        let (stretch, roles) = self.roles();
        let by = |(jumps, period, more): &Role| jumps * weight.distances(*period) + more;
        stretch * roles.iter().map(by).fold(f64::INFINITY, f64::min)
    }

    /// The same for a window, as a part that every window has and a part for each second of it.
    pub fn off_by_the_second(&self) -> (f64, f64) {
        let (stretch, roles) = self.roles();
        let (jumps, period, more) = calmer(roles);
        (stretch * (jumps + more), stretch * jumps / (4.0 * period))
    }

    /// The most that a weighted mean changes if the relative phase moves by `seconds`.
    pub fn drift(&self, weight: Weight, seconds: f64) -> f64 {
        if seconds <= 0.0 {
            return 0.0;
        }
        let (_, roles) = self.roles();
        let by = |(jumps, period, _): &Role| jumps * weight.points(*period);
        let (least, most) = self.extremes();
        (seconds * roles.iter().map(by).fold(f64::INFINITY, f64::min)).min(most - least)
    }

    /// The same for the integral over a window: a part that every window has, and a part for each second of it.
    pub fn drift_by_the_second(&self, seconds: f64) -> (f64, f64) {
        let (_, roles) = self.roles();
        let (jumps, period, _) = calmer(roles);
        (seconds * jumps, seconds * jumps / period)
    }

    /// The logarithm by which the stand-in stretches a period, and the two roles.
    fn roles(&self) -> (f64, [Role; 2]) {
        let factor = self.b_period() / self.b.period;
        let stretch = if self.exact() || self.single { 0.0 } else { factor.ln().abs() };
        let (least, most) = self.extremes();
        let (jumps_a, jumps_b) = self.jumps();
        let a = (jumps_a, self.a.period * (1.0 / factor).min(1.0), most - least);
        let b = (jumps_b, self.b.period * factor.min(1.0), 0.0);
        (stretch, [b, a])
    }

    /// The largest changes of value at the edges of `a` and of `b`, summed over one period.
    fn jumps(&self) -> (f64, f64) {
        let (n, m) = (self.a.pieces.len(), self.b.pieces.len());
        let v = &self.values;
        let largest =
            |steps: &mut dyn Iterator<Item = f64>| steps.map(f64::abs).fold(0.0, f64::max);
        let of_a = (0..n).map(|i| largest(&mut (0..m).map(|j| v[(i + 1) % n][j] - v[i][j])));
        let of_b = (0..m).map(|j| largest(&mut (0..n).map(|i| v[i][(j + 1) % m] - v[i][j])));
        (of_a.sum(), of_b.sum())
    }
}
