//! From a layout to its findings: a pure function, one file per kind of finding.
//!
//! The way of the data: [`Plan`] → one [`cut::Case`] per cut → [`cut::CutResult`], remembered by content → findings.
//! Every judgement of currents is made in [`judge`]; the files of the findings only sort and name what was judged.

mod cause;
pub mod cut;
mod findings;
pub mod judge;
mod situation;
mod types;

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

pub use types::*;

use crate::layout::{CutId, Layout, Rails, VehicleId};
use crate::rails::Plan;
use cut::{CutResult, Evaluated, Worst};
use situation::Known;

/// Checks layouts. Remembers solved cases between calls, so that a re-check derives and solves only what an edit has
/// touched.
#[derive(Default)]
pub struct Checker {
    remembered: HashMap<String, Arc<CutResult>>,
}

/// A layout with all that was derived and solved: what the files of the findings look at.
pub struct Context<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// Its plan.
    pub plan: &'a Plan,
    known: BTreeMap<CutId, Known>,
}

impl Context<'_> {
    fn situation(&self, cut: CutId, evaluated: &Evaluated) -> Option<Situation> {
        let known = self.known.get(&cut)?;
        let length_mm = |vehicle: Option<VehicleId>| {
            vehicle
                .and_then(|id| self.layout.vehicles.get(&id))
                .map_or(STAND_IN_MM, |v| v.length_mm)
        };
        Some(situation::situation(self.plan, &known.case, &known.around, evaluated, &length_mm))
    }

    /// Name of a cut: the user's, or its identity.
    pub fn cut_name(&self, cut: CutId) -> String {
        match self.layout.cuts.get(&cut) {
            Some(c) if !c.name.is_empty() => c.name.clone(),
            _ => cut.to_string(),
        }
    }
}

/// Length over couplers of the vehicle that stands in where a layout has none, mm.
pub const STAND_IN_MM: f64 = 210.0;

impl Checker {
    /// Checks a layout.
    pub fn check(&mut self, layout: &Layout) -> Report {
        let plan = Plan::derive(layout);
        self.check_plan(layout, &plan)
    }

    /// Checks a layout whose plan is at hand.
    pub fn check_plan(&mut self, layout: &Layout, plan: &Plan) -> Report {
        let mut cases = Vec::with_capacity(layout.cuts.len());
        let mut used: HashMap<String, Arc<CutResult>> = HashMap::new();
        let mut missing: Vec<(String, usize)> = Vec::new();
        let mut wanted: HashSet<String> = HashSet::new();
        for cut in layout.cuts.values() {
            let Some((case, around)) = cut::case_of(layout, plan, cut) else { continue };
            let key = format!("{case:?}");
            match self.remembered.get(&key) {
                Some(result) => {
                    used.insert(key.clone(), Arc::clone(result));
                }
                None if wanted.insert(key.clone()) => {
                    missing.push((key.clone(), cases.len()));
                }
                None => {}
            }
            cases.push((cut.id, key, case, around));
        }
        let solved = solve_all(missing.iter().map(|&(_, at)| &cases[at].2).collect());
        used.extend(missing.into_iter().map(|(key, _)| key).zip(solved));
        let known = cases
            .into_iter()
            .filter_map(|(id, key, case, around)| {
                Some((id, Known { case, around, result: Arc::clone(used.get(&key)?) }))
            })
            .collect();
        // What this check did not need is forgotten: the memory stays as large as the layout.
        self.remembered = used;
        let context = Context { layout, plan, known };
        let mut findings = findings::all(&context);
        findings.sort_by(|a, b| {
            (b.class == Class::Fault, b.verdict, b.class)
                .cmp(&(a.class == Class::Fault, a.verdict, a.class))
                .then(a.kind.cmp(&b.kind))
                .then(a.cuts.cmp(&b.cuts))
                .then(a.blocks.cmp(&b.blocks))
                .then(a.drivers.cmp(&b.drivers))
        });
        Report {
            verdict: findings
                .iter()
                .filter(|f| f.class == Class::Fault)
                .map(|f| f.verdict)
                .max()
                .unwrap_or_default(),
            blocks: blocks(&context),
            cuts: context.known.keys().filter_map(|&id| cut_report(&context, id)).collect(),
            findings,
        }
    }
}

/// Solves cases, on as many cores as there are: they know nothing of each other.
fn solve_all(cases: Vec<&cut::Case>) -> Vec<Arc<CutResult>> {
    let results: Vec<OnceLock<Arc<CutResult>>> = cases.iter().map(|_| OnceLock::new()).collect();
    let next = AtomicUsize::new(0);
    let work = || {
        while let Some(at) =
            Some(next.fetch_add(1, Ordering::Relaxed)).filter(|&at| at < cases.len())
        {
            let _ = results[at].set(Arc::new(cases[at].solve()));
        }
    };
    let cores = std::thread::available_parallelism().map_or(1, usize::from).min(cases.len());
    std::thread::scope(|scope| {
        for _ in 1..cores {
            scope.spawn(work);
        }
        work();
    });
    results.into_iter().filter_map(OnceLock::into_inner).collect()
}

/// Checks a layout once.
pub fn check(layout: &Layout) -> Report {
    Checker::default().check(layout)
}

fn blocks(context: &Context) -> Vec<BlockReport> {
    context
        .plan
        .blocks
        .iter()
        .enumerate()
        .map(|(at, block)| BlockReport {
            id: block.id,
            name: context.plan.block_name(context.layout, at),
            drivers: block.drivers.clone(),
            length_mm: block.length_mm,
        })
        .collect()
}

fn cut_report(context: &Context, id: CutId) -> Option<CutReport> {
    let cut = context.layout.cuts.get(&id)?;
    let known = context.known.get(&id)?;
    let result = &known.result;
    let told = |worst: &Worst| worst.worst.as_ref().and_then(|e| context.situation(id, e));
    Some(CutReport {
        id,
        name: context.cut_name(id),
        blocks: [known.around.at.block_before, known.around.at.block_after]
            .map(|at| context.plan.blocks[at].id),
        rails: match cut.rails {
            Rails::Both => RailsWord::Both,
            Rails::Left => RailsWord::Left,
            Rails::Right => RailsWord::Right,
        },
        run: cut.run,
        at_mm: cut.at_mm,
        agree: told(&result.worst(Relation::Agree)),
        disagree: told(&result.worst(Relation::Disagree)),
        one_dead: told(&result.worst(Relation::OneDead)),
        now: told(&result.now)?,
        passes_now: situation::passes(&known.case, &known.around, &result.passes_now),
        passes_agree: situation::passes(&known.case, &known.around, &result.passes_agree),
        card: result
            .cells
            .iter()
            .filter_map(|cell| {
                Some(CardCell {
                    a: cell.a,
                    b: cell.b,
                    relation: cell.relation,
                    situation: told(&cell.worst)?,
                })
            })
            .collect(),
    })
}
