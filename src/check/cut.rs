//! One cut as a case: everything that can be reached at it, evaluated.
//!
//! A [`Case`] has numbers and no identities, so that equal surroundings give equal cases and a result can be kept. What
//! belongs to what stands beside it, in [`Surroundings`].

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use crate::crossing::assemble::{GroupTouch, NumericLoad};
use crate::crossing::case::{Names, Wiring};
use crate::crossing::contacts::{self, Facing, Touched};
use crate::crossing::path::Span;
use crate::crossing::rake::{self, Group, Rake};
use crate::drive::{self, Beside, Schedule, SetWord, StateWord};
use crate::layout::{
    Axle, Cut, Drive, Driver, DriverId, Layout, Load, SpeedRange, TrainId, Vehicle, VehicleId,
    Wheel,
};
use crate::rails::{CutAt, Plan};
use crate::signal::ClockId;

use super::judge::{
    Bench, CONFLICT_A, Decided, DriverRun, Judged, NumericGroup, NumericStand, Rated, Scenario,
    worse,
};
use super::places::{self, Place};
use super::types::{Motion, Relation, Trips, Verdict};

/// A setting of one driver: word and throttle.
pub type Set = (SetWord, f64);

/// How a driver is set now, and what it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Control {
    /// The driver (its identity and names blanked).
    pub driver: Driver,
    /// Its setting now.
    pub now: Set,
    /// Whether it or its supply is switched off by itself in operation.
    pub separately_switched: bool,
}

/// Pickups of a vehicle while it stands over the cut without need to join anything.
#[derive(Debug, Clone, PartialEq)]
pub struct Footing {
    /// Nets (indices of the wiring) under the left and the right pickups.
    pub touched: [Touched; 2],
    /// Contact resistance of a wheel, Ω.
    pub wheel_ohm: f64,
}

/// A cut and its neighbourhood, in numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// Supplies and drivers.
    pub wiring: Wiring,
    /// Per driver of the wiring.
    pub controls: Vec<Control>,
    /// Per supply of the wiring: on now.
    pub powered: Vec<bool>,
    /// The drivers of the block before and of the block after.
    pub sides: [Option<usize>; 2],
    /// +1 where directions carry on through the cut.
    pub sign: i8,
    /// Nets (indices of the wiring) of the left and right rail before the cut, and after it.
    pub rails: [[Option<usize>; 2]; 2],
    /// Ways in which a vehicle can join nets.
    pub stands: Vec<NumericStand>,
    /// Places where a loaded vehicle touches both blocks.
    pub footings: Vec<Footing>,
}

/// What the numbers of a case belong to.
#[derive(Debug, Clone, PartialEq)]
pub struct Surroundings {
    /// Where it stands in the plan.
    pub at: CutAt,
    /// Names of the wiring.
    pub names: Names,
    /// For each stand: who stands how.
    pub stands: Vec<StandAt>,
    /// For each footing: who, the facing and the place of its front past the cut, mm.
    pub footings: Vec<(Stander, Facing, f64)>,
    /// Ways in which trains can stand that were not looked at, because there are too many.
    pub left_out: usize,
}

/// Who stands at a cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stander {
    /// The vehicle, of a train one whose pickups join nets; `None` for what stands in where a layout has none.
    pub vehicle: Option<VehicleId>,
    /// The train, if it is one.
    pub train: Option<TrainId>,
    /// Length over the outer couplers, mm.
    pub length_mm: f64,
}

/// A pickup group of a stand.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupAt {
    /// Its vehicles, front to rear.
    pub vehicles: Vec<VehicleId>,
    /// Nets (indices in [`Plan::nets`]) under its left and right pickups, along the ruler.
    pub touched: [Touched; 2],
}

/// How a vehicle or a train stands over a cut.
#[derive(Debug, Clone, PartialEq)]
pub struct StandAt {
    /// Who.
    pub by: Stander,
    /// Facing.
    pub facing: Facing,
    /// Place of the leading coupler where it begins, mm on the ruler.
    pub lead_mm: f64,
    /// How far it rolls while at least this much is joined, mm.
    pub rolls_mm: f64,
    /// Whether it is a single wheel across the opening rather than a pickup group.
    pub single_wheel: bool,
    /// The groups that join nets.
    pub groups: Vec<GroupAt>,
    /// Distance of their first and last pickup behind the leading coupler, mm.
    pub pickups_mm: (f64, f64),
}

/// An evaluated situation.
#[derive(Debug, Clone, PartialEq)]
pub struct Evaluated {
    /// How each driver is set.
    pub settings: Vec<Set>,
    /// Index of the stand, if a vehicle joins anything.
    pub stand: Option<usize>,
    /// Index of the footing, if the vehicle stalls on it.
    pub footing: Option<usize>,
    /// Judgement.
    pub judged: Judged,
    /// Whether a dead board woke up through its diodes and idles.
    pub woke: bool,
}

/// Worst of some situations, and apart by what is joined.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Worst {
    /// The worst.
    pub worst: Option<Evaluated>,
    /// Worst verdict with both rails joined, with only the left, with only the right.
    pub by_join: [Option<Verdict>; 3],
}

impl Worst {
    fn take(&mut self, new: Evaluated, stand: Option<&NumericStand>) {
        if let Some(stand) = stand {
            let at = match (stand.joins(0), stand.joins(1)) {
                (true, false) => 1,
                (false, true) => 2,
                _ => 0,
            };
            let old = &mut self.by_join[at];
            *old = (*old).max(Some(new.judged.verdict));
        }
        if self.worst.as_ref().is_none_or(|old| is_worse(&new, old)) {
            self.worst = Some(new);
        }
    }

    /// Takes the worse of both.
    pub fn merge(&mut self, other: &Worst) {
        for (old, new) in self.by_join.iter_mut().zip(other.by_join) {
            *old = (*old).max(new);
        }
        if let Some(new) = &other.worst
            && self.worst.as_ref().is_none_or(|old| is_worse(new, old))
        {
            self.worst = Some(new.clone());
        }
    }
}

