//! The moment at which a trip acts on a waveform.

use crate::layout::TripKind;
use crate::signal::Stretch;

/// When a trip acts, s on the time of the stretches, if the vehicle comes to stand there at their start. `levels` are what
/// it senses in each joint state, A. `None` if it does not act within them, and for kinds of trip whose moment depends on
/// more than the waveform: samplers that run free, thermal ones, and those that only limit.
pub fn acts_at(
    kind: TripKind,
    threshold_a: f64,
    levels: &[Option<f64>],
    stretches: &[Stretch],
) -> Option<f64> {
    let level = |joint: usize| levels.get(joint).copied().flatten().unwrap_or(0.0);
    match kind {
        TripKind::Instant { blanking_s } => {
            let mut since: Option<f64> = None;
            for stretch in stretches {
                if level(stretch.joint) <= threshold_a {
                    since = None;
                    continue;
                }
                let from_s = *since.get_or_insert(stretch.from_s);
                if stretch.to_s - from_s > blanking_s {
                    return Some(from_s + blanking_s);
                }
            }
            None
        }
        TripKind::Averaged { tau_s } if tau_s > 0.0 => {
            let mut output = 0.0;
            for stretch in stretches {
                let amps = level(stretch.joint);
                if amps > threshold_a && output <= threshold_a {
                    // The output goes to the level as an exponential; solve for the threshold.
                    let needed_s = tau_s * ((amps - output) / (amps - threshold_a)).ln();
                    if needed_s <= stretch.to_s - stretch.from_s {
                        return Some(stretch.from_s + needed_s);
                    }
                }
                let decay = (-(stretch.to_s - stretch.from_s) / tau_s).exp();
                output = amps + (output - amps) * decay;
            }
            None
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stretches(parts: &[(f64, usize)]) -> Vec<Stretch> {
        let mut now = 0.0;
        parts
            .iter()
            .map(|&(long_s, joint)| {
                let from_s = now;
                now += long_s;
                Stretch { from_s, to_s: now, joint }
            })
            .collect()
    }

    #[test]
    fn an_instant_trip_acts_once_its_blanking_is_over_without_a_break() {
        let levels = [Some(0.0), Some(5.0), Some(4.0)];
        let kind = TripKind::Instant { blanking_s: 2.0 };
        let broken = stretches(&[(1.0, 0), (1.5, 1), (0.5, 0), (1.5, 2)]);
        assert_eq!(acts_at(kind, 3.0, &levels, &broken), None);
        // Two levels above the threshold are one stretch of excess.
        let whole = stretches(&[(1.0, 0), (1.5, 1), (1.5, 2)]);
        assert_eq!(acts_at(kind, 3.0, &levels, &whole), Some(3.0));
        assert_eq!(acts_at(kind, 6.0, &levels, &whole), None);
    }

    #[test]
    fn an_averaged_trip_acts_where_its_filter_reaches_the_threshold() {
        let levels = [Some(0.0), Some(4.0)];
        let kind = TripKind::Averaged { tau_s: 1.0 };
        // 4·(1 − exp(−t)) = 2 at ln 2.
        let at = acts_at(kind, 2.0, &levels, &stretches(&[(1.0, 0), (5.0, 1)]));
        assert!(at.is_some_and(|at| (at - 1.0 - 2_f64.ln()).abs() < 1e-12), "{at:?}");
        // Half of the time at 4 A: the ripple about 2 A never reaches 3 A.
        let ripple: Vec<(f64, usize)> = (0..400).map(|n| (0.05, n % 2)).collect();
        assert_eq!(acts_at(kind, 3.0, &levels, &stretches(&ripple)), None);
        assert!(acts_at(kind, 1.9, &levels, &stretches(&ripple)).is_some());
    }
}
