//! Where a run is on the plan: lengths, places and tangents along it, the closest place to a point.
//!
//! Distances along a run are mm as measured on the real thing (see [`length_mm`]); the drawing is stretched over them.
//! Nothing here panics or returns NaN for a run of a valid layout; a run whose joints are missing has no length.

use crate::layout::model::{JointId, Layout, Rail, Run, RunEnd, Shape};
use crate::units::Point;

/// How near to an end of a run, mm, counts as *at* the end (at the joint).
pub const END_TOLERANCE_MM: f64 = 0.01;

/// Spans into which a cubic is cut for measuring.
const SPANS: usize = 64;

/// Five-point Gauss-Legendre abscissae and weights on -1 to 1.
const GAUSS: [(f64, f64); 5] = [
    (0.0, 0.568_888_888_888_888_9),
    (0.538_469_310_105_683_1, 0.478_628_670_499_366_47),
    (-0.538_469_310_105_683_1, 0.478_628_670_499_366_47),
    (0.906_179_845_938_664, 0.236_926_885_056_189_08),
    (-0.906_179_845_938_664, 0.236_926_885_056_189_08),
];

/// A place on a run: a point on the plan and the unit vector that points towards the run's end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pose {
    /// mm to the right.
    pub x_mm: f64,
    /// mm upwards.
    pub y_mm: f64,
    /// Tangent, to the right.
    pub dx: f64,
    /// Tangent, upwards.
    pub dy: f64,
}

impl Pose {
    /// The point that lies `mm` to the left of here (to the right if negative).
    pub fn left_by(&self, mm: f64) -> Point {
        (self.x_mm - self.dy * mm, self.y_mm + self.dx * mm)
    }
}

/// The place on a run that is closest to a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Closest {
    /// Distance along the run, mm.
    pub at_mm: f64,
    /// Distance of the point from the centre line, mm; positive to the left.
    pub off_mm: f64,
    /// The place itself.
    pub pose: Pose,
}

#[derive(Debug, Clone)]
enum Form {
    Line { a: Point, b: Point },
    Arc { a: Point, heading: f64, turn: f64 },
    Cubic { p: [Point; 4], reached_mm: Vec<f64> },
}

/// A run's centre line, worked out once for many questions.
#[derive(Debug, Clone)]
pub struct Curve {
    form: Form,
    drawn_mm: f64,
    length_mm: f64,
}

/// The centre line of a run.
pub fn curve(layout: &Layout, run: &Run) -> Curve {
    let place = |id: JointId| layout.joints.get(&id).map_or((0.0, 0.0), |j| (j.x_mm, j.y_mm));
    let (a, b) = (place(run.from), place(run.to));
    let chord = distance(a, b);
    let (form, drawn_mm) = match run.shape {
        Shape::Straight => (Form::Line { a, b }, chord),
        Shape::Arc { bend_deg } => {
            let turn = bend_deg.to_radians();
            let heading = (b.1 - a.1).atan2(b.0 - a.0) - turn / 2.0;
            let drawn_mm = if chord == 0.0 { 0.0 } else { chord / sinc(turn / 2.0) };
            (Form::Arc { a, heading, turn }, drawn_mm)
        }
        Shape::Cubic { c1, c2 } => {
            let p = [a, c1, c2, b];
            let mut reached_mm = Vec::with_capacity(SPANS + 1);
            let mut sum = 0.0;
            reached_mm.push(0.0);
            for i in 0..SPANS {
                sum += cubic_length(&p, span_t(i), span_t(i + 1));
                reached_mm.push(sum);
            }
            (Form::Cubic { p, reached_mm }, sum)
        }
    };
    Curve { form, drawn_mm, length_mm: run.length_mm.unwrap_or(drawn_mm) }
}

impl Curve {
    /// Length as it counts for trains, mm: the measured one if there is one, else the drawn one.
    pub fn length_mm(&self) -> f64 {
        self.length_mm
    }

    /// Length as drawn, mm. Straight runs and arcs are exact; a cubic without a cusp is within a millionth of itself.
    pub fn drawn_mm(&self) -> f64 {
        self.drawn_mm
    }

