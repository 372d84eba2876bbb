//! One gap with the track around it, what can stand there, and the cases that its circuits come from.

use std::collections::BTreeMap;

use super::super::cut::{self, Case, Set, Settings, Stock, Surroundings};
use super::super::judge::Scenario;
use super::super::places::{self, Place};
use super::super::types::SetState;
use crate::layout::{CutId, DeviceId, DriverId, Layout, TrainId, Vehicle, VehicleId};
use crate::rails::Plan;
use crate::straddle::rake::{self, Rake};

/// What stands at a gap.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Who {
    /// The vehicle that stands in where a layout has none.
    StandIn,
    /// A vehicle by itself.
    Vehicle(VehicleId),
    /// A train.
    Train(TrainId),
}

/// A gap with all that its view needs.
pub struct Gap {
    /// The cut.
    pub cut: CutId,
    /// The track around it.
    pub place: Place,
    pub(super) rakes: BTreeMap<Who, Rake>,
    pub(super) patches_mm: BTreeMap<Who, f64>,
    singles: (Case, Surroundings),
    trains: Option<(Case, Surroundings)>,
}

impl Gap {
    /// Collects a gap. `None` if the cut is not on the plan, or has no block on a side.
    pub fn of(layout: &Layout, plan: &Plan, cut: CutId) -> Option<Gap> {
        let stock = Stock::of(layout);
        let drawn = layout.cuts.get(&cut)?;
        let reach_mm = stock.reach_mm() + drawn.stagger_mm.abs();
        let place = places::of_cut(layout, plan, drawn, reach_mm)?;
        let singles = cut::vehicles_at(&stock, &place).case(layout, plan);
        let trains = cut::trains_at(&stock, &place).map(|trains| trains.case(layout, plan));
        let mut rakes: BTreeMap<Who, Rake> = BTreeMap::new();
        let mut patches_mm = BTreeMap::new();
        let stand_in = cut::stand_in();
        let mut add = |who: Who, vehicle: &Vehicle| {
            rakes.insert(who, rake::alone(vehicle));
            patches_mm.insert(who, vehicle.patch_mm);
        };
        if layout.vehicles.is_empty() {
            add(Who::StandIn, &stand_in);
        }
        layout.vehicles.values().for_each(|vehicle| add(Who::Vehicle(vehicle.id), vehicle));
        for train in layout.trains.values() {
            let coupled = rake::coupled(layout, train);
            if !coupled.groups.is_empty() {
                rakes.insert(Who::Train(train.id), coupled);
            }
        }
        Some(Gap { cut, place, rakes, patches_mm, singles, trains })
    }

    /// Everything that can stand there: trains last.
    pub fn all(&self) -> impl Iterator<Item = Who> + '_ {
        self.rakes.keys().copied()
    }

    /// Length over couplers, mm.
    pub fn length_mm(&self, who: Who) -> f64 {
        self.rakes.get(&who).map_or(0.0, |rake| rake.length_mm)
    }

    /// The case with the drivers that matter to what stands there.
    pub fn case(&self, who: Who) -> &Case {
        &self.of_who(who).0
    }

    /// Names of everything in [`Gap::case`].
    pub fn around(&self, who: Who) -> &Surroundings {
        &self.of_who(who).1
    }

    fn of_who(&self, who: Who) -> &(Case, Surroundings) {
        match (who, &self.trains) {
            (Who::Train(_), Some(trains)) => trains,
            _ => &self.singles,
        }
    }

    /// What the drivers do over time as a situation of the report has them set; a driver that is not in it as it is set
    /// now. `exchanged` are the devices that have acted before.
    pub fn scenario(
        &self,
        who: Who,
        settings: &BTreeMap<DriverId, SetState>,
        exchanged: &[DeviceId],
    ) -> Scenario {
        let (case, around) = self.of_who(who);
        let set = |(at, id): (_, &DriverId)| -> Set {
            settings.get(id).map_or(case.controls[at].now, |set| (set.state, set.throttle))
        };
        let settings: Settings = around.names.drivers.pairs().map(set).collect();
        let powered = case.powered_for(&settings);
        let mut scenario = case.scenario(&settings, &powered);
        scenario.acted = exchanged.iter().filter_map(|id| around.names.devices.of(id)).collect();
        scenario.acted.sort_unstable();
        scenario
    }
}
