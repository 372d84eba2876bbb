//! Time-current curves.

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

    pub(super) fn points(&self) -> &[(f64, f64)] {
        &self.points[..self.count]
    }

    pub(super) fn last(&self) -> (f64, f64) {
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