/// Whether the first situation is the one to tell.
pub fn is_worse(new: &Evaluated, old: &Evaluated) -> bool {
    let rated = |e: &Evaluated| Rated {
        verdict: e.judged.verdict,
        margin: e.judged.margin,
        decided: e.judged.decided,
    };
    let (new_rated, old_rated) = (rated(new), rated(old));
    if worse(&new_rated, &old_rated) {
        return true;
    }
    // Where the thresholds do not decide, the larger conflict is the one to tell, then the higher lift.
    let peak = |e: &Evaluated| e.judged.worst_joint.map_or(0.0, |(_, amps)| amps);
    let lift = |e: &Evaluated| e.judged.lifted.iter().map(|l| l.to_v - l.from_v).sum::<f64>();
    let more = peak(new) - peak(old);
    let tells_more = more > 1e-9 || (more.abs() <= 1e-9 && lift(new) > lift(old) + 1e-9);
    !worse(&old_rated, &new_rated) && tells_more
}

/// A pair of settings of the two sides.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// Setting of the first side.
    pub a: SetWord,
    /// Setting of the second side.
    pub b: SetWord,
    /// How they stand to each other.
    pub relation: Relation,
    /// Whether a dead side there is one that operators switch by itself.
    pub separately_switched: bool,
    /// Worst over throttles, vehicles and ways of standing.
    pub worst: Worst,
    /// Footings on which a vehicle closes no circuit, with the settings.
    pub stalls: Vec<Evaluated>,
}

/// How one vehicle passes with the settings of a situation.
#[derive(Debug, Clone, PartialEq)]
pub struct Pass {
    /// Index of its longest stand that joins both rails (or one, if it cannot join both).
    pub stand: usize,
    /// At its least speed: time over the cut, s; whether a trip acts; in which share of phases.
    pub slow: (f64, Trips, f64),
    /// At its largest speed.
    pub fast: (f64, Trips, f64),
    /// Standing there.
    pub standing: (Trips, f64),
}

/// Charging of a lifted pole at the moment of joining.
#[derive(Debug, Clone, PartialEq)]
pub struct InrushAt {
    /// The situation in which it happens.
    pub settings: Vec<Set>,
    /// The stand.
    pub stand: usize,
    /// How the settings stand to each other.
    pub relation: Relation,
    /// The supply that is charged, and from and to which voltage.
    pub supply: usize,
    /// Voltage before, V.
    pub from_v: f64,
    /// Voltage after, V.
    pub to_v: f64,
    /// Current at once, A.
    pub amps: f64,
    /// Time constant, s.
    pub tau_s: f64,
    /// Drivers whose trip it sets off.
    pub trips: Vec<usize>,
}

/// Everything known about a cut.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CutResult {
    /// Every reachable pair.
    pub cells: Vec<Cell>,
    /// Worst at the settings now.
    pub now: Worst,
    /// How the settings now stand to each other.
    pub now_relation: Option<Relation>,
    /// Footings on which a vehicle closes no circuit although both sides drive and agree, each once.
    pub stalls: Vec<Evaluated>,
    /// Passes of each vehicle at the settings now.
    pub passes_now: Vec<Pass>,
    /// Passes at the worst of the agreeing settings.
    pub passes_agree: Vec<Pass>,
    /// Inrush, worst first per relation.
    pub inrush: Vec<InrushAt>,
    /// Full-drive share of time of each side now, and of both together: they surge if it is more than the larger.
    pub surge: Option<[f64; 3]>,
}

impl CutResult {
    /// Worst of the cells of one relation.
    pub fn worst(&self, relation: Relation) -> Worst {
        let mut all = Worst::default();
        for cell in self.cells.iter().filter(|c| c.relation == relation) {
            all.merge(&cell.worst);
        }
        all
    }
}

/// A vehicle that stands in where a layout has none: six axles, pickups on all wheels (common practice, no source).
pub(super) fn stand_in() -> Vehicle {
    let axle =
        |at_mm| crate::layout::Axle { at_mm, left: Default::default(), right: Default::default() };
    Vehicle {
        id: VehicleId(0),
        name: String::new(),
        length_mm: 210.0,
        axles: [25.0, 45.0, 65.0, 145.0, 165.0, 185.0].map(axle).to_vec(),
        load: Load::Nothing,
        contact_ohm: crate::layout::default_contact_ohm(),
        speed: Default::default(),
        patch_mm: crate::layout::default_patch_mm(),
        wiring_a: None,
        pickups_joined: true,
        tread_mm: crate::layout::default_tread_mm(),
        notes: String::new(),
    }
}

fn numeric_load(load: &Load) -> Option<NumericLoad> {
    match load {
        Load::Nothing => None,
        Load::Resistor { ohm } => Some(NumericLoad::Series { ohm: ohm.value, emf_v: 0.0 }),
        Load::Motor { ohm, emf_v } => {
            Some(NumericLoad::Series { ohm: ohm.value, emf_v: emf_v.value })
        }
        Load::Rectifier { ohm, volts } => {
            Some(NumericLoad::Rectifier { ohm: ohm.value, volts: volts.value })
        }
    }
}

/// The driver that counts as a block's own: the lowest of those that drive it, else of those on one of its rails.
pub fn own_driver(plan: &Plan, block: usize) -> Option<DriverId> {
    let block = &plan.blocks[block];
    block
        .drivers
        .first()
        .or(block.half_drivers.first().filter(|_| block.drivers.is_empty()))
        .copied()
}

/// The control of a driver in a case.
pub fn control(layout: &Layout, driver: &Driver) -> Control {
    let supply = layout.supplies.get(&driver.supply);
    let powered = supply.is_some_and(|s| s.powered);
    let word = if powered { SetWord::from(driver.setting.direction) } else { SetWord::Unpowered };
    let throttle = match word {
        SetWord::Forward | SetWord::Reverse => driver.setting.throttle,
        SetWord::On => 1.0,
        _ => 0.0,
    };
    let mut blank = driver.clone();
    blank.id = DriverId(0);
    blank.supply = crate::layout::SupplyId(0);
    blank.name.clear();
    blank.notes.clear();
    Control {
        driver: blank,
        now: (word, throttle),
        separately_switched: driver.separately_switched
            || supply.is_some_and(|s| s.separately_switched),
    }
}

/// A stand with all that its numbers come from.
struct Drawn {
    at: StandAt,
    groups: Vec<Group>,
    number: usize,
    speed: SpeedRange,
}

/// A footing with its stance: the place of the front past the cut, mm.
struct Foot {
    by: Stander,
    facing: Facing,
    front_mm: f64,
    touched: [Touched; 2],
    wheel_ohm: f64,
}

/// The place of a rake's front when its leading coupler is at a place, mm on the ruler.
pub fn front_mm(facing: Facing, lead_mm: f64, length_mm: f64) -> f64 {
    match facing {
        Facing::FrontAhead => lead_mm,
        Facing::RearAhead => lead_mm - length_mm,
    }
}

