//! Boards whose supply is off and that wake up because a neighbour powers them through their body diodes.

use super::super::judge::{Bench, Judged, NumericStand, Scenario};
use super::case::{Case, Settings};
use super::result::{Evaluated, is_worse};
use crate::straddle::ix::{DriverIx, StandIx};

/// A situation once every board that wakes up has done so.
pub struct Awake {
    /// The schedules of the drivers.
    pub scenario: Scenario,
    /// Boards that have woken up. Empty where the situation is worst with all asleep.
    pub woke: Vec<DriverIx>,
    /// The judgement.
    pub judged: Judged,
}

impl Case {
    /// The worst of a situation: as it is at first, or with the boards awake that the rails power. `tripped` lists drivers
    /// that have tripped: they stay as they are. `judge` judges one scenario.
    pub(in crate::study) fn worst_awake(
        &self,
        bench: &mut Bench,
        (scenario, stand): (Scenario, &NumericStand),
        tripped: &[DriverIx],
        judge: impl Fn(&mut Bench, &Scenario) -> Judged,
    ) -> Awake {
        let joins = self.joins(stand);
        let evaluated = |scenario: Scenario, judged: Judged| {
            let settings = Settings::new();
            Evaluated { joins, ..Evaluated::joined(&settings, scenario, Some(StandIx(0)), judged) }
        };
        let judged = judge(bench, &scenario);
        let mut wakes = self.wakes(&judged, &scenario.powered);
        wakes.retain(|at| !tripped.contains(at));
        let asleep = evaluated(scenario, judged);
        if wakes.is_empty() {
            let Evaluated { scenario, judged, .. } = asleep;
            return Awake { scenario, woke: Vec::new(), judged };
        }
        let mut worst = asleep.clone();
        for awake in self.awake(&asleep.scenario, &wakes) {
            let judged = judge(bench, &awake);
            let new = Evaluated { woke: wakes.clone(), ..evaluated(awake, judged) };
            if is_worse(&new, &worst) {
                worst = new;
            }
        }
        Awake { scenario: worst.scenario, woke: worst.woke, judged: worst.judged }
    }
}
