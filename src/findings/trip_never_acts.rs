//! `trip-never-acts`: a trip that does not see the fault that it is there for, because it looks where the current does not
//! pass.

use std::collections::BTreeMap;

use super::{Blind, Class, Evidence, Finding, Kind, Relation, Trips, Verdict, View};
use crate::layout::{CutId, DriverId};
use crate::study::cut::Worst;

struct Seen {
    threshold_a: f64,
    carried_a: f64,
    sensed_a: f64,
    another_trips: bool,
    verdict: Verdict,
    cuts: Vec<CutId>,
}

pub fn find(view: &View, found: &mut Vec<Finding>) {
    let mut seen: BTreeMap<DriverId, Seen> = BTreeMap::new();
    for (&cut, known) in &view.known {
        let result = &known.result;
        let situations: [Worst; 3] =
            [result.worst(Relation::Agree), result.worst(Relation::Disagree), result.now.clone()];
        for evaluated in situations.iter().filter_map(|w| w.worst.as_ref()) {
            let judged = &evaluated.judged;
            if judged.share <= 0.0 {
                continue;
            }
            for (at, driver) in judged.drivers.pairs() {
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
        found.push(Finding {
            cuts: seen.cuts,
            drivers: vec![driver],
            ..Finding::bare(
                Kind::TripNeverActs,
                class,
                verdict,
                Evidence::Blind { driver, threshold_a: seen.threshold_a, blind },
            )
        });
    }
}
