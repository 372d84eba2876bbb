//! Special work, rail by rail: where its rails are broken, which are one metal, which its positions join, and by which
//! ways trains go through it.
//!
//! The rule behind every turnout: beyond the frog each inner rail must have the polarity of the toe rail of the same
//! hand. Hands are those of somebody who travels out of the toe (through a diamond: from the first ends to the last).

use crate::layout::{
    Contact, FIRST_FROG, Frog, Layout, Rail, RunEnd, RunId, Special, Spot, TrackEnd, Work,
    length_mm, roads,
};

use super::positions::SelectorId;
use crate::layout::geometry::Point;

/// A place in the metal of a rail.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Node {
    /// The very end of a rail of a run, at its joint.
    End(TrackEnd, Rail),
    /// Somewhere along it.
    At(Spot),
}

/// A break that special work has by its nature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Break {
    /// The rail and the place.
    pub spot: Spot,
}

/// Metal that some positions of a selector join.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Switch {
    /// The selector.
    pub selector: SelectorId,
    /// Bit *k*: joined in position *k*.
    pub mask: u64,
    /// What is joined.
    pub ends: [Node; 2],
}

/// A way through special work for trains.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Way {
    /// The run end at which one enters it, and the one at which one leaves.
    pub ends: [TrackEnd; 2],
    /// Bit *k*: in position *k* one who enters at the first end leaves at the second.
    pub mask: u64,
    /// Bit *k*: in position *k* the frogs are set for another road, so that one who takes this way goes against them.
    pub against: u64,
    /// Whether the rails of the two are metal through the joint where they are not broken by a frog: then reference
    /// directions go on as through a joint. A turntable's bridge only stands close to its roads.
    pub metal: bool,
    /// The frogs within this distance of the joint are not on this way, mm: the rails before and beyond go on.
    pub past_mm: f64,
}

/// Everything that special work adds to the rails.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Anatomy {
    /// Where rails are broken.
    pub breaks: Vec<Break>,
    /// Metal joined for good.
    pub fixed: Vec<[Node; 2]>,
    /// Metal joined by position.
    pub switches: Vec<Switch>,
    /// Frogs and what is one metal with them.
    pub frogs: Vec<Node>,
    /// Ways for trains. Who trails through points set against still goes on to the toe.
    pub ways: Vec<Way>,
}

/// Rail of a run on one hand of a traveller who comes along it towards the end.
pub fn hand_in(end: TrackEnd, hand: Rail) -> Rail {
    match end.end {
        RunEnd::End => hand,
        RunEnd::Start => hand.other(),
    }
}

/// Rail of a run on one hand of a traveller who leaves the end along the run.
pub fn hand_out(end: TrackEnd, hand: Rail) -> Rail {
    hand_in(end, hand).other()
}

/// Takes special work apart.
pub fn anatomy(layout: &Layout, special: &Special) -> Anatomy {
    let mut made = Making { layout, special, out: Anatomy::default() };
    match &special.work {
        Work::Turnout { toe, exits, .. } => made.turnout(*toe, exits),
        Work::Diamond { roads, .. } => made.crossing(roads, false, false),
        Work::Slip { roads, double, .. } => made.crossing(roads, true, *double),
        Work::Turntable { bridge, roads, .. } => made.turntable(*bridge, roads),
        Work::Traverser { bridge, roads } => made.traverser(*bridge, roads),
        Work::Buffer { .. } => {}
    }
    made.out
}

/// The rails from which the contact of special work takes polarity, per frog and position, if its wires are the right
/// way round, or each taken from the other rail.
pub fn contact_sources(layout: &Layout, special: &Special, exchanged: bool) -> Vec<Vec<Spot>> {
    let contact = Contact { sources: Vec::new(), ..special.contact.clone() };
    let special = Special { contact, ..special.clone() };
    let places: Vec<Spot> = anatomy(layout, &special)
        .switches
        .iter()
        .filter(|switch| matches!(switch.selector, SelectorId::Contact(_)))
        .map(|switch| {
            let spot = match switch.ends[1] {
                Node::At(spot) => spot,
                Node::End(TrackEnd { run, end }, rail) => {
                    let long = layout.runs.get(&run).map_or(0.0, |run| length_mm(layout, run));
                    let at_mm = if end == RunEnd::Start { 0.0 } else { long };
                    Spot { run, at_mm, rail }
                }
            };
            Spot { rail: if exchanged { spot.rail.other() } else { spot.rail }, ..spot }
        })
        .collect();
    places.chunks(special.work.positions().max(1) as usize).map(<[Spot]>::to_vec).collect()
}

