//! What meets behind the rails: drivers on supplies, supplies on shared negatives.

use std::collections::{BTreeMap, BTreeSet};

use super::ids::PlanNet;
use super::parts::Net;
use super::wires::LooseWires;
use crate::layout::{DriverId, Layout, SupplyId};

/// A part that current can pass through.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Part {
    Driver(DriverId),
    Supply(SupplyId),
    /// Wires that meet at a device with nothing behind it: an index in [`Plan::wires`](super::Plan::wires).
    Wires(usize),
}

/// A place where parts meet: a net, a supply's poles, a shared negative.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Place {
    Net(PlanNet),
    Supply(SupplyId),
    Tie(usize),
}

/// The parts behind the rails and where they meet.
///
/// What hangs on the rest by one place only carries no current. Such parts form trees on a *core* that closes loops
/// without any vehicle; a vehicle closes further loops along those trees, and only there.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Grid {
    places: BTreeMap<Part, Vec<Place>>,
    parts: BTreeMap<Place, Vec<Part>>,
    /// From a place outside the core: the part towards the core, and the place beyond it.
    towards: BTreeMap<Place, (Part, Option<Place>)>,
    core: BTreeSet<Part>,
}

impl Grid {
    pub(super) fn derive(layout: &Layout, nets: &[Net], wires: &[LooseWires]) -> Grid {
        let mut places: BTreeMap<Part, Vec<Place>> = BTreeMap::new();
        for (at, net) in nets.iter().enumerate() {
            let at = PlanNet(at);
            for leg in &net.legs {
                let on = places.entry(Part::Driver(leg.driver)).or_default();
                if on.last() != Some(&Place::Net(at)) {
                    on.push(Place::Net(at));
                }
            }
        }
        for (part, on) in &mut places {
            if let Part::Driver(id) = part
                && let Some(driver) = layout.drivers.get(id)
            {
                on.push(Place::Supply(driver.supply));
            }
        }
        for (at, legs) in wires.iter().enumerate() {
            let mut on: Vec<Place> = legs.iter().map(|leg| Place::Net(leg.net)).collect();
            on.sort_unstable();
            on.dedup();
            places.insert(Part::Wires(at), on);
        }
        let mut ties: BTreeMap<&str, usize> = BTreeMap::new();
        for supply in layout.supplies.values() {
            if let Some(negative) = &supply.negative {
                let next = ties.len();
                let tie = *ties.entry(&negative.name).or_insert(next);
                let on = vec![Place::Supply(supply.id), Place::Tie(tie)];
                places.insert(Part::Supply(supply.id), on);
            }
        }
        let mut parts: BTreeMap<Place, Vec<Part>> = BTreeMap::new();
        for (&part, on) in &places {
            for &place in on {
                parts.entry(place).or_default().push(part);
            }
        }
        let mut grid = Grid {
            core: places.keys().copied().collect(),
            places,
            parts,
            towards: BTreeMap::new(),
        };
        grid.peel();
        grid
    }

    /// Takes what hangs by one place off the core, and remembers by which.
    fn peel(&mut self) {
        let mut users: BTreeMap<Place, usize> =
            self.parts.iter().map(|(&place, parts)| (place, parts.len())).collect();
        let mut waiting: Vec<Part> = self.core.iter().copied().collect();
        while let Some(part) = waiting.pop() {
            let on = &self.places[&part];
            let mut held = on.iter().copied().filter(|place| users[place] > 1);
            let by = held.next();
            if held.next().is_some() || !self.core.remove(&part) {
                continue;
            }
            for &place in on.iter().filter(|&&place| Some(place) != by) {
                self.towards.insert(place, (part, by));
            }
            if let Some(by) = by
                && let Some(count) = users.get_mut(&by)
            {
                *count -= 1;
                // Who is left there may hang by it alone now.
                if *count == 1 {
                    waiting
                        .extend(self.parts[&by].iter().copied().filter(|p| self.core.contains(p)));
                }
            }
        }
    }

