//! The longest unbroken run of a set of joint states.

use super::beat::{Beat, Pattern};
use super::pair::{Pair, Reduced, reduce};

/// Most stretches a run is followed through before it counts as one that lasts for ever.
const MOST_STEPS: usize = 50_000;

/// The longest unbroken run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Run {
    /// Its length, s; none if it lasts for ever.
    pub seconds: Option<f64>,
    /// Whether that is the length itself; else it is an upper bound.
    pub exact: bool,
}

/// The longest unbroken run of the joint states that `over` marks, over all phases, never longer than the window (s; none
/// is for ever). Runs merge on closed intervals: one state of the set following another at one instant goes on.
/// Free phases are arbitrary even where the periods are in a simple ratio.
pub fn longest_run(over: &[bool], beats: &[Beat], window_s: Option<f64>) -> Run {
    let values: Vec<f64> = over.iter().map(|o| f64::from(u8::from(*o))).collect();
    let window = window_of(window_s);
    let (run, exact) = match reduce(&values, beats) {
        Reduced::Steady(value) => (if value > 0.5 { f64::INFINITY } else { 0.0 }, true),
        Reduced::Pair(pair) => (pair.longest_above(0.5, window), true),
        Reduced::Bounds(pairs) => {
            let runs = pairs.iter().map(|(_, most)| most.longest_above(0.5, window));
            (runs.fold(f64::INFINITY, f64::min), false)
        }
    };
    let run = run.min(window);
    // An upper bound of nothing is nothing.
    Run { seconds: run.is_finite().then_some(run), exact: exact || run == 0.0 }
}

/// [`longest_run`] without whether it is exact.
pub fn longest_run_s(over: &[bool], beats: &[Beat], window_s: Option<f64>) -> Option<f64> {
    longest_run(over, beats, window_s).seconds
}

/// A window to compute with: what is not a number is nothing, none is for ever.
pub(crate) fn window_of(window_s: Option<f64>) -> f64 {
    match window_s {
        None => f64::INFINITY,
        Some(w) if w.is_nan() => 0.0,
        Some(w) => w.max(0.0),
    }
}

impl Pair {
    /// The longest run over all relative phases of values above `level`, s; infinite if it passes the window or never
    /// ends.
    ///
    /// Shifting one pattern changes a run linearly until two edges meet within it: so the longest is among those with two
    /// edges meeting at time zero.
    pub fn longest_above(&self, level: f64, window: f64) -> f64 {
        let (least, most) = self.extremes();
        if most <= level {
            return 0.0;
        }
        if least > level {
            return f64::INFINITY;
        }
        let repeats = if self.exact() { 2.0 * self.period() } else { f64::INFINITY };
        let enough = window.min(repeats);
        let mut longest = 0.0_f64;
        for i in 0..self.a.pieces.len() {
            for j in 0..self.b.pieces.len() {
                let run = self.run_around(i, j, level, enough);
                if run >= enough {
                    return f64::INFINITY;
                }
                longest = longest.max(run);
            }
        }
        longest
    }

    /// The run through time zero if the starts of piece `i` of `a` and `j` of `b` meet there.
    fn run_around(&self, i: usize, j: usize, level: f64, enough: f64) -> f64 {
        let eps = self.eps();
        let a = Walk { pattern: &self.a, from: i };
        // A pattern that stands for nothing has no edges.
        let b = Walk { pattern: &self.b, from: j };
        let above = |ma: i64, mb: i64| self.values[a.piece(ma)][b.piece(mb)] > level;
        let mut ahead = 0.0;
        let (mut ma, mut mb) = (0, 0);
        let mut ended = false;
        for _ in 0..MOST_STEPS {
            let (na, nb) = (a.start(ma + 1), b.start(mb + 1));
            let next = na.min(nb);
            if next - ahead > eps && !above(ma, mb) {
                ended = true;
                break;
            }
            ahead = next;
            if ahead >= enough {
                return f64::INFINITY;
            }
            ma += i64::from(na - next <= eps);
            mb += i64::from(nb - next <= eps);
        }
        if !ended {
            return f64::INFINITY;
        }
        let mut behind = 0.0;
        let (mut ma, mut mb) = (-1, -1);
        let mut ended = false;
        for _ in 0..MOST_STEPS {
            let (sa, sb) = (a.start(ma), b.start(mb));
            let previous = sa.max(sb);
            if behind - previous > eps && !above(ma, mb) {
                ended = true;
                break;
            }
            behind = previous;
            if ahead - behind >= enough {
                return f64::INFINITY;
            }
            ma -= i64::from(previous - sa <= eps);
            mb -= i64::from(previous - sb <= eps);
        }
        if ended { ahead - behind } else { f64::INFINITY }
    }
}

