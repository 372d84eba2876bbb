//! The current at the moment a driver's empty or lower capacitor is joined to another supply.
//!
//! The current starts at `I0 = ΔV / R` and decays with `a = R * C`.

use super::thermal::Heat;
use super::trip::Trip;

/// A capacitor charged through a resistance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inrush {
    /// Current at the moment of joining, A.
    pub peak_a: f64,
    /// Time constant of its decay, s.
    pub decay_s: f64,
}

/// What a trip makes of an inrush.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InrushTrip {
    /// Whether the trip acts, for a sampled one at the worst phase of its samples.
    pub acts: bool,
    /// The figure compared with the threshold, A: the level exceeded for longer than the blanking, the level at the last
    /// of the samples in a row, the maximum of the filter, or the constant current that heats a thermal trip as much (an
    /// upper bound).
    pub worst_a: f64,
    /// Time from joining until it acts, s, if it does.
    pub after_s: Option<f64>,
}

/// The inrush into a capacitor, from the voltage across the loop (V, conducting diode drops already taken off), the
/// resistance of the loop (Ω) and the capacitance (F). Without a positive voltage, resistance and capacitance there is none.
pub fn inrush(volts: f64, loop_ohm: f64, farads: f64) -> Inrush {
    if volts > 0.0 && loop_ohm > 0.0 && farads > 0.0 {
        Inrush { peak_a: volts / loop_ohm, decay_s: loop_ohm * farads }
    } else {
        Inrush { peak_a: 0.0, decay_s: 0.0 }
    }
}

impl Inrush {
    /// Time it stays over a threshold, s: `a * ln(I0 / It)`, at most `longest_drive_s`, the longest that the feeding side
    /// drives on end.
    pub fn over_s(&self, threshold_a: f64, longest_drive_s: Option<f64>) -> f64 {
        if self.peak_a <= threshold_a || self.decay_s <= 0.0 {
            return 0.0;
        }
        let over = if threshold_a > 0.0 {
            self.decay_s * (self.peak_a / threshold_a).ln()
        } else {
            f64::INFINITY
        };
        longest_drive_s.map_or(over, |most| over.min(most.max(0.0)))
    }

    /// Current so long after joining, A.
    pub fn at(&self, t: f64) -> f64 {
        if self.decay_s > 0.0 { self.peak_a * (-t / self.decay_s).exp() } else { 0.0 }
    }

    /// Output of a first-order filter of time constant `tau_s` so long after joining, A.
    fn filtered_at(&self, tau_s: f64, t: f64) -> f64 {
        let (i0, a) = (self.peak_a, self.decay_s);
        if tau_s <= 0.0 {
            return self.at(t);
        }
        // With u = t (1/a - 1/tau): y = I0 (t / tau) exp(-t / tau) (1 - exp(-u)) / u, which is smooth at a = tau.
        let u = t * (1.0 / a - 1.0 / tau_s);
        let (rate, u) = if u >= 0.0 { (tau_s, u) } else { (a, -u) };
        let ratio = if u < 1e-12 { 1.0 } else { -(-u).exp_m1() / u };
        i0 * t / tau_s * (-t / rate).exp() * ratio
    }

    /// When the filter is at its maximum, s after joining.
    fn filter_peak_s(&self, tau_s: f64) -> f64 {
        let (a, k) = (self.decay_s, tau_s / self.decay_s);
        // a tau / (tau - a) * ln(tau / a), tau at a = tau.
        let x = k - 1.0;
        if x.abs() < 1e-8 { tau_s * (1.0 - x / 2.0) } else { a * k * k.ln() / x }
    }

    /// Maximum of a first-order filter of time constant `tau_s` that starts at zero, A, if the inrush goes on for
    /// `longest_drive_s`: `I0 * (τ/a)^(τ/(a-τ))`, which is `I0 / e` at `a = τ`.
    pub fn filter_max(&self, tau_s: f64, longest_drive_s: Option<f64>) -> f64 {
        if self.decay_s <= 0.0 || self.peak_a <= 0.0 {
            return 0.0;
        }
        if tau_s <= 0.0 {
            return self.peak_a;
        }
        let peak_s = self.filter_peak_s(tau_s);
        let until = longest_drive_s.map_or(peak_s, |most| peak_s.min(most.max(0.0)));
        self.filtered_at(tau_s, until)
    }

