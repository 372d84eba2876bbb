//! What a supply at its sustained limit has left for a short: it holds its current at the limit by letting its voltage sink,
//! and what its other drivers feed takes less at the lower voltage.

use serde::Serialize;

use super::coin::{STAND_IN_LOAD_A, feeds_something};
use crate::drive;
use crate::layout::wire::feed_leg_ohm;
use crate::layout::{Driver, DriverId, Layout, Load};
use crate::rails::Plan;

/// The sustained limit of a supply, and what else it feeds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Limit {
    /// Sustained limit, A.
    pub amps: f64,
    /// For every other driver on the supply, the resistance of its switches and wires, there and back, Ω.
    others_ohm: Vec<f64>,
    /// What a vehicle on one of them can be: its resistance, Ω, and the voltage that it holds against the supply, V.
    loads: Vec<(f64, f64)>,
}

/// What the vehicles of a layout draw on a supply of so many V: resistance, Ω, and held voltage, V. Without a loaded vehicle
/// a stand-in.
fn loads(layout: &Layout, volts: f64) -> Vec<(f64, f64)> {
    let numbers = |load: &Load| match load {
        Load::Nothing => None,
        Load::Resistor { ohm } => Some((ohm.value, 0.0)),
        Load::Motor { ohm, emf_v } => Some((ohm.value, emf_v.value)),
        Load::Rectifier { ohm, volts } => Some((ohm.value, volts.value)),
    };
    let mut loads: Vec<(f64, f64)> =
        layout.vehicles.values().filter_map(|vehicle| numbers(&vehicle.load)).collect();
    if loads.is_empty() {
        loads.push((volts / STAND_IN_LOAD_A, 0.0));
    }
    loads
}

/// Resistance of a driver's switches and of its best feeder, there and back, Ω.
fn way_ohm(layout: &Layout, driver: &Driver) -> f64 {
    let feeds = layout.feeds.values().filter(|feed| feed.driver.driver() == Some(driver.id));
    let leg = feeds.map(|feed| feed_leg_ohm(feed).value).fold(f64::INFINITY, f64::min);
    let wires = if leg.is_finite() { 2.0 * leg } else { 0.0 };
    driver.high_ohm.value + driver.low_ohm.value + wires
}

impl Limit {
    /// The limit of a driver's supply. `None` where none is stated, or where it is below the driver's trip (which is
    /// reported by itself). However the other drivers are set now, each counts with one train.
    pub fn of(layout: &Layout, plan: &Plan, driver: DriverId) -> Option<Limit> {
        let own = layout.drivers.get(&driver)?;
        let supply = layout.supplies.get(&own.supply)?;
        let amps = supply.limit?.amps.value;
        let threshold = own.trip.as_ref().map(|t| t.amps.value * t.kind.acts_beyond());
        if threshold.is_some_and(|threshold| amps < threshold) {
            return None;
        }
        let others = layout.drivers.values().filter(|d| d.supply == supply.id && d.id != driver);
        let others_ohm = others
            .filter(|d| drive::of(&d.drive).feeds() && feeds_something(plan, d.id))
            .map(|d| way_ohm(layout, d))
            .collect();
        Some(Limit { amps, others_ohm, loads: loads(layout, supply.open_v.value) })
    }

    /// What all others take at a voltage, A: the thirstiest vehicle on each of them.
    fn others_a(&self, volts: f64) -> f64 {
        let most = |way_ohm: &f64| {
            let amps = self.loads.iter().map(|(ohm, held)| (volts - held) / (ohm + way_ohm));
            amps.fold(0.0, f64::max)
        };
        self.others_ohm.iter().map(most).sum()
    }

    /// What is left for a short that would draw so much from the full voltage, A; `None` where the supply gives all that is
    /// asked of it.
    pub fn left_for(&self, drawn_a: f64, volts: f64) -> Option<f64> {
        if drawn_a + self.others_a(volts) <= self.amps {
            return None;
        }
        // In a loop of resistances every current sinks with the voltage.
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let share = f64::midpoint(low, high);
            let asked = drawn_a * share + self.others_a(volts * share);
            if asked > self.amps {
                high = share;
            } else {
                low = share;
            }
        }
        Some(drawn_a * low)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: Option<f64>, expected: f64) {
        assert!((found.unwrap_or(f64::NAN) - expected).abs() < 1e-9, "{found:?}, not {expected}");
    }

    #[test]
    fn the_voltage_sinks_until_all_that_is_asked_is_the_limit() {
        let limit = |others: &[f64], loads: &[(f64, f64)]| Limit {
            amps: 5.0,
            others_ohm: others.to_vec(),
            loads: loads.to_vec(),
        };
        // Alone: the limit itself, or all that is asked.
        close(limit(&[], &[(10.0, 0.0)]).left_for(20.0, 14.0), 5.0);
        assert_eq!(limit(&[], &[(10.0, 0.0)]).left_for(4.9, 14.0), None);
        // A lamp of 12 Ω behind 2 Ω takes 1 A at 14 V and a 21st of the whole at any voltage.
        close(limit(&[2.0], &[(12.0, 0.0)]).left_for(20.0, 14.0), 5.0 * 20.0 / 21.0);
        // A motor that holds 5 V takes nothing once the supply has sunk to a quarter.
        close(limit(&[2.0], &[(10.0, 5.0)]).left_for(20.0, 14.0), 5.0);
        // Less than the limit is asked by the short, more by both.
        close(limit(&[2.0], &[(12.0, 0.0)]).left_for(4.5, 14.0), 5.0 * 4.5 / 5.5);
    }
}
