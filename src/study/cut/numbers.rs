//! From what stands at a place to numbers: nets become indices of a wiring, loads and wheels become resistances.

use std::collections::BTreeSet;

use crate::layout::{DriverId, Layout, Load, SpeedRange};
use crate::rails::{Plan, PlanNet};
use crate::straddle::assemble::NumericLoad;
use crate::straddle::case::{Names, Wiring};
use crate::straddle::contacts::Touched;
use crate::straddle::ix::NetIx;
use crate::straddle::path::Tape;
use crate::straddle::rake::Group;

use super::super::judge::{NumericGroup, NumericStand};
use super::super::places::Place;
use super::case::{Case, Footing};
use super::parties::parties;
use super::surroundings::{FootingAt, StandAt, Surroundings};

/// A stand with all that its numbers come from.
pub(super) struct Drawn {
    pub at: StandAt,
    pub groups: Vec<Group>,
    pub number: usize,
    pub speed: SpeedRange,
}

/// A footing with all that its numbers come from.
pub(super) struct Foot {
    pub at: FootingAt,
    pub touched: [Touched<PlanNet>; 2],
    pub wheel_ohm: f64,
}

/// A place with all that can stand on it: what of a case depends on track and rolling stock only.
pub struct Standing {
    pub(super) place: Place,
    pub(super) stands: Vec<Drawn>,
    pub(super) footings: Vec<Foot>,
    /// Ways in which trains can stand that were not looked at, because there are too many.
    pub(super) left_out: usize,
}

impl Standing {
    /// All nets that are joined there in some way, and those beside the place.
    fn nets(&self) -> BTreeSet<PlanNet> {
        let mut nets: BTreeSet<PlanNet> = self.place.nets.into_iter().flatten().collect();
        for group in self.stands.iter().flat_map(|stand| &stand.at.groups) {
            nets.extend(group.touched.iter().flatten().map(|t| t.0));
        }
        for foot in &self.footings {
            nets.extend(foot.touched.iter().flatten().map(|t| t.0));
        }
        nets
    }

    /// The drivers of the two sides: of several on a block the one with the nearest feeder; of equally near ones it is a
    /// matter of what they are, and of their numbers only where they are the same.
    fn own_drivers(&self, layout: &Layout, plan: &Plan) -> [Option<DriverId>; 2] {
        let at = self.place.at;
        [at.block_before, at.block_after].map(|block| {
            let [one, others @ ..] = drivers_of(plan, block) else { return None };
            if others.is_empty() {
                return Some(*one);
            }
            let distance = |driver: DriverId| distance_mm(plan, block, driver, &self.place);
            let drivers = drivers_of(plan, block).iter().copied();
            drivers.min_by(|&a, &b| {
                let nearer = distance(a).total_cmp(&distance(b));
                nearer.then_with(|| nature(layout, a).cmp(&nature(layout, b))).then(a.cmp(&b))
            })
        })
    }

    /// Drivers that can carry current once something stands there.
    pub fn drivers(&self, layout: &Layout, plan: &Plan) -> BTreeSet<DriverId> {
        let always = self.own_drivers(layout, plan).into_iter().flatten().collect();
        plan.grid().members(&self.nets(), &always).drivers
    }

