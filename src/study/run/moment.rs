//! One place of a train's way, judged.

use std::collections::BTreeSet;

use super::course::{Course, drives, net_ids};
use super::{GroupStanding, Standing, Urge};
use crate::layout::{Layout, Load};
use crate::rails::{Plan, PlanNet};
use crate::straddle::case::Wiring;
use crate::straddle::chain::Acts;
use crate::straddle::contacts::Touched;
use crate::straddle::ix::{DeviceIx, DriverIx};
use crate::straddle::path::{Span, Tape};
use crate::study::cut::{Case, numeric, numeric_group};
use crate::study::judge::{Bench, NumericGroup, NumericStand};
use crate::study::situation::driver_figures;
use crate::study::{GuardId, Trips, Verdict};

/// A load that gets less counts as dead, A.
const DEAD_A: f64 = 1e-3;

/// How things are at a place, and which trips act if nothing changes.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Look {
    pub standing: Standing,
    /// What acts first, after how long (s), and whether at every phase.
    pub trips: Option<(Vec<GuardId>, f64, bool)>,
}

/// Looks at a place where some drivers have tripped and some devices have acted.
pub(super) fn look(
    layout: &Layout,
    plan: &Plan,
    course: &Course,
    position_mm: f64,
    touched: &[[Touched<PlanNet>; 2]],
    out: &[GuardId],
) -> Look {
    let joins = |sides: &[Touched<PlanNet>; 2]| sides.iter().any(|side| side.len() > 1);
    let on_both = |sides: &[Touched<PlanNet>; 2]| sides.iter().all(|side| !side.is_empty());
    let groups = &course.rake.groups;
    // Who joins nets, and who draws something: what of it gets current is told.
    let matter: Vec<usize> = (0..groups.len())
        .filter(|&at| {
            joins(&touched[at]) || (!groups[at].loads.is_empty() && on_both(&touched[at]))
        })
        .collect();
    let nets: BTreeSet<PlanNet> =
        matter.iter().flat_map(|&at| touched[at].iter().flatten().map(|t| t.0)).collect();
    let spans: Vec<Span> = course.spans.iter().map(|s| s.shifted(position_mm)).collect();
    let tape = Tape { spans: &spans, ..Tape::default() };
    let (wiring, names) = Wiring::around(layout, plan, &nets, &BTreeSet::new(), tape);
    let case = Case::bare(layout, wiring, &names);
    let settings = case.controls.iter().map(|control| control.now).collect();
    let mut bench = Bench::new(&case.wiring);
    let which: Vec<DriverIx> = (names.drivers.indices())
        .filter(|&at| out.contains(&GuardId::Driver(names.drivers[at])))
        .collect();
    let acted: Vec<DeviceIx> = (names.devices.indices())
        .filter(|&at| out.contains(&GuardId::Device(names.devices[at])))
        .collect();
    let mut scenario = bench.tripped(&case.scenario(&settings, &case.powered), &which);
    scenario.acted.clone_from(&acted);

    let of = |wanted: &dyn Fn(usize) -> bool| NumericStand {
        vehicle: 0,
        groups: matter
            .iter()
            .filter(|&&at| wanted(at))
            .map(|&at| -> NumericGroup {
                let sides = numeric(&touched[at], &names);
                numeric_group(&groups[at], sides, on_both(&touched[at]))
            })
            .collect(),
        length_mm: 0.0,
        speed_mm_s: (course.rake.speed.from_mm_s, course.rake.speed.to_mm_s),
        single_wheel: false,
        wiring_a: None,
    };
    // Loads on one block are no business of the joins, but they say whether the train is driven.
    let drawn = bench.drawn_at_rest(&scenario, &of(&|_| true)).unwrap_or_default();
    let mut drawn = drawn.into_iter();
    let mut live: Vec<Option<bool>> =
        groups.iter().map(|group| (!group.loads.is_empty()).then_some(false)).collect();
    let (mut on, mut back) = (false, false);
    for &at in &matter {
        let loads = groups[at].loads.iter().filter(|_| on_both(&touched[at]));
        for (load, (mean, size)) in loads.zip(drawn.by_ref()) {
            live[at] = Some(live[at] == Some(true) || size > DEAD_A);
            match load {
                // A positive right-hand rail drives on, whichever way round the vehicle stands (NMRA S-9).
                Load::Motor { .. } => {
                    on |= mean < -DEAD_A;
                    back |= mean > DEAD_A;
                }
                // A decoder knows which way it goes.
                Load::Rectifier { .. } => on |= size > DEAD_A,
                _ => {}
            }
        }
    }
    let has_motor = groups.iter().any(|group| drives(&group.loads));
    let urge = match (on, back) {
        _ if !has_motor => Urge::Pushed,
        (true, false) => Urge::On,
        (false, true) => Urge::Back,
        (true, true) => Urge::Torn,
        (false, false) => Urge::Dead,
    };

    let standing_groups = groups
        .iter()
        .zip(touched)
        .zip(live)
        .map(|((group, sides), live)| GroupStanding {
            vehicles: group.vehicles.clone(),
            nets: [net_ids(plan, &sides[0]), net_ids(plan, &sides[1])],
            live,
        })
        .collect();
    let mut standing = Standing {
        position_mm,
        groups: standing_groups,
        cuts: course.cuts_at(position_mm),
        verdict: Verdict::Clear,
        margin: None,
        share: 0.0,
        drivers: Vec::new(),
        first: Vec::new(),
        first_devices: Vec::new(),
        urge,
    };
    let joining = of(&|at| joins(&touched[at]));
    let judged = if joining.groups.is_empty() {
        None
    } else {
        // As it is at first: what an auto-reverser makes of it comes when it has acted.
        Some(bench.judge_as_acted(&scenario, &[], Some(&joining)))
    };
    let Some(judged) = judged else {
        if urge == Urge::Dead {
            standing.verdict = Verdict::Stall;
        }
        return Look { standing, trips: None };
    };
    let id = |at: DriverIx| names.drivers[at];
    standing.verdict = judged.verdict;
    if urge == Urge::Dead && out.is_empty() {
        standing.verdict = standing.verdict.max(Verdict::Stall);
    }
    standing.margin = judged.margin;
    standing.share = judged.share;
    standing.drivers = judged.drivers.pairs().map(|(at, d)| driver_figures(id(at), d)).collect();
    standing.first = judged.first.iter().map(|&at| id(at)).collect();
    standing.first_devices = judged.first_devices.iter().map(|&at| names.devices[at]).collect();
    let drivers = judged.first.iter().filter(|at| !which.contains(at)).map(|&at| {
        let driver = &judged.drivers[at];
        (GuardId::Driver(id(at)), driver.trip_after_s, driver.trips)
    });
    // What has opened is open; an auto-reverser may act again.
    let reverses =
        |at: DeviceIx| matches!(case.wiring.devices[at].trip, Some((_, Acts::Exchanges)));
    let devices = judged.first_devices.iter().filter(|&&at| reverses(at) || !acted.contains(&at));
    let devices = devices.map(|&at| {
        let device = &judged.devices[at];
        (GuardId::Device(names.devices[at]), device.trip_after_s, device.trips)
    });
    let acting: Vec<(GuardId, Option<f64>, Trips)> = drivers.chain(devices).collect();
    let earliest = acting.iter().filter_map(|(_, after_s, _)| *after_s).reduce(f64::min);
    let trips = earliest.map(|after_s| {
        let always = acting.iter().all(|(_, _, trips)| *trips == Trips::Yes);
        (acting.iter().map(|(guard, _, _)| *guard).collect(), after_s, always)
    });
    Look { standing, trips }
}
