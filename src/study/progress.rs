//! How far a study is.

use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

/// Counts of cases that a study has to solve. Whoever waits for the study may read them from another thread.
#[derive(Debug, Default)]
pub struct Progress {
    solved: AtomicUsize,
    known: AtomicUsize,
}

impl Progress {
    /// So many more cases are to be solved.
    pub fn expects(&self, cases: usize) {
        self.known.fetch_add(cases, Relaxed);
    }

    /// One more case is solved.
    pub fn has_solved(&self) {
        self.solved.fetch_add(1, Relaxed);
    }

    /// How many cases are solved, and how many are known so far.
    pub fn counts(&self) -> (usize, usize) {
        (self.solved.load(Relaxed), self.known.load(Relaxed))
    }
}