    /// The tightest radius, mm as drawn, and whether the track turns left there; `None` where it is straight throughout.
    pub fn least_radius_mm(&self) -> Option<(f64, bool)> {
        match &self.form {
            Form::Line { .. } => None,
            Form::Arc { turn, .. } => {
                (*turn != 0.0).then(|| (self.drawn_mm / turn.abs(), *turn > 0.0))
            }
            Form::Cubic { p, .. } => (0..=4 * SPANS)
                .filter_map(|n| {
                    let t = n as f64 / (4 * SPANS) as f64;
                    let (v, a) = (cubic_speed(p, t), cubic_pull(p, t));
                    let cross = v.0 * a.1 - v.1 * a.0;
                    let radius = v.0.hypot(v.1).powi(3) / cross.abs();
                    // Beyond ten kilometres nobody sees a curve.
                    (radius < 1e7).then_some((radius, cross > 0.0))
                })
                .min_by(|a, b| a.0.total_cmp(&b.0)),
        }
    }

    /// The place at a distance along the run, mm. A distance beyond an end gives that end.
    pub fn at(&self, at_mm: f64) -> Pose {
        let share = if self.length_mm > 0.0 { at_mm / self.length_mm } else { 0.0 };
        let share = within(share, 0.0, 1.0);
        match &self.form {
            Form::Line { a, b } => {
                let (dx, dy) = unit((b.0 - a.0, b.1 - a.1)).unwrap_or((1.0, 0.0));
                let (x_mm, y_mm) = mix(*a, *b, share);
                Pose { x_mm, y_mm, dx, dy }
            }
            Form::Arc { a, heading, turn } => {
                let turned = turn * share;
                let chord = self.drawn_mm * share * sinc(turned / 2.0);
                let towards = heading + turned / 2.0;
                let now = heading + turned;
                Pose {
                    x_mm: a.0 + chord * towards.cos(),
                    y_mm: a.1 + chord * towards.sin(),
                    dx: now.cos(),
                    dy: now.sin(),
                }
            }
            Form::Cubic { p, reached_mm } => {
                cubic_pose(p, cubic_t(p, reached_mm, share * self.drawn_mm))
            }
        }
    }

    /// The point of one rail at a distance along the run, for rails `gauge_mm` apart.
    pub fn rail_at(&self, at_mm: f64, rail: Rail, gauge_mm: f64) -> Point {
        let half = gauge_mm / 2.0;
        self.at(at_mm).left_by(if rail == Rail::Left { half } else { -half })
    }

    /// The place on the run that is closest to a point.
    pub fn closest(&self, point: Point) -> Closest {
        let off = |at_mm: f64| {
            let pose = self.at(at_mm);
            distance((pose.x_mm, pose.y_mm), point)
        };
        let steps = match self.form {
            Form::Line { a, b } => {
                let (ab, ap) = ((b.0 - a.0, b.1 - a.1), (point.0 - a.0, point.1 - a.1));
                let square = ab.0 * ab.0 + ab.1 * ab.1;
                let share = if square > 0.0 { (ab.0 * ap.0 + ab.1 * ap.1) / square } else { 0.0 };
                return self.closest_at(within(share, 0.0, 1.0) * self.length_mm, point);
            }
            Form::Arc { .. } => 64,
            Form::Cubic { .. } => 128,
        };
        let step = self.length_mm / f64::from(steps);
        let mut best = (0.0, f64::INFINITY);
        for i in 0..=steps {
            let at = step * f64::from(i);
            let d = off(at);
            if d < best.1 {
                best = (at, d);
            }
        }
        let (mut low, mut high) =
            ((best.0 - step).max(0.0), (best.0 + step).min(self.length_mm).max(0.0));
        for _ in 0..60 {
            let third = (high - low) / 3.0;
            if off(low + third) <= off(high - third) {
                high -= third;
            } else {
                low += third;
            }
        }
        let refined = f64::midpoint(low, high);
        self.closest_at(if off(refined) <= best.1 { refined } else { best.0 }, point)
    }

