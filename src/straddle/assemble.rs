//! The circuit of one moment: a wiring, the states of its drivers, and a vehicle's wheels.

use serde::Serialize;
use smallvec::{SmallVec, smallvec};

use super::case::{CaseDriver, CaseLeg, FLOOR_OHM, Stage, Sum, Values, Wiring};
use super::chain::{Acts, InPole, Root};
use super::contacts::Touched;
use super::ix::{DeviceIx, DriverIx, NetIx, SupplyIx, Table, TieIx};
use super::part::Part;
use crate::circuit::{BranchId, Network, Node, Solution, Unsolved, solve};
use crate::drive::StateWord;
use crate::layout::Senses;
use crate::units::{ValueId, Volt};

/// Load of a vehicle between its left and right pickups, as numbers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub enum NumericLoad {
    /// A resistance, Ω, and a voltage that the left side stands above the right at no current, V.
    Series {
        /// Resistance, Ω.
        ohm: f64,
        /// Back-EMF of the left over the right pickups, V.
        emf_v: f64,
    },
    /// A bridge rectifier into a fixed voltage, V, behind a resistance, Ω.
    Rectifier {
        /// Resistance, Ω.
        ohm: f64,
        /// Voltage, V.
        volts: f64,
    },
}

/// The wheels of one group of joined pickups on the rails.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroupTouch {
    /// Nets under the left and the right pickups, with the number of wheels.
    pub sides: [Touched<NetIx>; 2],
    /// Contact resistance of one wheel, Ω.
    pub wheel_ohm: f64,
    /// Loads between its sides.
    pub loads: Vec<NumericLoad>,
}

/// Pickup groups on the rails: one of a vehicle, several of a train.
pub type Touch = Vec<GroupTouch>;

/// One moment.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Moment<'a> {
    /// State of each driver.
    pub states: &'a Table<DriverIx, StateWord>,
    /// Level of each driver: the throttle of a smooth one.
    pub levels: &'a Table<DriverIx, f64>,
    /// Which supplies are on.
    pub powered: &'a Table<SupplyIx, bool>,
    /// Values of the wiring.
    pub values: &'a Values,
    /// Pickup groups of a vehicle or a train.
    pub touch: Option<&'a [GroupTouch]>,
    /// Devices that have acted: opened, or exchanged their poles.
    pub acted: &'a [DeviceIx],
    /// A supply whose bulk capacitance holds its poles at a voltage, behind a resistance: (supply, V, Ω).
    pub held: Option<(SupplyIx, f64, f64)>,
}

/// A current as a weighted sum of branch currents.
pub type Probe = SmallVec<[(BranchId, f64); 2]>;

/// Where the currents of one driver are read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Probes {
    /// Leaving output P.
    pub p: Probe,
    /// Leaving output M.
    pub m: Probe,
    /// Drawn from the positive pole.
    pub supply: Probe,
    /// Returned to the negative pole.
    pub ground: Probe,
    /// Through the high and the low switch (with its body diode) of P and of M, towards the output.
    pub switches: [[Probe; 2]; 2],
}

impl Probes {
    /// The current that a trip at this place senses. The caller chooses the larger leg.
    pub fn at(&self, senses: Senses) -> &Probe {
        match senses {
            Senses::SupplyLead => &self.supply,
            Senses::GroundReturn => &self.ground,
            Senses::LegP | Senses::LargerLeg => &self.p,
            Senses::LegM => &self.m,
            Senses::HighSwitchP => &self.switches[0][0],
            Senses::LowSwitchP => &self.switches[0][1],
            Senses::HighSwitchM => &self.switches[1][0],
            Senses::LowSwitchM => &self.switches[1][1],
        }
    }
}

