//! `stall`: a place where a vehicle touches both blocks and no driver closes a circuit through its left and right
//! pickups, although both sides drive and agree. One finding for each vehicle, and for each train whose vehicles' pickups
//! are joined; where it stalls in both facings the first is told.

use super::shared::at_cut;
use super::{Class, Cure, Facing, Found, Kind, Near, Relation, Text, Verdict, View, Words};
use crate::layout::EntityId;
use crate::study::cut::{Evaluated, Stander};

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let mut found = Vec::new();
    for (cut, known) in view.all_known() {
        let mut told: Vec<Stander> = Vec::new();
        // Which settings agree on a loop that comes back turned is a matter of where one starts to count.
        let on_loop = view.loops.lead_over(&view.plan, cut);
        let whatever = |stall: &&Evaluated| {
            let footing = stall.footing;
            !on_loop || footing.is_some_and(|at| known.result.stalls_whatever_drives(at))
        };
        for stall in known.result.stalls.iter().filter(whatever) {
            let footing = stall.footing.and_then(|at| known.around.footings.get(at));
            let Some(by) = footing.map(|foot| foot.by).filter(|by| !told.contains(by)) else {
                continue;
            };
            told.push(by);
            let situation = view.situation(known, stall);
            let evidence = Evidence::bare(situation, Some(Relation::Agree), false);
            let train = by.train.map(EntityId::from);
            let things = train.or(by.vehicle.map(EntityId::from)).into_iter().collect();
            let at = at_cut(view, cut, Kind::Stall, Class::Fault, Verdict::Stall, evidence);
            found.push(Found { things, ..at });
        }
    }
    found
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let situation = &e.situation;
    let vehicle = w.mover(situation.train, situation.vehicle);
    let way = match situation.facing {
        Facing::AToB => 1,
        Facing::BToA => 0,
    };
    Text {
        says: format!("{}: {vehicle} stalls there", w.gap()),
        why: format!(
            "Facing {}, with its front {} past the gap, its left pickups stand in one block and its right pickups \
             in the other. No driver closes a circuit through both, although both drive the same way ({}).",
            w.block(way),
            w.units.mm(situation.position_mm),
            w.settings(situation),
        ),
        advice: vec![
            "Add pickups so that both sides of the vehicle touch one block, or join its pickups across the \
             coupler."
                .into(),
            "Or feed both blocks from one driver while it crosses.".into(),
        ], more: String::new(), cautions: Vec::new(), }
}

pub fn cures(_: &Evidence, _: &Near) -> Vec<Cure> {
    Vec::new()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::Wheel;

    pub fn pairs() -> Vec<Pair> {
        // The engine picks up on the left, its tender on the right.
        let with = yard(
            &r#"(id: "v1", length_mm: 200, axles: [(at_mm: 30, right: Insulated), (at_mm: 60, right: Insulated),
            (at_mm: 140, left: Insulated), (at_mm: 170, left: Insulated)], load: Motor(ohm: 12, emf_v: 5))"#
                .replace('\n', " "),
        );
        // Twin: one axle picks up both, so that some block always closes a circuit.
        let twin = with_vehicle(&with, |v| v.axles[0].right = Wheel::Pickup);
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::Stall,
            peak_a: None,
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: vehicle v1 stalls there",
        }]
    }
}
