//! Results of solved cases, remembered by content and shared between studies and threads.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use rayon::prelude::*;

use super::coin::{CoinCase, CoinResult};
use super::cut::{Case, CutResult};
use super::key::Key;
use super::progress::Progress;

/// A shared cache of solved cases. Cheap to clone; clones share their content, also between threads.
///
/// It keeps at most [`Memo::MOST_RESULTS`] results of each kind, or twice as many as were asked for at once, and drops the
/// least recently used ones.
#[derive(Clone, Default)]
pub struct Memo {
    places: Arc<Store<Case, CutResult>>,
    coins: Arc<Store<CoinCase, CoinResult>>,
}

impl Memo {
    /// The largest number of results of one kind, unless a layout has more places than half of it.
    pub const MOST_RESULTS: usize = 1 << 11;

    /// A memory of its own, whose solving is counted.
    pub fn watched(progress: &Arc<Progress>) -> Memo {
        let (places, coins) = (Store::default(), Store::default());
        Memo {
            places: Arc::new(Store { progress: Arc::clone(progress), ..places }),
            coins: Arc::new(Store { progress: Arc::clone(progress), ..coins }),
        }
    }

    /// The result of a place.
    pub fn place(&self, case: &Case) -> Arc<CutResult> {
        self.places.solved(&case.key(), case, Case::solve)
    }

    /// Results of places, in the order of their cases. Solves what is not remembered, on all cores.
    pub fn places(&self, cases: &[(&Key<Case>, &Case)]) -> Vec<Arc<CutResult>> {
        self.places.all_solved(cases, Case::solve)
    }

    /// The result of a coin.
    pub fn coin(&self, case: &CoinCase) -> Arc<CoinResult> {
        self.coins.solved(&case.key(), case, CoinCase::solve)
    }

    /// Results of coins, in the order of their cases. Solves what is not remembered, on all cores.
    pub fn coins(&self, cases: &[&CoinCase]) -> Vec<Arc<CoinResult>> {
        let keys: Vec<Key<CoinCase>> = cases.par_iter().map(|case| case.key()).collect();
        let cases: Vec<(&Key<CoinCase>, &CoinCase)> =
            keys.iter().zip(cases.iter().copied()).collect();
        self.coins.all_solved(&cases, CoinCase::solve)
    }
}

/// Remembered results of one kind, least recently used first out.
struct Store<C, R> {
    kept: Mutex<Kept<C, R>>,
    progress: Arc<Progress>,
}

struct Kept<C, R> {
    /// Each with the number of its last use.
    results: HashMap<Key<C>, (Arc<R>, u64)>,
    /// Number of uses so far.
    uses: u64,
    /// The largest number of results.
    most: usize,
}

impl<C, R> Default for Store<C, R> {
    fn default() -> Self {
        Store::holding(Memo::MOST_RESULTS)
    }
}

impl<C, R> Store<C, R> {
    fn holding(most: usize) -> Self {
        let kept = Mutex::new(Kept { results: HashMap::new(), uses: 0, most });
        Store { kept, progress: Arc::default() }
    }

    /// What is kept. A thread that panicked while it held the lock left nothing half done.
    fn kept(&self) -> MutexGuard<'_, Kept<C, R>> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl<C: Sync, R: Send + Sync> Store<C, R> {
    fn solved(&self, key: &Key<C>, case: &C, solve: fn(&C) -> R) -> Arc<R> {
        let known = self.kept().get(key);
        known.unwrap_or_else(|| {
            // Not locked meanwhile. Who solves the same case at the same time gets the same result.
            let result = Arc::new(solve(case));
            self.kept().put(key, &result);
            result
        })
    }

    fn all_solved(&self, cases: &[(&Key<C>, &C)], solve: fn(&C) -> R) -> Vec<Arc<R>> {
        // Each case that is not remembered is solved once, however often it is asked for.
        let mut first: HashMap<&Key<C>, usize> = HashMap::with_capacity(cases.len());
        let mut missing: Vec<(&Key<C>, &C)> = Vec::new();
        let mut known: Vec<Result<Arc<R>, usize>> = Vec::with_capacity(cases.len());
        let mut kept = self.kept();
        kept.most = kept.most.max(2 * cases.len());
        for &(key, case) in cases {
            known.push(kept.get(key).ok_or_else(|| {
                *first.entry(key).or_insert_with(|| {
                    missing.push((key, case));
                    missing.len() - 1
                })
            }));
        }
        drop(kept);
        self.progress.expects(missing.len());
        let solve = |(key, case): &(&Key<C>, &C)| {
            self.progress.go_on();
            let result = Arc::new(solve(case));
            // At once, so that a check that is stopped begins again where it was.
            self.kept().put(key, &result);
            self.progress.has_solved();
            result
        };
        let new: Vec<Arc<R>> = missing.par_iter().map(solve).collect();
        known.into_iter().map(|known| known.unwrap_or_else(|at| Arc::clone(&new[at]))).collect()
    }
}

