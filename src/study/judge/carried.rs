//! What the circuit carries in one joint state, and figures over all joint states of a scenario.
//!
//! Joint states come in the order of [`signal::Joint`](crate::signal::Joint), with one share of time each.

use std::rc::Rc;

use crate::signal;
use crate::straddle::ix::{DeviceIx, DriverIx, SupplyIx, Table};

/// What the circuit carries in one joint state.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Carried {
    /// Per driver: leaving P, leaving M, drawn from the positive pole, where the trip senses.
    pub drivers: Table<DriverIx, [f64; 4]>,
    /// Per device: magnitude in the larger of its poles.
    pub devices: Table<DeviceIx, f64>,
    /// Per supply: positive over negative pole, V.
    pub poles_v: Table<SupplyIx, Option<f64>>,
    /// Through each load, left to right, group by group.
    pub loads: Vec<f64>,
    /// Which one-way branches conduct.
    pub conducting: Vec<bool>,
}

impl Carried {
    /// The largest change of a driver's legs against what they carry with the rails apart, A; against nothing, the largest
    /// current.
    pub fn changes(&self, driver: DriverIx, apart: Option<&Carried>) -> f64 {
        let change = |leg: usize| {
            let before = apart.map_or(0.0, |apart| apart.drivers[driver][leg]);
            (self.drivers[driver][leg] - before).abs()
        };
        change(P).max(change(M))
    }
}

/// Columns of [`Carried::drivers`].
pub(super) const P: usize = 0;
pub(super) const M: usize = 1;
pub(super) const SUPPLY: usize = 2;
pub(super) const SENSED: usize = 3;

/// Where only the usual direction counts, the larger leg is the one that current leaves by: in reverse that is M.
pub(super) fn outward(amps: &[f64; 4]) -> f64 {
    amps[P].max(amps[M]).max(0.0)
}

/// Column of the leg with the larger RMS.
pub(super) fn larger_leg(driver: DriverIx, carried: &[Rc<Carried>], shares: &[f64]) -> usize {
    let square = |c: usize| -> f64 {
        carried.iter().zip(shares).map(|(s, share)| share * s.drivers[driver][c].powi(2)).sum()
    };
    if square(M) > square(P) * (1.0 + 1e-9) { M } else { P }
}

/// Heating current in the larger leg of a driver, A.
pub(super) fn larger_leg_rms(driver: DriverIx, carried: &[Rc<Carried>], shares: &[f64]) -> f64 {
    let larger = larger_leg(driver, carried, shares);
    let legs: Vec<f64> = carried.iter().map(|c| c.drivers[driver][larger]).collect();
    signal::figures(&legs, shares).rms
}

/// Highest voltage between the poles of a supply, V, in joint states that there are.
pub(super) fn highest_pole_v(
    supply: SupplyIx,
    carried: &[Rc<Carried>],
    shares: &[f64],
) -> Option<f64> {
    let there = carried.iter().zip(shares).filter(|(_, share)| **share > 0.0);
    there.filter_map(|(c, _)| c.poles_v[supply]).reduce(f64::max)
}

/// Largest of some magnitudes, A, in joint states that there are.
pub(super) fn peak(amps: &[f64], shares: &[f64]) -> f64 {
    let there = amps.iter().zip(shares).filter(|(_, share)| **share > 0.0);
    there.fold(0.0, |peak, (amps, _)| peak.max(*amps))
}