    fn closest_at(&self, at_mm: f64, point: Point) -> Closest {
        let pose = self.at(at_mm);
        let away = (point.0 - pose.x_mm, point.1 - pose.y_mm);
        let side = pose.dx * away.1 - pose.dy * away.0;
        let off_mm = distance((0.0, 0.0), away).copysign(if side == 0.0 { 1.0 } else { side });
        Closest { at_mm, off_mm, pose }
    }

    /// Places from one distance to another, ends included, close enough together that straight lines between them
    /// leave the curve by no more than about `tolerance_mm`.
    pub fn outline(&self, from_mm: f64, to_mm: f64, tolerance_mm: f64) -> Vec<Pose> {
        let span =
            if self.length_mm > 0.0 { ((to_mm - from_mm) / self.length_mm).abs() } else { 0.0 };
        let tolerance = if tolerance_mm > 1e-6 { tolerance_mm } else { 1e-6 };
        let steps = match self.form {
            Form::Line { .. } => 1.0,
            // The sagitta of a chord that turns by φ is about length · φ / 8.
            Form::Arc { turn, .. } => {
                (self.drawn_mm * span * (turn * span).abs() / (8.0 * tolerance)).sqrt().ceil()
            }
            Form::Cubic { p, .. } => {
                let second = |i: usize| {
                    let (a, b, c) = (p[i], p[i + 1], p[i + 2]);
                    distance((a.0 + c.0, a.1 + c.1), (2.0 * b.0, 2.0 * b.1))
                };
                (0.75 * second(0).max(second(1)) / tolerance).sqrt().ceil() * span.min(1.0)
            }
        };
        let steps = within(steps, 1.0, 1000.0).ceil();
        (0..=steps as u32)
            .map(|i| self.at(from_mm + (to_mm - from_mm) * f64::from(i) / steps))
            .collect()
    }
}

/// Length of a run as drawn, mm. See [`Curve::drawn_mm`].
pub fn drawn_length_mm(layout: &Layout, run: &Run) -> f64 {
    curve(layout, run).drawn_mm
}

/// Length of a run as it counts for trains, mm: the measured one if there is one, else the drawn one.
pub fn length_mm(layout: &Layout, run: &Run) -> f64 {
    run.length_mm.unwrap_or_else(|| drawn_length_mm(layout, run))
}

/// The place at a distance along a run, mm. See [`Curve::at`].
pub fn place_at(layout: &Layout, run: &Run, at_mm: f64) -> Pose {
    curve(layout, run).at(at_mm)
}

/// The point of one rail at a distance along a run, at the layout's gauge.
pub fn rail_at(layout: &Layout, run: &Run, at_mm: f64, rail: Rail) -> Point {
    curve(layout, run).rail_at(at_mm, rail, layout.gauge_mm)
}

/// The place on a run that is closest to a point.
pub fn closest(layout: &Layout, run: &Run, point: Point) -> Closest {
    curve(layout, run).closest(point)
}

/// Which end of a run of the given length a distance is at, if any (within [`END_TOLERANCE_MM`]).
pub fn end_at(length_mm: f64, at_mm: f64) -> Option<RunEnd> {
    if at_mm.abs() <= END_TOLERANCE_MM {
        Some(RunEnd::Start)
    } else if (at_mm - length_mm).abs() <= END_TOLERANCE_MM {
        Some(RunEnd::End)
    } else {
        None
    }
}

/// The two shapes into which a run's shape falls when it is divided at a distance along it.
pub(crate) fn divided(layout: &Layout, run: &Run, at_mm: f64) -> (Shape, Shape, Point) {
    let whole = curve(layout, run);
    let pose = whole.at(at_mm);
    let middle = (pose.x_mm, pose.y_mm);
    let share = within(at_mm / whole.length_mm, 0.0, 1.0);
    match whole.form {
        Form::Line { .. } => (Shape::Straight, Shape::Straight, middle),
        Form::Arc { turn, .. } => {
            let degrees = turn.to_degrees();
            (
                Shape::Arc { bend_deg: degrees * share },
                Shape::Arc { bend_deg: degrees * (1.0 - share) },
                middle,
            )
        }
        Form::Cubic { p, reached_mm } => {
            let t = cubic_t(&p, &reached_mm, share * whole.drawn_mm);
            let (ab, bc, cd) = (mix(p[0], p[1], t), mix(p[1], p[2], t), mix(p[2], p[3], t));
            let (abc, bcd) = (mix(ab, bc, t), mix(bc, cd, t));
            (Shape::Cubic { c1: ab, c2: abc }, Shape::Cubic { c1: bcd, c2: cd }, mix(abc, bcd, t))
        }
    }
}

