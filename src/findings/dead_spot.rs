//! `dead-spot`: a place at which every pickup of one side of a loaded vehicle can stand on rail that nothing feeds: the
//! frog of special work, as it is set now. A block that nothing feeds is `unfed`; a gap at which a vehicle gets nothing
//! although both sides are fed is `stall`.

use std::collections::BTreeMap;

use super::{Caution, Class, Cure, Evident, Found, Kind, Near, Place, Text, Verdict, View, Words};
use crate::layout::{RunId, SpecialId, VehicleId};
use crate::rails::{Piece, PlanNet, Within};
use crate::straddle::contacts::{Facing, all_intervals};
use crate::straddle::path::ruler_at;
use crate::straddle::rake::{self, Rake};
use crate::study::cut::Stock;

/// A stretch on which a vehicle gets no current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// The run.
    pub run: RunId,
    /// The middle of the stretch, mm along the run.
    pub at_mm: f64,
    /// Its length, mm.
    pub length_mm: f64,
}

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let fed = |net: usize| !view.plan.nets[net].legs.is_empty();
    let dead = |piece: &&Piece| {
        matches!(piece.within, Within::Special(_))
            && piece.length_mm() > 0.0
            && piece.nets.iter().any(|&net| !fed(net))
    };
    let rakes = rakes(view);
    // All roads lead over the same frogs: one finding for each special work, at its longest dead stretch.
    let mut found: BTreeMap<SpecialId, Found<Evidence>> = BTreeMap::new();
    for piece in view.plan.pieces.iter().filter(dead) {
        let Within::Special(special) = piece.within else { continue };
        let Some(vehicle) = rakes.iter().find_map(|rake| stuck_on(view, piece, rake)) else {
            continue;
        };
        let &Piece { run, from_mm, to_mm, .. } = piece;
        let at_mm = (from_mm + to_mm) / 2.0;
        let evidence = Evidence { run, at_mm, length_mm: piece.length_mm() };
        let new = Found {
            places: vec![Place::Special(special)],
            vehicle: Some(vehicle),
            ..Found::new(Kind::DeadSpot, Class::Fault, Verdict::Stall, evidence)
        };
        let all = found.entry(special).or_insert_with(|| new.clone());
        if evidence.length_mm > all.evidence.length_mm {
            (all.evidence, all.vehicle) = (evidence, new.vehicle);
        }
        all.places.push(Place::Stretch { run, from_mm, to_mm });
    }
    found.into_values().collect()
}

/// What runs: vehicles by themselves, and trains for the vehicles that never do.
fn rakes(view: &View) -> Vec<Rake> {
    let coupled = Stock::of(view.layout).never_alone;
    let alone = view.layout.vehicles.values().filter(|v| !coupled.contains(&v.id));
    let mut rakes: Vec<Rake> = alone.map(rake::alone).collect();
    rakes.extend(view.layout.trains.values().map(|train| {
        let mut rake = rake::coupled(view.layout, train);
        rake.groups.retain(|group| group.vehicles.len() > 1);
        rake
    }));
    rakes
}

/// The vehicle whose pickups of one side can all stand on rail of a piece that nothing feeds.
fn stuck_on(view: &View, piece: &Piece, rake: &Rake) -> Option<VehicleId> {
    let reach_mm = rake.length_mm + piece.length_mm() + 1.0;
    let spans = ruler_at(&view.plan, piece.run, piece.from_mm, reach_mm);
    let fed = |net: PlanNet| !view.plan.net(net).legs.is_empty();
    for group in rake.groups.iter().filter(|group| !group.loads.is_empty()) {
        for facing in Facing::BOTH {
            let rolling = (group.axles.as_slice(), rake.length_mm);
            let stuck = all_intervals(&spans, rolling, facing).into_iter().any(|interval| {
                let all = interval.touched.iter().all(|side| !side.is_empty());
                all && interval.touched.iter().any(|side| {
                    let on_piece = |net: PlanNet| piece.nets.map(PlanNet).contains(&net);
                    side.iter().all(|t| !fed(t.0)) && side.iter().any(|t| on_piece(t.0))
                })
            });
            if stuck {
                return group.vehicles.first().copied();
            }
        }
    }
    None
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let vehicle = w.vehicle(w.finding.vehicle);
    Text {
        says: format!(
            "{}: {vehicle} can stop on the dead frog; feed the frog through a contact",
            w.place_name()
        ),
        why: format!(
            "On {} of track nothing feeds the rail under one side of {vehicle}. All its pickups of that side fit on it.",
            w.units.mm(e.length_mm)
        ),
        more: format!("It is {}.", w.on_run(e.run, e.at_mm)),
        advice: vec![
            "Feed the frog through a contact that is thrown with the points.".into(),
            "Or give the vehicle pickups farther apart, also across a coupler.".into(),
        ],
        cautions: vec![Caution::Rewire, Caution::Solder],
    }
}

pub fn cures(_: &Evidence, _: &Near) -> Vec<Cure> {
    Vec::new()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};

    pub fn pairs() -> Vec<Pair> {
        // The dead frog is 40 mm long; two axles 60 mm apart reach over it.
        vec![Pair {
            with: dead_frog(30.0),
            twin: dead_frog(60.0),
            class: Class::Fault,
            verdict: Verdict::Stall,
            peak_a: None,
            cuts: &[],
            blocks: 0,
            says: "Turnout w1: vehicle v1 can stop on the dead frog; feed the frog through a contact",
        }]
    }
}
