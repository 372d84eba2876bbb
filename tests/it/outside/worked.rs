//! The two worked examples in closed form, through the whole chain: file, nets, contacts, circuit, figures, report.

use approx::assert_relative_eq;
use gapwright::findings::{DriverFigures, Situation, check};

use super::cases::worked;

fn now(feed_ohm: f64) -> Situation {
    check(&worked(feed_ohm).layout()).cuts.swap_remove(0).now
}

fn drivers(now: &Situation) -> (&DriverFigures, &DriverFigures) {
    (&now.drivers[0], &now.drivers[1])
}

/// Shares of time in which A feeds B's clamp, and B feeds A's: throttles 0.4 and 0.8, independent clocks.
const A_FEEDS: f64 = 0.4 * 0.2;
const B_FEEDS: f64 = 0.8 * 0.6;

#[test]
fn first_example_is_a_plain_loop() {
    let now = now(0.35);
    let (a, b) = drivers(&now);
    // Supply; high switch; two feeder legs out, two back; one wheel before and one after on each side; three low switches.
    let loop_ohm = 0.05 + 0.06 + 4.0 * 0.35 + 2.0 * 0.02 + 3.0 * 0.06;
    assert_relative_eq!(loop_ohm, 1.73, max_relative = 1e-12);
    let peak = 14.0 / loop_ohm;
    assert_relative_eq!(now.share, 0.56, max_relative = 1e-9);
    assert_relative_eq!(a.p.peak, peak, max_relative = 1e-6);
    assert_relative_eq!(a.p.mean, (A_FEEDS - B_FEEDS) * peak, max_relative = 1e-6);
    assert_relative_eq!(a.p.mean_abs, 0.56 * peak, max_relative = 1e-6);
    assert_relative_eq!(a.p.rms, 0.56_f64.sqrt() * peak, max_relative = 1e-6);
    // The published figures, to their last digit.
    for (ours, published, digit) in [
        (a.p.peak, 8.0925, 5e-5),
        (a.supply.mean, 0.6474, 5e-5),
        (a.supply.rms, 2.289, 5e-4),
        (a.p.mean, -3.237, 5e-4),
        (a.p.mean_abs, 4.532, 5e-4),
        (a.p.rms, 6.056, 5e-4),
        (b.supply.mean, 3.884, 5e-4),
        (b.supply.rms, 5.607, 5e-4),
    ] {
        assert!((ours - published).abs() <= digit, "{ours}, not {published}");
    }
}

#[test]
fn in_the_second_example_a_body_diode_helps_a_switch() {
    let now = now(0.08);
    let (a, b) = drivers(&now);
    // The far low side of M drops more than V_f: switch (0.06) beside diode (0.7 V, 0.05).
    let rest_ohm = 0.05 + 0.06 + 4.0 * 0.08 + 2.0 * 0.02 + 2.0 * 0.06;
    let both_ohm = 0.06 * 0.05 / (0.06 + 0.05);
    let both_v = 0.7 * 0.06 / (0.06 + 0.05);
    let peak = (14.0 - both_v) / (rest_ohm + both_ohm);
    let without_diodes: f64 = 14.0 / (rest_ohm + 0.06);
    assert!((without_diodes - 21.54).abs() < 0.005, "{without_diodes}");
    assert_relative_eq!(a.p.peak, peak, max_relative = 1e-6);
    assert_relative_eq!(b.supply.mean, B_FEEDS * peak, max_relative = 1e-6);
    for (ours, published, digit) in [
        (a.p.peak, 22.062, 5e-4),
        (a.supply.mean, 1.765, 5e-4),
        (a.supply.rms, 6.240, 5e-4),
        (a.p.rms, 16.51, 5e-3),
    ] {
        assert!((ours - published).abs() <= digit, "{ours}, not {published}");
    }
}
