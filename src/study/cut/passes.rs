//! How vehicles pass at some settings, and whether they surge while two blocks drive them.

use std::collections::BTreeMap;

use crate::straddle::ix::{DriverIx, StandIx};

use super::super::judge::{Bench, NumericStand};
use super::super::types::{Relation, Verdict};
use super::case::Case;
use super::result::{CutResult, Evaluated, Pass};

impl Case {
    /// How each vehicle passes in the scenario of a situation: by its longest stand that joins both rails, or one if it
    /// must be.
    pub(super) fn passes(&self, bench: &mut Bench, of: &Evaluated) -> Vec<Pass> {
        let scenario = &of.scenario;
        let rank = |stand: &NumericStand| (stand.joins(0) && stand.joins(1), stand.length_mm);
        let mut best: BTreeMap<usize, StandIx> = BTreeMap::new();
        for (at, stand) in self.stands.pairs().filter(|(_, s)| !s.single_wheel) {
            let old = best.entry(stand.vehicle).or_insert(at);
            if rank(stand) > rank(&self.stands[*old]) {
                *old = at;
            }
        }
        best.into_values()
            .map(|at| {
                let stand = &self.stands[at];
                let mut rolling = |speed: f64| {
                    let window_s = stand.rolls_for_s(speed);
                    let (trips, share, _) = bench.acts(scenario, stand, Some(window_s));
                    (window_s, trips, share)
                };
                let slow = rolling(stand.speed_mm_s.0);
                let fast = rolling(stand.speed_mm_s.1);
                let (trips, share, _) = bench.acts(scenario, stand, None);
                let verdict = bench.judge(scenario, Some(stand)).verdict;
                Pass { stand: at, verdict, slow, fast, standing: (trips, share) }
            })
            .collect()
    }

    /// While two blocks that idle without clamping drive one locomotive, its share of drive is a + b − a·b.
    pub(super) fn surge(&self, result: &CutResult) -> Option<[f64; 3]> {
        let [Some(a), Some(b)] = self.sides else { return None };
        if a == b || result.now_relation != Some(Relation::Agree) {
            return None;
        }
        // A driver on one rail only drives nothing.
        let drives = |side: usize, driver: DriverIx| {
            self.rails[side].iter().all(|net| {
                let legs = self.wiring.drivers[driver].legs.iter().flatten();
                net.is_some_and(|net| legs.into_iter().any(|leg| leg.net == net))
            })
        };
        if !drives(0, a) || !drives(1, b) {
            return None;
        }
        let worst = result.now.worst.as_ref()?;
        if worst.judged.share > 0.0 || worst.judged.verdict > Verdict::Caution {
            return None;
        }
        let scenario = self.scenario(&self.now(), &self.powered);
        let share = |at: DriverIx| -> f64 {
            let run = &scenario.runs[at];
            run.schedule.parts.iter().filter(|p| p.drives).map(|p| p.share).sum()
        };
        let pulsed = |at: DriverIx| scenario.runs[at].schedule.parts.len() > 1;
        if !(pulsed(a) && pulsed(b)) {
            return None;
        }
        let together: f64 = worst
            .judged
            .joints
            .iter()
            .filter(|(_, parts)| parts[a].drives || parts[b].drives)
            .map(|(share, _)| share)
            .sum();
        (together > share(a).max(share(b)) + 1e-9).then(|| [share(a), share(b), together])
    }
}
