//! Diamonds and slips.

use super::making::{BEYOND_MM, Making};
use super::parts::{Break, Node, Way, hand_in, hand_out};
use crate::layout::{Frog, Rail, TrackEnd, Work, roads};

/// A crossing of two roads, with the measures of its frogs.
struct Crossing<'a> {
    /// Each road by its first and its last end.
    roads: &'a [[TrackEnd; 2]; 2],
    /// The road that comes from the left, and the one that comes from the right.
    from: [usize; 2],
    frog_mm: f64,
    length_mm: f64,
}

impl Crossing<'_> {
    /// The rail of a road's first end on a hand.
    fn first_rail(&self, road: usize, hand: Rail) -> Rail {
        hand_in(self.roads[road][0], hand)
    }

    /// The rail of a road's last end on a hand.
    fn last_rail(&self, road: usize, hand: Rail) -> Rail {
        hand_out(self.roads[road][1], hand)
    }

    /// A place on a road's first half, so far from the joint.
    fn before(&self, making: &Making, road: usize, hand: Rail, mm: f64) -> Node {
        making.at(self.roads[road][0], self.first_rail(road, hand), mm)
    }

    /// A place on a road's last half, so far from the joint.
    fn after(&self, making: &Making, road: usize, hand: Rail, mm: f64) -> Node {
        making.at(self.roads[road][1], self.last_rail(road, hand), mm)
    }

    /// Just beyond the frogs in the middle, mm from the joint.
    fn near_mm(&self) -> f64 {
        self.length_mm / 2.0 + BEYOND_MM
    }

    /// Just beyond the frogs at the ends, mm from the joint.
    fn far_mm(&self) -> f64 {
        self.frog_mm + self.length_mm / 2.0 + BEYOND_MM
    }
}

impl Making<'_> {
    pub(super) fn crossing(&mut self, roads: &[[TrackEnd; 2]; 2], slip: bool) {
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
        let from = if sine > 0.0 { [0, 1] } else { [1, 0] };
        let of = Crossing { roads, from, frog_mm, length_mm };
        self.ways_across(&of, frog);
        if slip {
            self.ways_of_slip(&of);
        }
        let frogs = self.crossing_frogs(&of);
        self.out.frogs.extend(frogs);
        self.crossing_rails(&of, slip);
        if frog == Frog::Switched {
            self.crossing_contact(&of, &frogs);
        }
    }

    /// The ways along both roads.
    fn ways_across(&mut self, of: &Crossing, frog: Frog) {
        let all = (1u64 << self.special.work.positions()) - 1;
        for (at, road) in of.roads.iter().enumerate() {
            // Frogs fed by a contact are set for one road: a train on the other meets them the wrong way.
            let against = if frog == Frog::Switched { all & !(1 << at) } else { 0 };
            for ends in [[road[0], road[1]], [road[1], road[0]]] {
                self.out.ways.push(Way { ends, mask: all, against, metal: true, past_mm: 0.0 });
            }
        }
    }

    /// The ways from road to road.
    fn ways_of_slip(&mut self, of: &Crossing) {
        let slipped: u64 = 0b1100 & ((1u64 << self.special.work.positions()) - 1);
        let [one, two] = of.roads;
        let pairs = [(one[0], two[1], 0b100u64), (two[0], one[1], 0b1000)];
        for (from, to, mask) in pairs.into_iter().filter(|(_, _, mask)| mask & slipped != 0) {
            for ends in [[from, to], [to, from]] {
                let way = Way { ends, mask, against: 0, metal: true, past_mm: of.near_mm() };
                self.out.ways.insert(0, way);
            }
        }
    }

    /// The frogs between first ends, between last ends, and the two in the middle, which lie about the joint.
    fn crossing_frogs(&mut self, of: &Crossing) -> [Node; 4] {
        let (roads, [a, b]) = (of.roads, of.from);
        let (frog_mm, length_mm) = (of.frog_mm, of.length_mm);
        let first = self.frog_on(roads[a][0], of.first_rail(a, Rail::Right), frog_mm, length_mm);
        let other = self.frog_on(roads[b][0], of.first_rail(b, Rail::Left), frog_mm, length_mm);
        self.fix(first, other);
        let last = self.frog_on(roads[a][1], of.last_rail(a, Rail::Left), frog_mm, length_mm);
        let other = self.frog_on(roads[b][1], of.last_rail(b, Rail::Right), frog_mm, length_mm);
        self.fix(last, other);
        let middles = Rail::BOTH.map(|hand| {
            let ends = [
                Node::End(roads[0][0], of.first_rail(0, hand)),
                Node::End(roads[0][1], of.last_rail(0, hand)),
                Node::End(roads[1][0], of.first_rail(1, hand)),
                Node::End(roads[1][1], of.last_rail(1, hand)),
            ];
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
            ends[0]
        });
        [first, last, middles[0], middles[1]]
    }

    /// What lies between the frogs is bonded to what it continues. The rails of a slip are bonded to both roads.
    fn crossing_rails(&mut self, of: &Crossing, slip: bool) {
        let (near, far) = (of.near_mm(), of.far_mm());
        for road in 0..2 {
            for hand in Rail::BOTH {
                let outer = of.before(self, road, hand, far);
                for piece in [
                    of.before(self, road, hand, near),
                    of.after(self, road, hand, near),
                    of.after(self, road, hand, far),
                ] {
                    self.fix(outer, piece);
                }
            }
        }
        if slip {
            for hand in Rail::BOTH {
                let (one, two) = (of.before(self, 0, hand, far), of.before(self, 1, hand, far));
                self.fix(one, two);
            }
        }
    }

    /// A contact that feeds the frogs by position.
    fn crossing_contact(&mut self, of: &Crossing, frogs: &[Node; 4]) {
        let (left, right) = (Rail::Left, Rail::Right);
        let a = of.from[0];
        let rail = |road: usize, hand| of.before(self, road, hand, of.far_mm());
        // Which road's first end and which road's last end each position uses.
        let uses = &[(0, 0), (1, 1), (0, 1), (1, 0)][..self.special.work.positions() as usize];
        let feeds: [Vec<Node>; 4] = std::array::from_fn(|frog| {
            let feed = |&(from, to): &(usize, usize)| match frog {
                0 => rail(from, if from == a { right } else { left }),
                1 => rail(to, if to == a { left } else { right }),
                2 => rail(from, left),
                _ => rail(from, right),
            };
            uses.iter().map(feed).collect()
        });
        self.contact(frogs, &feeds);
    }
}
