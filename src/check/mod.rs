//! From a layout to its findings: a pure function, one file per kind of finding.
//!
//! The way of the data: [`Plan`] → one [`cut::Case`] per cut → [`cut::CutResult`], remembered by content → findings.
//! Every judgement of currents is made in [`judge`]; the files of the findings only sort and name what was judged.

mod cause;
pub mod cut;
mod findings;
pub mod judge;
mod loops;
pub mod run;
mod situation;
mod types;

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

pub use types::*;

use crate::layout::{CutId, Layout, Rails};
use crate::rails::Plan;
use cut::{CutResult, Evaluated, Worst};
use loops::Loops;
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
    /// Each cut under vehicles by themselves.
    known: BTreeMap<CutId, Known>,
    /// Each cut at which trains do more than their vehicles do by themselves.
    trains: BTreeMap<CutId, Known>,
    /// Where the track leads back onto itself the other way round.
    loops: Loops,
}

impl Context<'_> {
    fn situation(&self, known: &Known, evaluated: &Evaluated) -> Situation {
        situation::situation(self.plan, &known.case, &known.around, evaluated)
    }

    /// Every cut with what is known of it: under vehicles, then under trains.
    fn all_known(&self) -> impl Iterator<Item = (CutId, &Known)> {
        self.known.iter().chain(&self.trains).map(|(&cut, known)| (cut, known))
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
            let trains = if layout.trains.is_empty() {
                None
            } else {
                cut::case_of_trains(layout, plan, cut)
            };
            let vehicles = cut::case_of(layout, plan, cut).map(|case| (false, case));
            for (train, (case, around)) in vehicles.into_iter().chain(trains.map(|c| (true, c))) {
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
                cases.push((cut.id, key, train, case, around));
            }
        }
        let solved = solve_all(missing.iter().map(|&(_, at)| &cases[at].3).collect());
        used.extend(missing.into_iter().map(|(key, _)| key).zip(solved));
        let mut known = [BTreeMap::new(), BTreeMap::new()];
        for (id, key, train, case, around) in cases {
            if let Some(result) = used.get(&key) {
                let result = Arc::clone(result);
                known[usize::from(train)].insert(id, Known { case, around, result });
            }
        }
        let [known, trains] = known;
        // What this check did not need is forgotten: the memory stays as large as the layout.
        self.remembered = used;
        let loops = Loops::derive(layout, plan);
        let context = Context { layout, plan, known, trains, loops };
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
    let trains = context.trains.get(&id);
    // The worse of what vehicles and what trains do.
    let told = |of: &dyn Fn(&CutResult) -> Worst| {
        let alone = of(result).worst;
        let coupled = trains.and_then(|known| Some((known, of(&known.result).worst?)));
        match (alone, coupled) {
            (Some(alone), Some((_, coupled))) if !cut::is_worse(&coupled, &alone) => {
                Some(context.situation(known, &alone))
            }
            (_, Some((trains, coupled))) => Some(context.situation(trains, &coupled)),
            (alone, None) => alone.map(|alone| context.situation(known, &alone)),
        }
    };
    let passes = |of: &dyn Fn(&CutResult) -> &Vec<cut::Pass>| {
        let both = std::iter::once(known).chain(trains);
        both.flat_map(|k| situation::passes(&k.case, &k.around, of(&k.result))).collect()
    };
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
        agree: told(&|r| r.worst(Relation::Agree)),
        disagree: told(&|r| r.worst(Relation::Disagree)),
        one_dead: told(&|r| r.worst(Relation::OneDead)),
        now: told(&|r| r.now.clone())?,
        passes_now: passes(&|r| &r.passes_now),
        passes_agree: passes(&|r| &r.passes_agree),
        card: result
            .cells
            .iter()
            .filter_map(|cell| {
                Some(CardCell {
                    a: cell.a,
                    b: cell.b,
                    relation: cell.relation,
                    situation: told(&|r| {
                        let same = |c: &&cut::Cell| (c.a, c.b) == (cell.a, cell.b);
                        r.cells.iter().find(same).map(|c| c.worst.clone()).unwrap_or_default()
                    })?,
                })
            })
            .collect(),
        ways_left_out: trains.map_or(0, |trains| trains.around.left_out),
    })
}
