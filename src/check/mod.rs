//! From a layout to its findings: a pure function, one file per kind of finding.
//!
//! The way of the data: [`Plan`] → one [`cut::Case`] per cut → [`cut::CutResult`], remembered by content → findings.
//! Every judgement of currents is made in [`judge`]; the files of the findings only sort and name what was judged.

mod cause;
pub mod coin;
pub mod cut;
mod findings;
mod gather;
pub mod judge;
mod loops;
mod places;
pub mod run;
mod situation;
mod types;

use std::collections::{BTreeMap, HashMap};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

pub use types::*;

use crate::layout::{CutId, Layout, Rails};
use crate::rails::{Lengths, Plan};
use coin::{CoinAt, CoinCase, CoinResult};
use cut::{CutResult, Evaluated, Worst};
use gather::{Straddle, gather};
use loops::Loops;
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
    /// Each cut under vehicles by themselves.
    known: BTreeMap<CutId, Known>,
    /// Each cut at which trains do more than their vehicles do by themselves.
    trains: BTreeMap<CutId, Known>,
    /// Boundaries of special work.
    straddles: Vec<Straddle>,
    /// Whether the selectors stand as they do now; otherwise only what such positions change is here.
    is_now: bool,
    /// How far it is along the metal from the feeders, and coins across the rails; only of now.
    lengths: Lengths,
    coins: Vec<Coin>,
    /// Where the track leads back onto itself the other way round.
    loops: Arc<Loops>,
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
    /// A plan of which nothing is known yet.
    fn bare<'a>(layout: &'a Layout, plan: &'a Plan, is_now: bool) -> Context<'a> {
        Context {
            layout,
            plan,
            known: BTreeMap::new(),
            trains: BTreeMap::new(),
            straddles: Vec::new(),
            is_now,
            lengths: Lengths::default(),
            coins: Vec::new(),
            loops: Arc::default(),
        }
    }

    /// Lays a coin across the rails at the far end of every block.
    fn lay_coins(&mut self, memory: &mut Memory<CoinResult>) {
        let (layout, plan) = (self.layout, self.plan);
        self.lengths = Lengths::of(layout, plan);
        let blocks = plan.blocks.iter().enumerate();
        let found: Vec<(CoinCase, CoinAt)> = blocks
            .flat_map(|(at, block)| block.drivers.iter().map(move |&driver| (at, driver)))
            .filter_map(|(at, driver)| coin::coin_of(layout, plan, &self.lengths, at, driver, None))
            .collect();
        let keys: Vec<String> = found.iter().map(|(case, _)| format!("{case:?}")).collect();
        let cases: Vec<(&str, &CoinCase)> =
            keys.iter().zip(&found).map(|(key, (case, _))| (&**key, case)).collect();
        let results = solved(memory, &cases, CoinCase::solve);
        let coins = found.into_iter().zip(results);
        self.coins = coins.map(|((case, at), result)| Coin { at, case, result }).collect();
    }

    fn situation(&self, known: &Known, evaluated: &Evaluated) -> Situation {
        Situation {
            selectors: known.selectors.clone(),
            ..situation::situation(self.plan, &known.case, &known.around, evaluated)
        }
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
        let plan = Arc::new(Plan::derive(layout));
        let mut gathered = gather(layout, &plan, &mut self.remembered);
        let held = std::mem::take(&mut gathered.held);
        let mut contexts = gathered.contexts(layout);
        let loops = Arc::new(Loops::derive(layout, &plan));
        for context in &mut contexts {
            context.loops = Arc::clone(&loops);
        }
        if let Some(context) = contexts.first_mut() {
            context.lay_coins(&mut self.remembered_coins);
        }
        let Some((context, others)) = contexts.split_first() else { return Report::default() };
        let mut findings = findings::all(context);
        for other in others {
            findings::add_positions(other, &mut findings);
        }
        findings::one_per_section(&mut findings);
        findings.sort_by(|a, b| {
            (b.class == Class::Fault, b.verdict, b.class)
                .cmp(&(a.class == Class::Fault, a.verdict, a.class))
                .then(a.kind.cmp(&b.kind))
                .then(a.cuts.cmp(&b.cuts))
                .then(a.blocks.cmp(&b.blocks))
                .then(a.drivers.cmp(&b.drivers))
                .then(a.selectors.cmp(&b.selectors))
        });
        Report {
            verdict: findings
                .iter()
                .filter(|f| f.class == Class::Fault)
                .map(|f| f.verdict)
                .max()
                .unwrap_or_default(),
            blocks: blocks(context),
            cuts: context
                .known
                .keys()
                .filter_map(|&id| cut_report(&contexts, id, held.get(&id)))
                .collect(),
            findings,
        }
    }
}

/// Results of cases, each with its content as a key, in their order: remembered ones, and the others solved. What is not
/// needed is forgotten: the memory stays as large as the layout.
fn solved<C: Sync, R: Send + Sync>(
    memory: &mut Memory<R>,
    cases: &[(&str, &C)],
    solve: fn(&C) -> R,
) -> Vec<Arc<R>> {
    let mut used: Memory<R> = HashMap::new();
    let mut missing: BTreeMap<&str, usize> = BTreeMap::new();
    for (at, &(key, _)) in cases.iter().enumerate() {
        match memory.get(key) {
            Some(result) => drop(used.insert(key.to_owned(), Arc::clone(result))),
            None => drop(missing.entry(key).or_insert(at)),
        }
    }
    let new = solve_all(&missing.values().map(|&at| cases[at].1).collect::<Vec<_>>(), solve);
    used.extend(missing.into_keys().map(str::to_owned).zip(new));
    let results = cases.iter().filter_map(|(key, _)| used.get(*key).map(Arc::clone)).collect();
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

/// `contexts` are those of every set of positions, that of now first.
fn cut_report(
    contexts: &[Context],
    id: CutId,
    held: Option<&Vec<SelectorId>>,
) -> Option<CutReport> {
    let context = contexts.first()?;
    let cut = context.layout.cuts.get(&id)?;
    let known = context.known.get(&id)?;
    let result = &known.result;
    let trains = context.trains.get(&id);
    // The worst of what vehicles and what trains do.
    let worst = |of: &dyn Fn(&CutResult) -> Worst, contexts: &[Context]| {
        let mut worst: Option<(&Context, &Known, Evaluated)> = None;
        for context in contexts {
            for known in [context.known.get(&id), context.trains.get(&id)].into_iter().flatten() {
                let Some(new) = of(&known.result).worst else { continue };
                if worst.as_ref().is_none_or(|(_, _, old)| cut::is_worse(&new, old)) {
                    worst = Some((context, known, new));
                }
            }
        }
        worst.map(|(context, known, evaluated)| context.situation(known, &evaluated))
    };
    let told = |of: &dyn Fn(&CutResult) -> Worst| worst(of, &contexts[..1]);
    let in_any = |of: &dyn Fn(&CutResult) -> Worst| worst(of, contexts);
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
        agree: in_any(&|r| r.worst(Relation::Agree)),
        disagree: in_any(&|r| r.worst(Relation::Disagree)),
        one_dead: in_any(&|r| r.worst(Relation::OneDead)),
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
        held_selectors: held.cloned().unwrap_or_default(),
    })
}