/// A circuit with the places where it is read.
#[derive(Debug, Clone)]
pub struct Assembled {
    /// The network.
    pub network: Network,
    /// What each branch of it stands for.
    pub parts: Vec<Part>,
    /// Per driver.
    pub probes: Table<DriverIx, Probes>,
    /// Per device: towards the rails through its first and its second output pole.
    pub devices: Table<DeviceIx, [Probe; 2]>,
    /// Positive and negative pole of each supply.
    pub poles: Table<SupplyIx, (Node, Node)>,
    /// Node of each net.
    pub nets: Table<NetIx, Node>,
    /// Through each load, left to right, group by group.
    pub loads: Vec<Probe>,
    /// Out of the held capacitance.
    pub held: Option<BranchId>,
    /// For each branch: how its resistance depends on the values.
    pub ohm_of: Vec<Option<Sum>>,
    /// For each branch: how its voltage depends on the values.
    pub volts_of: Vec<Option<Sum>>,
}

impl Assembled {
    /// Gives the network other values of the wiring.
    pub fn set(&mut self, values: &Values) {
        for (at, (ohm, volts)) in self.ohm_of.iter().zip(&self.volts_of).enumerate() {
            if let Some(ohm) = ohm {
                self.network.set_ohm(BranchId(at), ohm.at(values).max(FLOOR_OHM));
            }
            if let Some(volts) = volts {
                self.network.set_volts(BranchId(at), volts.at(values));
            }
        }
    }

    /// Solves the network.
    pub fn solve(&self) -> Result<Solution, Unsolved> {
        solve(&self.network)
    }
}

/// Reads a probe.
pub fn read(solution: &Solution, probe: &Probe) -> f64 {
    probe.iter().map(|&(branch, factor)| factor * solution.amps(branch)).sum()
}

struct Building<'a> {
    out: Assembled,
    values: &'a Values,
    /// What the next branch stands for.
    part: Part,
}

impl Building<'_> {
    fn note(&mut self, branch: BranchId, ohm: Option<Sum>, volts: Option<Sum>) -> BranchId {
        debug_assert_eq!(branch.0, self.out.ohm_of.len());
        self.out.ohm_of.push(ohm);
        self.out.volts_of.push(volts);
        self.out.parts.push(self.part);
        branch
    }

    fn resistor(&mut self, a: Node, b: Node, ohm: &Sum) -> BranchId {
        let value = ohm.at(self.values).max(FLOOR_OHM);
        let branch = self.out.network.resistor(a, b, value);
        self.note(branch, Some(ohm.clone()), None)
    }

    fn fixed(&mut self, a: Node, b: Node, ohm: f64) -> BranchId {
        let branch = self.out.network.resistor(a, b, ohm.max(FLOOR_OHM));
        self.note(branch, None, None)
    }

    fn source(&mut self, minus: Node, plus: Node, volts: &Sum, ohm: &Sum, sinks: bool) -> BranchId {
        let (v, r) = (volts.at(self.values), ohm.at(self.values).max(FLOOR_OHM));
        let branch = if sinks {
            self.out.network.source(minus, plus, v, r)
        } else {
            self.out.network.one_way_source(minus, plus, v, r)
        };
        self.note(branch, Some(ohm.clone()), Some(volts.clone()))
    }

    fn diode(&mut self, anode: Node, cathode: Node, vf: ValueId<Volt>, ohm: &Sum) -> BranchId {
        let value = ohm.at(self.values).max(FLOOR_OHM);
        let branch = self.out.network.diode(anode, cathode, self.values[vf], value);
        let volts = Sum { constant: 0.0, terms: smallvec![(vf.any(), -1.0)] };
        self.note(branch, Some(ohm.clone()), Some(volts))
    }
}

/// Which switches of the two half-bridges a state turns on: [P, M] × [high, low].
fn switches(state: StateWord) -> [[bool; 2]; 2] {
    match state {
        StateWord::Forward => [[true, false], [false, true]],
        StateWord::Reverse => [[false, true], [true, false]],
        StateWord::BrakeLow => [[false, true], [false, true]],
        StateWord::BrakeHigh => [[true, false], [true, false]],
        StateWord::HighImpedance => [[false, false], [false, false]],
    }
}

/// What the regulator of a smooth throttle draws from its supply, as a resistance, Ω.
const REGULATOR_OHM: f64 = 1e6;

