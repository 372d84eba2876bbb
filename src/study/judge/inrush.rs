//! What charges a supply's bulk capacitance at the moment of joining.

use super::CONFLICT_A;
use super::bench::{Bench, carried};
use super::carried::{M, P, SENSED};
use super::judged::Lifted;
use super::scenario::Scenario;
use super::stand::NumericStand;
use crate::layout::Senses;
use crate::signal::Joint;
use crate::straddle::ix::{DriverIx, Table};

impl Bench<'_> {
    /// What charges a supply's bulk capacitance at the moment of joining: (current into it at once, A; resistance of
    /// the loop, Ω; sensed current of each driver at once, A). The heaviest joint state counts.
    pub fn inrush(
        &self,
        scenario: &Scenario,
        stand: &NumericStand,
        lifted: &Lifted,
    ) -> Option<(f64, f64, Table<DriverIx, f64>)> {
        let supply = &self.wiring.supplies[lifted.supply];
        let (_, esr) = supply.bulk?;
        let esr = esr.map_or(0.0, |at| self.nominal[at]);
        let beats = scenario.beats();
        let joint = Joint::of(&beats);
        let touch = stand.clean();
        (0..joint.count())
            .filter_map(|at| {
                let held = Some((lifted.supply, lifted.from_v, esr));
                let built = self.build(scenario, (&joint, at), Some(&touch), &self.nominal, held);
                let solution = built.solve().ok()?;
                let into = -solution.amps(built.held?);
                let carried = carried(self.wiring, &built, &solution);
                let sensed = (self.wiring.drivers.indices())
                    .map(|d| {
                        let amps = carried.drivers[d];
                        match self.wiring.drivers[d].trip.as_ref().map(|t| t.senses) {
                            Some(Senses::LargerLeg) | None => amps[P].abs().max(amps[M].abs()),
                            Some(_) => amps[SENSED].abs(),
                        }
                    })
                    .collect();
                (into > CONFLICT_A).then(|| (into, (lifted.to_v - lifted.from_v) / into, sensed))
            })
            .max_by(|a, b| a.0.total_cmp(&b.0))
    }
}
