//! The anatomy of one special work in the making: places on its rails, and what is added there.

use super::parts::{Anatomy, Break, Node, Switch, Way};
use crate::layout::{Layout, Rail, RunEnd, Special, Spot, TrackEnd, length_mm};
use crate::rails::positions::SelectorId;

/// The special work, and what has been found of it so far.
pub(super) struct Making<'a> {
    pub layout: &'a Layout,
    pub special: &'a Special,
    pub out: Anatomy,
}

/// Beyond a break by this much one is on the other side, mm.
pub(super) const BEYOND_MM: f64 = 1e-3;

impl Making<'_> {
    /// A place on a rail of a road, so far from its end.
    pub(super) fn spot(&self, end: TrackEnd, rail: Rail, from_end_mm: f64) -> Spot {
        let length = self.layout.runs.get(&end.run).map_or(0.0, |run| length_mm(self.layout, run));
        let at_mm = match end.end {
            RunEnd::Start => from_end_mm,
            RunEnd::End => length - from_end_mm,
        };
        Spot { run: end.run, at_mm, rail }
    }

    pub(super) fn at(&self, end: TrackEnd, rail: Rail, from_end_mm: f64) -> Node {
        Node::At(self.spot(end, rail, from_end_mm))
    }

    pub(super) fn fix(&mut self, a: Node, b: Node) {
        self.out.fixed.push([a, b]);
    }

    pub(super) fn points(&mut self, position: usize, a: Node, b: Node) {
        let selector = SelectorId::Points(self.special.id);
        self.out.switches.push(Switch { selector, mask: 1 << position, ends: [a, b] });
    }

    /// A frog that lies on a rail so far from a road's end: breaks on both sides of it.
    pub(super) fn frog_on(
        &mut self,
        end: TrackEnd,
        rail: Rail,
        middle_mm: f64,
        length_mm: f64,
    ) -> Node {
        for place in [middle_mm - length_mm / 2.0, middle_mm + length_mm / 2.0] {
            let spot = self.spot(end, rail, place);
            self.out.breaks.push(Break { spot });
        }
        self.at(end, rail, middle_mm)
    }

    /// The contact joins each frog to a rail by position: `right_way[frog][position]`, unless its wires say otherwise.
    pub(super) fn contact(&mut self, frogs: &[Node], right_way: &[Vec<Node>]) {
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

    pub(super) fn way(&mut self, from: TrackEnd, to: TrackEnd, mask: u64) {
        let ends = [from, to];
        self.out.ways.push(Way { ends, mask, against: 0, metal: true, past_mm: 0.0 });
    }
}
