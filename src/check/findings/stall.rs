//! `stall`: a place where a vehicle touches both blocks and no driver closes a circuit through its left and right
//! pickups, although both sides drive and agree.

use super::super::{Class, Context, Evidence, Finding, Kind, Relation, Verdict};
use super::at_cut;

pub fn find(context: &Context, found: &mut Vec<Finding>) {
    for (cut, known) in context.all_known() {
        let Some(stall) = &known.result.stall else { continue };
        let situation = context.situation(known, stall);
        let evidence = Evidence::Crossing {
            situation: Box::new(situation),
            relation: Some(Relation::Agree),
            now: false,
            by_join: [None; 3],
            idles: Vec::new(),
        };
        found.push(at_cut(context, cut, Kind::Stall, Class::Fault, Verdict::Stall, evidence));
    }
}
