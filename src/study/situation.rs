//! From numbers back to names: an evaluated case into the report's situations.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::drive::{SetWord, StateWord};
use crate::layout::{DeviceId, DriverId, Rail, VehicleId};
use crate::rails::Plan;
use crate::signal::{Figures, Spread};

use super::cut::{
    Case, Cell, CutResult, Evaluated, FootingAt, Pass, StandAt, Stander, Surroundings, front_mm,
};
use super::judge::{JudgedDevice, JudgedDriver};
use super::types::{
    AfterFirst, Current, DeviceFigures, DriverFigures, Facing, Join, JointState, Motion,
    OverPhases, PassAt, PassReport, Relation, SelectorAt, SetState, Situation,
};
use crate::straddle::contacts;
use crate::straddle::ix::DeviceIx;

/// Figures in the form of the report.
pub fn current(figures: &Figures) -> Current {
    let pair = |spread: Spread| [spread.min, spread.max];
    Current {
        peak: figures.peak,
        mean: figures.mean,
        mean_abs: figures.mean_abs,
        rms: figures.rms,
        over_phases: figures.range.map(|range| OverPhases {
            mean: pair(range.mean),
            mean_abs: pair(range.mean_abs),
            rms: pair(range.rms),
        }),
    }
}

/// A judged driver's figures in the report's form.
pub fn driver_figures(id: DriverId, judged: &JudgedDriver) -> DriverFigures {
    DriverFigures {
        id,
        p: current(&judged.figures[0]),
        m: current(&judged.figures[1]),
        supply: current(&judged.figures[2]),
        sensed: judged.sensed.as_ref().map(current),
        positive_pole_v: judged.pole_v,
        trips: judged.trips,
        trips_share: judged.trips_share,
        trip_after_s: judged.trip_after_s,
        trip_compares_a: judged.trip_compares_a,
    }
}

fn device_figures(id: DeviceId, judged: &JudgedDevice) -> DeviceFigures {
    DeviceFigures {
        id,
        current: current(&judged.figures),
        trips: judged.trips,
        trips_share: judged.trips_share,
        trip_after_s: judged.trip_after_s,
    }
}

fn facing(facing: contacts::Facing) -> Facing {
    match facing {
        contacts::Facing::FrontAhead => Facing::AToB,
        contacts::Facing::RearAhead => Facing::BToA,
    }
}

/// The report's form of an evaluated situation.
pub fn situation(
    plan: &Plan,
    case: &Case,
    around: &Surroundings,
    evaluated: &Evaluated,
) -> Situation {
    let names = &around.names;
    let judged = &evaluated.judged;
    let nobody = Stander { vehicle: None, train: None, length_mm: 0.0 };
    let (by, face, front) = match (evaluated.stand, evaluated.footing) {
        (Some(at), _) => {
            let stand = &around.stands[at];
            let front = front_mm(stand.facing, stand.lead_mm, stand.by.length_mm);
            (stand.by, facing(stand.facing), front)
        }
        (None, Some(at)) => {
            let foot = &around.footings[at];
            (foot.by, facing(foot.facing), foot.front_mm)
        }
        (None, None) => (nobody, Facing::AToB, 0.0),
    };
    let stand = evaluated.stand.map(|at| &case.stands[at]);
    let mut joins = Vec::new();
    for (at, group) in stand.iter().flat_map(|stand| stand.groups.iter().enumerate()) {
        let several = by.train.is_some() || stand.is_some_and(|stand| stand.groups.len() > 1);
        let whose = evaluated.stand.filter(|_| several);
        let vehicles: Vec<VehicleId> =
            whose.map(|stand| around.stands[stand].groups[at].vehicles.clone()).unwrap_or_default();
        for (rail, touched) in Rail::BOTH.into_iter().zip(&group.touched) {
            if touched.len() > 1 {
                joins.push(Join {
                    side: rail.into(),
                    nets: touched.iter().map(|t| plan.net(names.nets[t.0]).id).collect(),
                    contact_ohm: touched
                        .iter()
                        .map(|t| group.wheel_ohm.0 / f64::from(t.1.max(1)))
                        .collect(),
                    group: at,
                    vehicles: vehicles.clone(),
                });
            }
        }
    }
    let figures = |drivers: &[JudgedDriver]| {
        names.drivers.iter().zip(drivers).map(|(&id, d)| driver_figures(id, d)).collect()
    };
    let devices = |at: &[DeviceIx]| at.iter().map(|&at| names.devices[at]).collect();
    Situation {
        verdict: judged.verdict,
        margin: judged.margin,
        vehicle: by.vehicle,
        train: by.train,
        facing: face,
        position_mm: front,
        motion: match (evaluated.stand, evaluated.footing) {
            (None, None) => Motion::NoTrain,
            _ => judged.motion,
        },
        speed_mm_s: stand.filter(|_| judged.motion == Motion::Moving).map(|s| s.speed_mm_s.0),
        share: judged.share,
        longest_s: judged.longest,
        share_range: judged.share_range.map(|(least, most)| [least, most]),
        resistive_after_s: judged.resistive_after_s,
        settings: names
            .drivers
            .iter()
            .zip(&evaluated.settings)
            .map(|(&id, &(state, level))| {
                // The level of stopped is a parking.
                let throttle = if state == SetWord::Stopped { 0.0 } else { level };
                (id, SetState { state, throttle })
            })
            .collect(),
        selectors: Vec::new(),
        parties: case.parties_of(evaluated).iter().map(|&at| names.drivers[at]).collect(),
        joins,
        states: judged
            .joints
            .iter()
            .filter(|(share, _)| *share > 0.0)
            .map(|(share, parts)| JointState {
                share: *share,
                drivers: names
                    .drivers
                    .iter()
                    .zip(parts)
                    .map(|(&id, part)| (id, part.state))
                    .collect::<BTreeMap<DriverId, StateWord>>(),
            })
            .collect(),
        drivers: figures(&judged.drivers),
        devices: names
            .devices
            .iter()
            .zip(&judged.devices)
            .map(|(&id, d)| device_figures(id, d))
            .collect(),
        held: judged.held.iter().map(|&at| names.drivers[at]).collect(),
        first: judged.first.iter().map(|&at| names.drivers[at]).collect(),
        first_devices: devices(&judged.first_devices),
        resolved: judged.resolved,
        exchanged: devices(&judged.exchanged),
        after_first: judged.after.as_ref().map(|after| AfterFirst {
            conflict: after.conflict,
            peak_a: after.peak_a,
            trips: after.trips.iter().map(|&at| names.drivers[at]).collect(),
            devices: devices(&after.devices),
        }),
        loaded: judged.loaded.as_deref().map(figures),
    }
}