    /// Drivers that close a loop of current without any vehicle, beyond those whose own poles meet.
    pub fn closed(&self) -> impl Iterator<Item = DriverId> + '_ {
        self.core.iter().filter_map(|part| match part {
            Part::Driver(driver) => Some(*driver),
            Part::Supply(_) | Part::Wires(_) => None,
        })
    }

    /// Nets that a driver ends on.
    pub fn nets_of(&self, driver: DriverId) -> impl Iterator<Item = PlanNet> + '_ {
        self.places.get(&Part::Driver(driver)).into_iter().flatten().filter_map(|place| match place
        {
            Place::Net(net) => Some(*net),
            _ => None,
        })
    }

    /// The drivers and wires that can carry current once `nets` are joined with each other, and those in `always`. The work is in
    /// proportion to what is found, not to the layout.
    pub fn members(&self, nets: &BTreeSet<PlanNet>, always: &BTreeSet<DriverId>) -> Members {
        // Ways from the joined nets to the core, and what of the core they reach.
        let mut near: BTreeSet<Part> = BTreeSet::new();
        let mut places: Vec<Place> = nets.iter().map(|&net| Place::Net(net)).collect();
        for &driver in always {
            let part = Part::Driver(driver);
            if let Some(on) = self.places.get(&part) {
                near.insert(part);
                places.extend(on);
            }
        }
        let mut seen: BTreeSet<Place> = BTreeSet::new();
        while let Some(place) = places.pop() {
            if !seen.insert(place) {
                continue;
            }
            match self.towards.get(&place) {
                Some(&(part, beyond)) => {
                    near.insert(part);
                    places.extend(beyond);
                }
                None => {
                    for part in self.parts.get(&place).into_iter().flatten() {
                        if self.core.contains(part) && near.insert(*part) {
                            places.extend(&self.places[part]);
                        }
                    }
                }
            }
        }
        // Of those, what still hangs by one place carries nothing. The vehicle holds the nets together.
        let mut users: BTreeMap<Place, usize> = BTreeMap::new();
        for place in near.iter().flat_map(|part| &self.places[part]) {
            *users.entry(*place).or_default() += 1;
        }
        let by_vehicle = |place: &Place| matches!(place, Place::Net(net) if nets.contains(net));
        let keep = |part: &Part| matches!(part, Part::Driver(id) if always.contains(id));
        let mut waiting: Vec<Part> = near.iter().copied().collect();
        while let Some(part) = waiting.pop() {
            let on = &self.places[&part];
            let held = on.iter().filter(|place| by_vehicle(place) || users[*place] > 1).count();
            if held >= 2 || keep(&part) || !near.remove(&part) {
                continue;
            }
            for place in on {
                if let Some(count) = users.get_mut(place) {
                    *count -= 1;
                    if *count == 1 {
                        let left = self.parts[place].iter().copied();
                        waiting.extend(left.filter(|p| near.contains(p)));
                    }
                }
            }
        }
        let mut found = Members { drivers: always.clone(), wires: Vec::new() };
        for part in near {
            match part {
                Part::Driver(driver) => drop(found.drivers.insert(driver)),
                Part::Wires(at) => found.wires.push(at),
                Part::Supply(_) => {}
            }
        }
        found
    }
}

