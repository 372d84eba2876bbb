//! Laws of single reports: consistent in themselves, and alike for layouts that differ in periods or ranges only.

use std::collections::BTreeSet;

use gapwright::findings::{
    Class, Current, CutReport, DriverFigures, Kind, Report, Situation, Verdict, check, words,
};
use gapwright::layout::{self, Direction, Drive, DriverId, Layout, Quantity};
use gapwright::report::Units;
use proptest::prelude::*;

use super::rough::{Drawn, layouts};

fn sound_current(what: &str, c: &Current) -> Result<(), TestCaseError> {
    let eps = 1e-9 + 1e-9 * c.peak;
    prop_assert!(
        [c.peak, c.mean, c.mean_abs, c.rms].iter().all(|v| v.is_finite()),
        "{what}: {c:?}"
    );
    prop_assert!(c.peak + eps >= c.rms, "{what}: {c:?}");
    prop_assert!(c.rms + eps >= c.mean_abs, "{what}: {c:?}");
    prop_assert!(c.mean_abs + eps >= c.mean.abs(), "{what}: {c:?}");
    Ok(())
}

fn sound_drivers(drivers: &[DriverFigures]) -> Result<(), TestCaseError> {
    for d in drivers {
        for c in [&d.p, &d.m, &d.supply].into_iter().chain(&d.sensed) {
            sound_current(&d.id.to_string(), c)?;
        }
        prop_assert!((0.0..=1.0).contains(&d.trips_share), "{d:?}");
    }
    Ok(())
}

fn sound_situation(s: &Situation) -> Result<(), TestCaseError> {
    prop_assert!((0.0..=1.0 + 1e-9).contains(&s.share), "{s:?}");
    if !s.states.is_empty() {
        let total: f64 = s.states.iter().map(|state| state.share).sum();
        prop_assert!((total - 1.0).abs() < 1e-9, "{total}");
    }
    prop_assert!(s.longest_s.seconds().is_none_or(|l| l >= 0.0));
    if let Some(margin) = s.margin {
        prop_assert!(margin.is_finite() && margin <= 1.0 + 1e-9, "{s:?}");
        if margin > 1e-9 {
            prop_assert!(s.verdict <= Verdict::NotKnown, "{s:?}");
        }
    }
    prop_assert!(s.verdict != Verdict::Stall || s.margin.is_none());
    prop_assert!(s.first.iter().all(|id| s.drivers.iter().any(|d| d.id == *id)));
    prop_assert_eq!(s.first.is_empty(), s.after_first.is_none());
    sound_drivers(&s.drivers)?;
    sound_drivers(s.loaded.as_deref().unwrap_or_default())
}

fn situations(cut: &CutReport) -> impl Iterator<Item = &Situation> {
    [Some(&cut.now), cut.agree.as_ref(), cut.disagree.as_ref(), cut.one_dead.as_ref()]
        .into_iter()
        .flatten()
        .chain(cut.card.iter().map(|cell| &cell.situation))
}

/// The drivers that are shorted, or fight each other, with no train on the track.
fn shorted_with_no_train(report: &Report) -> BTreeSet<DriverId> {
    let kinds = [Kind::StandingShort, Kind::DoublyFed, Kind::CommonRailFight];
    let found = report.findings.iter().filter(|f| kinds.contains(&f.kind));
    found.flat_map(|f| f.drivers.iter().copied()).collect()
}

fn sound(layout: &Layout, report: &Report) -> Result<(), TestCaseError> {
    let worst = report.findings.iter().filter(|f| f.class == Class::Fault).map(|f| f.verdict).max();
    prop_assert_eq!(report.verdict, worst.unwrap_or_default());
    prop_assert!(
        report.cuts.iter().map(|c| c.id).eq(layout.cuts.keys().copied()),
        "a cut is missing"
    );
    for finding in &report.findings {
        prop_assert!(finding.cuts().iter().all(|id| layout.cuts.contains_key(id)));
        prop_assert!(finding.drivers.iter().all(|id| layout.drivers.contains_key(id)));
        prop_assert!(finding.blocks.iter().all(|id| report.blocks.iter().any(|b| b.id == *id)));
        let words = words(finding, report, layout, Units::Metric);
        prop_assert!(!words.says.is_empty() && !words.why.trim().is_empty(), "{finding:?}");
        prop_assert!(!words.why.contains("NaN") && !words.why.contains("inf "), "{}", words.why);
    }
    let shorted = shorted_with_no_train(report);
    for cut in &report.cuts {
        prop_assert!(cut.blocks.iter().all(|id| report.blocks.iter().any(|b| b.id == *id)));
        for situation in situations(cut) {
            sound_situation(situation)?;
        }
        let lines = [&cut.agree, &cut.disagree, &cut.one_dead];
        let worst = lines.into_iter().flatten().map(|line| line.verdict).max();
        // What a train does to one driver by itself, without shorting it, is on the card alone; and what happens with no
        // train at all has a finding of its own.
        let card =
            cut.card.iter().map(|cell| &cell.situation).filter(|s| {
                s.parties.len() > 1 && !s.parties.iter().any(|id| shorted.contains(id))
            });
        let card = card.map(|situation| situation.verdict).max();
        prop_assert!(worst >= card, "{}: {worst:?} {card:?}", cut.id);
    }
    let document = gapwright::report::document("x", layout, report).to_string();
    prop_assert!(!document.contains("NaN"));
    Ok(())
}

