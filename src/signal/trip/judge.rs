//! A trip on one pair of patterns, or on a constant value.

use super::averaged::judge_averaged;
use super::instant::judge_instant;
use super::kind::Trip;
use super::outcome::{Judged, Want};
use crate::signal::beat::Beat;
use crate::signal::pair::Pair;
use crate::signal::phase::PhaseCase;
use crate::signal::sampled::{Sampler, judge};
use crate::signal::thermal::Warmed;

pub(super) fn judge_steady(value: f64, threshold: f64, trip: &Trip, window: f64) -> Judged {
    let over = value > threshold;
    let (worst, share, after) = match *trip {
        Trip::Instant { blanking_s } => {
            let worst = if window > blanking_s { value } else { 0.0 };
            (worst, 1.0, blanking_s)
        }
        Trip::Sampled { every_s, in_a_row, .. } => {
            let after = (f64::from(in_a_row.max(1)) - 1.0) * every_s;
            let worst = if window > after { value } else { 0.0 };
            (worst, ((window - after) / every_s).clamp(0.0, 1.0), after)
        }
        Trip::Averaged { tau_s } => {
            let worst = value * -(-window / tau_s).exp_m1();
            let after = if over { -tau_s * (-threshold / value).ln_1p() } else { 0.0 };
            (worst, 1.0, after)
        }
        Trip::Thermal { curve } => {
            (value / curve.multiple(window), 1.0, curve.seconds(value / threshold).unwrap_or(0.0))
        }
    };
    Judged { worst, share, after: (worst > threshold).then_some(after), exact: true }
}

pub(super) fn judge_pair(
    pair: &Pair,
    beats: &[Beat],
    threshold: f64,
    trip: &Trip,
    window: f64,
    case: PhaseCase,
    want: Want,
) -> Judged {
    let (least, most) = pair.extremes();
    if least == most {
        return judge_steady(most, threshold, trip, window);
    }
    match *trip {
        Trip::Instant { blanking_s } => judge_instant(pair, threshold, blanking_s, window, case),
        Trip::Averaged { tau_s } => judge_averaged(pair, threshold, tau_s, window, case, want),
        Trip::Thermal { curve } => {
            let warmed = Warmed::of(pair, &curve, threshold, window);
            let share = match want {
                Want::WorstOnly => 1.0,
                _ if warmed.worst <= threshold => 0.0,
                _ => warmed.share(&curve, threshold, window),
            };
            Judged { worst: warmed.worst, share, after: warmed.after, exact: false }
        }
        Trip::Sampled { every_s, in_a_row, locked } => {
            let sampler = Sampler::new(every_s, in_a_row, locked, beats);
            let found = judge(pair, &sampler, threshold, window, case == PhaseCase::Frozen);
            let after = (sampler.in_a_row as f64 - 1.0) * sampler.every;
            Judged {
                worst: found.worst,
                share: found.share,
                after: (found.worst > threshold).then_some(after),
                exact: found.exact,
            }
        }
    }
}
