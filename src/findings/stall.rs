//! `stall`: a place where a vehicle touches both blocks and no driver closes a circuit through its left and right
//! pickups, although both sides drive and agree. One finding for each vehicle, and for each train whose vehicles' pickups
//! are joined; where it stalls in both facings the first is told.

use super::at_cut;
use super::{Class, Evidence, Finding, Kind, Relation, Verdict, View};
use crate::study::cut::Stander;

pub fn find(view: &View, found: &mut Vec<Finding>) {
    for (cut, known) in view.all_known() {
        let mut told: Vec<Stander> = Vec::new();
        for stall in &known.result.stalls {
            let footing = stall.footing.and_then(|at| known.around.footings.get(at));
            let Some(&(by, _, _)) = footing.filter(|(by, _, _)| !told.contains(by)) else {
                continue;
            };
            told.push(by);
            let evidence = Evidence::Crossing {
                situation: Box::new(view.situation(known, stall)),
                relation: Some(Relation::Agree),
                now: false,
                by_join: [None; 3],
                idles: Vec::new(),
            };
            found.push(at_cut(view, cut, Kind::Stall, Class::Fault, Verdict::Stall, evidence));
        }
    }
}
