//! Smooth curves through lines drawn by hand.

use crate::units::Point;

/// Smooth curves through a line drawn by hand, end to end: each starts and ends in the direction of its neighbours. `start`
/// and `end` are the directions at the ends (unit vectors along the line) where track gives them. The fit is by least
/// squares with the points spread by their distances (P. J. Schneider, *Graphics Gems*, 1990).
pub fn fitted(
    points: &[Point],
    start: Option<Point>,
    end: Option<Point>,
    tolerance_mm: f64,
) -> Vec<[Point; 4]> {
    let mut line: Vec<Point> = Vec::new();
    for &point in points {
        let far = |last: &Point| between(*last, point) > tolerance_mm.max(1e-6);
        if line.last().is_none_or(far) {
            line.push(point);
        }
    }
    if let (Some(&last), true) = (points.last(), line.len() > 1)
        && let Some(end) = line.last_mut()
    {
        *end = last;
    }
    let (Some(&first), Some(&last)) = (line.first(), line.last()) else { return Vec::new() };
    if line.len() < 2 {
        return Vec::new();
    }
    // Over a few points a hand's tremble does not count.
    let reach = 3.min(line.len() - 1);
    let start = start.unwrap_or_else(|| direction(first, line[reach]));
    let end = end.unwrap_or_else(|| direction(line[line.len() - 1 - reach], last));
    let mut curves = Vec::new();
    fit(&line, start, end, tolerance_mm, 6, &mut curves);
    curves
}

/// A line pulled to other ends: each point moves with the nearer end more than with the farther one, so that no kink comes
/// into it.
pub fn pulled(line: &[Point], start: Point, end: Point) -> Vec<Point> {
    let (Some(first), Some(last)) = (line.first(), line.last()) else { return Vec::new() };
    let off = [(start.0 - first.0, start.1 - first.1), (end.0 - last.0, end.1 - last.1)];
    let whole: f64 = line.windows(2).map(|ends| between(ends[0], ends[1])).sum();
    let mut reached = 0.0;
    let mut before = *first;
    line.iter()
        .map(|point| {
            reached += between(before, *point);
            before = *point;
            let share = if whole > 0.0 { reached / whole } else { 0.0 };
            (
                point.0 + off[0].0 * (1.0 - share) + off[1].0 * share,
                point.1 + off[0].1 * (1.0 - share) + off[1].1 * share,
            )
        })
        .collect()
}

fn between(a: Point, b: Point) -> f64 {
    (b.0 - a.0).hypot(b.1 - a.1)
}

fn direction(a: Point, b: Point) -> Point {
    let size = between(a, b);
    if size > 0.0 { ((b.0 - a.0) / size, (b.1 - a.1) / size) } else { (1.0, 0.0) }
}

fn fit(
    line: &[Point],
    start: Point,
    end: Point,
    tolerance_mm: f64,
    depth: u32,
    curves: &mut Vec<[Point; 4]>,
) {
    let mut reached = vec![0.0];
    for ends in line.windows(2) {
        reached.push(reached[reached.len() - 1] + between(ends[0], ends[1]));
    }
    let (n, whole) = (line.len() - 1, reached[reached.len() - 1]);
    let (a, b) = (line[0], line[n]);
    // Handles along the two directions, by least squares.
    let (mut c, mut x) = ([[0.0; 2]; 2], [0.0; 2]);
    for (point, at) in line.iter().zip(&reached) {
        let t = at / whole;
        let s = 1.0 - t;
        let weights = [s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t];
        let pull = [scaled(start, weights[1]), scaled(end, -weights[2])];
        let rest = (
            point.0 - a.0 * (weights[0] + weights[1]) - b.0 * (weights[2] + weights[3]),
            point.1 - a.1 * (weights[0] + weights[1]) - b.1 * (weights[2] + weights[3]),
        );
        for i in 0..2 {
            for j in 0..2 {
                c[i][j] += dot(pull[i], pull[j]);
            }
            x[i] += dot(pull[i], rest);
        }
    }
    let det = c[0][0] * c[1][1] - c[0][1] * c[1][0];
    let chord = between(a, b);
    let usable = |handle: f64| handle.is_finite() && handle > 0.05 * chord && handle < 2.0 * whole;
    let mut handles =
        [(x[0] * c[1][1] - x[1] * c[0][1]) / det, (c[0][0] * x[1] - c[1][0] * x[0]) / det];
    if !handles.iter().all(|handle| usable(*handle)) {
        handles = [chord / 3.0; 2];
    }
    let curve = [
        a,
        (a.0 + start.0 * handles[0], a.1 + start.1 * handles[0]),
        (b.0 - end.0 * handles[1], b.1 - end.1 * handles[1]),
        b,
    ];
    // How far each point is from the curve, looked at in steps.
    let on = |t: f64| {
        let s = 1.0 - t;
        let weights = [s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t];
        let sum = |f: fn(Point) -> f64| curve.iter().zip(weights).map(|(p, w)| f(*p) * w).sum();
        (sum(|p| p.0), sum(|p| p.1))
    };
    let samples: Vec<Point> = (0..=64).map(|n| on(f64::from(n) / 64.0)).collect();
    let off =
        |point: &Point| samples.iter().map(|at| between(*at, *point)).fold(f64::INFINITY, f64::min);
    let worst = (1..n).max_by(|i, j| off(&line[*i]).total_cmp(&off(&line[*j])));
    let allowed = tolerance_mm + whole / 128.0;
    match worst.filter(|at| depth > 0 && n > 4 && off(&line[*at]) > allowed) {
        // A short rest is no piece of its own.
        Some(at) => {
            let at = at.clamp(2, n - 2);
            let through = direction(line[at - 1], line[at + 1]);
            fit(&line[..=at], start, through, tolerance_mm, depth - 1, curves);
            fit(&line[at..], through, end, tolerance_mm, depth - 1, curves);
        }
        None => curves.push(curve),
    }
}

