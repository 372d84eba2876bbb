//! Copper wire: its resistance at 20 °C, and what it may carry.

use super::feed::{Feed, Wire, WireSize};
use crate::units::Quantity;

/// Conductivity of annealed copper at 20 °C, S/m (IEC 60028).
pub const COPPER_S_PER_M: f64 = 58.0e6;

/// The least resistance that anything on a layout may have, Ω: a circuit without resistance has no answer.
pub const LEAST_OHM: f64 = 0.001;

/// Highest resistance at 20 °C of plain flexible copper conductors, class 5 (IEC 60228): mm² and Ω per km.
const CLASS_5: [(f64, f64); 5] = [(0.5, 39.0), (0.75, 26.0), (1.0, 19.5), (1.5, 13.3), (2.5, 7.98)];

/// Diameter of a wire of the American Wire Gauge, mm (ASTM B258).
pub fn awg_diameter_mm(number: u32) -> f64 {
    0.127 * 92f64.powf((36.0 - f64::from(number)) / 39.0)
}

/// Resistance of one metre of wire, Ω. An AWG wire is solid copper. A cross-section that IEC 60228 lists counts with
/// its class 5 maximum, any other with copper's conductivity.
pub fn ohm_per_m(size: WireSize) -> f64 {
    let from_area = |mm2: f64| 1.0 / (COPPER_S_PER_M * mm2 * 1e-6);
    match size {
        WireSize::Awg(_) => from_area(area_mm2(size)),
        WireSize::Mm2(mm2) => CLASS_5
            .iter()
            .find(|(listed, _)| (listed - mm2).abs() < 1e-9)
            .map_or_else(|| from_area(mm2), |(_, ohm_per_km)| ohm_per_km / 1000.0),
    }
}

/// What a single copper wire may carry for ever: AWG number and A (NASA EEE-INST-002, wire derating, single wires; from
/// memory). Wires in a tight bundle bear about half.
const MAY_CARRY: [(u32, f64); 12] = [
    (30, 1.3),
    (28, 1.8),
    (26, 2.5),
    (24, 3.3),
    (22, 4.5),
    (20, 6.5),
    (18, 9.2),
    (16, 13.0),
    (14, 19.0),
    (12, 25.0),
    (10, 33.0),
    (8, 44.0),
];

/// Cross-section, mm².
pub fn area_mm2(size: WireSize) -> f64 {
    match size {
        WireSize::Awg(number) => std::f64::consts::PI * awg_diameter_mm(number).powi(2) / 4.0,
        WireSize::Mm2(mm2) => mm2,
    }
}

/// What a wire may carry for ever, A: what the table says for its cross-section; between two entries, and beyond the
/// table, as a power of the cross-section.
pub fn may_carry_a(size: WireSize) -> f64 {
    let area = area_mm2(size);
    let listed = MAY_CARRY.map(|(awg, amps)| (area_mm2(WireSize::Awg(awg)), amps));
    let mut pair = (listed[0], listed[1]);
    for next in listed.windows(2) {
        if next[0].0 <= area {
            pair = (next[0], next[1]);
        }
    }
    let ((thin, thin_a), (thick, thick_a)) = pair;
    let power = (thick_a / thin_a).ln() / (thick / thin).ln();
    thin_a * (area / thin).powf(power)
}

/// Current that a wire may carry indefinitely, A: its stated rating, else what the table says for its size.
pub fn rating_a(wire: &Wire) -> f64 {
    wire.rating_a.map_or_else(|| may_carry_a(wire.size), |stated| stated.value)
}

/// Resistance of one leg of a wire pair, Ω, not less than [`LEAST_OHM`].
pub fn leg_ohm(wire: &Wire) -> f64 {
    (ohm_per_m(wire.size) * wire.length_m).max(LEAST_OHM)
}

