//! One place of a train's way, judged.

use std::collections::BTreeSet;

use super::course::{Course, drives, net_ids};
use super::{GroupStanding, Standing, Urge};
use crate::layout::{Layout, Load};
use crate::rails::{Plan, PlanNet};
use crate::straddle::case::{Names, Wiring};
use crate::straddle::chain::Acts;
use crate::straddle::contacts::Touched;
use crate::straddle::ix::{DeviceIx, DriverIx};
use crate::straddle::path::{Span, Tape};
use crate::study::cut::{Case, numeric, numeric_group};
use crate::study::judge::{Bench, Judged, NumericGroup, NumericStand, Scenario};
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

/// A place of a train's way in numbers.
pub(super) struct Place {
    /// The drivers around it, as they are set now.
    pub case: Case,
    /// Names of everything in the case.
    pub names: Names,
    /// Groups that join nets, and those that draw something.
    pub matter: Vec<usize>,
    groups: Vec<NumericGroup>,
    speed_mm_s: (f64, f64),
}

fn joins(sides: &[Touched<PlanNet>; 2]) -> bool {
    sides.iter().any(|side| side.len() > 1)
}

fn on_both(sides: &[Touched<PlanNet>; 2]) -> bool {
    sides.iter().all(|side| !side.is_empty())
}

impl Place {
    pub(super) fn of(
        layout: &Layout,
        plan: &Plan,
        course: &Course,
        position_mm: f64,
        touched: &[[Touched<PlanNet>; 2]],
    ) -> Place {
        let groups = &course.rake.groups;
        // Who joins nets, and who draws something: what of it gets current is told.
        let matter: Vec<usize> = (0..groups.len())
            .filter(|&at| {
                joins(&touched[at]) || (!groups[at].loads.is_empty() && on_both(&touched[at]))
            })
            .collect();
        let nets: BTreeSet<PlanNet> =
            matter.iter().flat_map(|&at| touched[at].iter().flatten().map(|t| t.0)).collect();
        let spans: Vec<Span> = course.tape.iter().map(|s| s.shifted(position_mm)).collect();
        let tape = Tape { spans: &spans, ..Tape::default() };
        let (wiring, names) = Wiring::around(layout, plan, &nets, &BTreeSet::new(), tape);
        let case = Case::bare(layout, wiring, &names);
        let numeric_of = |&at: &usize| {
            let sides = numeric(&touched[at], &names);
            numeric_group(&groups[at], sides, on_both(&touched[at]))
        };
        let speed = course.rake.speed;
        Place {
            groups: matter.iter().map(numeric_of).collect(),
            speed_mm_s: (speed.from_mm_s, speed.to_mm_s),
            case,
            names,
            matter,
        }
    }

    /// The scenario with the boards awake that what stands there powers through the rails, where that is worst, and its
    /// judgement; none where it joins nothing. `tripped` stay as they are.
    pub(super) fn awake(
        &self,
        bench: &mut Bench,
        scenario: Scenario,
        touched: &[[Touched<PlanNet>; 2]],
        tripped: &[DriverIx],
    ) -> (Scenario, Option<Judged>) {
        let joining = self.stand(|at| joins(&touched[at]));
        if joining.groups.is_empty() {
            return (scenario, None);
        }
        // As it is at first: an auto-reverser that acts is an event of its own.
        let judge = |bench: &mut Bench, scenario: &Scenario| {
            bench.judge_as_acted(scenario, &[], Some(&joining))
        };
        let awake = self.case.worst_awake(bench, (scenario, &joining), tripped, judge);
        (awake.scenario, Some(awake.judged))
    }

    /// What stands there, of the groups that are wanted.
    pub(super) fn stand(&self, wanted: impl Fn(usize) -> bool) -> NumericStand {
        let groups = self.matter.iter().zip(&self.groups).filter(|(at, _)| wanted(**at));
        NumericStand {
            vehicle: 0,
            groups: groups.map(|(_, group)| group.clone()).collect(),
            length_mm: 0.0,
            speed_mm_s: self.speed_mm_s,
            single_wheel: false,
            wiring_a: None,
        }
    }
}

/// Which groups are live, what drives the train, and the mean current through its motors at rest, A. `drawn` are the means
/// and the means of the magnitudes of all its loads.
pub(super) fn driven(
    course: &Course,
    place: &Place,
    touched: &[[Touched<PlanNet>; 2]],
    drawn: &[(f64, f64)],
) -> (Vec<Option<bool>>, Urge, f64) {
    let groups = &course.rake.groups;
    let mut drawn = drawn.iter().copied();
    let mut live: Vec<Option<bool>> =
        groups.iter().map(|group| (!group.loads.is_empty()).then_some(false)).collect();
    let (mut on, mut back, mut amps) = (false, false, 0.0);
    for &at in &place.matter {
        let loads = groups[at].loads.iter().filter(|_| on_both(&touched[at]));
        for (load, (mean, size)) in loads.zip(drawn.by_ref()) {
            live[at] = Some(live[at] == Some(true) || size > DEAD_A);
            match load {
                // A positive right-hand rail drives on, whichever way round the vehicle stands (NMRA S-9).
                Load::Motor { .. } => {
                    on |= mean < -DEAD_A;
                    back |= mean > DEAD_A;
                    amps += mean.abs();
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
    (live, urge, amps)
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
    let place = Place::of(layout, plan, course, position_mm, touched);
    let Place { case, names, .. } = &place;
    let groups = &course.rake.groups;
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

    let (scenario, judged) = place.awake(&mut bench, scenario, touched, &which);
    // Loads on one block are no business of the joins, but they say whether the train is driven.
    let drawn = bench.drawn_at_rest(&scenario, &place.stand(|_| true)).unwrap_or_default();
    let (live, urge, _) = driven(course, &place, touched, &drawn);

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