/// The nearest and the farthest pickup behind the leading coupler, mm.
fn pickups_behind<'a>(
    axles: impl Iterator<Item = &'a Axle>,
    facing: Facing,
    length_mm: f64,
) -> (f64, f64) {
    axles
        .filter(|axle| [axle.left, axle.right].contains(&Wheel::Pickup))
        .map(|axle| match facing {
            Facing::FrontAhead => axle.at_mm,
            Facing::RearAhead => length_mm - axle.at_mm,
        })
        .fold((f64::INFINITY, 0.0_f64), |(first, last), b| (first.min(b), last.max(b)))
}

/// What rolls on a layout, worked out once for all its cuts.
pub struct Stock<'a> {
    /// Vehicles; what stands in where the layout has none has no identity.
    vehicles: Vec<(Option<VehicleId>, Cow<'a, Vehicle>)>,
    /// Trains as they are coupled.
    trains: Vec<(TrainId, Rake)>,
    /// Vehicles whose pickups are joined to another's in some train: they never run without it.
    pub never_alone: BTreeSet<VehicleId>,
}

impl Stock<'_> {
    /// The stock of a layout.
    pub fn of(layout: &Layout) -> Stock<'_> {
        let mut vehicles: Vec<_> =
            layout.vehicles.values().map(|v| (Some(v.id), Cow::Borrowed(v))).collect();
        if vehicles.is_empty() {
            vehicles.push((None, Cow::Owned(stand_in())));
        }
        let trains: Vec<(TrainId, Rake)> =
            layout.trains.values().map(|train| (train.id, rake::coupled(layout, train))).collect();
        let groups = trains.iter().flat_map(|(_, rake)| &rake.groups);
        let never_alone = groups
            .filter(|group| group.vehicles.len() > 1)
            .flat_map(|group| group.vehicles.iter().copied())
            .collect();
        Stock { vehicles, trains, never_alone }
    }

    fn longest_vehicle_mm(&self) -> f64 {
        self.vehicles.iter().map(|(_, vehicle)| vehicle.length_mm).fold(0.0, f64::max)
    }

    fn longest_train_mm(&self) -> f64 {
        self.trains.iter().map(|(_, rake)| rake.length_mm).fold(0.0, f64::max)
    }

    /// How far any of it reaches over a place, mm.
    pub fn reach_mm(&self) -> f64 {
        self.longest_vehicle_mm().max(self.longest_train_mm()) + 1.0
    }
}

/// Collects the case of a cut, of all vehicles by themselves.
pub fn case_of(layout: &Layout, plan: &Plan, cut: &Cut) -> Option<(Case, Surroundings)> {
    let stock = Stock::of(layout);
    let reach_mm = stock.reach_mm() + cut.stagger_mm.abs();
    let place = places::of_cut(layout, plan, cut, reach_mm)?;
    Some(vehicles_at(layout, plan, &stock, &place))
}

/// Collects the case of a place, of all vehicles by themselves.
pub fn vehicles_at(
    layout: &Layout,
    plan: &Plan,
    stock: &Stock,
    place: &Place,
) -> (Case, Surroundings) {
    let near = near(place, stock.longest_vehicle_mm());
    let cut_mm = place.gaps_mm;

    let mut stands: Vec<Drawn> = Vec::new();
    let mut footings: Vec<Foot> = Vec::new();
    for (number, (id, vehicle)) in stock.vehicles.iter().enumerate() {
        let id = *id;
        let by = Stander { vehicle: id, train: None, length_mm: vehicle.length_mm };
        let alone = rake::alone(vehicle);
        for facing in Facing::BOTH {
            let rolling = (vehicle.axles.as_slice(), vehicle.length_mm);
            let intervals = if vehicle.pickups_joined {
                contacts::intervals(&near, cut_mm, rolling, facing)
            } else {
                Vec::new()
            };
            if vehicle.load != Load::Nothing && id.is_none_or(|id| !stock.never_alone.contains(&id))
            {
                stand_on(&mut footings, by, facing, &intervals, vehicle.contact_ohm.low);
            }
            for stand in contacts::stands(&near, cut_mm, vehicle, facing, &intervals) {
                // The other facing matters only where it joins something else or longer.
                let known = stands.iter().any(|old| {
                    old.at.by.vehicle == id
                        && old.at.groups[0].touched == stand.touched
                        && old.at.single_wheel == stand.single_wheel
                        && old.at.rolls_mm >= stand.length_mm - 1e-9
                });
                if known {
                    continue;
                }
                let touched = stand.touched;
                stands.push(Drawn {
                    at: StandAt {
                        by,
                        facing,
                        lead_mm: stand.lead_mm,
                        rolls_mm: stand.length_mm,
                        single_wheel: stand.single_wheel,
                        groups: vec![GroupAt { vehicles: id.into_iter().collect(), touched }],
                        pickups_mm: pickups_behind(vehicle.axles.iter(), facing, vehicle.length_mm),
                    },
                    groups: alone.groups[..1].to_vec(),
                    number,
                    speed: vehicle.speed,
                });
            }
        }
    }
    gathered(layout, plan, place, stands, footings, 0)
}

