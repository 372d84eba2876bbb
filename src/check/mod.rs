//! From a layout to its findings: a pure function, one file per kind of finding.
//!
//! The way of the data: [`Plan`] → one [`cut::Case`] per cut → [`cut::CutResult`], remembered by content → findings.
//! Every judgement of currents is made in [`judge`]; the files of the findings only sort and name what was judged.

mod cause;
pub mod coin;
pub mod cut;
mod findings;
pub mod judge;
mod situation;
mod types;

use std::collections::{BTreeMap, HashMap};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

pub use types::*;

use crate::layout::{CutId, Layout, Rails, VehicleId};
use crate::rails::{Lengths, Plan};
use coin::{CoinAt, CoinCase, CoinResult};
use cut::{CutResult, Evaluated, Worst};
use situation::Known;

/// Checks layouts. Remembers solved cases between calls, so that a re-check derives and solves only what an edit has
/// touched.
#[derive(Default)]
pub struct Checker {
    remembered: Memory<CutResult>,
    remembered_coins: Memory<CoinResult>,
}

/// A layout with all that was derived and solved: what the files of the findings look at.
pub struct Context<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// Its plan.
    pub plan: &'a Plan,
    known: BTreeMap<CutId, Known>,
    lengths: Lengths,
    coins: Vec<Coin>,
}

/// Results by the content of their cases.
type Memory<R> = HashMap<String, Arc<R>>;

/// A coin across the rails at the far end of a block.
pub struct Coin {
    /// Where it lies.
    pub at: CoinAt,
    /// Its numbers.
    pub case: CoinCase,
    /// What flows.
    pub result: Arc<CoinResult>,
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
        let found: Vec<_> = layout
            .cuts
            .values()
            .filter_map(|cut| Some((cut.id, cut::case_of(layout, plan, cut)?)))
            .collect();
        let cases: Vec<&cut::Case> = found.iter().map(|(_, (case, _))| case).collect();
        let results = solved(&mut self.remembered, &cases, cut::Case::solve);
        let known = found
            .into_iter()
            .zip(results)
            .map(|((id, (case, around)), result)| (id, Known { case, around, result }))
            .collect();
        let lengths = Lengths::of(layout, plan);
        let found: Vec<(CoinCase, CoinAt)> = plan
            .blocks
            .iter()
            .enumerate()
            .flat_map(|(at, block)| block.drivers.iter().map(move |&driver| (at, driver)))
            .filter_map(|(at, driver)| coin::coin_of(layout, plan, &lengths, at, driver, None))
            .collect();
        let cases: Vec<&CoinCase> = found.iter().map(|(case, _)| case).collect();
        let results = solved(&mut self.remembered_coins, &cases, CoinCase::solve);
        let coins = found
            .into_iter()
            .zip(results)
            .map(|((case, at), result)| Coin { at, case, result })
            .collect();
        let context = Context { layout, plan, known, lengths, coins };
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

/// Results of cases, in their order: remembered ones, and the others solved. What is not needed is forgotten: the memory
/// stays as large as the layout.
fn solved<C: Sync + std::fmt::Debug, R: Send + Sync>(
    memory: &mut Memory<R>,
    cases: &[&C],
    solve: fn(&C) -> R,
) -> Vec<Arc<R>> {
    let keys: Vec<String> = cases.iter().map(|case| format!("{case:?}")).collect();
    let mut used: Memory<R> = HashMap::new();
    let mut missing: BTreeMap<&str, usize> = BTreeMap::new();
    for (at, key) in keys.iter().enumerate() {
        match memory.get(key) {
            Some(result) => drop(used.insert(key.clone(), Arc::clone(result))),
            None => drop(missing.entry(key).or_insert(at)),
        }
    }
    let new = solve_all(&missing.values().map(|&at| cases[at]).collect::<Vec<_>>(), solve);
    used.extend(missing.into_keys().map(str::to_owned).zip(new));
    let results = keys.iter().filter_map(|key| used.get(key).map(Arc::clone)).collect();
    *memory = used;
    results
}

/// Solves cases, on as many cores as there are: they know nothing of each other.
fn solve_all<C: Sync, R: Send + Sync>(cases: &[&C], solve: fn(&C) -> R) -> Vec<Arc<R>> {
    let results: Vec<OnceLock<Arc<R>>> = cases.iter().map(|_| OnceLock::new()).collect();
    let next = AtomicUsize::new(0);
    let work = || {
        while let Some(at) =
            Some(next.fetch_add(1, Ordering::Relaxed)).filter(|&at| at < cases.len())
        {
            let _ = results[at].set(Arc::new(solve(cases[at])));
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