    /// What a trip makes of it. `longest_drive_s`: the longest that the feeding side drives on end; none is for ever.
    pub fn trips(&self, threshold_a: f64, trip: &Trip, longest_drive_s: Option<f64>) -> InrushTrip {
        let none = InrushTrip { acts: false, worst_a: 0.0, after_s: None };
        if self.peak_a <= 0.0 || self.decay_s <= 0.0 {
            return none;
        }
        let lasts = |t: f64| longest_drive_s.is_none_or(|most| t <= most);
        match *trip {
            Trip::Instant { blanking_s } => {
                let blanking = blanking_s.max(0.0);
                let worst_a = if lasts(blanking) { self.at(blanking) } else { 0.0 };
                let acts = worst_a > threshold_a;
                InrushTrip { acts, worst_a, after_s: acts.then_some(blanking) }
            }
            Trip::Sampled { every_s, in_a_row, .. } => {
                let after = f64::from(in_a_row.max(1) - 1) * every_s.max(0.0);
                let worst_a = if lasts(after) { self.at(after) } else { 0.0 };
                let acts = worst_a > threshold_a;
                InrushTrip { acts, worst_a, after_s: acts.then_some(after) }
            }
            Trip::Thermal { curve } => {
                // No more heat than the largest square brings, nor than the whole decay.
                let square = self.peak_a * self.peak_a;
                let surplus = square * self.decay_s / 2.0;
                let heat = Heat { mean: 0.0, surplus, peak: square, off: (0.0, 0.0) };
                let window = longest_drive_s.map_or(f64::INFINITY, |most| most.max(0.0));
                let (worst_a, _) = heat.worst(&curve, window);
                let after_s = heat.acts_after(&curve, threshold_a, window);
                InrushTrip { acts: worst_a > threshold_a, worst_a, after_s }
            }
            Trip::Averaged { tau_s } => {
                let worst_a = self.filter_max(tau_s, longest_drive_s);
                if worst_a <= threshold_a {
                    return InrushTrip { worst_a, ..none };
                }
                if tau_s <= 0.0 {
                    return InrushTrip { acts: true, worst_a, after_s: Some(0.0) };
                }
                // The filter rises all the way to its maximum: halve towards the crossing.
                let (mut low, mut high) = (0.0, self.filter_peak_s(tau_s));
                for _ in 0..60 {
                    let mid = 0.5 * (low + high);
                    if self.filtered_at(tau_s, mid) > threshold_a {
                        high = mid;
                    } else {
                        low = mid;
                    }
                }
                InrushTrip { acts: true, worst_a, after_s: Some(high) }
            }
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use approx::{assert_abs_diff_eq, assert_relative_eq};

    #[test]
    fn time_over_a_threshold_is_a_logarithm() {
        // 12 V through 2 Ω into 1000 µF: 6 A, 2 ms.
        let i = inrush(12.0, 2.0, 1000e-6);
        assert_relative_eq!(i.peak_a, 6.0);
        assert_relative_eq!(i.over_s(3.0, None), 2e-3 * std::f64::consts::LN_2);
        assert_relative_eq!(i.over_s(3.0, Some(1e-3)), 1e-3);
        assert_eq!(i.over_s(6.0, None), 0.0);
        assert_eq!(inrush(0.0, 2.0, 1e-3).over_s(0.0, None), 0.0);
    }

    #[test]
    fn filter_maximum_is_the_known_power_and_i0_over_e_in_the_limit() {
        let i = inrush(12.0, 2.0, 1000e-6);
        let a = i.decay_s;
        for tau in [0.1 * a, 0.5 * a, 0.9 * a, 1.1 * a, 3.0 * a, 50.0 * a] {
            let known = i.peak_a * (tau / a).powf(tau / (a - tau));
            assert_relative_eq!(i.filter_max(tau, None), known, max_relative = 1e-9);
        }
        for off in [0.0, 1e-14, 1e-10, 1e-7, -1e-7, -1e-10] {
            let got = i.filter_max(a * (1.0 + off), None);
            assert_relative_eq!(got, i.peak_a / std::f64::consts::E, max_relative = 1e-6);
        }
    }

    #[test]
    fn filter_agrees_with_small_steps() {
        let i = inrush(12.0, 2.0, 1000e-6);
        let (tau, steps) = (5e-3, 200_000);
        let dt = 20e-3 / f64::from(steps);
        let (mut y, mut most, mut crossing) = (0.0_f64, 0.0_f64, None);
        for k in 0..steps {
            let t = (f64::from(k) + 0.5) * dt;
            y += (i.at(t) - y) * dt / tau;
            most = most.max(y);
            if y > 1.0 && crossing.is_none() {
                crossing = Some(t);
            }
        }
        let trip = i.trips(1.0, &Trip::Averaged { tau_s: tau }, None);
        assert_abs_diff_eq!(trip.worst_a, most, epsilon = 1e-3);
        assert_abs_diff_eq!(trip.after_s.unwrap(), crossing.unwrap(), epsilon = 1e-6);
    }

    #[test]
    fn blanking_and_samples_look_at_the_decayed_current() {
        let i = inrush(12.0, 2.0, 1000e-6);
        let instant = |blanking_s| i.trips(3.0, &Trip::Instant { blanking_s }, None);
        assert!(instant(1e-3).acts);
        assert!(!instant(1.5e-3).acts);
        let sampled = Trip::Sampled { every_s: 1e-3, in_a_row: 2, locked: None };
        assert_eq!(i.trips(3.0, &sampled, None).after_s, Some(1e-3));
        assert!(!i.trips(3.0, &sampled, Some(0.5e-3)).acts, "the feeding side stops driving first");
    }
}