/// How far a vehicle or a train rolls without a closed circuit, in the facing in which that is farther, mm. `None` if it
/// was not looked at: neither of anything that draws nothing, nor where no settings drive both sides and agree.
fn stall_mm(around: &Surroundings, result: &CutResult, by: &Stander) -> Option<f64> {
    let drives = |cell: &Cell| cell.a.drives() && cell.b.drives();
    let asked = result.cells.iter().any(|cell| cell.relation == Relation::Agree && drives(cell));
    let same = |foot: &&FootingAt| (foot.by.vehicle, foot.by.train) == (by.vehicle, by.train);
    if !asked || !around.footings.iter().any(|foot| same(&foot)) {
        return None;
    }
    let stalled = || {
        let footings = result.stalls.iter().filter_map(|stall| stall.footing);
        footings.map(|at| &around.footings[at]).filter(same)
    };
    let facings = contacts::Facing::BOTH.map(|facing| {
        stalled().filter(|foot| foot.facing == facing).map(|foot| foot.rolls_mm).sum::<f64>()
    });
    Some(facings.into_iter().fold(0.0, f64::max))
}

/// The report's form of the passes of all vehicles.
pub fn passes(known: &Known, passes: &[Pass]) -> Vec<PassReport> {
    let (case, around) = (&known.case, &known.around);
    passes
        .iter()
        .map(|pass| {
            let stand = &case.stands[pass.stand];
            let at = |speed: f64, (time_s, trips, trips_share): (f64, _, f64)| PassAt {
                speed_mm_s: Some(speed),
                time_s: Some(time_s),
                trips,
                trips_share,
            };
            let StandAt { by, facing: faces, .. } = &around.stands[pass.stand];
            PassReport {
                vehicle: by.vehicle,
                train: by.train,
                facing: facing(*faces),
                verdict: pass.verdict,
                stall_mm: stall_mm(around, &known.result, by),
                straddle_mm: stand.length_mm,
                wheels: [0, 1].map(|side| {
                    let groups = stand.groups.iter();
                    groups.flat_map(|group| group.touched[side].iter().map(|t| t.1)).collect()
                }),
                slow: at(stand.speed_mm_s.0, pass.slow),
                fast: at(stand.speed_mm_s.1, pass.fast),
                standing: PassAt {
                    speed_mm_s: None,
                    time_s: None,
                    trips: pass.standing.0,
                    trips_share: pass.standing.1,
                },
            }
        })
        .collect()
}

impl Known {
    /// Ways of standing and pairs of drivers that were not looked at, or only in part, because there are too many.
    pub fn left_out(&self) -> usize {
        let CutResult { pairs_left_out, stands_left_out, causes_left_out, .. } = &*self.result;
        self.around.left_out + stands_left_out + pairs_left_out + causes_left_out
    }
}

/// A cut with everything known about it. Cheap to clone.
#[derive(Debug, Clone, PartialEq)]
pub struct Known {
    /// Case.
    pub case: Arc<Case>,
    /// Names.
    pub around: Arc<Surroundings>,
    /// Result.
    pub result: Arc<CutResult>,
    /// Positions of the selectors that matter there.
    pub selectors: Vec<SelectorAt>,
}