impl<C, R> Kept<C, R> {
    fn get(&mut self, key: &Key<C>) -> Option<Arc<R>> {
        let (result, used) = self.results.get_mut(key)?;
        self.uses += 1;
        *used = self.uses;
        Some(Arc::clone(result))
    }

    fn put(&mut self, key: &Key<C>, result: &Arc<R>) {
        if self.results.len() >= self.most {
            // A quarter at once, so that the search for the least recently used is rare.
            let mut uses: Vec<u64> = self.results.values().map(|(_, used)| *used).collect();
            let quarter = uses.len() / 4;
            let (_, &mut limit, _) = uses.select_nth_unstable(quarter);
            self.results.retain(|_, (_, used)| *used > limit);
        }
        self.uses += 1;
        self.results.insert(key.clone(), (Arc::clone(result), self.uses));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};

    /// Asks for squares; returns them and how many had to be computed.
    fn squares(store: &Store<u32, u32>, of: &[u32]) -> (Vec<u32>, usize) {
        static SOLVED: AtomicUsize = AtomicUsize::new(0);
        static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());
        let _alone = ONE_AT_A_TIME.lock().unwrap_or_else(PoisonError::into_inner);
        SOLVED.store(0, Ordering::SeqCst);
        let keys: Vec<Key<u32>> = of.iter().map(Key::of).collect();
        let cases: Vec<(&Key<u32>, &u32)> = keys.iter().zip(of).collect();
        let results = store.all_solved(&cases, |number| {
            SOLVED.fetch_add(1, Ordering::SeqCst);
            number * number
        });
        (results.iter().map(|result| **result).collect(), SOLVED.load(Ordering::SeqCst))
    }

    #[test]
    fn a_case_is_solved_once_and_results_come_in_order() {
        let store = Store::holding(100);
        assert_eq!(squares(&store, &[3, 1, 3, 2]), (vec![9, 1, 9, 4], 3));
        assert_eq!(squares(&store, &[2, 4, 3]), (vec![4, 16, 9], 1));
        assert_eq!(squares(&store, &[]), (vec![], 0));
    }

    #[test]
    fn the_least_recently_used_results_are_dropped() {
        let store = Store::holding(8);
        // One by one: a store holds twice as many as are asked for at once.
        for number in [0, 1, 2, 3, 4, 5, 6, 7, 0, 1] {
            squares(&store, &[number]);
        }
        squares(&store, &[8]);
        assert_eq!(squares(&store, &[0, 1, 6, 7, 8]).1, 0);
        assert_eq!(squares(&store, &[2]).1, 1);
        for from in 0..100 {
            squares(&store, &[from * 4, from * 4 + 1, from * 4 + 2, from * 4 + 3]);
        }
        assert!(store.kept().results.len() <= 10);
    }

    #[test]
    fn a_large_layout_fits_twice() {
        let store = Store::holding(8);
        let many: Vec<u32> = (0..1000).collect();
        assert_eq!(squares(&store, &many).0[999], 999 * 999);
        let others: Vec<u32> = (1000..2000).collect();
        squares(&store, &others);
        assert_eq!(squares(&store, &many).1, 0);
        assert_eq!(store.kept().results.len(), 2000);
    }

    #[test]
    fn clones_in_other_threads_share_what_is_known() {
        let store = Arc::new(Store::holding(100));
        let solve = |number: &u32| number + 1;
        std::thread::scope(|scope| {
            for _ in 0..4 {
                let store = Arc::clone(&store);
                scope.spawn(move || {
                    for number in 0..50_u32 {
                        assert_eq!(*store.solved(&Key::of(&number), &number, solve), number + 1);
                    }
                });
            }
        });
        assert_eq!(squares(&store, &[7, 8]), (vec![8, 9], 0));
    }
}
