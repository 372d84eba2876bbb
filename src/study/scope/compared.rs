//! What a trip compares with its threshold over time, where that is not the current itself: a filter's output, samples.

use super::Scope;
use crate::layout::TripKind;
use crate::signal::{self, Stretch};
use crate::straddle::ix::DriverIx;

/// Most points of a filter's output in one stretch.
const MOST_POINTS: f64 = 24.0;

impl Scope {
    /// What the trip of a driver compares with its threshold: points of time (s) and current (A), joined by straight lines.
    /// `levels` are what it senses in each joint state, A. A filter starts at zero with the first stretch; samples are held
    /// until the next one, and free-running ones begin with the first stretch. `None` for kinds of trip that compare the
    /// current itself, and for thermal ones.
    pub fn compared(
        &self,
        (driver, kind): (DriverIx, TripKind),
        levels: &[Option<f64>],
        delays: &[f64],
        stretches: &[Stretch],
    ) -> Option<Vec<[f64; 2]>> {
        let level = |joint: usize| levels.get(joint).copied().flatten().unwrap_or(0.0);
        match kind {
            TripKind::Averaged { tau_s } if tau_s > 0.0 => Some(filtered(tau_s, level, stretches)),
            TripKind::Sampled { every_s, locked_at, .. } if every_s > 0.0 => {
                let (first, last) = (stretches.first()?, stretches.last()?);
                let locked = locked_at.and_then(|at| self.locked(driver, at, every_s, delays));
                let (start_s, every_s) = locked.unwrap_or((first.from_s, every_s));
                let ahead = ((first.from_s - start_s) / every_s).ceil();
                let mut points = Vec::new();
                let mut held = None;
                let mut at = 0;
                // More samples than this are not drawn.
                for n in 0..20_000 {
                    let time_s = start_s + (ahead + f64::from(n)) * every_s;
                    if time_s >= last.to_s {
                        break;
                    }
                    while stretches[at].to_s <= time_s && at + 1 < stretches.len() {
                        at += 1;
                    }
                    let amps = level(stretches[at].joint);
                    if let Some(before) = held {
                        points.push([time_s, before]);
                    }
                    points.push([time_s, amps]);
                    held = Some(amps);
                }
                points.extend(held.map(|amps| [last.to_s, amps]));
                Some(points)
            }
            _ => None,
        }
    }

    /// A sample time and the distance of samples, s, of a sampler that is locked to its driver's own period. `None` if the
    /// driver never changes.
    fn locked(
        &self,
        driver: DriverIx,
        at: f64,
        every_s: f64,
        delays: &[f64],
    ) -> Option<(f64, f64)> {
        let moves = self.free.iter().any(|f| f.members.iter().any(|(beat, _)| *beat == driver.0));
        let period_s = self.seen.beats.get(driver.0).filter(|_| moves)?.period();
        let phases = signal::phases(&self.seen.beats, &self.free, delays);
        let periods = (every_s / period_s).round().max(1.0);
        Some(((phases[driver.0] + at) * period_s, periods * period_s))
    }
}

/// The output of a first-order filter that starts at zero: exact at every point.
fn filtered(tau_s: f64, level: impl Fn(usize) -> f64, stretches: &[Stretch]) -> Vec<[f64; 2]> {
    let mut output = 0.0;
    let mut points: Vec<[f64; 2]> =
        stretches.first().map(|first| [first.from_s, 0.0]).into_iter().collect();
    for stretch in stretches {
        let amps = level(stretch.joint);
        let long_s = stretch.to_s - stretch.from_s;
        let steps = (8.0 * long_s / tau_s).ceil().clamp(1.0, MOST_POINTS);
        for n in 1..=steps as u32 {
            let after_s = long_s * f64::from(n) / steps;
            let now = amps + (output - amps) * (-after_s / tau_s).exp();
            points.push([stretch.from_s + after_s, now]);
        }
        output = amps + (output - amps) * (-long_s / tau_s).exp();
    }
    points
}

/// The value of joined points at a time; `None` before the first and beyond the last. Of two at one time, the later.
pub fn value_at(points: &[[f64; 2]], time_s: f64) -> Option<f64> {
    let next = points.partition_point(|point| point[0] <= time_s);
    let before = points.get(next.checked_sub(1)?)?;
    match points.get(next) {
        Some(after) => {
            let share = (time_s - before[0]) / (after[0] - before[0]);
            Some(before[1] + share * (after[1] - before[1]))
        }
        None => (time_s <= before[0]).then_some(before[1]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_filter_rises_as_an_exponential_and_is_read_between_its_points() {
        let stretches = [
            Stretch { from_s: 0.0, to_s: 1.0, joint: 0 },
            Stretch { from_s: 1.0, to_s: 3.0, joint: 1 },
        ];
        let points = filtered(1.0, |joint| [4.0, 0.0][joint], &stretches);
        let known = 4.0 * (1.0 - (-1.0_f64).exp());
        assert!(value_at(&points, 1.0).is_some_and(|amps| (amps - known).abs() < 1e-12));
        assert!(
            value_at(&points, 2.03).is_some_and(|a| (a - known * (-1.03_f64).exp()).abs() < 0.01)
        );
        assert_eq!((value_at(&points, -0.1), value_at(&points, 3.1)), (None, None));
    }
}
