//! Trips that go by heat: fuses, resettable fuses, bimetal.
//!
//! The rule, for any waveform: such a trip has acted once, over some span of time within the straddle, the heat `∫i²dt`
//! is as much as a constant current has brought that acts in just that span by the time–current curve. That is: once the
//! RMS current over the last `s` seconds is that of the curve at `s`.
//!
//! - *Exact* for a constant current, and for every waveform beyond the last point of the curve, where nothing has time to
//!   cool and only the heat counts (constant I²t).
//! - An *approximation* between. Within a span early heat counts as much as late heat, though it has partly cooled: that
//!   errs towards acting. What it carried before the straddle is not counted, though a warm one acts sooner: that errs
//!   towards not acting. For spans much longer than the PWM period it is I²t at the RMS current.
//! - What is computed of a changing current is an *upper bound* of its heat, so it errs towards acting: over a span `s` no
//!   more than the long-run mean square times `s`, and once the largest surplus over it that a stretch of the cycle
//!   has; and never more than the largest square times `s`. The relative phase of two patterns counts as held for as long
//!   as it takes.

use super::filter::Sums;
use super::pair::{Cycle, Pair};
use super::trip::MANY_EDGES;

/// Most points of a curve.
pub const MOST_POINTS: usize = 8;

/// How long a current takes to make a thermal trip act, as points joined by straight lines in logarithms of both. Beyond
/// the last point I²t is constant; up to the current of the first it never acts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curve {
    /// Current as a multiple of the first point's, and time, s.
    points: [(f64, f64); MOST_POINTS],
    count: usize,
}

impl Curve {
    /// A curve through points (current in any unit, time in s). None without points, with more than [`MOST_POINTS`], or if
    /// currents do not rise, or times do not fall, from point to point.
    pub fn new(points: &[(f64, f64)]) -> Option<Self> {
        let usable = |x: f64| x > 0.0 && x.is_finite();
        let sound = points.iter().all(|p| usable(p.0) && usable(p.1))
            && points.windows(2).all(|w| w[1].0 > w[0].0 && w[1].1 < w[0].1);
        let first = points.first()?;
        if !sound || points.len() > MOST_POINTS {
            return None;
        }
        let mut curve = Self { points: [(0.0, 0.0); MOST_POINTS], count: points.len() };
        for (to, from) in curve.points.iter_mut().zip(points) {
            *to = (from.0 / first.0, from.1);
        }
        Some(curve)
    }

    /// The same with every time so many times as long.
    #[cfg(test)]
    pub(crate) fn stretched(mut self, by: f64) -> Self {
        for point in &mut self.points {
            point.1 *= by;
        }
        self
    }

    fn points(&self) -> &[(f64, f64)] {
        &self.points[..self.count]
    }

    fn last(&self) -> (f64, f64) {
        self.points[self.count - 1]
    }

    /// The longest time that it ever takes, s.
    pub fn longest_s(&self) -> f64 {
        self.points[0].1
    }

    /// How long a constant current takes, s, from its multiple of the current of the first point; none if it never acts.
    pub fn seconds(&self, multiple: f64) -> Option<f64> {
        if multiple.is_nan() || multiple <= 1.0 {
            return None;
        }
        let (last, shortest) = self.last();
        if multiple >= last {
            return Some(shortest * (last / multiple).powi(2));
        }
        let next = self.points().iter().position(|p| p.0 > multiple)?;
        let ((m0, t0), (m1, t1)) = (self.points[next - 1], self.points[next]);
        Some(t0 * (t1 / t0).powf((multiple / m0).ln() / (m1 / m0).ln()))
    }

