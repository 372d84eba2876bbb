//! Traces: one level per joint state, and what meters show of it.

use super::Seen;
use crate::layout::Rail;
use crate::signal;
use crate::straddle::ix::{DriverIx, NetIx};
use crate::study::cut::Case;

/// What a trace shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Signal {
    /// Right-hand over left-hand rail of a side, 0 before the gap and 1 beyond it, looking along the cut's run, V.
    Rails(usize),
    /// Across the gap of a rail: the rail before it over the rail beyond, V.
    Gap(Rail),
    /// Current leaving output P of a driver, A.
    P(DriverIx),
    /// Current leaving output M of a driver, A.
    M(DriverIx),
    /// Current that a driver draws from the positive pole of its supply, A.
    Supply(DriverIx),
    /// Current that the trip of a driver compares with its threshold, A.
    Trip(DriverIx),
    /// Current through what a vehicle draws, left to right, A.
    Load(usize),
}

impl Signal {
    /// True for a voltage, false for a current.
    pub fn is_voltage(self) -> bool {
        matches!(self, Signal::Rails(_) | Signal::Gap(_))
    }
}

/// A trace.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// What it shows.
    pub signal: Signal,
    /// Its level in each joint state, V or A; `None` where nothing joins the two points of a voltage.
    pub levels: Vec<Option<f64>>,
    /// The threshold of the trip that compares it, A.
    pub threshold_a: Option<f64>,
}

/// What instruments make of a trace. V or A.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Reading {
    /// Signed mean: a plain averaging meter.
    pub mean: f64,
    /// Mean of the magnitude.
    pub mean_abs: f64,
    /// Root of the mean square: a true-RMS meter set to DC and AC together.
    pub rms: f64,
    /// Largest magnitude.
    pub peak: f64,
}

impl Trace {
    /// What instruments make of it, with the shares of time of the joint states. `None` if it floats in one that occurs.
    pub fn reading(&self, shares: &[f64]) -> Option<Reading> {
        let occur = |at: &usize| shares.get(*at).is_some_and(|share| *share > 0.0);
        let there = (0..self.levels.len()).filter(occur);
        let levels: Vec<(f64, f64)> =
            there.map(|at| Some((self.levels[at]?, shares[at]))).collect::<Option<_>>()?;
        let (values, weights): (Vec<f64>, Vec<f64>) = levels.into_iter().unzip();
        let figures = signal::figures(&values, &weights);
        let signal::Figures { mean, mean_abs, rms, peak, .. } = figures;
        Some(Reading { mean, mean_abs, rms, peak })
    }
}

/// All traces of a situation: voltages at the gap, then driver by driver.
pub(super) fn traces(case: &Case, seen: &Seen) -> Vec<Trace> {
    let mut traces = Vec::new();
    let mut voltage = |signal: Signal, over: Option<NetIx>, under: Option<NetIx>| {
        let (Some(over), Some(under)) = (over, under) else { return };
        let between = |(assembled, solution): &(_, crate::circuit::Solution)| {
            let assembled: &crate::straddle::assemble::Assembled = assembled;
            solution.between(assembled.nets[over], assembled.nets[under])
        };
        let levels = seen.circuits.iter().map(between).collect();
        traces.push(Trace { signal, levels, threshold_a: None });
    };
    for (side, [left, right]) in case.rails.into_iter().enumerate() {
        voltage(Signal::Rails(side), right, left);
    }
    for (rail, at) in [(Rail::Left, 0), (Rail::Right, 1)] {
        let [before, beyond] = [case.rails[0][at], case.rails[1][at]];
        if before != beyond {
            voltage(Signal::Gap(rail), before, beyond);
        }
    }
    for driver in case.wiring.drivers.indices() {
        let column = |at: usize| seen.carried.iter().map(|c| Some(c.drivers[driver][at])).collect();
        for (at, signal) in
            [Signal::P(driver), Signal::M(driver), Signal::Supply(driver)].into_iter().enumerate()
        {
            traces.push(Trace { signal, levels: column(at), threshold_a: None });
        }
        let trip = case.wiring.drivers[driver].trip.as_ref();
        if let (Some(trip), Some(sensed)) = (trip, &seen.sensed[driver]) {
            traces.push(Trace {
                signal: Signal::Trip(driver),
                levels: sensed.iter().map(|amps| Some(*amps)).collect(),
                threshold_a: Some(trip.threshold(&case.wiring.nominal())),
            });
        }
    }
    let loads = seen.carried.first().map_or(0, |carried| carried.loads.len());
    for at in 0..loads {
        let levels = seen.carried.iter().map(|c| c.loads.get(at).copied()).collect();
        traces.push(Trace { signal: Signal::Load(at), levels, threshold_a: None });
    }
    traces
}
