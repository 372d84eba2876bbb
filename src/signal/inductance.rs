//! How long the inductance of the loop holds a current back.

/// Inductance of a pair of feeder wires, µH per m of pair (common practice, no source).
pub const UH_PER_M_OF_PAIR: f64 = 1.0;

/// Inductance of so many metres of wire pair, H.
pub fn pair_inductance_h(length_m: f64) -> f64 {
    length_m.max(0.0) * UH_PER_M_OF_PAIR * 1e-6
}

/// The time after which a current has come to within 5 % of its resistive value, s: three time constants L / R. For a
/// shorter conflict the resistive peak is only an upper bound.
pub fn resistive_after_s(inductance_h: f64, loop_ohm: f64) -> f64 {
    if loop_ohm > 0.0 { 3.0 * inductance_h.max(0.0) / loop_ohm } else { f64::INFINITY }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn five_metres_at_one_ohm_take_fifteen_microseconds() {
        assert_relative_eq!(resistive_after_s(pair_inductance_h(5.0), 1.0), 15e-6);
    }

    #[test]
    fn without_resistance_it_takes_for_ever() {
        assert_eq!(resistive_after_s(1e-6, 0.0), f64::INFINITY);
    }
}
