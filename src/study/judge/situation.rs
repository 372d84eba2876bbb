//! Judging one situation from beginning to end: what flows, what of it acts, and what that is rated as.
//!
//! A judgement always comes out: where the circuit of some moment could not be solved, it says so.

use super::super::types::{Motion, Verdict};
use super::bench::Bench;
use super::figures::ByTime;
use super::flows::Flows;
use super::judged::Judged;
use super::rate::AllOutcomes;
use super::rated::{Rated, worse};
use super::scenario::Scenario;
use super::stand::NumericStand;
use super::trips::first;
use crate::signal::{self, Figures, Longest, NotComputed};

impl Bench<'_> {
    /// Judges a situation that is to be told: with the times at which trips act.
    pub fn judge_thoroughly(
        &mut self,
        scenario: &Scenario,
        stand: Option<&NumericStand>,
    ) -> Judged {
        self.thoroughly(|bench| bench.judge(scenario, stand))
    }

    /// Judges with the times at which trips act.
    pub(super) fn thoroughly(&mut self, judge: impl FnOnce(&mut Self) -> Judged) -> Judged {
        self.thorough.set(true);
        let judged = judge(self);
        self.thorough.set(false);
        judged
    }

    /// Judges a situation; the times at which averaged trips act are left out. Where auto-reversers act before anything
    /// else, what counts is what they lead to.
    pub fn judge(&mut self, scenario: &Scenario, stand: Option<&NumericStand>) -> Judged {
        let judged = self.judge_once(scenario, stand);
        self.reversed(scenario, stand, judged)
    }

    /// Judges a situation with no device having acted but those that the scenario says.
    pub(super) fn judge_once(
        &mut self,
        scenario: &Scenario,
        stand: Option<&NumericStand>,
    ) -> Judged {
        let flows = self.flows(scenario, stand);
        flows.map_or_else(|_| Judged::unsolved(scenario), |flows| self.judged(flows))
    }

    /// Rates a situation, standing and, where that can be worse, moving.
    fn rate_motions(&self, flows: &Flows) -> (Motion, Rated, AllOutcomes) {
        let (mut standing, trips) = self.rate(flows, None);
        if !flows.single_wheel() {
            return (Motion::Standing, standing, trips);
        }
        standing.verdict = standing.verdict.min(Verdict::Caution);
        let (moving, moving_trips) = self.rate(flows, flows.window_s());
        // Of equals the standing one is told.
        if worse(&moving, &standing) {
            (Motion::Moving, moving, moving_trips)
        } else {
            (Motion::Standing, standing, trips)
        }
    }

    fn judged(&self, flows: Flows) -> Judged {
        let (motion, rated, (trips, device_trips)) = self.rate_motions(&flows);
        let Flows { scenario, beats, joint, shares, low, apart, over, worst_joint, .. } = &flows;
        let states = 0..joint.count();
        // A sum of nothing is −0.
        let share = states.clone().filter(|&at| over[at]).fold(0.0, |share, at| share + shares[at]);
        let window_s = if motion == Motion::Moving { flows.window_s() } else { None };
        let frozen = signal::phase_case(beats, window_s) == signal::PhaseCase::Frozen;
        let share_range = (share > 0.0 && frozen)
            .then(|| signal::share_spread(over, beats, window_s))
            .map(|spread| (spread.min, spread.max));
        // Only what is reported needs ranges and the longest run.
        let ranges = frozen && self.thorough.get();
        let read = |amps: &[f64]| Figures {
            range: ranges.then(|| signal::figures_range(amps, beats, window_s)).flatten(),
            ..signal::figures(amps, shares)
        };
        let by_time: ByTime<'_> = (shares, &read);
        let longest = match share > 0.0 {
            true if self.thorough.get() => signal::longest(over, beats, window_s),
            true => Longest::NotComputed(NotComputed::NotAsked),
            false => Longest::Value(0.0),
        };
        let (first, first_devices) = first(&trips, &device_trips);
        let (lifted, sunk) = self.back_feed(scenario, shares, low, apart);
        Judged {
            verdict: rated.verdict,
            margin: rated.margin,
            decided: rated.decided,
            motion,
            share,
            longest,
            share_range,
            resistive_after_s: worst_joint.map(|(_, peak)| self.resistive_after_s(scenario, peak)),
            joints: states.map(|at| (shares[at], scenario.parts(joint, at))).collect(),
            over: over.clone(),
            worst_joint: *worst_joint,
            drivers: self.figures(by_time, low, Some(&trips)),
            devices: self.device_figures(&read, low, &device_trips),
            first,
            first_devices,
            resolved: false,
            exchanged: Vec::new(),
            after: None,
            loaded: flows.loaded.as_ref().map(|loaded| self.figures(by_time, loaded, None)),
            lifted,
            sunk,
            open: Vec::new(),
            held: scenario.held.clone(),
        }
    }
}
