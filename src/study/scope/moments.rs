//! What the check knows of a situation at a gap beside its waveforms: boards that wake up, capacitors that are charged.

use super::super::cut::Rush;
use super::super::judge::{Bench, Judged, NumericStand, Scenario};
use super::gap::{Gap, Who};
use crate::layout::DriverId;

impl Gap {
    /// A scenario with the boards awake that the rails power, where that is worse than with all asleep, and those boards.
    pub fn awake(
        &self,
        who: Who,
        scenario: Scenario,
        stand: &NumericStand,
    ) -> (Scenario, Vec<DriverId>) {
        let case = self.case(who);
        let mut bench = Bench::new(&case.wiring);
        let judge = |bench: &mut Bench, scenario: &Scenario| bench.judge(scenario, Some(stand));
        let awake = case.worst_awake(&mut bench, (scenario, stand), &[], judge);
        let names = &self.around(who).names;
        let woke = awake.woke.iter().filter_map(|at| names.drivers.get(*at)).copied().collect();
        (awake.scenario, woke)
    }

    /// The charging of each supply that a judged situation lifts, from the moment at which the wheels join the rails.
    pub fn rushes(
        &self,
        who: Who,
        scenario: &Scenario,
        stand: &NumericStand,
        judged: &Judged,
    ) -> Vec<Rush> {
        let case = self.case(who);
        case.rushes(&Bench::new(&case.wiring), scenario, stand, judged)
    }

    /// Least and largest speed at which it passes gaps, mm/s.
    pub fn speed_mm_s(&self, who: Who) -> (f64, f64) {
        self.rakes.get(&who).map_or((0.0, 0.0), |rake| (rake.speed.from_mm_s, rake.speed.to_mm_s))
    }
}
