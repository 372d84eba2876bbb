//! Results of solved cases, remembered by content between checks.

use std::collections::{BTreeMap, HashMap};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use super::coin::{CoinCase, CoinResult};
use super::cut::{Case, CutResult};

/// A shared cache of solved cases. Cheap to clone; clones share their content. It stays as large as the last layout.
#[derive(Clone, Default)]
pub struct Memo {
    cuts: Arc<Mutex<Memory<CutResult>>>,
    coins: Arc<Mutex<Memory<CoinResult>>>,
}

/// Results by the content of their cases.
type Memory<R> = HashMap<String, Arc<R>>;

impl Memo {
    /// Results of places, in the order of their cases. Each case comes with its content key.
    pub fn places(&self, cases: &[(&str, &Case)]) -> Vec<Arc<CutResult>> {
        let mut memory = self.cuts.lock().unwrap_or_else(PoisonError::into_inner);
        solved(&mut memory, cases, Case::solve)
    }

    /// Results of coins, in the order of their cases.
    pub fn coins(&self, cases: &[&CoinCase]) -> Vec<Arc<CoinResult>> {
        let keys: Vec<String> = cases.iter().map(|case| format!("{case:?}")).collect();
        let cases: Vec<(&str, &CoinCase)> =
            keys.iter().map(|key| &**key).zip(cases.iter().copied()).collect();
        let mut memory = self.coins.lock().unwrap_or_else(PoisonError::into_inner);
        solved(&mut memory, &cases, CoinCase::solve)
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