/// The number itself if it is within bounds, else the bound; NaN counts as below.
fn within(value: f64, from: f64, to: f64) -> f64 {
    if value >= from { value.min(to) } else { from }
}

fn span_t(i: usize) -> f64 {
    i as f64 / SPANS as f64
}

fn distance(a: Point, b: Point) -> f64 {
    (b.0 - a.0).hypot(b.1 - a.1)
}

fn mix(a: Point, b: Point, t: f64) -> Point {
    (a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t)
}

fn unit(v: Point) -> Option<Point> {
    let size = v.0.hypot(v.1);
    (size > 0.0 && size.is_finite()).then(|| (v.0 / size, v.1 / size))
}

/// sin(x)/x.
fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-4 { 1.0 - x * x / 6.0 } else { x.sin() / x }
}

fn cubic_point(p: &[Point; 4], t: f64) -> Point {
    let (ab, bc, cd) = (mix(p[0], p[1], t), mix(p[1], p[2], t), mix(p[2], p[3], t));
    mix(mix(ab, bc, t), mix(bc, cd, t), t)
}

fn cubic_speed(p: &[Point; 4], t: f64) -> Point {
    let d = |i: usize| (3.0 * (p[i + 1].0 - p[i].0), 3.0 * (p[i + 1].1 - p[i].1));
    mix(mix(d(0), d(1), t), mix(d(1), d(2), t), t)
}

/// Second derivative of a cubic.
fn cubic_pull(p: &[Point; 4], t: f64) -> Point {
    let d = |i: usize| {
        (
            6.0 * (p[i + 2].0 - 2.0 * p[i + 1].0 + p[i].0),
            6.0 * (p[i + 2].1 - 2.0 * p[i + 1].1 + p[i].1),
        )
    };
    mix(d(0), d(1), t)
}

fn cubic_length(p: &[Point; 4], from: f64, to: f64) -> f64 {
    let (half, middle) = ((to - from) / 2.0, f64::midpoint(from, to));
    GAUSS
        .iter()
        .map(|&(x, weight)| {
            let v = cubic_speed(p, middle + half * x);
            weight * (v.0 * v.0 + v.1 * v.1).sqrt()
        })
        .sum::<f64>()
        * half
}

/// The curve parameter at which a cubic has run `s` mm.
fn cubic_t(p: &[Point; 4], reached_mm: &[f64], s: f64) -> f64 {
    let span = reached_mm.partition_point(|&r| r <= s).clamp(1, SPANS) - 1;
    let (start, wanted) = (span_t(span), s - reached_mm[span]);
    let (mut low, mut high) = (start, span_t(span + 1));
    // Bisection, because a control point may coincide with an end and make the speed zero there.
    for _ in 0..50 {
        let t = f64::midpoint(low, high);
        if cubic_length(p, start, t) < wanted {
            low = t;
        } else {
            high = t;
        }
    }
    if s >= reached_mm[SPANS] {
        1.0
    } else if s <= 0.0 {
        0.0
    } else {
        f64::midpoint(low, high)
    }
}

fn cubic_pose(p: &[Point; 4], t: f64) -> Pose {
    let (x_mm, y_mm) = cubic_point(p, t);
    let near = |step: f64| {
        let (a, b) = (cubic_point(p, (t - step).max(0.0)), cubic_point(p, (t + step).min(1.0)));
        unit((b.0 - a.0, b.1 - a.1))
    };
    let speed = cubic_speed(p, t);
    let direct = if speed.0.hypot(speed.1) > 1e-9 { unit(speed) } else { None };
    let (dx, dy) = direct.or_else(|| near(1e-3)).unwrap_or((1.0, 0.0));
    Pose { x_mm, y_mm, dx, dy }
}
