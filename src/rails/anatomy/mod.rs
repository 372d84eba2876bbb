//! Special work, rail by rail: where its rails are broken, which are one metal, which its positions join, and by which
//! ways trains go through it.
//!
//! The rule behind every turnout: beyond the frog each inner rail must have the polarity of the toe rail of the same
//! hand. Hands are those of somebody who travels out of the toe (through a diamond: from the first ends to the last).

mod bridge;
mod crossing;
mod making;
mod parts;
mod turnout;

use super::positions::SelectorId;
use crate::layout::{Contact, Layout, RunEnd, Special, Spot, TrackEnd, Work, length_mm};
use making::Making;

pub use bridge::bridge_exchanged;
pub use parts::{Anatomy, Break, Node, Switch, Way, hand_in, hand_out};

/// Takes special work apart.
pub fn anatomy(layout: &Layout, special: &Special) -> Anatomy {
    let mut made = Making { layout, special, out: Anatomy::default() };
    match &special.work {
        Work::Turnout { toe, exits, .. } => made.turnout(*toe, exits),
        Work::Diamond { roads, .. } => made.crossing(roads, false),
        Work::Slip { roads, .. } => made.crossing(roads, true),
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