/// What can carry current.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Members {
    /// Drivers.
    pub drivers: BTreeSet<DriverId>,
    /// Wires that meet at a device with nothing behind it: indices in [`Plan::wires`](super::Plan::wires).
    pub wires: Vec<usize>,
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::Plan;
    use super::*;
    use crate::layout;

    /// Blocks in a row, one driver each, on supplies as told: `(supply, tie)`.
    fn row(drivers: &[(u32, &str)], rails: &str) -> Plan {
        let mut text = String::from(
            r#"(version: 1, joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 100000, y_mm: 0)],
            runs: [(id: "r1", from: "j1", to: "j2")],"#,
        );
        let list = |name: &str, lines: Vec<String>| format!("{name}: [{}],\n", lines.join(","));
        let supplies: BTreeMap<u32, &str> = drivers.iter().copied().collect();
        text += &list(
            "supplies",
            supplies
                .iter()
                .map(|(id, tie)| {
                    let tie = if tie.is_empty() {
                        String::new()
                    } else {
                        format!(", negative: (name: \"{tie}\")")
                    };
                    format!("(id: \"s{id}\", open_v: 14, source_ohm: 0.1{tie})")
                })
                .collect(),
        );
        text += &list(
            "cuts",
            (1..drivers.len())
                .map(|k| format!("(id: \"c{k}\", run: \"r1\", at_mm: {k}000, rails: {rails})"))
                .collect(),
        );
        text += &list(
            "drivers",
            drivers
                .iter()
                .enumerate()
                .map(|(k, (supply, _))| {
                    format!(
                        "(id: \"d{}\", supply: \"s{supply}\", drive: PwmBridge(clock: (hz: 490), idle: BrakeLow), \
                         high_ohm: 0.1, low_ohm: 0.1, diode_v: 0.7, diode_ohm: 0.1, setting: (direction: Forward))",
                        k + 1
                    )
                })
                .collect(),
        );
        text += &list(
            "feeds",
            (0..drivers.len())
                .map(|k| {
                    format!(
                        "(id: \"f{0}\", driver: \"d{0}\", run: \"r1\", at_mm: {k}500, p: Right, m: Left)",
                        k + 1
                    )
                })
                .collect(),
        );
        text.push(')');
        Plan::derive(&layout::load(&text).unwrap().layout)
    }

    fn at_cut(plan: &Plan, cut: u32) -> Vec<u32> {
        let at = plan.cuts[&layout::CutId(cut)];
        let nets =
            [at.before, at.after].iter().flat_map(|&p| plan.pieces[p].nets.map(PlanNet)).collect();
        plan.grid().members(&nets, &BTreeSet::new()).drivers.into_iter().map(|d| d.0).collect()
    }

    #[test]
    fn isolated_neighbours_meet_and_nobody_else() {
        let plan = row(&[(1, ""), (2, ""), (3, ""), (4, "")], "Both");
        assert_eq!(at_cut(&plan, 2), [2, 3]);
        assert!(plan.grid().core.is_empty());
    }

    #[test]
    fn a_shared_negative_brings_in_no_third_driver() {
        let plan = row(&[(1, "board"), (2, "board"), (3, "board"), (4, "board")], "Both");
        assert_eq!(at_cut(&plan, 1), [1, 2]);
        let plan = row(&[(1, ""), (1, ""), (1, ""), (1, "")], "Both");
        assert_eq!(at_cut(&plan, 3), [3, 4]);
    }

    #[test]
    fn a_common_rail_on_one_supply_brings_in_all() {
        let plan = row(&[(1, ""), (1, ""), (1, ""), (1, "")], "Right");
        assert_eq!(at_cut(&plan, 2), [1, 2, 3, 4]);
        // On isolated supplies the others hang on the common rail alone.
        let plan = row(&[(1, ""), (2, ""), (3, ""), (4, "")], "Right");
        assert_eq!(at_cut(&plan, 2), [2, 3]);
    }

    #[test]
    fn two_joined_blocks_of_different_ties_do_not_draw_in_their_kin() {
        let plan = row(&[(1, "west"), (2, "west"), (3, "east"), (4, "east")], "Both");
        assert_eq!(at_cut(&plan, 2), [2, 3]);
        // A vehicle over all four closes the loops behind as well.
        let all = plan.pieces.iter().flat_map(|p| p.nets.map(PlanNet)).collect();
        let members = plan.grid().members(&all, &BTreeSet::new()).drivers;
        assert_eq!(members.len(), 4);
    }
}
