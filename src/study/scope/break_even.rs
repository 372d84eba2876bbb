//! From which throttle on a trip acts.

use super::super::judge::{Bench, NumericStand, Scenario};
use super::super::types::Trips;
use crate::study::cut::Case;

/// Steps of the throttle that are looked at.
const STEPS: u32 = 100;

/// A stretch of throttles at which some trip acts in at least some passes, from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TripsFrom {
    /// Least throttle.
    pub from: f64,
    /// Largest throttle.
    pub to: f64,
}

/// The stretches of one driver's throttle at which a trip acts while something stands there for good, in steps of 1 %.
/// `at` gives the scenario at a throttle from 0 to 1.
pub fn trips_by_throttle(
    case: &Case,
    stand: &NumericStand,
    mut at: impl FnMut(f64) -> Scenario,
) -> Vec<TripsFrom> {
    let mut bench = Bench::new(&case.wiring);
    let mut stretches: Vec<TripsFrom> = Vec::new();
    let mut before = false;
    for step in 0..=STEPS {
        let throttle = f64::from(step) / f64::from(STEPS);
        let acts = bench.acts(&at(throttle), stand, None).0 != Trips::No;
        match stretches.last_mut().filter(|_| before) {
            Some(last) if acts => last.to = throttle,
            _ if acts => stretches.push(TripsFrom { from: throttle, to: throttle }),
            _ => {}
        }
        before = acts;
    }
    stretches
}
