//! What supplies give with no train on the track, as everything is set now.

use std::collections::{BTreeMap, BTreeSet};

use super::View;
use super::cut::Case;
use super::judge::Bench;
use super::situation::current;
use super::types::Current;
use crate::layout::{DriverId, SupplyId};
use crate::straddle::case::Wiring;
use crate::straddle::path::Tape;

impl View<'_> {
    /// Current from the positive pole of each supply with no train on the track, as everything is set now. `None` where the
    /// circuit could not be solved, or where too many drivers take part for every joint state to be looked at.
    pub fn loads(&self) -> BTreeMap<SupplyId, Option<Current>> {
        // Nothing flows where no loop is closed.
        let mut closed: BTreeSet<DriverId> = self.plan.grid().closed().collect();
        closed.extend(self.plan.shorted());
        let load = |supply: SupplyId| {
            let on = |id: &&DriverId| {
                self.layout.drivers.get(id).is_some_and(|driver| driver.supply == supply)
            };
            let drivers: BTreeSet<DriverId> = closed.iter().filter(on).copied().collect();
            if drivers.is_empty() { Some(Current::default()) } else { self.load(supply, &drivers) }
        };
        self.layout.supplies.keys().map(|&supply| (supply, load(supply))).collect()
    }

    fn load(&self, supply: SupplyId, drivers: &BTreeSet<DriverId>) -> Option<Current> {
        let nowhere = BTreeSet::new();
        let (wiring, names) =
            Wiring::around(self.layout, &self.plan, &nowhere, drivers, Tape::default());
        let at = names.supplies.of(&supply)?;
        let case = Case::bare(self.layout, wiring, &names);
        let scenario = case.scenario_now();
        if !scenario.held.is_empty() {
            return None;
        }
        Bench::new(&case.wiring).load(&scenario, at).map(|figures| current(&figures))
    }
}