/// About how many branches the circuit of a moment has, for taking memory once.
fn expected_branches(wiring: &Wiring, moment: &Moment) -> usize {
    let legs = wiring.drivers.iter().flat_map(|driver| &driver.legs).map(Vec::len).sum::<usize>();
    let stars = wiring.stars.iter().map(Vec::len).sum::<usize>();
    let groups = moment.touch.unwrap_or_default().iter();
    let wheels = groups.map(|group| group.sides[0].len() + group.sides[1].len() + 2);
    7 * wiring.drivers.len()
        + 4 * wiring.supplies.len()
        + 3 * wiring.devices.len()
        + legs
        + stars
        + wheels.sum::<usize>()
}

/// Builds the circuit of a moment.
pub fn assemble(wiring: &Wiring, moment: Moment) -> Assembled {
    let branches = expected_branches(wiring, &moment);
    let mut b = Building {
        out: Assembled {
            network: Network::with_capacity(branches),
            parts: Vec::with_capacity(branches),
            probes: Table::with_capacity(wiring.drivers.len()),
            devices: Table::with_capacity(wiring.devices.len()),
            poles: Table::with_capacity(wiring.supplies.len()),
            nets: Table::with_capacity(wiring.nets),
            loads: Vec::new(),
            held: None,
            ohm_of: Vec::with_capacity(branches),
            volts_of: Vec::with_capacity(branches),
        },
        values: moment.values,
        part: Part::Source(SupplyIx(0)),
    };
    for _ in 0..wiring.nets {
        let node = b.out.network.node();
        b.out.nets.push(node);
    }
    let midpoints = supplies(&mut b, wiring, &moment);
    let outputs: Table<DriverIx, Outputs> = wiring
        .drivers
        .pairs()
        .map(|(at, case)| driver(&mut b, wiring, &moment, (at, case), midpoints[case.supply]))
        .collect();
    chain(&mut b, wiring, moment.acted, &outputs);
    for star in &wiring.stars {
        let terminal = b.out.network.node();
        for (net, ohm) in star {
            b.part = Part::Loose(*net);
            b.resistor(terminal, b.out.nets[*net], ohm);
        }
    }
    for (group, touch) in moment.touch.unwrap_or_default().iter().enumerate() {
        let stars = [b.out.network.node(), b.out.network.node()];
        for (side, star) in stars.into_iter().enumerate() {
            for &(net, wheels) in &touch.sides[side] {
                b.part = Part::Wheels { group, side, net };
                b.fixed(b.out.nets[net], star, touch.wheel_ohm / f64::from(wheels.max(1)));
            }
        }
        for (at, &drawn) in touch.loads.iter().enumerate() {
            load(&mut b, stars, drawn, (group, at));
        }
    }
    b.out
}

/// Adds the supplies with their ties. Returns the midpoint of each.
fn supplies(b: &mut Building, wiring: &Wiring, moment: &Moment) -> Table<SupplyIx, Option<Node>> {
    let ties: Table<TieIx, Node> = (0..wiring.ties).map(|_| b.out.network.node()).collect();
    let mut midpoints = Table::with_capacity(wiring.supplies.len());
    for (at, supply) in wiring.supplies.pairs() {
        let (positive, negative) = (b.out.network.node(), b.out.network.node());
        b.out.poles.push((positive, negative));
        let (volts, ohm) = (Sum::of(supply.open_v), Sum::of(supply.source_ohm));
        let midpoint = supply.split.then(|| b.out.network.node());
        midpoints.push(midpoint);
        if let Some((held, held_v, held_ohm)) = moment.held
            && held == at
        {
            let branch = b.out.network.source(negative, positive, held_v, held_ohm.max(FLOOR_OHM));
            b.part = Part::Bulk(at);
            b.out.held = Some(b.note(branch, None, None));
        }
        if moment.powered[at] {
            b.part = Part::Source(at);
            match midpoint {
                Some(midpoint) => {
                    b.source(midpoint, positive, &volts, &ohm, supply.can_sink);
                    b.source(negative, midpoint, &volts, &ohm, supply.can_sink);
                }
                None => {
                    b.source(negative, positive, &volts, &ohm, supply.can_sink);
                }
            }
        }
        // Where neither the supply nor a smooth throttle on it takes current back, its pole stands between two things
        // that both block. The regulator draws a few microamperes, so that the pole does not float up on their leaks.
        let blocks = wiring
            .drivers
            .iter()
            .any(|driver| driver.supply == at && matches!(driver.stage, Stage::Smooth { .. }));
        if blocks && !supply.can_sink {
            b.part = Part::Bleed(at);
            b.fixed(positive, negative, REGULATOR_OHM);
        }
        if let Some((tie, tie_ohm)) = supply.tie {
            b.part = Part::Tie(at);
            b.resistor(negative, ties[tie], &Sum::of(tie_ohm));
        }
    }
    midpoints
}

