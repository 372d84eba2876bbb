//! What each cut of a layout is there for: what breaks without it.

use std::collections::BTreeSet;

use super::holds;
use super::wish::{Hand, Wishes};
use crate::cure::applied;
use crate::findings::{Class, FindingId, Memo, Study, report_of, words};
use crate::job::Job;
use crate::layout::{CutId, Layout, Rail, shown};
use crate::rails::Plan;
use crate::report::Units;

/// A cut, and what breaks without it.
#[derive(Debug, Clone, PartialEq)]
pub struct Audited {
    /// The cut.
    pub cut: CutId,
    /// Its name, or its identity.
    pub name: String,
    /// What breaks without it, in words: wishes first, then faults of the check. Empty if nothing needs it.
    pub breaks: Vec<String>,
}

/// Asks of each cut what breaks without it, on a copy: a wish, or the check. What is wrong with it too is not counted.
pub fn audit(layout: &Layout, wishes: &Wishes, memo: &Memo) -> Vec<Audited> {
    let study = Study::of(layout, memo);
    let faults = |study: &Study| {
        let report = report_of(study);
        let faults = report.findings.iter().filter(|f| f.class == Class::Fault);
        let said: Vec<(FindingId, String)> = faults
            .map(|f| (f.id(), words(f, &report, study.layout(), Units::Metric).says))
            .collect();
        said
    };
    let before: BTreeSet<FindingId> = faults(&study).into_iter().map(|(id, _)| id).collect();
    let joined = joined(layout, wishes);
    let live = holds::live(layout, wishes);
    let cuts = layout.cuts.values().map(|cut| {
        let name = if cut.name.is_empty() { cut.id.to_string() } else { cut.name.clone() };
        let mut breaks = Vec::new();
        if let Ok(edited) = applied(layout, &[Job::BridgeCut(cut.id)]) {
            for [a, b] in self::joined(&edited, wishes).difference(&joined) {
                let [a, b] = [a, b].map(|n| shown(&wishes.apart[*n].name).into_owned());
                breaks.push(format!("{a} and {b} are joined"));
            }
            for n in holds::live(&edited, wishes).into_iter().filter(|n| !live.contains(n)) {
                let held = holds::hold_words(&wishes.hold[n]);
                breaks.push(format!("{held} cannot be switched off"));
            }
            let after = faults(&study.revised(edited));
            breaks.extend(
                after.into_iter().filter(|(id, _)| !before.contains(id)).map(|(_, says)| says),
            );
        }
        Audited { cut: cut.id, name, breaks }
    });
    cuts.collect()
}

/// Pairs of stretches that have metal in common, other than the rail that stays common.
fn joined(layout: &Layout, wishes: &Wishes) -> BTreeSet<[usize; 2]> {
    let plan = Plan::derive(layout);
    let nets = |n: usize| -> BTreeSet<usize> {
        let places = wishes.apart[n].at.iter().flat_map(|at| Rail::BOTH.map(|rail| (at, rail)));
        let nets = places.filter_map(|(at, rail)| {
            let own = plan
                .pieces
                .iter()
                .position(|p| p.run == at.run && p.from_mm <= at.at_mm && at.at_mm <= p.to_mm)?;
            let hand = if plan.direction(own) > 0 { rail } else { rail.other() };
            let common = wishes.rails == Hand::Common(hand);
            plan.metal.net_at(at.run, rail, at.at_mm).filter(|_| !common)
        });
        nets.collect()
    };
    let all: Vec<BTreeSet<usize>> = (0..wishes.apart.len()).map(nets).collect();
    let pairs = (0..all.len()).flat_map(|a| (a + 1..all.len()).map(move |b| [a, b]));
    pairs.filter(|[a, b]| !all[*a].is_disjoint(&all[*b])).collect()
}