/// Collects the case of a place of what trains do there beyond what their vehicles do by themselves. `None` if that is
/// nothing.
pub fn trains_at(
    layout: &Layout,
    plan: &Plan,
    stock: &Stock,
    place: &Place,
) -> Option<(Case, Surroundings)> {
    let near = near(place, stock.longest_train_mm());
    let cut_mm = place.gaps_mm;
    let mut stands: Vec<Drawn> = Vec::new();
    let mut footings: Vec<Foot> = Vec::new();
    let mut left_out = 0;
    for (number, (id, rake)) in stock.trains.iter().enumerate() {
        let by = Stander { vehicle: None, train: Some(*id), length_mm: rake.length_mm };
        for facing in Facing::BOTH {
            for group in rake.groups.iter().filter(|g| g.vehicles.len() > 1) {
                if !group.loads.is_empty() {
                    let rolling = (group.axles.as_slice(), rake.length_mm);
                    let intervals = contacts::intervals(&near, cut_mm, rolling, facing);
                    let by = Stander { vehicle: group.vehicles.first().copied(), ..by };
                    stand_on(&mut footings, by, facing, &intervals, group.contact_ohm.low);
                }
            }
            let (ways, more) = rake::together(&near, cut_mm, rake, facing);
            left_out += more;
            for way in ways {
                let groups: Vec<Group> =
                    way.groups.iter().map(|(at, _)| rake.groups[*at].clone()).collect();
                let sides = || way.groups.iter().map(|(_, touched)| touched);
                let known = stands.iter().any(|old| {
                    old.at.groups.iter().map(|g| &g.touched).eq(sides())
                        && old.groups.iter().map(|g| &g.loads).eq(groups.iter().map(|g| &g.loads))
                        && old.at.rolls_mm * rake.speed.from_mm_s
                            >= way.length_mm * old.speed.from_mm_s - 1e-9
                });
                if known {
                    continue;
                }
                let axles = groups.iter().flat_map(|group| &group.axles);
                stands.push(Drawn {
                    at: StandAt {
                        by: Stander {
                            vehicle: groups.iter().find_map(|g| g.vehicles.first()).copied(),
                            ..by
                        },
                        facing,
                        lead_mm: way.lead_mm,
                        rolls_mm: way.length_mm,
                        single_wheel: false,
                        pickups_mm: pickups_behind(axles, facing, rake.length_mm),
                        groups: groups
                            .iter()
                            .zip(way.groups)
                            .map(|(group, (_, touched))| GroupAt {
                                vehicles: group.vehicles.clone(),
                                touched,
                            })
                            .collect(),
                    },
                    groups,
                    number,
                    speed: rake.speed,
                });
            }
        }
    }
    if stands.is_empty() && footings.is_empty() {
        return None;
    }
    Some(gathered(layout, plan, place, stands, footings, left_out))
}

/// What of the track around a place something so long can stand on.
fn near(place: &Place, longest_mm: f64) -> Vec<Span> {
    let stagger = place.gaps_mm.into_iter().flatten().map(f64::abs).fold(0.0, f64::max);
    let reach = longest_mm + stagger + 1.0;
    place.spans.iter().filter(|s| s.from_mm < reach && s.to_mm > -reach).copied().collect()
}

/// Adds the footings of a loaded pickup group: what it touches in each interval in which it touches both rails.
fn stand_on(
    footings: &mut Vec<Foot>,
    by: Stander,
    facing: Facing,
    intervals: &[contacts::Interval],
    wheel_ohm: f64,
) {
    for interval in intervals.iter().filter(|i| i.touched.iter().all(|side| !side.is_empty())) {
        let known = footings.iter().any(|old| {
            old.by == by && old.facing == facing && same_nets(&old.touched, &interval.touched)
        });
        if !known {
            let front_mm = front_mm(facing, interval.from_mm, by.length_mm);
            let touched = interval.touched.clone();
            footings.push(Foot { by, facing, front_mm, touched, wheel_ohm });
        }
    }
}

/// The case of some stands and footings at a cut.
fn gathered(
    layout: &Layout,
    plan: &Plan,
    place: &Place,
    stands: Vec<Drawn>,
    footings: Vec<Foot>,
    left_out: usize,
) -> (Case, Surroundings) {
    let at = place.at;
    let mut nets: BTreeSet<usize> = place.nets.into_iter().flatten().collect();
    for group in stands.iter().flat_map(|stand| &stand.at.groups) {
        nets.extend(group.touched.iter().flatten().map(|t| t.0));
    }
    for foot in &footings {
        nets.extend(foot.touched.iter().flatten().map(|t| t.0));
    }
    let own = [at.block_before, at.block_after].map(|block| own_driver(plan, block));
    let always: BTreeSet<DriverId> = own.iter().flatten().copied().collect();
    let (wiring, names) = Wiring::around(layout, plan, &nets, &always, &place.spans);
    let index = |net: usize| names.nets.iter().position(|&n| n == net);
    let case = Case {
        sides: own.map(|driver| {
            driver.and_then(|id| names.drivers.iter().position(|&other| other == id))
        }),
        sign: at.sign
            * exchanged(plan, at.block_before, own[0])
            * exchanged(plan, at.block_after, own[1]),
        rails: place.nets.map(|pair| pair.map(index)),
        stands: stands.iter().map(|stand| numeric_stand(stand, &names)).collect(),
        footings: footings
            .iter()
            .map(|foot| Footing {
                touched: numeric(&foot.touched, &names),
                wheel_ohm: foot.wheel_ohm,
            })
            .collect(),
        ..Case::bare(layout, wiring, &names)
    };
    let surroundings = Surroundings {
        at,
        names,
        stands: stands.into_iter().map(|stand| stand.at).collect(),
        footings: footings.into_iter().map(|f| (f.by, f.facing, f.front_mm)).collect(),
        left_out,
    };
    (case, surroundings)
}

/// −1 if a driver's poles are exchanged on the way to a block, so that its label says the opposite there.
fn exchanged(plan: &Plan, block: usize, driver: Option<DriverId>) -> i8 {
    let on_block = |net: &usize| plan.nets[*net].legs.iter();
    let mut legs = plan.blocks[block].nets.iter().flat_map(on_block);
    if legs.any(|leg| Some(leg.driver) == driver && leg.exchanged) { -1 } else { 1 }
}

/// Touched nets as indices of a wiring.
pub fn numeric(touched: &[Touched; 2], names: &Names) -> [Touched; 2] {
    touched.clone().map(|side| {
        side.into_iter()
            .filter_map(|(net, n)| names.nets.iter().position(|&k| k == net).map(|i| (i, n)))
            .collect()
    })
}

/// A pickup group as numbers; its loads are on where it joins both rails.
pub fn numeric_group(group: &Group, touched: [Touched; 2], loaded: bool) -> NumericGroup {
    NumericGroup {
        touched,
        wheel_ohm: (group.contact_ohm.low, group.contact_ohm.high),
        loads: group.loads.iter().filter(|_| loaded).filter_map(numeric_load).collect(),
    }
}

fn numeric_stand(stand: &Drawn, names: &Names) -> NumericStand {
    let least = stand.groups.iter().filter_map(|group| group.wiring_a);
    NumericStand {
        vehicle: stand.number,
        groups: stand
            .groups
            .iter()
            .zip(&stand.at.groups)
            .map(|(group, at)| {
                let both = at.touched.iter().all(|side| side.len() > 1);
                let touched = numeric(&at.touched, names);
                numeric_group(group, touched, both && !stand.at.single_wheel)
            })
            .collect(),
        length_mm: stand.at.rolls_mm,
        speed_mm_s: (stand.speed.from_mm_s, stand.speed.to_mm_s),
        single_wheel: stand.at.single_wheel,
        wiring_a: least.min_by(|a, b| a.value.total_cmp(&b.value)).map(|amps| {
            let (low, high) = amps.range();
            [low, amps.value, high]
        }),
    }
}