/// The feeders of an output that come straight off it, with their places in its list.
fn straight(legs: &[CaseLeg]) -> impl Iterator<Item = (usize, &CaseLeg)> {
    legs.iter().enumerate().filter(|(_, feeder)| feeder.through.is_none())
}

/// Nodes of a driver's outputs P and M.
type Outputs = [Option<Node>; 2];

/// Adds a driver with the feeders that come straight off it. Returns its outputs.
fn driver(
    b: &mut Building,
    wiring: &Wiring,
    moment: &Moment,
    (at, driver): (DriverIx, &CaseDriver),
    midpoint: Option<Node>,
) -> Outputs {
    let mut outputs = [None; 2];
    let (positive, negative) = b.out.poles[driver.supply];
    let mut probes = Probes::default();
    let mut high_rail = positive;
    if let Stage::Smooth { output_ohm, can_sink } = driver.stage {
        high_rail = b.out.network.node();
        let supply = &wiring.supplies[driver.supply];
        let drop =
            Sum { constant: 0.0, terms: smallvec![(supply.open_v.any(), moment.levels[at] - 1.0)] };
        let output_ohm = Sum::of(output_ohm);
        let sinks = can_sink && supply.can_sink;
        b.part = Part::Regulator(at);
        let branch = b.source(positive, high_rail, &drop, &output_ohm, sinks);
        probes.supply.push((branch, 1.0));
        if can_sink && !sinks {
            // No diode keeps the rails off the pole, so a higher voltage on the rails lifts it.
            b.part = Part::RegulatorBack(at);
            let back = b.diode(high_rail, positive, driver.diode_v, &output_ohm);
            probes.supply.push((back, -1.0));
        }
    }
    let on = switches(moment.states[at]);
    let half_bridges = if driver.stage == Stage::Half { 1 } else { 2 };
    for (leg, on) in on.into_iter().enumerate().take(half_bridges) {
        let output = b.out.network.node();
        if on[0] {
            b.part = Part::Switch { driver: at, leg, high: true };
            let branch = b.resistor(high_rail, output, &Sum::of(driver.high_ohm));
            probes.switches[leg][0].push((branch, 1.0));
        }
        if on[1] {
            b.part = Part::Switch { driver: at, leg, high: false };
            let branch = b.resistor(negative, output, &Sum::of(driver.low_ohm));
            probes.switches[leg][1].push((branch, 1.0));
        }
        if !matches!(driver.stage, Stage::Smooth { .. }) {
            let diode_ohm = Sum::of(driver.diode_ohm);
            b.part = Part::Diode { driver: at, leg, high: true };
            let up = b.diode(output, high_rail, driver.diode_v, &diode_ohm);
            b.part = Part::Diode { driver: at, leg, high: false };
            let down = b.diode(negative, output, driver.diode_v, &diode_ohm);
            probes.switches[leg][0].push((up, -1.0));
            probes.switches[leg][1].push((down, 1.0));
        }
        let out_probe = if leg == 0 { &mut probes.p } else { &mut probes.m };
        for (place, feeder) in straight(&driver.legs[leg]) {
            b.part = Part::Feeder { driver: at, leg, at: place };
            let branch = b.resistor(output, b.out.nets[feeder.net], &feeder.ohm);
            out_probe.push((branch, 1.0));
        }
        outputs[leg] = Some(output);
    }
    if let (Stage::Half, Some(midpoint)) = (&driver.stage, midpoint) {
        for (place, feeder) in straight(&driver.legs[1]) {
            b.part = Part::Feeder { driver: at, leg: 1, at: place };
            let branch = b.resistor(midpoint, b.out.nets[feeder.net], &feeder.ohm);
            probes.m.push((branch, 1.0));
        }
        outputs[1] = Some(midpoint);
    }
    if !matches!(driver.stage, Stage::Smooth { .. }) {
        for leg in &probes.switches {
            probes.supply.extend(leg[0].iter().copied());
        }
    }
    for leg in &probes.switches {
        probes.ground.extend(leg[1].iter().map(|&(branch, factor)| (branch, -factor)));
    }
    b.out.probes.push(probes);
    outputs
}