struct Walk<'a> {
    pattern: &'a Pattern,
    from: usize,
}

impl Walk<'_> {
    fn split(&self, m: i64) -> (i64, usize) {
        let n = self.pattern.pieces.len() as i64;
        let at = self.from as i64 + m;
        (at.div_euclid(n), at.rem_euclid(n) as usize)
    }

    fn piece(&self, m: i64) -> usize {
        self.split(m).1
    }

    /// Start of the piece `m` after the one that starts at zero.
    fn start(&self, m: i64) -> f64 {
        let (cycle, piece) = self.split(m);
        let offset = self.pattern.pieces[piece].0 - self.pattern.pieces[self.from].0;
        (cycle as f64 + offset) * self.pattern.period
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::brute::pwm;
    use super::super::{ClockId, Joint};
    use super::*;
    use approx::assert_relative_eq;

    const CONFLICT: [bool; 4] = [false, true, true, false];

    #[test]
    fn a_clamp_fight_lasts_as_long_as_the_longer_drive_or_both_in_turn() {
        // A drives 2 ms of 10, B 1 ms of 25: A's drive ends as B's begins.
        let beats = [pwm(100.0, 0.2), pwm(40.0, 0.04)];
        assert_relative_eq!(
            longest_run_s(&CONFLICT, &beats, None).unwrap(),
            3e-3,
            max_relative = 1e-9
        );
        assert_relative_eq!(longest_run_s(&CONFLICT, &beats, Some(1e-3)).unwrap(), 1e-3);
        assert!(longest_run(&CONFLICT, &beats, None).exact);
    }

    #[test]
    fn steady_sides() {
        // A brakes for ever, B drives 20 % of 10 ms.
        let beats = [Beat::steady(1), pwm(100.0, 0.2)];
        let over = [true, false];
        assert_relative_eq!(longest_run_s(&over, &beats, None).unwrap(), 2e-3, max_relative = 1e-9);
        assert_eq!(longest_run_s(&[true], &[Beat::steady(0), Beat::steady(0)], None), None);
        assert_eq!(
            longest_run_s(&[true], &[Beat::steady(0), Beat::steady(0)], Some(0.2)),
            Some(0.2)
        );
        assert_eq!(longest_run_s(&[false], &[Beat::steady(0)], None), Some(0.0));
        assert_eq!(longest_run_s(&[true; 4], &[pwm(1.0, 0.5), pwm(2.0, 0.5)], None), None);
    }

    #[test]
    fn swapped_boosters_on_one_clock_never_let_go() {
        let at = |phase| ClockId { shared: Some(1), phase: Some(phase), tolerance: 0.0 };
        let mut beats = [pwm(8600.0, 0.5), pwm(8600.0, 0.5)];
        beats[0].clock = at(0.0);
        beats[1].clock = at(0.5);
        assert_eq!(longest_run_s(&CONFLICT, &beats, None), None);
        // In phase: never in conflict; skewed by a twentieth: for so long.
        beats[1].clock = at(0.0);
        assert_eq!(longest_run_s(&CONFLICT, &beats, None), Some(0.0));
        beats[1].clock = at(0.05);
        assert_relative_eq!(
            longest_run_s(&CONFLICT, &beats, None).unwrap(),
            0.05 / 8600.0,
            max_relative = 1e-6
        );
    }

    #[test]
    fn three_free_beats_are_bounded_by_pairs() {
        let beats = [pwm(100.0, 0.2), pwm(40.0, 0.04), pwm(33.0, 0.5)];
        let joint = Joint::of(&beats);
        let over: Vec<bool> = (0..joint.count())
            .map(|j| {
                let p = joint.decode(j);
                p[2] == 0 && p[0] != p[1]
            })
            .collect();
        let run = longest_run(&over, &beats, None);
        assert!(!run.exact);
        assert_relative_eq!(run.seconds.unwrap(), 3e-3, max_relative = 1e-9);
    }
}