    /// The case there: who stands how, with the wiring around it.
    pub fn case(&self, layout: &Layout, plan: &Plan) -> (Case, Surroundings) {
        let (place, at) = (&self.place, self.place.at);
        let own = self.own_drivers(layout, plan);
        let always: BTreeSet<DriverId> = own.iter().flatten().copied().collect();
        let tape = Tape { spans: &place.spans, gaps_mm: place.gaps_mm };
        let (wiring, names) = Wiring::around(layout, plan, &self.nets(), &always, tape);
        let footing = |foot: &Foot| Footing {
            touched: numeric(&foot.touched, &names),
            wheel_ohm: foot.wheel_ohm,
        };
        let case = Case {
            sides: own.map(|driver| names.drivers.of(&driver?)),
            meeting: [at.block_before, at.block_after].map(|block| {
                drivers_of(plan, block).iter().filter_map(|id| names.drivers.of(id)).collect()
            }),
            sign: at.sign
                * exchanged(plan, at.block_before, own[0])
                * exchanged(plan, at.block_after, own[1]),
            parties: parties(plan, (place, own), &self.nets(), &names),
            rails: place.nets.map(|pair| pair.map(|net| names.nets.of(&net))),
            stands: self.stands.iter().map(|stand| numeric_stand(stand, &names)).collect(),
            footings: self.footings.iter().map(footing).collect(),
            ..Case::bare(layout, wiring, &names)
        };
        let surroundings = Surroundings {
            at,
            names,
            stands: self.stands.iter().map(|stand| stand.at.clone()).collect(),
            footings: self.footings.iter().map(|foot| foot.at).collect(),
            left_out: self.left_out,
        };
        (case, surroundings)
    }
}

/// The drivers of a block: those that drive it, else those on one of its rails.
fn drivers_of(plan: &Plan, block: usize) -> &[DriverId] {
    let block = &plan.blocks[block];
    if block.drivers.is_empty() { &block.half_drivers } else { &block.drivers }
}

/// Distance along the ruler from the nearest gap of a place to the nearest feeder of a driver on a block, mm; infinite off
/// the ruler.
fn distance_mm(plan: &Plan, block: usize, driver: DriverId, place: &Place) -> f64 {
    let legs = plan.blocks[block].nets.iter().flat_map(|&net| &plan.nets[net].legs);
    let places = legs.filter(|leg| leg.driver == driver).flat_map(|leg| {
        let on_run = place.spans.iter().filter(|span| span.run == leg.run);
        on_run.filter_map(|span| span.ruler_mm(leg.at_mm))
    });
    let from_gap = |mm: f64| {
        let gaps = place.gaps_mm.into_iter().flatten();
        gaps.map(|gap| (mm - gap).abs()).reduce(f64::min).unwrap_or(mm.abs())
    };
    // Feeders that are equally near on the plan may differ by the last digits.
    let nearest = places.map(from_gap).fold(f64::INFINITY, f64::min);
    (nearest * 1e6).round() / 1e6
}

/// What a driver is, whatever it is called, numbered or set to: a text to put drivers in an order by.
fn nature(layout: &Layout, driver: DriverId) -> String {
    let Some(driver) = layout.drivers.get(&driver) else { return String::new() };
    let supply = layout.supplies.get(&driver.supply);
    let stage = (driver.high_ohm, driver.low_ohm, driver.diode_v, driver.diode_ohm);
    let supplied = supply.map(|s| (s.open_v, s.source_ohm, s.limit, s.can_sink, s.split));
    format!("{:?} {stage:?} {:?} {:?} {supplied:?}", driver.drive, driver.rating_a, driver.trip)
}

/// −1 if a driver's poles are exchanged on the way to a block, so that its label says the opposite there.
fn exchanged(plan: &Plan, block: usize, driver: Option<DriverId>) -> i8 {
    let on_block = |net: &usize| plan.nets[*net].legs.iter();
    let mut legs = plan.blocks[block].nets.iter().flat_map(on_block);
    if legs.any(|leg| Some(leg.driver) == driver && leg.exchanged) { -1 } else { 1 }
}

/// Touched nets of a plan as those of a wiring.
pub fn numeric(touched: &[Touched<PlanNet>; 2], names: &Names) -> [Touched<NetIx>; 2] {
    touched.clone().map(|side| {
        side.into_iter().filter_map(|(net, n)| Some((names.nets.of(&net)?, n))).collect()
    })
}

/// A pickup group as numbers; its loads are on where it joins both rails.
pub fn numeric_group(group: &Group, touched: [Touched<NetIx>; 2], loaded: bool) -> NumericGroup {
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
