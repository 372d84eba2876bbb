//! `trip-never-acts`: a trip that does not see the fault that it is there for: it looks where the current does not
//! pass, or the supply gives up below its threshold.

use std::collections::BTreeMap;

use super::super::cut::Worst;
use super::super::{Blind, Class, Context, Evidence, Finding, Kind, Relation, Trips, Verdict};
use crate::layout::{CutId, DriverId, TripKind};

pub fn find(context: &Context, found: &mut Vec<Finding>) {
    looks_elsewhere(context, found);
    for driver in context.layout.drivers.values() {
        // What only limits is not there to act.
        let Some(trip) = driver.trip.as_ref().filter(|t| t.kind != TripKind::Chopping) else {
            continue;
        };
        let threshold_a = trip.amps.value * trip.kind.acts_beyond();
        let Some(limit) = context.layout.supplies.get(&driver.supply).and_then(|s| s.limit) else {
            continue;
        };
        if limit.amps.value >= threshold_a {
            continue;
        }
        // The supply then feeds the fault at its limit for ever: harmful only beyond what the driver bears.
        let bears = driver.rating_a.is_none_or(|rating| rating.value >= limit.amps.value);
        let verdict = if bears { Verdict::Caution } else { Verdict::Overload };
        let blind = Blind::SupplyGivesUpFirst { limit_a: limit.amps.value };
        found.push(finding(driver.id, threshold_a, Class::Fault, verdict, Vec::new(), blind));
    }
}

struct Seen {
    threshold_a: f64,
    carried_a: f64,
    sensed_a: f64,
    another_trips: bool,
    verdict: Verdict,
    cuts: Vec<CutId>,
}

fn looks_elsewhere(context: &Context, found: &mut Vec<Finding>) {
    let mut seen: BTreeMap<DriverId, Seen> = BTreeMap::new();
    for (&cut, known) in &context.known {
        let result = &known.result;
        let situations: [Worst; 3] =
            [result.worst(Relation::Agree), result.worst(Relation::Disagree), result.now.clone()];
        for evaluated in situations.iter().filter_map(|w| w.worst.as_ref()) {
            let judged = &evaluated.judged;
            if judged.share <= 0.0 {
                continue;
            }
            for (at, driver) in judged.drivers.iter().enumerate() {
                let Some(trip) = &known.case.wiring.drivers[at].trip else { continue };
                let threshold_a = trip.threshold(&known.case.wiring.nominal());
                let carried_a = driver.figures[0].peak.max(driver.figures[1].peak);
                let sensed_a = driver.sensed.map_or(0.0, |s| s.peak);
                let blind = carried_a > threshold_a
                    && sensed_a < 0.5 * carried_a
                    && sensed_a < threshold_a
                    && driver.trips == Trips::No;
                if !blind {
                    continue;
                }
                let another_trips = judged.drivers.iter().any(|d| d.trips == Trips::Yes);
                let entry = seen.entry(known.around.names.drivers[at]).or_insert(Seen {
                    threshold_a,
                    carried_a,
                    sensed_a,
                    another_trips: true,
                    verdict: Verdict::Clear,
                    cuts: Vec::new(),
                });
                entry.another_trips &= another_trips;
                if !another_trips {
                    entry.verdict = entry.verdict.max(judged.verdict);
                }
                if !entry.cuts.contains(&cut) {
                    entry.cuts.push(cut);
                }
            }
        }
    }
    for (driver, seen) in seen {
        let (class, verdict) = if seen.another_trips {
            (Class::Note, Verdict::Caution)
        } else {
            (Class::Fault, seen.verdict.max(Verdict::Caution))
        };
        let blind = Blind::LooksElsewhere { carried_a: seen.carried_a, sensed_a: seen.sensed_a };
        found.push(finding(driver, seen.threshold_a, class, verdict, seen.cuts, blind));
    }
}

fn finding(
    driver: DriverId,
    threshold_a: f64,
    class: Class,
    verdict: Verdict,
    cuts: Vec<CutId>,
    blind: Blind,
) -> Finding {
    Finding {
        kind: Kind::TripNeverActs,
        class,
        verdict,
        cuts,
        blocks: Vec::new(),
        drivers: vec![driver],
        vehicle: None,
        evidence: Evidence::Blind { driver, threshold_a, blind },
    }
}
