//! `inrush`: at the moment of joining, a higher driver charges the bulk capacitance of the lower one's supply.

use super::at_cut;
use super::{Class, Evidence, Finding, Kind, Relation, Verdict, View};

pub fn find(view: &View, found: &mut Vec<Finding>) {
    for (&cut, known) in &view.known {
        let names = &known.around.names;
        let switched = |relation: Relation| {
            known.result.cells.iter().any(|c| c.relation == relation && c.separately_switched)
        };
        let counts = |relation: Relation| {
            relation == Relation::Agree
                || known.result.now_relation == Some(relation)
                || switched(relation)
        };
        let worst = known
            .result
            .inrush
            .iter()
            // Where directions disagree the short itself is told.
            .filter(|i| i.relation != Relation::Disagree)
            .max_by_key(|i| {
                let trips = !i.trips.is_empty();
                (trips && counts(i.relation), i.relation == Relation::Agree, trips)
            });
        let Some(inrush) = worst else { continue };
        let trips = !inrush.trips.is_empty();
        let (class, verdict) = match (trips, counts(inrush.relation)) {
            (true, true) => (Class::Fault, Verdict::Short),
            (true, false) => (Class::Note, Verdict::Short),
            (false, _) => (Class::Note, Verdict::Clear),
        };
        let evidence = Evidence::Inrush {
            supply: names.supplies[inrush.supply],
            from_v: inrush.from_v,
            to_v: inrush.to_v,
            amps: inrush.amps,
            tau_s: inrush.tau_s,
            trips: inrush.trips.iter().map(|&d| names.drivers[d]).collect(),
            relation: inrush.relation,
        };
        found.push(at_cut(view, cut, Kind::Inrush, class, verdict, evidence));
    }
}