    /// The constant current, as a multiple of that of the first point, that takes so many seconds. It acts within them
    /// if it is larger. Infinite for no time at all.
    pub fn multiple(&self, seconds: f64) -> f64 {
        let (last, shortest) = self.last();
        if seconds >= self.longest_s() {
            return 1.0;
        }
        if seconds <= shortest {
            return last * (shortest / seconds.max(0.0)).sqrt();
        }
        let next = self.points().iter().position(|p| p.1 < seconds).unwrap_or(self.count - 1);
        let ((m0, t0), (m1, t1)) = (self.points[next - 1], self.points[next]);
        m0 * (m1 / m0).powf((seconds / t0).ln() / (t1 / t0).ln())
    }
}

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
    fn of(squares: &Pair) -> Self {
        // Between coincidences of edges the heat of a stretch from edge to edge is linear in the relative phase.
        let cycles: Vec<Cycle> =
            squares.phases(&[0.0]).into_iter().map(|phase| squares.cycle(phase)).collect();
        let mean = cycles.iter().map(mean_of).fold(0.0, f64::max);
        let surplus = cycles.iter().map(|cycle| surplus_of(cycle, mean)).fold(0.0, f64::max);
        let at_once = squares.off(0.0);
        Self {
            mean,
            surplus,
            peak: squares.extremes().1,
            off: (at_once, squares.off(1.0) - at_once),
        }
    }

    /// That of one cycle of squares.
    fn of_cycle(cycle: &Cycle) -> Self {
        let mean = mean_of(cycle);
        Self {
            mean,
            surplus: surplus_of(cycle, mean),
            peak: cycle.values.iter().copied().fold(0.0, f64::max),
            off: (0.0, 0.0),
        }
    }

    /// Over a span, A²s.
    fn over(&self, s: f64) -> f64 {
        let settled = (self.mean + self.off.0 + self.off.1 * s) * s + self.surplus;
        settled.min(self.peak * s)
    }

    /// Spans, ascending, at one of which the heat comes nearest to what the curve asks: the end of the window, the times
    /// of the curve, and where the bound turns from the largest square to the mean. Between two of them the ratio of
    /// the two falls at most before it rises.
    fn spans(&self, curve: &Curve, window: f64) -> Vec<f64> {
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
    fn as_held(&self, curve: &Curve, s: f64) -> f64 {
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
            self.squares.mean_over_phases(lags, &super::filter::GAUSS_3, share)
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

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::brute::pwm;
    use super::super::{Beat, ClockId, Inrush, Trip, TripOutcome, Trips, trip, waveform};
    use super::*;
    use approx::{assert_abs_diff_eq, assert_relative_eq};
    use proptest::prelude::*;

    /// The slow side of the gates that IEC 60127-2 sets a quick-acting (F) fuse link of 125 mA and more: not within 60 min
    /// at 1.5 times its rating; at 2.1 times within 30 min, 2.75 within 2 s, 4 within 0.3 s, 10 within 20 ms. Taken from a
    /// published table of the gates, not from the standard itself.
    const GATES: [(f64, f64); 5] =
        [(1.5, 3600.0), (2.1, 1800.0), (2.75, 2.0), (4.0, 0.3), (10.0, 0.02)];

    fn gates() -> Curve {
        Curve::new(&GATES).unwrap()
    }

    fn warm(amps: &[f64], beats: &[Beat], rated_a: f64, window: Option<f64>) -> TripOutcome {
        trip(amps, beats, 1.5 * rated_a, &Trip::Thermal { curve: gates() }, window)
    }

    #[test]
    fn the_gates_of_a_quick_acting_fuse() {
        // 2 A: the points themselves, then I²t by hand: (10·2)²·0.02 = 8 A²s beyond.
        let steady = [Beat::steady(0)];
        for (times, seconds) in GATES.into_iter().skip(1) {
            let t = warm(&[2.0 * times], &steady, 2.0, None);
            assert_eq!((t.trips, t.exact), (Trips::Yes, true));
            assert_relative_eq!(t.after_s.unwrap(), seconds, max_relative = 1e-9);
        }
        let t = warm(&[40.0], &steady, 2.0, None);
        assert_relative_eq!(t.after_s.unwrap(), 8.0 / 1600.0, max_relative = 1e-9);
        // Midway in logarithms between 4 and 10 times: √40 = 6.32 times, √(0.3 · 0.02) = 77 ms.
        let t = warm(&[2.0 * 40.0_f64.sqrt()], &steady, 2.0, None);
        assert_relative_eq!(t.after_s.unwrap(), 0.006_f64.sqrt(), max_relative = 1e-9);
        // It holds one and a half times its rating for ever.
        let t = warm(&[3.0], &steady, 2.0, None);
        assert_eq!((t.trips, t.after_s, t.worst), (Trips::No, None, 3.0));
        assert_eq!(warm(&[3.01], &steady, 2.0, None).trips, Trips::Yes);
    }

    #[test]
    fn only_within_the_straddle() {
        let steady = [Beat::steady(0)];
        let t = |window| warm(&[8.0], &steady, 2.0, window);
        assert_eq!(t(Some(0.29)).trips, Trips::No);
        assert_eq!(t(Some(0.31)).trips, Trips::Yes);
        assert_eq!(t(Some(0.0)).trips, Trips::No);
        // What is compared with the 3 A that it holds: within 20 ms it would take 20 A, and 8 come.
        assert_relative_eq!(t(Some(0.02)).worst, 3.0 * 8.0 / 20.0, max_relative = 1e-9);
        assert_relative_eq!(t(None).worst, 8.0, max_relative = 1e-9);
    }

    #[test]
    fn a_curve_answers_both_ways() {
        let curve = gates();
        for multiple in [1.0001, 1.2, 1.4, 1.5, 2.0, 3.0, 6.66, 7.0, 50.0] {
            let seconds = curve.seconds(multiple).unwrap();
            assert_relative_eq!(curve.multiple(seconds), multiple, max_relative = 1e-9);
        }
        assert_eq!(curve.seconds(1.0), None);
        assert_eq!(curve.seconds(f64::NAN), None);
        assert_eq!(curve.multiple(1e9), 1.0);
        assert_eq!(curve.multiple(0.0), f64::INFINITY);
        let one = Curve::new(&[(2.0, 5.0)]).unwrap();
        assert_relative_eq!(one.seconds(2.0).unwrap(), 1.25);
        for wrong in [
            &[][..],
            &[(1.0, 1.0), (1.0, 0.5)],
            &[(1.0, 1.0), (2.0, 1.0)],
            &[(f64::NAN, 1.0)],
            &[(1.0, -1.0)],
            &[(1.0, f64::INFINITY)],
        ] {
            assert_eq!(Curve::new(wrong), None);
        }
        let many: Vec<(f64, f64)> =
            (0..9).map(|k| (1.0 + f64::from(k), 9.0 - f64::from(k))).collect();
        assert_eq!(Curve::new(&many), None);
        assert!(Curve::new(&many[..8]).is_some());
    }

    #[test]
    fn pwm_heats_by_its_rms() {
        // 16 A for a quarter of 10 ms: 8 A RMS, four times 2 A. After 0.3 s, give or take a period.
        let beats = [pwm(100.0, 0.25)];
        let t = warm(&[16.0, 0.0], &beats, 2.0, None);
        assert_eq!(t.trips, Trips::Yes);
        assert_abs_diff_eq!(t.after_s.unwrap(), 0.3, epsilon = 0.015);
        assert_eq!(warm(&[16.0, 0.0], &beats, 2.0, Some(0.28)).trips, Trips::No);
        assert_eq!(warm(&[16.0, 0.0], &beats, 2.0, Some(0.33)).trips, Trips::Yes);
        // 5.9 A at the peak and 2.95 A RMS: never.
        assert_eq!(warm(&[5.9, 0.0], &beats, 2.0, None).trips, Trips::No);
    }

    #[test]
    fn one_pulse_may_be_enough() {
        // 40 A melt 2 A after 8 A²s / (40 A)² = 5 ms. Of 20 ms of straddle, with pulses of 6 ms every 100 ms, those starts
        // do that meet more than 5 ms of a pulse: from 15 ms before it to 1 ms into it.
        let beats = [pwm(10.0, 0.06)];
        let t = warm(&[40.0, 0.0], &beats, 2.0, Some(0.02));
        assert_eq!(t.trips, Trips::Sometimes);
        assert_relative_eq!(t.after_s.unwrap(), 5e-3, max_relative = 1e-9);
        assert_abs_diff_eq!(t.share, 0.16, epsilon = 1e-6);
        assert_eq!(warm(&[40.0, 0.0], &beats, 2.0, Some(0.0049)).trips, Trips::No);
        assert_eq!(warm(&[40.0, 0.0], &beats, 2.0, Some(0.2)).trips, Trips::Yes);
    }

    #[test]
    fn a_phase_that_nobody_knows_decides() {
        // Half of the time each, 6 A while only one drives. One clock, unknown phase: from never to always in conflict,
        // and the fuse of 2 A melts where the RMS is more than 3 A: where they differ for more than a quarter.
        let beats = super::super::brute::one_clock([pwm(100.0, 0.5), pwm(100.0, 0.5)]);
        let t = warm(&[0.0, 6.0, 6.0, 0.0], &beats, 2.0, None);
        assert_eq!(t.trips, Trips::Sometimes);
        assert!((t.share - 0.75).abs() < 0.06, "{t:?}");
        assert_relative_eq!(t.worst, 6.0, max_relative = 1e-9);
    }

    #[test]
    fn an_inrush_has_half_the_heat_of_its_start() {
        // 60 A decaying with 2 ms: 60² · 1 ms = 3.6 A²s. That melts a link of 1 A (2 A²s), not one of 2 A (8 A²s).
        let inrush = Inrush { peak_a: 60.0, decay_s: 2e-3 };
        let on = |rated: f64| inrush.trips(1.5 * rated, &Trip::Thermal { curve: gates() }, None);
        assert!(on(1.0).acts);
        assert!(!on(2.0).acts);
        assert!(on(1.0).after_s.unwrap() <= 1e-3);
    }

    fn any_curve() -> impl Strategy<Value = Curve> {
        prop::collection::vec((1.05..4.0_f64, 1.1..200.0_f64), 0..6).prop_map(|steps| {
            let mut points = vec![(1.0, 50.0)];
            for (up, down) in steps {
                let (m, t) = points[points.len() - 1];
                points.push((m * up, t / down));
            }
            Curve::new(&points).unwrap()
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

        #[test]
        fn between_the_heat_of_any_phase_and_that_of_the_largest_current(
            hz in (prop_oneof![Just(100.0), Just(490.0), 30.0..300.0_f64], 30.0..300.0_f64),
            d in (0.05..0.95_f64, 0.05..0.95_f64),
            pool in prop::collection::vec(0.0..10.0_f64, 4),
            phase in (0.0..1.0_f64, 0.0..1.0_f64),
            curve in any_curve(),
            window in 1e-3..2.0_f64,
        ) {
            let beats = [pwm(hz.0, d.0), pwm(hz.1, d.1)];
            let t = trip(&pool, &beats, 0.0, &Trip::Thermal { curve }, Some(window));
            // Heat from the start of a waveform up to each of its edges.
            let (mut heat, mut found) = (0.0, 0.0_f64);
            for s in waveform(&beats, &[phase.0, phase.1], 0.0, window) {
                heat += pool[s.joint].powi(2) * (s.to_s - s.from_s);
                found = found.max((heat / s.to_s).sqrt() / curve.multiple(s.to_s));
            }
            prop_assert!(found <= t.worst * (1.0 + 1e-6), "{found} {t:?}");
            // Never more than the largest current for the whole window.
            let most = pool.iter().copied().fold(0.0, f64::max) / curve.multiple(window);
            prop_assert!(t.worst <= most * (1.0 + 1e-9));
        }

        #[test]
        fn more_time_never_hinders(
            d in (0.05..0.95_f64, 0.05..0.95_f64),
            pool in prop::collection::vec(0.0..10.0_f64, 4),
            curve in any_curve(),
            window in (1e-3..2.0_f64, 1.0..10.0_f64),
            holds_a in 0.1..8.0_f64,
        ) {
            let beats = [pwm(490.0, d.0), pwm(125.0, d.1)];
            let kind = Trip::Thermal { curve };
            let at = |w| trip(&pool, &beats, holds_a, &kind, w);
            let (short, long) = (at(Some(window.0)), at(Some(window.0 * window.1)));
            prop_assert!(short.worst <= long.worst * (1.0 + 1e-12));
            prop_assert!(long.worst <= at(None).worst * (1.0 + 1e-12));
            if let Some(after) = short.after_s {
                prop_assert!(after <= window.0 * (1.0 + 1e-9));
                prop_assert!((after - long.after_s.unwrap()).abs() <= 1e-6 * after);
            }
            prop_assert_eq!(short.after_s.is_some(), short.worst > holds_a);
        }

        #[test]
        fn in_the_long_run_it_is_the_rms(
            d in (0.05..0.95_f64, 0.05..0.95_f64),
            amps in 1.0..10.0_f64,
        ) {
            // Of two free clocks, over many periods, against a curve that asks for 50 s.
            let beats = [pwm(490.0, d.0), pwm(125.0, d.1)];
            let pool = [0.0, amps, amps, 0.0];
            let curve = Curve::new(&[(1.0, 100.0), (1.5, 50.0)]).unwrap();
            let t = trip(&pool, &beats, 0.0, &Trip::Thermal { curve }, Some(50.0));
            let rms = amps * (d.0 + d.1 - 2.0 * d.0 * d.1).sqrt();
            prop_assert!((t.worst * 1.5 / rms - 1.0).abs() < 5e-3, "{} {rms}", t.worst * 1.5);
        }
    }

    #[test]
    fn strange_input_has_an_answer() {
        let beats = [Beat::new(0.0, [], ClockId::default()), pwm(f64::INFINITY, 0.5)];
        for amps in [&[][..], &[f64::NAN, 1.0], &[f64::INFINITY, 0.0]] {
            let t = warm(amps, &beats, 1.0, Some(f64::NAN));
            assert!(t.worst.is_finite());
        }
        let t = warm(&[1.0, 0.0], &[pwm(100.0, 0.5)], f64::NAN, None);
        assert_eq!(t.trips, Trips::No);
    }
}
