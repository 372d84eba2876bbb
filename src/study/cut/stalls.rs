//! Footings on which a vehicle closes no circuit.

use crate::drive::{SetWord, StateWord};
use crate::signal::Longest;
use crate::straddle::assemble::{GroupTouch, NumericLoad};
use crate::straddle::ix::{DriverIx, FootingIx, SupplyIx, Table};

use super::super::judge::{Bench, CONFLICT_A, Decided, Judged};
use super::super::types::{Motion, Verdict};
use super::case::{Case, Footing, Settings};
use super::result::{Evaluated, Worst};

/// Load for the stall test, Ω, and the current below which a vehicle counts as dead, A.
const STALL_TEST_OHM: f64 = 100.0;
const STALL_A: f64 = 1e-3;

impl Case {
    /// The footings on which a vehicle stalls although both sides drive, as situations; the first of them counts among
    /// the worst.
    pub(super) fn stalled(
        &self,
        bench: &mut Bench,
        settings: &Settings,
        powered: &Table<SupplyIx, bool>,
        worst: &mut Worst,
    ) -> Vec<Evaluated> {
        let [Some(a), Some(b)] = self.sides else { return Vec::new() };
        if !settings[a].0.drives() || !settings[b].0.drives() {
            return Vec::new();
        }
        let mut stalled = Vec::new();
        for footing in self.stalls(bench, settings, powered) {
            let scenario = self.scenario(settings, powered);
            let judged = quiet(bench.judge(&scenario, None), Verdict::Stall, None);
            let footing = Some(footing);
            stalled
                .push(Evaluated { footing, ..Evaluated::joined(settings, scenario, None, judged) });
        }
        if let Some(stall) = stalled.first() {
            worst.take(stall.clone(), None);
        }
        stalled
    }

    /// Footings on which no driver closes a loop through the vehicle, at full drive.
    fn stalls(
        &self,
        bench: &mut Bench,
        settings: &Settings,
        powered: &Table<SupplyIx, bool>,
    ) -> Vec<FootingIx> {
        let full: Settings = settings
            .iter()
            .map(|&(word, throttle)| match word {
                SetWord::Forward | SetWord::Reverse => (word, 1.0),
                _ => (word, throttle),
            })
            .collect();
        let scenario = self.scenario(&full, powered);
        let states: Table<DriverIx, StateWord> =
            scenario.runs.iter().map(|run| run.schedule.parts[0].state).collect();
        let levels: Table<DriverIx, f64> =
            scenario.runs.iter().map(|run| run.schedule.level).collect();
        let mut stalls = |footing: &Footing| {
            let touch = GroupTouch {
                sides: footing.touched.clone(),
                wheel_ohm: footing.wheel_ohm,
                loads: vec![NumericLoad::Series { ohm: STALL_TEST_OHM, emf_v: 0.0 }],
            };
            bench.moment(&states, &levels, powered, Some(&[touch])).is_ok_and(|carried| {
                // Where the wheels short the blocks it is no stall that has to be told.
                let shorted = carried.drivers.iter().flatten().any(|amps| amps.abs() > CONFLICT_A);
                carried.loads.iter().all(|amps| amps.abs() < STALL_A) && !shorted
            })
        };
        self.footings.pairs().filter(|(_, footing)| stalls(footing)).map(|(at, _)| at).collect()
    }
}

/// A judgement in which the vehicle joins nothing: what flows all the same is told apart. What could not be solved stays
/// not known.
pub(super) fn quiet(judged: Judged, verdict: Verdict, margin: Option<f64>) -> Judged {
    if judged.decided == Decided::Unsolved && verdict == Verdict::Clear {
        return judged;
    }
    Judged {
        verdict,
        margin,
        decided: Decided::Nothing,
        motion: Motion::Standing,
        share: 0.0,
        longest: Longest::Value(0.0),
        share_range: None,
        resistive_after_s: None,
        over: vec![false; judged.over.len()],
        worst_joint: None,
        first: Vec::new(),
        ..judged
    }
}