fn same_nets(a: &[Touched; 2], b: &[Touched; 2]) -> bool {
    (0..2).all(|side| a[side].iter().map(|t| t.0).eq(b[side].iter().map(|t| t.0)))
}

/// How two settings stand to each other at a cut of the given sign. `None` where both sides are dead.
pub fn relation(a: (&Driver, SetWord), b: (&Driver, SetWord), sign: i8) -> Option<Relation> {
    match (a.1.is_dead(), b.1.is_dead()) {
        (true, true) => return None,
        (true, false) | (false, true) => return Some(Relation::OneDead),
        _ => {}
    }
    let agree = match (&a.0.drive, &b.0.drive) {
        (Drive::DccBooster { station: one, .. }, Drive::DccBooster { station: two, .. }) => {
            one == two && signs_agree(a, b, sign).unwrap_or(true)
        }
        (Drive::DccBooster { .. }, _) | (_, Drive::DccBooster { .. }) => false,
        // Stopped is the zero end of either direction.
        _ => signs_agree(a, b, sign).unwrap_or(true),
    };
    Some(if agree { Relation::Agree } else { Relation::Disagree })
}

fn signs_agree(a: (&Driver, SetWord), b: (&Driver, SetWord), sign: i8) -> Option<bool> {
    let x = drive::direction_sign(a.0, a.1)?;
    let y = drive::direction_sign(b.0, b.1)?;
    Some(x * y == sign)
}

/// At most so many joint states are looked at; where more drivers than that take part, those beside the two sides are
/// held in their drive state.
const MOST_JOINTS: f64 = 32.0;

impl Case {
    /// A case of drivers as they are set now, without a place or a vehicle.
    pub fn bare(layout: &Layout, wiring: Wiring, names: &Names) -> Case {
        Case {
            controls: names
                .drivers
                .iter()
                .filter_map(|id| layout.drivers.get(id))
                .map(|driver| control(layout, driver))
                .collect(),
            powered: names
                .supplies
                .iter()
                .map(|id| layout.supplies.get(id).is_some_and(|s| s.powered))
                .collect(),
            sides: [None; 2],
            sign: 1,
            rails: [[None; 2]; 2],
            stands: Vec::new(),
            footings: Vec::new(),
            wiring,
        }
    }

    /// The scenario of some settings. A dead supply makes its drivers dead.
    pub fn scenario(&self, settings: &[Set], powered: &[bool]) -> Scenario {
        let mut clocks: Vec<&str> = Vec::new();
        let mut stations: Vec<&str> = Vec::new();
        let mut runs: Vec<DriverRun> = Vec::with_capacity(self.controls.len());
        for (at, control) in self.controls.iter().enumerate() {
            let driver = &control.driver;
            let (word, throttle) = if powered[self.wiring.drivers[at].supply] {
                settings[at]
            } else {
                (SetWord::Unpowered, 0.0)
            };
            let beside = self.beside(at, settings);
            let schedule = drive::schedule(driver, word, throttle, beside);
            let clock = match &driver.drive {
                Drive::PwmBridge { clock, .. } | Drive::SplitHalfBridge { clock, .. } => ClockId {
                    shared: clock.shared.as_deref().map(|name| number(&mut clocks, name) * 2),
                    phase: clock.phase,
                    tolerance: clock.tolerance,
                },
                Drive::DccBooster { station, swapped, skew_s, .. } => ClockId {
                    shared: Some(number(&mut stations, station) * 2 + 1),
                    phase: Some(
                        (skew_s / schedule.period_s + if *swapped { 0.5 } else { 0.0 })
                            .rem_euclid(1.0),
                    ),
                    tolerance: 0.0,
                },
                _ => ClockId { shared: None, phase: None, tolerance: 0.0 },
            };
            runs.push(DriverRun { schedule, clock });
        }
        // As a float: so many drivers may share a rail that their joint states cannot be counted.
        let mut kept = Vec::new();
        let mut joints: f64 = runs.iter().map(|run| run.schedule.parts.len() as f64).product();
        for (at, run) in runs.iter_mut().enumerate() {
            if joints <= MOST_JOINTS {
                break;
            }
            if !self.sides.contains(&Some(at)) && run.schedule.parts.len() > 1 {
                joints /= run.schedule.parts.len() as f64;
                kept.push(at);
                let held = run.schedule.parts[0];
                run.schedule = Schedule::steady(held.state, held.drives, run.schedule.level);
            }
        }
        Scenario { runs, powered: powered.to_vec(), held: kept, acted: Vec::new() }
    }

    fn beside(&self, at: usize, settings: &[Set]) -> Beside {
        let Drive::DccBooster { station, .. } = &self.controls[at].driver.drive else {
            return Beside::Other;
        };
        let same = self.controls.iter().enumerate().all(|(other, control)| {
            other == at
                || settings[other].0.is_dead()
                || matches!(&control.driver.drive, Drive::DccBooster { station: s, .. } if s == station)
        });
        if same { Beside::SameStation } else { Beside::Other }
    }

    fn now(&self) -> Vec<Set> {
        self.controls.iter().map(|control| control.now).collect()
    }

    /// Evaluates one way of setting everything over all stands.
    fn over_stands(&self, bench: &mut Bench, settings: &[Set], powered: &[bool]) -> Worst {
        let scenario = self.scenario(settings, powered);
        let mut worst = Worst::default();
        for at in self.leading() {
            let stand = &self.stands[at];
            let judged = bench.judge(&scenario, Some(stand));
            let wakes = self.wakes(&judged, powered);
            let evaluated = Evaluated {
                settings: settings.to_vec(),
                stand: Some(at),
                footing: None,
                judged,
                woke: false,
            };
            worst.take(evaluated, Some(stand));
            if !wakes.is_empty() {
                let awake = self.awake(&scenario, &wakes);
                let evaluated = Evaluated {
                    settings: settings.to_vec(),
                    stand: Some(at),
                    footing: None,
                    judged: bench.judge(&awake, Some(stand)),
                    woke: true,
                };
                worst.take(evaluated, Some(stand));
            }
        }
        if self.stands.is_empty() {
            let judged = bench.judge(&scenario, None);
            let nothing = Evaluated {
                settings: settings.to_vec(),
                stand: None,
                footing: None,
                judged: quiet(judged, Verdict::Clear, Some(1.0)),
                woke: false,
            };
            worst.take(nothing, None);
        }
        worst
    }