/// So many cases, or as many as the environment asks for.
fn config(cases: u32) -> ProptestConfig {
    let wanted = ProptestConfig::default();
    let cases = if std::env::var_os("PROPTEST_CASES").is_some() { wanted.cases } else { cases };
    ProptestConfig { cases, max_shrink_iters: 300, failure_persistence: None, ..wanted }
}

/// Periods and trip times of a layout, all by one factor. Skews and tolerances stay out of it.
fn quicker(layout: &Layout, factor: f64) -> Layout {
    let mut layout = layout.clone();
    for driver in layout.drivers.values_mut() {
        match &mut driver.drive {
            Drive::PwmBridge { clock, .. } | Drive::SplitHalfBridge { clock, .. } => {
                clock.hz *= factor
            }
            _ => {}
        }
    }
    layout
}

/// A range about a value of a layout, `share` of the way to a tenth and to ten times the value.
fn ranged(value: &mut Quantity, share: f64) {
    if share > 0.0 {
        let nominal = value.value;
        *value = Quantity::assumed(
            nominal,
            nominal * (1.0 - 0.9 * share),
            nominal * (1.0 + 2.0 * share),
        );
    }
}

fn widened(layout: &Layout, shares: &[f64]) -> Layout {
    let mut layout = layout.clone();
    let mut shares = shares.iter().copied().cycle();
    let mut next = || shares.next().unwrap_or(0.0);
    for supply in layout.supplies.values_mut() {
        ranged(&mut supply.source_ohm, next());
        ranged(&mut supply.open_v, 0.2 * next());
    }
    for driver in layout.drivers.values_mut() {
        ranged(&mut driver.high_ohm, next());
        ranged(&mut driver.low_ohm, next());
        if let Some(trip) = &mut driver.trip {
            ranged(&mut trip.amps, 0.5 * next());
        }
    }
    for feed in layout.feeds.values_mut() {
        if let Some(ohm) = &mut feed.ohm {
            ranged(ohm, next());
        }
    }
    layout
}