/// Resistance of one leg of a feed, Ω: what the feed states, else what its wire gives, else [`LEAST_OHM`].
pub fn feed_leg_ohm(feed: &Feed) -> Quantity {
    match (&feed.ohm, &feed.wire) {
        (Some(ohm), _) => *ohm,
        (None, Some(wire)) => Quantity::given(leg_ohm(wire)),
        (None, None) => Quantity::given(LEAST_OHM),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::{DriverId, FeedId, RunId};

    #[test]
    fn awg_agrees_with_the_copper_wire_tables() {
        // NBS Handbook 100, Copper Wire Tables, 20 °C: Ω per 1000 ft.
        for (awg, ohm_per_1000_ft) in [
            (12, 1.588),
            (14, 2.525),
            (16, 4.016),
            (18, 6.385),
            (20, 10.15),
            (22, 16.14),
            (24, 25.67),
        ] {
            let ours = ohm_per_m(WireSize::Awg(awg)) * 304.8;
            approx::assert_relative_eq!(ours, ohm_per_1000_ft, max_relative = 0.005);
        }
    }

    #[test]
    fn listed_sections_are_exactly_iec_60228_class_5() {
        for (mm2, ohm_per_km) in [(0.5, 39.0), (0.75, 26.0), (1.0, 19.5), (1.5, 13.3), (2.5, 7.98)]
        {
            approx::assert_relative_eq!(ohm_per_m(WireSize::Mm2(mm2)) * 1000.0, ohm_per_km);
        }
    }

    #[test]
    fn other_sections_follow_coppers_conductivity() {
        approx::assert_relative_eq!(ohm_per_m(WireSize::Mm2(4.0)), 1.0 / (58.0 * 4.0));
    }

    #[test]
    fn a_wire_may_carry_what_the_table_says_and_more_if_it_is_thicker() {
        // NASA EEE-INST-002, single wires (from memory).
        for (awg, amps) in
            [(30, 1.3), (24, 3.3), (22, 4.5), (20, 6.5), (18, 9.2), (12, 25.0), (8, 44.0)]
        {
            approx::assert_relative_eq!(may_carry_a(WireSize::Awg(awg)), amps, max_relative = 1e-9);
        }
        let all: Vec<f64> = (0..=40).rev().map(|awg| may_carry_a(WireSize::Awg(awg))).collect();
        assert!(all.windows(2).all(|pair| pair[0] < pair[1]));
        // 0.75 mm² lies between AWG 20 (0.518 mm²) and AWG 18 (0.823 mm²).
        let between = may_carry_a(WireSize::Mm2(0.75));
        assert!(6.5 < between && between < 9.2);
    }

    #[test]
    fn a_stated_rating_comes_before_the_table() {
        let wire = Wire { size: WireSize::Awg(20), length_m: 1.0, rating_a: None };
        approx::assert_relative_eq!(rating_a(&wire), 6.5, max_relative = 1e-9);
        let stated = Wire { rating_a: Some(Quantity::given(3.0)), ..wire };
        approx::assert_relative_eq!(rating_a(&stated), 3.0);
    }

    #[test]
    fn a_leg_is_what_is_stated_else_the_wire_else_the_least() {
        let wire = Wire { size: WireSize::Mm2(0.5), length_m: 3.0, rating_a: None };
        let mut feed = Feed {
            id: FeedId(1),
            driver: DriverId(1).into(),
            run: RunId(1),
            at_mm: 0.0,
            p: None,
            m: None,
            wire: Some(wire),
            ohm: Some(Quantity::assumed(0.3, 0.2, 0.5)),
        };
        assert_eq!(feed_leg_ohm(&feed), Quantity::assumed(0.3, 0.2, 0.5));
        feed.ohm = None;
        approx::assert_relative_eq!(feed_leg_ohm(&feed).value, 0.117);
        feed.wire = Some(Wire { length_m: 0.0, ..wire });
        approx::assert_relative_eq!(feed_leg_ohm(&feed).value, 0.001);
        feed.wire = None;
        approx::assert_relative_eq!(feed_leg_ohm(&feed).value, 0.001);
    }
}