    /// Stands that no other outdoes: of those that join the same nets the one with the most contact for the longest
    /// time. Currents and trips only grow with both, so the others cannot be worse.
    fn leading(&self) -> Vec<usize> {
        let rated = self.wiring.drivers.iter().any(|d| d.rating_a.is_some())
            || self.wiring.supplies.iter().any(|s| s.limit_a.is_some());
        let outdoes = |a: &NumericStand, b: &NumericStand| {
            let load_matters = rated || b.wiring_a.is_some();
            let groups = |a: &NumericGroup, b: &NumericGroup| {
                let sides = (0..2).all(|side| {
                    let (a, b) = (&a.touched[side], &b.touched[side]);
                    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| a.0 == b.0 && a.1 >= b.1)
                });
                let same_load = a.loads == b.loads || !load_matters;
                sides
                    && same_load
                    && a.wheel_ohm.0 <= b.wheel_ohm.0
                    && a.wheel_ohm.1 <= b.wheel_ohm.1
            };
            let longer = a.length_mm * b.speed_mm_s.0 >= b.length_mm * a.speed_mm_s.0;
            a.groups.len() == b.groups.len()
                && a.groups.iter().zip(&b.groups).all(|(a, b)| groups(a, b))
                && longer
                && (!a.single_wheel || b.single_wheel)
                && (b.wiring_a.is_none() || a.wiring_a == b.wiring_a)
        };
        (0..self.stands.len())
            .filter(|&at| {
                let this = &self.stands[at];
                !self.stands.iter().enumerate().any(|(other, that)| {
                    other != at && outdoes(that, this) && (!outdoes(this, that) || other < at)
                })
            })
            .collect()
    }

    /// A scenario with some drivers awake: a controller that comes up has its throttle at zero.
    fn awake(&self, scenario: &Scenario, wakes: &[usize]) -> Scenario {
        let mut awake = scenario.clone();
        for &at in wakes {
            let driver = &self.controls[at].driver;
            awake.runs[at].schedule = drive::schedule(driver, SetWord::Stopped, 0.0, Beside::Other);
        }
        awake
    }

    /// Drivers of dead supplies whose controller wakes at the voltage that a neighbour puts on their poles.
    fn wakes(&self, judged: &Judged, powered: &[bool]) -> Vec<usize> {
        (0..self.controls.len())
            .filter(|&at| {
                let driver = &self.wiring.drivers[at];
                !powered[driver.supply]
                    && driver.wake_v.is_some_and(|wake| {
                        let wake_v = self.wiring.values[wake].nominal;
                        judged.lifted.iter().any(|l| l.supply == driver.supply && l.to_v >= wake_v)
                    })
            })
            .collect()
    }

    /// Footings on which no driver closes a loop through the vehicle, at full drive.
    fn stalls(&self, bench: &mut Bench, settings: &[Set], powered: &[bool]) -> Vec<usize> {
        let full: Vec<Set> = settings
            .iter()
            .map(|&(word, throttle)| match word {
                SetWord::Forward | SetWord::Reverse => (word, 1.0),
                _ => (word, throttle),
            })
            .collect();
        let scenario = self.scenario(&full, powered);
        let states: Vec<StateWord> =
            scenario.runs.iter().map(|run| run.schedule.parts[0].state).collect();
        let levels: Vec<f64> = scenario.runs.iter().map(|run| run.schedule.level).collect();
        let stalls = |footing: &Footing| {
            let touch = GroupTouch {
                sides: footing.touched.clone(),
                wheel_ohm: footing.wheel_ohm,
                loads: vec![NumericLoad::Series { ohm: STALL_TEST_OHM, emf_v: 0.0 }],
            };
            bench.moment(&states, &levels, powered, Some(&[touch])).is_ok_and(|carried| {
                // Where the wheels short the blocks it is no stall that has to be told.
                let shorted = carried.drivers.iter().flatten().any(|amps| amps.abs() > CONFLICT_A);
                carried.loads.iter().all(|amps| amps.abs() < STALL_A) && !shorted
            })
        };
        let on = self.footings.iter().map(stalls).collect::<Vec<bool>>();
        (0..on.len()).filter(|&at| on[at]).collect()
    }

    /// Evaluates everything that can be reached at the cut. Pure: equal cases give equal results.
    pub fn solve(&self) -> CutResult {
        let mut bench = Bench::new(&self.wiring);
        let bench = &mut bench;
        let mut result =
            CutResult { now_relation: self.relation_of(&self.now()), ..Default::default() };
        if let [Some(a), Some(b)] = self.sides {
            for (word_a, word_b) in self.pairs(a, b) {
                if let Some(cell) = self.cell(bench, (a, word_a), (b, word_b)) {
                    result.cells.push(cell);
                }
            }
        }
        let now = self.now();
        result.now = self.over_stands(bench, &now, &self.powered);
        let driving = |side: Option<usize>| {
            side.is_some_and(|at| {
                matches!(now[at].0, SetWord::Forward | SetWord::Reverse | SetWord::On)
            })
        };
        let mut now_stalls = Vec::new();
        if driving(self.sides[0]) && driving(self.sides[1]) {
            for footing in self.stalls(bench, &now, &self.powered) {
                now_stalls.push(stalled(now.clone(), footing, bench, self, &self.powered));
            }
            if let Some(stall) = now_stalls.first() {
                result.now.take(stall.clone(), None);
            }
        }
        self.look_closer(bench, &mut result.now);
        if let Some(worst) = result.now.worst.clone() {
            result.passes_now = self.passes(bench, &worst.settings);
        }
        now_stalls.retain(|_| result.now_relation == Some(Relation::Agree));
        let everywhere = result.cells.iter().flat_map(|cell| &cell.stalls).chain(&now_stalls);
        let mut stalls: BTreeMap<Option<usize>, Evaluated> = BTreeMap::new();
        for stall in everywhere {
            stalls.entry(stall.footing).or_insert_with(|| stall.clone());
        }
        result.stalls = stalls.into_values().collect();
        let agree = result.worst(Relation::Agree);
        if let Some(worst) = agree.worst {
            result.passes_agree = self.passes(bench, &worst.settings);
        }
        result.inrush = self.inrush(bench, &result);
        result.surge = self.surge(&result);
        result
    }

    fn relation_of(&self, settings: &[Set]) -> Option<Relation> {
        let [Some(a), Some(b)] = self.sides else { return None };
        relation(
            (&self.controls[a].driver, settings[a].0),
            (&self.controls[b].driver, settings[b].0),
            self.sign,
        )
    }

    /// Every pair of settings that the controls can reach.
    fn pairs(&self, a: usize, b: usize) -> Vec<(SetWord, SetWord)> {
        let reach = |at: usize| drive::reachable(&self.controls[at].driver);
        let one_supply = self.wiring.drivers[a].supply == self.wiring.drivers[b].supply;
        let mut pairs = Vec::new();
        for &x in reach(a) {
            for &y in reach(b) {
                let same_driver = a == b && x != y;
                let half_dead =
                    one_supply && (x == SetWord::Unpowered) != (y == SetWord::Unpowered);
                if !same_driver && !half_dead {
                    pairs.push((x, y));
                }
            }
        }
        pairs
    }

    fn cell(
        &self,
        bench: &mut Bench,
        (a, word_a): (usize, SetWord),
        (b, word_b): (usize, SetWord),
    ) -> Option<Cell> {
        let relation = relation(
            (&self.controls[a].driver, word_a),
            (&self.controls[b].driver, word_b),
            self.sign,
        )?;
        let mut powered = self.powered.clone();
        for (at, word) in [(a, word_a), (b, word_b)] {
            powered[self.wiring.drivers[at].supply] = word != SetWord::Unpowered;
        }
        let mut worst = Worst::default();
        for (x, y) in self.throttles(bench, (a, word_a), (b, word_b), &powered) {
            let mut settings = self.now();
            settings[a] = (word_a, x);
            settings[b] = (word_b, y);
            worst.merge(&self.over_stands(bench, &settings, &powered));
        }
        let mut stalls = Vec::new();
        let drives = |word| matches!(word, SetWord::Forward | SetWord::Reverse | SetWord::On);
        if relation == Relation::Agree && drives(word_a) && drives(word_b) {
            let mut settings = self.now();
            settings[a] = (word_a, 1.0);
            settings[b] = (word_b, 1.0);
            for footing in self.stalls(bench, &settings, &powered) {
                stalls.push(stalled(settings.clone(), footing, bench, self, &powered));
            }
            if let Some(stall) = stalls.first() {
                worst.take(stall.clone(), None);
            }
        }
        self.look_closer(bench, &mut worst);
        let dead =
            |at: usize, word: SetWord| word.is_dead() && self.controls[at].separately_switched;
        Some(Cell {
            a: word_a,
            b: word_b,
            relation,
            separately_switched: dead(a, word_a) || dead(b, word_b),
            worst,
            stalls,
        })
    }

    /// Throttles of the two sides at which some current is largest. A bridge holds each of its states for ever at full
    /// or zero throttle. The currents of a smooth throttle are affine in its voltage while the diodes keep their states,
    /// so where those differ between two throttles the change between them is closed in on, and both its sides count.
    fn throttles(
        &self,
        bench: &mut Bench,
        (a, word_a): (usize, SetWord),
        (b, word_b): (usize, SetWord),
        powered: &[bool],
    ) -> Vec<(f64, f64)> {
        let corners = [drive::corners(word_a), drive::corners(word_b)];
        if a == b {
            return corners[0].iter().map(|&x| (x, x)).collect();
        }
        let mut levels = corners.map(<[f64]>::to_vec);
        let smooth = [(a, word_a), (b, word_b)].map(|(at, word)| {
            matches!(self.controls[at].driver.drive, Drive::SmoothDc { .. })
                && matches!(word, SetWord::Forward | SetWord::Reverse)
        });
        for side in 0..2 {
            if !smooth[side] {
                continue;
            }
            for &other in corners[1 - side] {
                let mut regions = |level: f64| -> Vec<Vec<Vec<bool>>> {
                    let (x, y) = if side == 0 { (level, other) } else { (other, level) };
                    let mut settings = self.now();
                    settings[a] = (word_a, x);
                    settings[b] = (word_b, y);
                    let scenario = self.scenario(&settings, powered);
                    let groups = self.stands.iter().filter(|s| !s.single_wheel);
                    groups.map(|stand| bench.regions(&scenario, Some(stand))).collect()
                };
                levels[side].extend(changes(&mut regions));
            }
        }
        for side in &mut levels {
            side.sort_by(f64::total_cmp);
            side.dedup_by(|next, kept| *next - *kept < CLOSE_LEVEL / 4.0);
        }
        let [xs, ys] = levels;
        xs.into_iter().flat_map(|x| ys.iter().map(move |&y| (x, y))).collect()
    }

    /// Asks of the worst situation whether assumed values leave its verdict open, and what goes on after the first trip.
    fn look_closer(&self, bench: &mut Bench, worst: &mut Worst) {
        let Some(evaluated) = &mut worst.worst else { return };
        if evaluated.footing.is_some() {
            return;
        }
        let powered = self.powered_for(&evaluated.settings);
        let scenario = self.scenario(&evaluated.settings, &powered);
        let stand = evaluated.stand.map(|at| &self.stands[at]);
        if evaluated.woke {
            let wakes = self.wakes(&bench.judge(&scenario, stand), &powered);
            let awake = self.awake(&scenario, &wakes);
            evaluated.judged = bench.judge_thoroughly(&awake, stand);
            evaluated.judged.after = bench.after_first(&awake, stand, &evaluated.judged);
            return;
        }
        if stand.is_some() {
            evaluated.judged = bench.judge_thoroughly(&scenario, stand);
        }
        evaluated.judged.after = bench.after_first(&scenario, stand, &evaluated.judged);
        let open = bench.left_open(&scenario, stand, &evaluated.judged);
        if !open.is_empty() {
            evaluated.judged.open = open;
            evaluated.judged.verdict = Verdict::NotKnown;
        }
    }

    /// Which supplies are on in some settings.
    pub fn powered_for(&self, settings: &[Set]) -> Vec<bool> {
        let mut powered = self.powered.clone();
        for at in self.sides.into_iter().flatten() {
            powered[self.wiring.drivers[at].supply] = settings[at].0 != SetWord::Unpowered;
        }
        powered
    }

    /// How each vehicle passes at some settings: by its longest stand that joins both rails, or one if it must be.
    fn passes(&self, bench: &mut Bench, settings: &[Set]) -> Vec<Pass> {
        let scenario = self.scenario(settings, &self.powered_for(settings));
        let rank = |stand: &NumericStand| (stand.joins(0) && stand.joins(1), stand.length_mm);
        let mut best: BTreeMap<usize, usize> = BTreeMap::new();
        for (at, stand) in self.stands.iter().enumerate().filter(|(_, s)| !s.single_wheel) {
            let old = best.entry(stand.vehicle).or_insert(at);
            if rank(stand) > rank(&self.stands[*old]) {
                *old = at;
            }
        }
        best.into_values()
            .map(|at| {
                let stand = &self.stands[at];
                let mut rolling = |speed: f64| {
                    let window_s = stand.length_mm / speed.max(1e-6);
                    let (trips, share, _) = bench.acts(&scenario, stand, Some(window_s));
                    (window_s, trips, share)
                };
                let slow = rolling(stand.speed_mm_s.0);
                let fast = rolling(stand.speed_mm_s.1);
                let (trips, share, _) = bench.acts(&scenario, stand, None);
                Pass { stand: at, slow, fast, standing: (trips, share) }
            })
            .collect()
    }

    fn inrush(&self, bench: &mut Bench, result: &CutResult) -> Vec<InrushAt> {
        let mut found: Vec<InrushAt> = Vec::new();
        let cells = result
            .cells
            .iter()
            .filter_map(|cell| cell.worst.worst.as_ref().map(|worst| (cell.relation, worst)));
        for (relation, worst) in cells {
            let (Some(at), false) = (worst.stand, worst.woke) else { continue };
            let powered = self.powered_for(&worst.settings);
            let scenario = self.scenario(&worst.settings, &powered);
            let stand = &self.stands[at];
            for lifted in &worst.judged.lifted {
                let Some((amps, ohm, sensed)) = bench.inrush(&scenario, stand, lifted) else {
                    continue;
                };
                let Some((farads, _)) = self.wiring.supplies[lifted.supply].bulk else { continue };
                let tau_s = ohm * self.wiring.values[farads].nominal;
                let longest_s = scenario
                    .runs
                    .iter()
                    .enumerate()
                    .filter(|(d, _)| self.wiring.drivers[*d].supply != lifted.supply)
                    .filter_map(|(_, run)| {
                        let drives = run.schedule.parts.iter().find(|part| part.drives)?;
                        let steady = run.schedule.parts.len() == 1;
                        Some(if steady {
                            f64::INFINITY
                        } else {
                            drives.share * run.schedule.period_s
                        })
                    })
                    .fold(0.0, f64::max);
                let trips = (0..sensed.len())
                    // A board without power has no trip that could act.
                    .filter(|&d| powered[self.wiring.drivers[d].supply])
                    .filter(|&d| {
                        self.wiring.drivers[d].trip.as_ref().is_some_and(|trip| {
                            let threshold =
                                self.wiring.values[trip.amps].nominal * trip.kind.acts_beyond();
                            let Some(kind) = super::judge::numeric_trip(trip.kind, d) else {
                                return false;
                            };
                            let inrush =
                                crate::signal::Inrush { peak_a: sensed[d], decay_s: tau_s };
                            let longest_s = longest_s.is_finite().then_some(longest_s);
                            inrush.trips(threshold, &kind, longest_s).acts
                        })
                    })
                    .collect();
                let new = InrushAt {
                    settings: worst.settings.clone(),
                    stand: at,
                    relation,
                    supply: lifted.supply,
                    from_v: lifted.from_v,
                    to_v: lifted.to_v,
                    amps,
                    tau_s,
                    trips,
                };
                let weight = |i: &InrushAt| (!i.trips.is_empty(), i.amps);
                match found.iter_mut().find(|old| old.relation == relation) {
                    Some(old) if weight(&new) > weight(old) => *old = new,
                    Some(_) => {}
                    None => found.push(new),
                }
            }
        }
        found
    }

    /// While two blocks that idle without clamping drive one locomotive, its share of drive is a + b − a·b.
    fn surge(&self, result: &CutResult) -> Option<[f64; 3]> {
        let [Some(a), Some(b)] = self.sides else { return None };
        if a == b || result.now_relation != Some(Relation::Agree) {
            return None;
        }
        // A driver on one rail only drives nothing.
        let drives = |side: usize, driver: usize| {
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
        let share = |at: usize| -> f64 {
            let run = &scenario.runs[at];
            run.schedule.parts.iter().filter(|p| p.drives).map(|p| p.share).sum()
        };
        let pulsed = |at: usize| scenario.runs[at].schedule.parts.len() > 1;
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

/// Smooth throttles are told apart down to this fraction of full; more changes than this are not looked for.
const CLOSE_LEVEL: f64 = 1.0 / 512.0;
const MOST_CHANGES: usize = 6;

/// Levels from 0 to 1 on both sides of each change of a value, by bisection.
fn changes<T: PartialEq + Clone>(value: &mut impl FnMut(f64) -> T) -> Vec<f64> {
    let mut waiting = vec![((0.0, value(0.0)), (1.0, value(1.0)))];
    let mut found = Vec::new();
    while let Some((low, high)) = waiting.pop() {
        if low.1 == high.1 {
            continue;
        }
        if high.0 - low.0 <= CLOSE_LEVEL {
            found.extend([low.0, high.0]);
            if found.len() >= 2 * MOST_CHANGES {
                break;
            }
            continue;
        }
        let middle = (low.0 + high.0) / 2.0;
        let at_middle = value(middle);
        waiting.push((low, (middle, at_middle.clone())));
        waiting.push(((middle, at_middle), high));
    }
    found
}

/// Load for the stall test, Ω, and the current below which a vehicle counts as dead, A.
const STALL_TEST_OHM: f64 = 100.0;
const STALL_A: f64 = 1e-3;

fn stalled(
    settings: Vec<Set>,
    footing: usize,
    bench: &mut Bench,
    case: &Case,
    powered: &[bool],
) -> Evaluated {
    let judged = bench.judge(&case.scenario(&settings, powered), None);
    Evaluated {
        settings,
        stand: None,
        footing: Some(footing),
        judged: quiet(judged, Verdict::Stall, None),
        woke: false,
    }
}

/// A judgement in which the vehicle joins nothing: what flows all the same is told apart.
fn quiet(judged: Judged, verdict: Verdict, margin: Option<f64>) -> Judged {
    Judged {
        verdict,
        margin,
        decided: Decided::Nothing,
        motion: Motion::Standing,
        share: 0.0,
        longest_s: Some(0.0),
        share_range: None,
        resistive_after_s: None,
        worst_joint: None,
        first: Vec::new(),
        ..judged
    }
}

fn number<'a>(names: &mut Vec<&'a str>, name: &'a str) -> u32 {
    let at = names.iter().position(|known| *known == name).unwrap_or_else(|| {
        names.push(name);
        names.len() - 1
    });
    at as u32
}
