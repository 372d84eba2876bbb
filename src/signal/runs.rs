//! Runs of two patterns, followed edge by edge.

use super::beat::Pattern;
use super::pair::Pair;
use super::work::count;

/// Most edges through which a run is followed to one side.
const MOST_STEPS: usize = 50_000;
/// Most edges through which all runs of a pair are followed: those around every meeting of six pieces with six.
pub(crate) const MOST_FOLLOWED: usize = 36 * 2 * MOST_STEPS;

/// The outcome of following a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Followed {
    /// It ends after so many seconds.
    Ends(f64),
    /// It passes the window, or never ends.
    Passes,
    /// It passes more edges than are followed.
    GivenUp,
}

/// A window to compute with, s. `NaN` counts as none at all; `None` is unlimited.
pub(crate) fn window_of(window_s: Option<f64>) -> f64 {
    match window_s {
        None => f64::INFINITY,
        Some(w) if w.is_nan() => 0.0,
        Some(w) => w.max(0.0),
    }
}

impl Pair {
    /// The longest run over all relative phases of values above `level`, s; infinite if it passes the window, never ends
    /// or is given up.
    pub fn longest_above(&self, level: f64, window: f64) -> f64 {
        let mut steps = MOST_FOLLOWED;
        match self.follow(level, window, &mut steps) {
            Followed::Ends(seconds) => seconds,
            Followed::Passes | Followed::GivenUp => f64::INFINITY,
        }
    }

    /// The longest run over all relative phases of values above `level`, in at most so many steps through edges.
    ///
    /// Shifting one pattern changes a run linearly until two edges meet within it: so the longest is among those with two
    /// edges meeting at time zero.
    pub fn follow(&self, level: f64, window: f64, steps: &mut usize) -> Followed {
        let (least, most) = self.extremes();
        if most <= level {
            return Followed::Ends(0.0);
        }
        if least > level {
            return Followed::Passes;
        }
        let repeats = if self.exact() { 2.0 * self.period() } else { f64::INFINITY };
        let enough = window.min(repeats);
        let mut longest = 0.0_f64;
        for i in 0..self.a.pieces.len() {
            for j in 0..self.b.pieces.len() {
                match self.run_around((i, j), level, enough, steps) {
                    Followed::Ends(run) if run < enough => longest = longest.max(run),
                    Followed::Ends(_) | Followed::Passes => return Followed::Passes,
                    Followed::GivenUp => return Followed::GivenUp,
                }
            }
        }
        Followed::Ends(longest)
    }

    /// The run through time zero if the starts of piece `i` of `a` and `j` of `b` meet there.
    fn run_around(
        &self,
        (i, j): (usize, usize),
        level: f64,
        enough: f64,
        steps: &mut usize,
    ) -> Followed {
        let a = Walk { pattern: &self.a, from: i };
        // A pattern that stands for nothing has no edges.
        let b = Walk { pattern: &self.b, from: j };
        match self.half_run([&a, &b], level, enough, steps, true) {
            Followed::Ends(ahead) => {
                match self.half_run([&a, &b], level, enough - ahead, steps, false) {
                    Followed::Ends(behind) => Followed::Ends(ahead + behind),
                    other => other,
                }
            }
            other => other,
        }
    }

    /// How long a run lasts after time zero, or before it.
    fn half_run(
        &self,
        [a, b]: [&Walk; 2],
        level: f64,
        enough: f64,
        steps: &mut usize,
        ahead: bool,
    ) -> Followed {
        let eps = self.eps();
        // Pieces before time zero end where the next one starts.
        let (edge, sign, first) = if ahead { (1, 1.0, 0) } else { (0, -1.0, -1) };
        let (mut at_a, mut at_b) = (first, first);
        let mut run = 0.0;
        for _ in 0..MOST_STEPS.min(*steps) {
            *steps -= 1;
            count(1);
            let (next_a, next_b) = (sign * a.start(at_a + edge), sign * b.start(at_b + edge));
            let next = next_a.min(next_b);
            if next - run > eps && self.values[a.piece(at_a)][b.piece(at_b)] <= level {
                return Followed::Ends(run);
            }
            run = next;
            if run >= enough {
                return Followed::Passes;
            }
            let step = if ahead { 1 } else { -1 };
            at_a += if next_a - next <= eps { step } else { 0 };
            at_b += if next_b - next <= eps { step } else { 0 };
        }
        Followed::GivenUp
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