struct Making<'a> {
    layout: &'a Layout,
    special: &'a Special,
    out: Anatomy,
}

/// Beyond a break by this much one is on the other side, mm.
const BEYOND_MM: f64 = 1e-3;

impl Making<'_> {
    /// A place on a rail of a road, so far from its end.
    fn spot(&self, end: TrackEnd, rail: Rail, from_end_mm: f64) -> Spot {
        let length = self.layout.runs.get(&end.run).map_or(0.0, |run| length_mm(self.layout, run));
        let at_mm = match end.end {
            RunEnd::Start => from_end_mm,
            RunEnd::End => length - from_end_mm,
        };
        Spot { run: end.run, at_mm, rail }
    }

    fn at(&self, end: TrackEnd, rail: Rail, from_end_mm: f64) -> Node {
        Node::At(self.spot(end, rail, from_end_mm))
    }

    fn fix(&mut self, a: Node, b: Node) {
        self.out.fixed.push([a, b]);
    }

    fn points(&mut self, position: usize, a: Node, b: Node) {
        let selector = SelectorId::Points(self.special.id);
        self.out.switches.push(Switch { selector, mask: 1 << position, ends: [a, b] });
    }

    /// A frog that lies on a rail so far from a road's end: breaks on both sides of it.
    fn frog_on(&mut self, end: TrackEnd, rail: Rail, middle_mm: f64, length_mm: f64) -> Node {
        for place in [middle_mm - length_mm / 2.0, middle_mm + length_mm / 2.0] {
            let spot = self.spot(end, rail, place);
            self.out.breaks.push(Break { spot });
        }
        self.at(end, rail, middle_mm)
    }

    /// The contact joins each frog to a rail by position: `right_way[frog][position]`, unless its wires say otherwise.
    fn contact(&mut self, frogs: &[Node], right_way: &[Vec<Node>]) {
        let selector = SelectorId::Contact(self.special.id);
        let wired = &self.special.contact.sources;
        for (frog, (&metal, places)) in frogs.iter().zip(right_way).enumerate() {
            for (position, &place) in places.iter().enumerate() {
                let place =
                    wired.get(frog).and_then(|w| w.get(position)).map_or(place, |&s| Node::At(s));
                let mask = 1 << position;
                self.out.switches.push(Switch { selector, mask, ends: [metal, place] });
            }
        }
    }

    fn way(&mut self, from: TrackEnd, to: TrackEnd, mask: u64) {
        let ends = [from, to];
        self.out.ways.push(Way { ends, mask, against: 0, metal: true, past_mm: 0.0 });
    }

    fn turnout(&mut self, toe: TrackEnd, exits: &[TrackEnd]) {
        let Work::Turnout { frog, frog_mm, frog_length_mm, closures_bonded, exits_bonded, .. } =
            self.special.work
        else {
            return;
        };
        let order = roads::left_to_right(self.layout, toe, exits, self.special.work.reach_mm());
        let roads: Vec<TrackEnd> = order.iter().map(|&at| exits[at]).collect();
        let last = roads.len() - 1;
        let all = (1u64 << exits.len()) - 1;
        for (&position, &road) in order.iter().zip(&roads) {
            self.way(toe, road, 1 << position);
            self.way(road, toe, all);
        }
        let toe_rail = |hand| Node::End(toe, hand_in(toe, hand));
        let (toe_left, toe_right) = (toe_rail(Rail::Left), toe_rail(Rail::Right));
        let start = |road: usize, hand| Node::End(roads[road], hand_out(roads[road], hand));
        // The outer rails run through.
        self.fix(toe_left, start(0, Rail::Left));
        self.fix(toe_right, start(last, Rail::Right));
        let toe_of = |hand| if hand == Rail::Left { toe_left } else { toe_right };

        if frog.is_one_metal() {
            self.one_metal(&roads, &order, frog_mm, [toe_left, toe_right]);
            return;
        }
        // Where the right rail of road i crosses the left rail of road j, i left of j, lies a frog.
        let middle = |i: usize, j: usize| if last == 2 && (i, j) == (0, 2) { FIRST_FROG } else { 1.0 } * frog_mm;
        let mut frogs: Vec<Node> = Vec::new();
        let mut feeds: Vec<Vec<Node>> = Vec::new();
        for i in 0..=last {
            for j in i + 1..=last {
                let (on_i, on_j) =
                    (hand_out(roads[i], Rail::Right), hand_out(roads[j], Rail::Left));
                let a = self.frog_on(roads[i], on_i, middle(i, j), frog_length_mm);
                let b = self.frog_on(roads[j], on_j, middle(i, j), frog_length_mm);
                self.fix(a, b);
                self.out.frogs.push(a);
                frogs.push(a);
                // Set for a road right of i's the left rail of j is used, or nothing: then it waits as for j.
                let mut by_position = vec![toe_left; exits.len()];
                for (road, &position) in order.iter().enumerate() {
                    if road <= i {
                        by_position[position] = toe_right;
                    }
                }
                feeds.push(by_position);
            }
        }
        // Frogs in the order in which a contact's wires are listed: (0,1), (0,2), (1,2).
        if frog == Frog::Switched {
            self.contact(&frogs, &feeds);
        }
        // The rails between and beyond the frogs.
        for road in 0..=last {
            let inner = [
                (Rail::Right, (road + 1..=last).map(|j| middle(road, j)).collect::<Vec<_>>()),
                (Rail::Left, (0..road).map(|i| middle(i, road)).collect()),
            ];
            for (hand, mut middles) in inner {
                if middles.is_empty() {
                    continue;
                }
                middles.sort_by(f64::total_cmp);
                let rail = hand_out(roads[road], hand);
                let blade = start(road, hand);
                if closures_bonded {
                    self.fix(blade, toe_of(hand));
                } else {
                    self.points(order[road], blade, toe_of(hand));
                    self.out.frogs.push(blade);
                }
                let beyond = |middle: f64| middle + frog_length_mm / 2.0 + BEYOND_MM;
                for (at, &middle) in middles.iter().enumerate() {
                    let piece = self.at(roads[road], rail, beyond(middle));
                    let is_exit = at + 1 == middles.len();
                    if is_exit && exits_bonded {
                        self.fix(piece, toe_of(hand));
                    } else if !is_exit {
                        self.fix(piece, blade);
                    }
                }
            }
        }
    }

    /// Frogs, closure rails and points in one metal.
    fn one_metal(
        &mut self,
        roads: &[TrackEnd],
        order: &[usize],
        frog_mm: f64,
        [toe_left, toe_right]: [Node; 2],
    ) {
        let start = |road: usize, hand| Node::End(roads[road], hand_out(roads[road], hand));
        let first = start(0, Rail::Right);
        self.out.frogs.push(first);
        let has_contact = self.special.work.frog().is_some_and(Frog::has_contact);
        if let [_, _] = roads {
            self.fix(first, start(1, Rail::Left));
            self.points(order[0], first, toe_right);
            self.points(order[1], first, toe_left);
            if has_contact {
                let mut by_position = vec![toe_left; 2];
                by_position[order[0]] = toe_right;
                self.contact(&[first], &[by_position]);
            }
            return;
        }
        // Two pairs of points, one behind the other: the first part the left road from the other two, the second those
        // two; the metal of the second begins at its own points.
        let right = hand_out(roads[2], Rail::Left);
        let second_points_mm = frog_mm * f64::midpoint(FIRST_FROG, 1.0);
        let spot = self.spot(roads[2], right, second_points_mm);
        self.out.breaks.push(Break { spot });
        let second = start(1, Rail::Right);
        self.out.frogs.push(second);
        self.fix(first, start(1, Rail::Left));
        self.fix(first, start(2, Rail::Left));
        let beyond = self.at(roads[2], right, frog_mm);
        self.fix(second, beyond);
        self.points(order[0], first, toe_right);
        self.points(order[1], first, toe_left);
        self.points(order[2], first, toe_left);
        self.points(order[0], second, toe_right);
        self.points(order[1], second, toe_right);
        self.points(order[2], second, first);
        if has_contact {
            let (mut one, mut two) = (vec![toe_left; 3], vec![toe_right; 3]);
            one[order[0]] = toe_right;
            two[order[2]] = toe_left;
            self.contact(&[first, second], &[one, two]);
        }
    }

    fn crossing(&mut self, roads: &[[TrackEnd; 2]; 2], slip: bool, double: bool) {
        let (Some(frog), Some((frog_mm, length_mm))) = (
            self.special.work.frog(),
            match &self.special.work {
                Work::Diamond { frog_mm, frog_length_mm, .. }
                | Work::Slip { frog_mm, frog_length_mm, .. } => Some((*frog_mm, *frog_length_mm)),
                _ => None,
            },
        ) else {
            return;
        };
        let sine = roads::crossing_angle(self.layout, roads).map_or(1.0, |(sine, _)| sine);
        // The road that comes from the left, and the one that comes from the right.
        let (a, b) = if sine > 0.0 { (0, 1) } else { (1, 0) };
        let all = (1u64 << self.special.work.positions()) - 1;
        let slipped: u64 = if slip { 0b1100 & all } else { 0 };
        for (at, road) in roads.iter().enumerate() {
            // Frogs fed by a contact are set for one road: a train on the other meets them the wrong way.
            let against = if frog == Frog::Switched { all & !(1 << at) } else { 0 };
            for ends in [[road[0], road[1]], [road[1], road[0]]] {
                self.out.ways.push(Way { ends, mask: all, against, metal: true, past_mm: 0.0 });
            }
        }
        if slip {
            let past_mm = length_mm / 2.0 + BEYOND_MM;
            let pairs = [(roads[0][0], roads[1][1], 0b100u64), (roads[1][0], roads[0][1], 0b1000)];
            for (from, to, mask) in pairs.into_iter().filter(|(_, _, mask)| mask & slipped != 0) {
                for ends in [[from, to], [to, from]] {
                    let way = Way { ends, mask, against: 0, metal: true, past_mm };
                    self.out.ways.insert(0, way);
                }
            }
        }
        let (left, right) = (Rail::Left, Rail::Right);
        let inwards = |road: usize, hand| hand_in(roads[road][0], hand);
        let outwards = |road: usize, hand| hand_out(roads[road][1], hand);
        // The frogs between first ends, between last ends, and the two in the middle, which lie about the joint.
        let first = self.frog_on(roads[a][0], inwards(a, right), frog_mm, length_mm);
        let other = self.frog_on(roads[b][0], inwards(b, left), frog_mm, length_mm);
        self.fix(first, other);
        let last = self.frog_on(roads[a][1], outwards(a, left), frog_mm, length_mm);
        let other = self.frog_on(roads[b][1], outwards(b, right), frog_mm, length_mm);
        self.fix(last, other);
        let mut middles = Vec::new();
        for hand in [left, right] {
            let ends: Vec<Node> = (0..2)
                .flat_map(|road| {
                    [
                        Node::End(roads[road][0], inwards(road, hand)),
                        Node::End(roads[road][1], outwards(road, hand)),
                    ]
                })
                .collect();
            for pair in ends.windows(2) {
                self.fix(pair[0], pair[1]);
            }
            for road in roads {
                for (end, rail) in
                    [(road[0], hand_in(road[0], hand)), (road[1], hand_out(road[1], hand))]
                {
                    let spot = self.spot(end, rail, length_mm / 2.0);
                    self.out.breaks.push(Break { spot });
                }
            }
            middles.push(ends[0]);
        }
        let frogs = [first, last, middles[0], middles[1]];
        self.out.frogs.extend(frogs);

        // What lies between the frogs is bonded to what it continues.
        let before = |making: &Self, road: usize, hand, mm: f64| {
            making.at(roads[road][0], inwards(road, hand), mm)
        };
        let after = |making: &Self, road: usize, hand, mm: f64| {
            making.at(roads[road][1], outwards(road, hand), mm)
        };
        let near_middle = length_mm / 2.0 + BEYOND_MM;
        let far = frog_mm + length_mm / 2.0 + BEYOND_MM;
        for road in 0..2 {
            for hand in [left, right] {
                let outer = before(self, road, hand, far);
                for piece in [
                    before(self, road, hand, near_middle),
                    after(self, road, hand, near_middle),
                    after(self, road, hand, far),
                ] {
                    self.fix(outer, piece);
                }
            }
        }
        if slip {
            // The slip rails are bonded to both roads.
            for hand in [left, right] {
                let (one, two) = (before(self, 0, hand, far), before(self, 1, hand, far));
                self.fix(one, two);
            }
        }
        if frog == Frog::Switched {
            let rail = |making: &Self, road: usize, hand| before(making, road, hand, far);
            // Which road's first end and which road's last end each position uses.
            let uses: Vec<(usize, usize)> =
                [(0, 0), (1, 1), (0, 1), (1, 0)][..self.special.work.positions() as usize].to_vec();
            let _ = double;
            let feeds: Vec<Vec<Node>> = (0..4)
                .map(|frog| {
                    uses.iter()
                        .map(|&(from, to)| match frog {
                            0 => rail(self, from, if from == a { right } else { left }),
                            1 => rail(self, to, if to == a { left } else { right }),
                            2 => rail(self, from, left),
                            _ => rail(self, from, right),
                        })
                        .collect()
                })
                .collect();
            self.contact(&frogs, &feeds);
        }
    }

    fn bridge(&self, bridge: RunId) -> Option<([Point; 2], Point)> {
        let run = self.layout.runs.get(&bridge)?;
        let place = |id| self.layout.joints.get(&id).map(|j| (j.x_mm, j.y_mm));
        let (from, to) = (place(run.from)?, place(run.to)?);
        Some(([from, to], (f64::midpoint(from.0, to.0), f64::midpoint(from.1, to.1))))
    }

    fn place(&self, end: TrackEnd) -> Option<(f64, f64)> {
        let joint = self.layout.joints.get(&roads::joint_of(self.layout, end)?)?;
        Some((joint.x_mm, joint.y_mm))
    }

    /// A bridge's end stands at a road.
    fn stands_at(&mut self, bridge: RunId, end: RunEnd, road: TrackEnd, mask: u64) {
        let own = TrackEnd { run: bridge, end };
        for ends in [[own, road], [road, own]] {
            self.out.ways.push(Way { ends, mask, against: 0, metal: false, past_mm: 0.0 });
        }
    }

    fn turntable(&mut self, bridge: RunId, roads: &[TrackEnd]) {
        let Some((_, centre)) = self.bridge(bridge) else { return };
        let bearing = |making: &Self, end: TrackEnd| {
            making.place(end).map(|(x, y)| (y - centre.1).atan2(x - centre.0).to_degrees())
        };
        let bearings: Vec<Option<f64>> = roads.iter().map(|&end| bearing(self, end)).collect();
        for (k, &road) in roads.iter().enumerate() {
            for (half, near, far) in
                [(0, RunEnd::Start, RunEnd::End), (1, RunEnd::End, RunEnd::Start)]
            {
                let mask = 1u64 << (2 * k + half).min(63);
                self.stands_at(bridge, near, road, mask);
                let opposite =
                    (0..roads.len()).find(|&other| match (bearings[k], bearings[other]) {
                        (Some(here), Some(there)) => {
                            let off = (there - here - 180.0).rem_euclid(360.0);
                            other != k && off.min(360.0 - off) < ALIGNED_DEG
                        }
                        _ => false,
                    });
                if let Some(other) = opposite {
                    self.stands_at(bridge, far, roads[other], mask);
                }
            }
        }
    }

    fn traverser(&mut self, bridge: RunId, roads: &[TrackEnd]) {
        let Some(([from, to], centre)) = self.bridge(bridge) else { return };
        let size = (to.0 - from.0).hypot(to.1 - from.1).max(1e-9);
        let along = ((to.0 - from.0) / size, (to.1 - from.1) / size);
        // Which end of the bridge a road comes up to, and how far to the side.
        let lanes: Vec<Option<(RunEnd, f64)>> = roads
            .iter()
            .map(|&end| {
                let (x, y) = self.place(end)?;
                let (x, y) = (x - centre.0, y - centre.1);
                let ahead = x * along.0 + y * along.1;
                let end = if ahead < 0.0 { RunEnd::Start } else { RunEnd::End };
                Some((end, along.0 * y - along.1 * x))
            })
            .collect();
        for (k, lane) in lanes.iter().enumerate() {
            let Some((end, side)) = *lane else { continue };
            let mask = 1u64 << k.min(63);
            self.stands_at(bridge, end, roads[k], mask);
            let opposite = lanes.iter().position(|other| {
                other.is_some_and(|(o, s)| o != end && (s - side).abs() < ALIGNED_MM)
            });
            if let Some(other) = opposite {
                let far = if end == RunEnd::Start { RunEnd::End } else { RunEnd::Start };
                self.stands_at(bridge, far, roads[other], mask);
            }
        }
    }
}

/// Roads this nearly opposite each other are both at the bridge at once, degrees.
const ALIGNED_DEG: f64 = 3.0;
/// Roads this nearly in line are both at a traverser at once, mm.
const ALIGNED_MM: f64 = 3.0;

/// Whether the rails of a turntable's bridge are exchanged behind its feed in a position.
pub fn bridge_exchanged(layout: &Layout, special: &Special, position: u32) -> bool {
    let Work::Turntable { bridge, roads, exchange_deg: Some(from_deg) } = &special.work else {
        return false;
    };
    let making = Making { layout, special, out: Anatomy::default() };
    let road = roads.get(position as usize / 2).and_then(|&end| making.place(end));
    let (Some((_, centre)), Some(road)) = (making.bridge(*bridge), road) else { return false };
    let outwards = (road.1 - centre.1).atan2(road.0 - centre.0).to_degrees();
    // With its start at the road the bridge heads away from it.
    let heading = if position.is_multiple_of(2) { outwards + 180.0 } else { outwards };
    (heading - from_deg).rem_euclid(360.0) < 180.0
}
