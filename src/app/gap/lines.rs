//! Lines of the waveforms: the levels of a trace from edge to edge, what a trip makes of them, and the conflicts.

use egui_plot::{Line, PlotPoints, Span};

use super::super::theme::Tokens;
use super::scene::Scene;
use super::waves::Waves;
use crate::findings::Verdict;
use crate::signal::Stretch;
use crate::study::scope::{Scope, Signal, Trace, acts_at};

/// The line of a trace: its levels from edge to edge, in pieces where it floats.
fn pieces(trace: &Trace, stretches: &[Stretch]) -> Vec<Vec<[f64; 2]>> {
    let mut pieces: Vec<Vec<[f64; 2]>> = Vec::new();
    let mut floats = true;
    for stretch in stretches {
        let Some(level) = trace.levels.get(stretch.joint).copied().flatten() else {
            floats = true;
            continue;
        };
        if std::mem::take(&mut floats) {
            pieces.push(Vec::new());
        }
        if let Some(piece) = pieces.last_mut() {
            piece.extend([[stretch.from_s * 1e3, level], [stretch.to_s * 1e3, level]]);
        }
    }
    pieces
}

/// The pieces of a trace as it is drawn: of a trip that filters or samples, what that makes of its current.
pub(super) fn drawn(
    scene: &Scene,
    scope: &Scope,
    (trace, waves): (&Trace, &Waves),
    stretches: &[Stretch],
) -> Vec<Vec<[f64; 2]>> {
    match compared(scene, scope, (trace, waves), stretches) {
        Some(points) => vec![points.into_iter().map(|[at_s, amps]| [at_s * 1e3, amps]).collect()],
        None => pieces(trace, stretches),
    }
}

/// What a trip compares over time, s and A, if that is not the current itself.
pub(super) fn compared(
    scene: &Scene,
    scope: &Scope,
    (trace, waves): (&Trace, &Waves),
    stretches: &[Stretch],
) -> Option<Vec<[f64; 2]>> {
    let Signal::Trip(driver) = trace.signal else { return None };
    let trip = scene.gap.case(scene.stance.who).wiring.drivers[driver].trip.as_ref()?;
    scope.compared((driver, trip.kind), &trace.levels, &waves.delays, stretches)
}

/// When the trip of a driver acts on what is shown, s, if what stands there comes to stand at its start.
pub(super) fn trips_s(scene: &Scene, trace: &Trace, stretches: &[Stretch]) -> Option<f64> {
    let Signal::Trip(driver) = trace.signal else { return None };
    let trip = scene.gap.case(scene.stance.who).wiring.drivers[driver].trip.as_ref()?;
    acts_at(trip.kind, trace.threshold_a?, &trace.levels, stretches)
}

/// From where to where a plot reaches, with room for the bar of conflicts.
pub(super) fn heights(shown: &[&Trace], stretches: &[Stretch]) -> (f64, f64) {
    let mut range = (0.0_f64, 0.0_f64);
    for trace in shown {
        let levels = stretches.iter().filter_map(|s| trace.levels.get(s.joint).copied().flatten());
        for level in levels.chain(trace.threshold_a) {
            range = (range.0.min(level), range.1.max(level));
        }
    }
    let room = (range.1 - range.0).max(0.1);
    (range.0 - 0.06 * room, range.1 + 0.14 * room)
}

/// Shades the conflicts, and draws a bar over each.
pub(super) fn conflicts<'a>(
    plot: &mut egui_plot::PlotUi<'a>,
    scope: &Scope,
    stretches: &[Stretch],
    top: f64,
    t: &Tokens,
) {
    let colour = t.verdict(Verdict::Short);
    let mut since: Option<f64> = None;
    let mut runs: Vec<(f64, f64)> = Vec::new();
    for stretch in stretches {
        match (scope.in_conflict(stretch.joint), since) {
            (true, None) => since = Some(stretch.from_s),
            (false, Some(from_s)) => {
                runs.push((from_s, stretch.from_s));
                since = None;
            }
            _ => {}
        }
    }
    if let (Some(from_s), Some(last)) = (since, stretches.last()) {
        runs.push((from_s, last.to_s));
    }
    for (from_s, to_s) in runs {
        let (from, to) = (from_s * 1e3, to_s * 1e3);
        plot.span(Span::new("", from..=to).fill(colour.gamma_multiply(0.13)));
        let bar = Line::new("", PlotPoints::from(vec![[from, top], [to, top]]));
        plot.line(bar.color(colour).width(9.0).allow_hover(false).allow_band(false));
    }
}
