//! Turnouts of two and of three roads.

use super::making::{BEYOND_MM, Making};
use super::parts::{Break, Node, hand_in, hand_out};
use crate::layout::{FIRST_FROG, Frog, Rail, TrackEnd, Work, roads};

/// The roads of a turnout from left to right, and its measures.
struct Roads<'a> {
    toe: TrackEnd,
    roads: &'a [TrackEnd],
    /// The position in which the points are set for each road.
    order: &'a [usize],
    frog_mm: f64,
    frog_length_mm: f64,
}

impl Roads<'_> {
    /// Index of the rightmost road.
    fn last(&self) -> usize {
        self.roads.len() - 1
    }

    /// The end of the toe's rail on a hand.
    fn toe_of(&self, hand: Rail) -> Node {
        Node::End(self.toe, hand_in(self.toe, hand))
    }

    /// The start of a road's rail on a hand.
    fn start(&self, road: usize, hand: Rail) -> Node {
        Node::End(self.roads[road], hand_out(self.roads[road], hand))
    }

    /// How far from the toe the right rail of road `i` crosses the left rail of road `j`, `i` left of `j`, mm.
    fn middle_mm(&self, i: usize, j: usize) -> f64 {
        let first = self.last() == 2 && (i, j) == (0, 2);
        if first { FIRST_FROG * self.frog_mm } else { self.frog_mm }
    }
}

impl Making<'_> {
    pub(super) fn turnout(&mut self, toe: TrackEnd, exits: &[TrackEnd]) {
        let Work::Turnout { frog, frog_mm, frog_length_mm, closures_bonded, exits_bonded, .. } =
            self.special.work
        else {
            return;
        };
        let order = roads::left_to_right(self.layout, toe, exits, self.special.work.reach_mm());
        let roads: Vec<TrackEnd> = order.iter().map(|&at| exits[at]).collect();
        let all = (1u64 << exits.len()) - 1;
        for (&position, &road) in order.iter().zip(&roads) {
            self.way(toe, road, 1 << position);
            self.way(road, toe, all);
        }
        let of = Roads { toe, roads: &roads, order: &order, frog_mm, frog_length_mm };
        // The outer rails run through.
        self.fix(of.toe_of(Rail::Left), of.start(0, Rail::Left));
        self.fix(of.toe_of(Rail::Right), of.start(of.last(), Rail::Right));
        if frog.is_one_metal() {
            let toe = [of.toe_of(Rail::Left), of.toe_of(Rail::Right)];
            self.one_metal(&roads, &order, frog_mm, toe);
            return;
        }
        self.frogs_of(&of, frog);
        for road in 0..=of.last() {
            self.inner_rails(&of, road, closures_bonded, exits_bonded);
        }
    }

    /// The frogs: one where the right rail of road i crosses the left rail of road j, i left of j.
    fn frogs_of(&mut self, of: &Roads, frog: Frog) {
        let mut frogs: Vec<Node> = Vec::new();
        let mut feeds: Vec<Vec<Node>> = Vec::new();
        for i in 0..=of.last() {
            for j in i + 1..=of.last() {
                let (one, two) = (of.roads[i], of.roads[j]);
                let (on_i, on_j) = (hand_out(one, Rail::Right), hand_out(two, Rail::Left));
                let a = self.frog_on(one, on_i, of.middle_mm(i, j), of.frog_length_mm);
                let b = self.frog_on(two, on_j, of.middle_mm(i, j), of.frog_length_mm);
                self.fix(a, b);
                self.out.frogs.push(a);
                frogs.push(a);
                // Set for a road right of i's the left rail of j is used, or nothing: then it waits as for j.
                let mut by_position = vec![of.toe_of(Rail::Left); of.roads.len()];
                for (road, &position) in of.order.iter().enumerate() {
                    if road <= i {
                        by_position[position] = of.toe_of(Rail::Right);
                    }
                }
                feeds.push(by_position);
            }
        }
        // Frogs in the order in which a contact's wires are listed: (0,1), (0,2), (1,2).
        if frog == Frog::Switched {
            self.contact(&frogs, &feeds);
        }
    }

    /// The rails of a road between and beyond the frogs.
    fn inner_rails(&mut self, of: &Roads, road: usize, closures_bonded: bool, exits_bonded: bool) {
        let inner = [
            (
                Rail::Right,
                (road + 1..=of.last()).map(|j| of.middle_mm(road, j)).collect::<Vec<_>>(),
            ),
            (Rail::Left, (0..road).map(|i| of.middle_mm(i, road)).collect()),
        ];
        for (hand, mut middles) in inner {
            if middles.is_empty() {
                continue;
            }
            middles.sort_by(f64::total_cmp);
            let rail = hand_out(of.roads[road], hand);
            let blade = of.start(road, hand);
            if closures_bonded {
                self.fix(blade, of.toe_of(hand));
            } else {
                self.points(of.order[road], blade, of.toe_of(hand));
                self.out.frogs.push(blade);
            }
            let beyond = |middle: f64| middle + of.frog_length_mm / 2.0 + BEYOND_MM;
            for (at, &middle) in middles.iter().enumerate() {
                let piece = self.at(of.roads[road], rail, beyond(middle));
                let is_exit = at + 1 == middles.len();
                if is_exit && exits_bonded {
                    self.fix(piece, of.toe_of(hand));
                } else if !is_exit {
                    self.fix(piece, blade);
                }
            }
        }
    }

    /// Frogs, closure rails and points in one metal.
    pub(super) fn one_metal(
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
}
