//! Curves: lengths and places along them.

use super::*;
use approx::assert_relative_eq;

#[test]
fn degenerate_curves_give_numbers() {
    let mut layout = Layout::default();
    let (run, from, _) = lay(&mut layout, End::New(3.0, 4.0), End::New(5.0, 4.0), Shape::Straight);
    let base = layout.runs[&run].clone();
    for (to, shape, length_mm) in [
        (from, Shape::Straight, None),
        (from, Shape::Straight, Some(100.0)),
        (from, Shape::Arc { bend_deg: 90.0 }, None),
        (base.to, Shape::Arc { bend_deg: 1e-12 }, None),
        (base.to, Shape::Arc { bend_deg: 359.999 }, None),
        (from, Shape::Cubic { c1: (3.0, 4.0), c2: (3.0, 4.0) }, Some(5.0)),
        (base.to, Shape::Cubic { c1: (3.0, 4.0), c2: (5.0, 4.0) }, None),
        (JointId(77), Shape::Straight, Some(0.0)),
    ] {
        let run = Run { to, shape, length_mm, ..base.clone() };
        let curve = geometry::curve(&layout, &run);
        for at in [-1.0, 0.0, 0.5, 1.0, 1e9, f64::NAN] {
            let p = curve.at(at);
            assert!([p.x_mm, p.y_mm, p.dx, p.dy].iter().all(|v| v.is_finite()), "{run:?} {p:?}");
        }
        let c = curve.closest((7.0, -9.0));
        assert!(c.at_mm.is_finite() && c.off_mm.is_finite(), "{run:?} {c:?}");
        assert!(!curve.outline(0.0, 5.0, 0.1).is_empty());
    }
}

#[test]
fn arcs_are_exact() {
    let mut layout = Layout::default();
    // A quarter turn to the left on a radius of 500 mm about (0, 500).
    let (run, ..) =
        lay(&mut layout, End::New(0.0, 0.0), End::New(500.0, 500.0), Shape::Arc { bend_deg: 90.0 });
    let curve = geometry::curve(&layout, &layout.runs[&run]);
    assert_relative_eq!(
        curve.length_mm(),
        500.0 * std::f64::consts::FRAC_PI_2,
        max_relative = 1e-12
    );
    let middle = curve.at(curve.length_mm() / 2.0);
    let half = std::f64::consts::FRAC_1_SQRT_2;
    assert_relative_eq!(middle.x_mm, 500.0 * half, max_relative = 1e-12);
    assert_relative_eq!(middle.y_mm, 500.0 - 500.0 * half, max_relative = 1e-12);
    assert_relative_eq!(middle.dx, half, max_relative = 1e-12);
    // The left rail of a left turn is the inner one.
    let (x, y) = curve.rail_at(0.0, Rail::Left, 16.5);
    assert_relative_eq!(x, 0.0, epsilon = 1e-9);
    assert_relative_eq!(y, 8.25, max_relative = 1e-12);
    let found = curve.closest((500.0 * half - 10.0 * half, 500.0 - 500.0 * half + 10.0 * half));
    assert_relative_eq!(found.at_mm, curve.length_mm() / 2.0, max_relative = 1e-6);
    assert_relative_eq!(found.off_mm, 10.0, max_relative = 1e-6);
    for pair in curve.outline(0.0, curve.length_mm(), 0.1).windows(2) {
        let middle = ((pair[0].x_mm + pair[1].x_mm) / 2.0, (pair[0].y_mm + pair[1].y_mm) / 2.0);
        assert!((middle.0.hypot(middle.1 - 500.0) - 500.0).abs() < 0.1);
    }
}

#[test]
fn a_cubics_length_agrees_with_fine_steps() {
    let mut layout = Layout::default();
    let shape = Shape::Cubic { c1: (300.0, 400.0), c2: (900.0, -600.0) };
    let (run, ..) = lay(&mut layout, End::New(0.0, 0.0), End::New(1000.0, 100.0), shape);
    let curve = geometry::curve(&layout, &layout.runs[&run]);
    let point = |t: f64| {
        let (u, p) = (1.0 - t, [(0.0, 0.0), (300.0, 400.0), (900.0, -600.0), (1000.0, 100.0)]);
        let w = [u * u * u, 3.0 * u * u * t, 3.0 * u * t * t, t * t * t];
        (0..4).fold((0.0, 0.0), |sum: (f64, f64), i| (sum.0 + w[i] * p[i].0, sum.1 + w[i] * p[i].1))
    };
    let steps = 200_000;
    let mut length = 0.0;
    let mut last: (f64, f64) = point(0.0);
    for i in 1..=steps {
        let next = point(f64::from(i) / f64::from(steps));
        length += (next.0 - last.0).hypot(next.1 - last.1);
        last = next;
    }
    assert_relative_eq!(curve.length_mm(), length, max_relative = 1e-8);
    // A measured length stretches the drawing.
    let measured = Run { length_mm: Some(500.0), ..layout.runs[&run].clone() };
    let stretched = geometry::curve(&layout, &measured);
    assert_relative_eq!(stretched.at(250.0).x_mm, curve.at(curve.length_mm() / 2.0).x_mm);
}
