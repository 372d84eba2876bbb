//! `dead-spot`: a place at which every pickup of one side of a loaded vehicle can stand on rail that nothing feeds: the
//! frog of special work, as it is set now. A block that nothing feeds is `unfed`; a gap at which a vehicle gets nothing
//! although both sides are fed is `stall`.

use std::collections::BTreeSet;

use super::{Class, Evidence, Finding, Kind, Verdict, View};
use crate::layout::VehicleId;
use crate::rails::{Piece, PlanNet, Within};
use crate::straddle::contacts::{Facing, all_intervals};
use crate::straddle::path::ruler_at;
use crate::straddle::rake::{self, Rake};
use crate::study::cut::Stock;

pub fn find(view: &View, found: &mut Vec<Finding>) {
    let fed = |net: usize| !view.plan.nets[net].legs.is_empty();
    let dead = |piece: &&Piece| {
        matches!(piece.within, Within::Special(_))
            && piece.length_mm() > 0.0
            && piece.nets.iter().any(|&net| !fed(net))
    };
    let rakes = rakes(view);
    // Both roads lead over one frog.
    let mut told: BTreeSet<usize> = BTreeSet::new();
    for piece in view.plan.pieces.iter().filter(dead) {
        let stuck = rakes.iter().find_map(|rake| stuck_on(view, piece, rake));
        let frogs = piece.nets.into_iter().filter(|&net| !fed(net));
        if let Some(vehicle) = stuck.filter(|_| frogs.into_iter().any(|net| told.insert(net))) {
            found.push(Finding {
                vehicle: Some(vehicle),
                ..Finding::bare(
                    Kind::DeadSpot,
                    Class::Fault,
                    Verdict::Stall,
                    Evidence::Place {
                        run: piece.run,
                        at_mm: (piece.from_mm + piece.to_mm) / 2.0,
                        length_mm: piece.length_mm(),
                    },
                )
            });
        }
    }
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