fn same_figures(a: &Situation, b: &Situation) -> Result<(), TestCaseError> {
    let near = |x: f64, y: f64| (x - y).abs() <= 1e-6 * (1.0 + x.abs());
    prop_assert!(near(a.share, b.share), "{} {}", a.share, b.share);
    prop_assert_eq!(a.drivers.len(), b.drivers.len());
    for (x, y) in a.drivers.iter().zip(&b.drivers) {
        for (x, y) in [(&x.p, &y.p), (&x.m, &y.m), (&x.supply, &y.supply)] {
            prop_assert!(near(x.peak, y.peak) && near(x.mean, y.mean), "{x:?} {y:?}");
            prop_assert!(near(x.mean_abs, y.mean_abs) && near(x.rms, y.rms), "{x:?} {y:?}");
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(config(30))]

    /// Without trips, which compare times, nothing but the length of runs knows how long a period is.
    #[test]
    fn halving_all_periods_changes_nothing_but_run_lengths(Drawn(layout) in layouts()) {
        let mut layout = layout;
        for driver in layout.drivers.values_mut() {
            driver.trip = None;
            // The half-bits of DCC are those of the standard.
            if matches!(driver.drive, Drive::DccBooster { .. }) {
                driver.drive = Drive::Nothing;
                driver.setting.direction = Direction::Off;
            }
        }
        let (slow, quick) = (check(&layout), check(&quicker(&layout, 2.0)));
        prop_assert_eq!(slow.verdict, quick.verdict);
        for (a, b) in slow.cuts.iter().zip(&quick.cuts) {
            for (a, b) in situations(a).zip(situations(b)) {
                prop_assert_eq!(a.verdict, b.verdict);
                prop_assert_eq!(&a.settings, &b.settings);
                same_figures(a, b)?;
                // A run that the straddle or the end of time ends is as long; any other is half.
                if let (Some(x), Some(y)) = (a.longest_s.seconds(), b.longest_s.seconds()) {
                    prop_assert!(y <= x + 1e-9 && y >= x / 2.0 - 1e-9, "{x} {y}");
                }
            }
        }
    }

    /// Only a range can leave a verdict open.
    #[test]
    fn known_with_exact_values(Drawn(layout) in layouts()) {
        for cut in &check(&layout).cuts {
            let cells = cut.card.iter().filter(|c| c.situation.verdict == Verdict::NotKnown);
            prop_assert_eq!(cells.count(), 0, "{}", cut.id);
        }
    }

    /// What is not known stays so when one knows less, and what is known with little stays so with more.
    #[test]
    fn widening_ranges_never_makes_not_known_definite(
        Drawn(layout) in layouts(),
        shares in prop::collection::vec(0.0..0.5_f64, 12),
        more in prop::collection::vec(0.0..0.5_f64, 12),
    ) {
        let wider: Vec<f64> = shares.iter().zip(&more).map(|(a, b)| a + b).collect();
        let exact = check(&layout);
        let (narrow, wide) = (check(&widened(&layout, &shares)), check(&widened(&layout, &wider)));
        for ((exact, narrow), wide) in exact.cuts.iter().zip(&narrow.cuts).zip(&wide.cuts) {
            for (before, after) in [(exact, narrow), (narrow, wide)] {
                for (a, b) in before.card.iter().zip(&after.card) {
                    let (a, b) = (a.situation.verdict, b.situation.verdict);
                    prop_assert!(a != Verdict::NotKnown || b == Verdict::NotKnown, "{}: {a} then {b}", exact.id);
                    // A cell unites all ways of standing there: where the worst is no longer known, another that still
                    // is may be told.
                    let another = b > Verdict::NotKnown && b < a;
                    prop_assert!(b == a || b == Verdict::NotKnown || another, "{}: {a} then {b}", exact.id);
                }
            }
        }
    }
}

proptest! {
    #![proptest_config(config(30))]

    #[test]
    fn reports_are_consistent(Drawn(layout) in layouts()) {
        let report = check(&layout);
        sound(&layout, &report)?;
        // A pure function: again the same, and the same after a way through the file.
        let again = check(&layout::load(&layout::save(&layout)).unwrap().layout);
        prop_assert_eq!(&report, &again);
    }

    /// The card cell of two drivers is at least as bad as what they do now.
    #[test]
    fn no_setting_now_is_worse_than_its_class(Drawn(layout) in layouts(), throttles in [0.0..=1.0_f64, 0.0..=1.0_f64, 0.0..=1.0_f64]) {
        let mut layout = layout;
        for (driver, throttle) in layout.drivers.values_mut().zip(throttles) {
            driver.setting.throttle = throttle;
        }
        let report = check(&layout);
        let shorted = shorted_with_no_train(&report);
        for cut in &report.cuts {
            // A block fed by two is shorted by itself, and a card of pairs says nothing of that.
            let own = |side: usize| {
                let block = report.blocks.iter().find(|b| b.id == cut.blocks[side])?;
                if let [driver] = block.drivers[..] { Some(driver) } else { None }
            };
            let (Some(a), Some(b)) = (own(0), own(1)) else { continue };
            if shorted.contains(&a) || shorted.contains(&b) {
                continue;
            }
            let set = |id: DriverId| cut.now.settings.get(&id).map(|s| s.state);
            let Some(cell) = cut.card.iter().find(|c| Some(c.a) == set(a) && Some(c.b) == set(b)) else { continue };
            // A class sets every party so that it agrees with the pair; as set now a third need not.
            if cut.now.settings.keys().any(|&id| id != a && id != b) {
                continue;
            }
            let (now, worst) = (&cut.now, &cell.situation);
            if now.verdict == Verdict::Stall || now.verdict == Verdict::NotKnown {
                continue;
            }
            prop_assert!(now.verdict <= worst.verdict, "{}: now {now:#?} worst {worst:#?}", cut.id);
        }
    }
}

/// The laws about ranges speak of something: on one layout in three or so they leave a verdict open.
#[test]
fn ranges_do_leave_verdicts_open() {
    use proptest::strategy::ValueTree;
    use proptest::test_runner::TestRunner;
    let mut runner = TestRunner::deterministic();
    let open = (0..40)
        .filter(|_| {
            let layout = layouts().new_tree(&mut runner).unwrap().current().0;
            let report = check(&widened(&layout, &[0.4]));
            let mut cells = report.cuts.iter().flat_map(|c| &c.card);
            cells.any(|c| c.situation.verdict == Verdict::NotKnown)
        })
        .count();
    assert!(open >= 4, "{open} of 40");
}