fn scaled(p: Point, by: f64) -> Point {
    (p.0 * by, p.1 * by)
}

fn dot(p: Point, q: Point) -> f64 {
    p.0 * q.0 + p.1 * q.1
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn a_line_by_hand_becomes_smooth_curves_close_to_it() {
        // An S of two quarter circles with a tremble of a mm.
        let line: Vec<Point> = (0..=120)
            .map(|n| {
                let turn = f64::from(n) / 60.0 * std::f64::consts::FRAC_PI_2;
                let tremble = if n % 2 == 0 { 1.0 } else { -1.0 };
                if n <= 60 {
                    (600.0 * turn.sin(), 600.0 * (1.0 - turn.cos()) + tremble)
                } else {
                    let back = std::f64::consts::PI - turn;
                    (1200.0 - 600.0 * back.sin(), 600.0 + 600.0 * back.cos() + tremble)
                }
            })
            .collect();
        let curves = fitted(&line, Some((1.0, 0.0)), None, 5.0);
        assert!((1..=4).contains(&curves.len()), "{}", curves.len());
        assert_eq!(curves[0][0], line[0]);
        assert_eq!(curves[curves.len() - 1][3], line[120]);
        // It leaves in the direction that was asked for, and pieces meet in one direction.
        assert_abs_diff_eq!(curves[0][1].1 - curves[0][0].1, 0.0, epsilon = 1e-9);
        for pair in curves.windows(2) {
            let (a, b) = (direction(pair[0][2], pair[0][3]), direction(pair[1][0], pair[1][1]));
            assert_abs_diff_eq!(dot(a, b), 1.0, epsilon = 1e-9);
        }
        // Close to what was drawn: every point within 2 % of the length.
        for point in &line {
            let near = curves
                .iter()
                .flat_map(|c| {
                    (0..=200).map(|n| {
                        let (t, s) = (f64::from(n) / 200.0, 1.0 - f64::from(n) / 200.0);
                        let w = [s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t];
                        let at = |k: usize| scaled(c[k], w[k]);
                        (
                            at(0).0 + at(1).0 + at(2).0 + at(3).0,
                            at(0).1 + at(1).1 + at(2).1 + at(3).1,
                        )
                    })
                })
                .map(|at| between(at, *point))
                .fold(f64::INFINITY, f64::min);
            assert!(near < 38.0, "{near}");
        }
        assert!(fitted(&[], None, None, 5.0).is_empty());
        assert!(fitted(&[(1.0, 1.0), (1.0, 1.0)], None, None, 5.0).is_empty());
    }

    #[test]
    fn a_pulled_line_comes_to_its_ends_without_a_kink() {
        let line: Vec<Point> = (0..=10).map(|n| (100.0 * f64::from(n), 0.0)).collect();
        let pulled = pulled(&line, (0.0, 10.0), (1000.0, -30.0));
        assert_eq!((pulled[0], pulled[10]), ((0.0, 10.0), (1000.0, -30.0)));
        for (n, (_, y)) in (0u32..).zip(&pulled) {
            assert_abs_diff_eq!(*y, 10.0 - 4.0 * f64::from(n), epsilon = 1e-9);
        }
    }
}
