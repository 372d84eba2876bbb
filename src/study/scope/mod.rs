//! One way of standing at one gap as an oscilloscope and an ammeter in every branch would show it.
//!
//! Between two edges of the drivers' schedules nothing changes, so a trace is a list of stretches with one level each:
//! edges from [`signal`], levels from the circuit that the check itself solves ([`Bench::seen`]). Nothing is sampled.
//! Levels are those of switches, sources and resistances: capacitance and inductance, which round and ring the edges of a
//! real trace, are not in them.

mod acts;
mod break_even;
mod compared;
mod gap;
mod moments;
mod passing;
mod path;
mod stance;
mod trace;

pub use super::cut::Rush;
pub use acts::acts_at;
pub use break_even::{TripsFrom, trips_by_throttle};
pub use compared::value_at;
pub use gap::{Gap, Who};
pub use passing::Passing;
pub use path::{Flow, MomentAt};
pub use stance::{Stance, WheelOn};
pub use trace::{Reading, Signal, Trace};

use super::cut::Case;
use super::judge::{Bench, NumericStand, Scenario, Seen};
use crate::circuit::Unsolved;
use crate::signal::{self, Free, Stretch};

/// All traces and all branch currents of one situation.
#[derive(Debug, Clone)]
pub struct Scope {
    seen: Seen,
    free: Vec<Free>,
    /// Everything that can be shown over time.
    pub traces: Vec<Trace>,
}

impl Scope {
    /// The traces of a situation: how the drivers are set, and what stands at the gap. `loaded` adds what the vehicle
    /// draws; without it the figures are those of a conflict, as the check gives them.
    ///
    /// # Errors
    /// The circuit of some joint state has no verified solution.
    pub fn of(
        case: &Case,
        scenario: &Scenario,
        stand: Option<&NumericStand>,
        loaded: bool,
    ) -> Result<Scope, Unsolved> {
        let seen = Bench::new(&case.wiring).seen(scenario, stand, loaded)?;
        let free = signal::free(&seen.beats);
        let traces = trace::traces(case, &seen);
        Ok(Scope { seen, free, traces })
    }

    /// Patterns whose phases against each other are free, the first of them the reference.
    pub fn free(&self) -> &[Free] {
        &self.free
    }

    /// Time after which everything repeats, s; `None` if nothing changes, or nothing repeats within reason.
    pub fn repeats_after_s(&self) -> Option<f64> {
        signal::repeats_after_s(&self.free)
    }

    /// The longest period of any driver, s; `None` if nothing changes.
    pub fn slowest_s(&self) -> Option<f64> {
        self.free.iter().map(|pattern| pattern.period_s).reduce(f64::max)
    }

    /// Every stretch from `from_s` to `to_s`, each pattern delayed by a fraction of its period.
    pub fn stretches(&self, delays: &[f64], from_s: f64, to_s: f64) -> Vec<Stretch> {
        let phases = signal::phases(&self.seen.beats, &self.free, delays);
        signal::waveform(&self.seen.beats, &phases, from_s, to_s)
    }

    /// The joint state at a time, s.
    pub fn joint_at(&self, delays: &[f64], time_s: f64) -> usize {
        // One stretch is all that fits into so short a time.
        let ahead_s = self.free.iter().map(|f| f.period_s).fold(1.0, f64::min) * 1e-6;
        self.stretches(delays, time_s, time_s + ahead_s).first().map_or(0, |stretch| stretch.joint)
    }

    /// Shares of time of the joint states in the long run, the phases drifting through every relation.
    pub fn drifting(&self) -> &[f64] {
        &self.seen.shares
    }

    /// Shares of time of the joint states where the phases stay as chosen, over one repetition; `None` where nothing
    /// repeats within reason. Where nothing changes they are those in the long run.
    pub fn held(&self, delays: &[f64]) -> Option<Vec<f64>> {
        if self.free.is_empty() {
            return Some(self.seen.shares.clone());
        }
        let again_s = self.repeats_after_s()?;
        let mut shares = vec![0.0; self.seen.joint.count()];
        let stretches = self.stretches(delays, 0.0, again_s);
        let whole =
            stretches.last().is_some_and(|last| (last.to_s - again_s).abs() < 1e-9 * again_s);
        for stretch in stretches {
            shares[stretch.joint] += (stretch.to_s - stretch.from_s) / again_s;
        }
        whole.then_some(shares)
    }

    /// Number of joint states.
    pub fn joints(&self) -> usize {
        self.seen.joint.count()
    }

    /// True if a joint state is in conflict.
    pub fn in_conflict(&self, joint: usize) -> bool {
        self.seen.over.get(joint).copied().unwrap_or(false)
    }

    /// The joint state that carries the largest current in any leg, of those that occur; of about equal ones the one that
    /// lasts longest, and the first without any current.
    pub fn worst_joint(&self) -> usize {
        let mut worst = (0, f64::NEG_INFINITY);
        for (at, carried) in self.seen.carried.iter().enumerate() {
            if self.seen.shares[at] > 0.0 {
                let largest = carried.drivers.iter().flat_map(|d| [d[0].abs(), d[1].abs()]);
                let largest = largest.fold(0.0, f64::max);
                let (old, of) = (worst.1, self.seen.shares[worst.0]);
                let lasts = largest > old * 0.99 && self.seen.shares[at] > of + 1e-9;
                if largest > old * 1.01 + 1e-9 || (lasts && largest > 0.0) {
                    worst = (at, largest);
                }
            }
        }
        worst.0
    }

    /// Everything that flows in a joint state.
    pub fn moment(&self, case: &Case, scenario: &Scenario, joint: usize) -> Option<MomentAt> {
        path::moment(case, scenario, &self.seen, joint)
    }
}