/// The devices behind the drivers' outputs, and the feeders that come off them.
fn chain(
    b: &mut Building,
    wiring: &Wiring,
    acted: &[DeviceIx],
    drivers: &Table<DriverIx, Outputs>,
) {
    let mut outputs: Table<DeviceIx, [Node; 2]> = Table::with_capacity(wiring.devices.len());
    for (at, device) in wiring.devices.pairs() {
        let output = [b.out.network.node(), b.out.network.node()];
        let does = device.trip.as_ref().map(|(_, acts)| *acts).filter(|_| acted.contains(&at));
        let exchanged = device.exchanged ^ (does == Some(Acts::Exchanges));
        let mut probes = [Probe::new(), Probe::new()];
        for pole in 0..2 {
            let from = pole ^ usize::from(exchanged);
            let input = match device.from {
                Root::Driver(driver) => drivers[driver][from],
                Root::Device(before) => Some(outputs[before][from]),
            };
            // A half-bridge whose supply has no midpoint has one output.
            let Some(input) = input.filter(|_| does != Some(Acts::Opens)) else { continue };
            let mut ohm = Sum::of(device.ohm);
            b.part = Part::Device { device: at, pole };
            match device.in_pole {
                InPole::Diodes(volts, diode_ohm) if pole == 0 => {
                    ohm.terms.push((diode_ohm.any(), 1.0));
                    let there = b.diode(input, output[0], volts, &ohm);
                    b.part = Part::DeviceBack(at);
                    let back = b.diode(output[0], input, volts, &ohm);
                    probes[0].extend([(there, 1.0), (back, -1.0)]);
                }
                in_pole => {
                    if let (InPole::Resistor(more), 0) = (in_pole, pole) {
                        ohm.terms.push((more.any(), 1.0));
                    }
                    let branch = b.resistor(input, output[pole], &ohm);
                    probes[pole].push((branch, 1.0));
                }
            }
            if let Root::Driver(driver) = device.from {
                let own = &mut b.out.probes[driver];
                let leg = if from == 0 { &mut own.p } else { &mut own.m };
                leg.extend(probes[pole].iter().copied());
            }
        }
        outputs.push(output);
        b.out.devices.push(probes);
    }
    for (at, driver) in wiring.drivers.pairs() {
        for (leg, feeders) in driver.legs.iter().enumerate() {
            for (place, feeder) in feeders.iter().enumerate() {
                if let Some((device, pole)) = feeder.through {
                    b.part = Part::Feeder { driver: at, leg, at: place };
                    b.resistor(outputs[device][pole], b.out.nets[feeder.net], &feeder.ohm);
                }
            }
        }
    }
}

fn load(b: &mut Building, stars: [Node; 2], load: NumericLoad, (group, at): (usize, usize)) {
    let mut probe = Probe::new();
    b.part = Part::Load { group, at };
    match load {
        NumericLoad::Series { ohm, emf_v } => {
            let branch = b.out.network.source(stars[0], stars[1], -emf_v, ohm.max(FLOOR_OHM));
            b.note(branch, None, None);
            probe.push((branch, 1.0));
        }
        NumericLoad::Rectifier { ohm, volts } => {
            // Either way through the rectifier the current meets the same voltage and resistance.
            for (from, to, sign) in [(stars[0], stars[1], 1.0), (stars[1], stars[0], -1.0)] {
                let branch = b.out.network.diode(from, to, volts, ohm.max(FLOOR_OHM));
                b.note(branch, None, None);
                probe.push((branch, sign));
                b.part = Part::LoadBack { group, at };
            }
        }
    }
    b.out.loads.push(probe);
}
