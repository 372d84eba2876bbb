//! How far the solving of a study is, and the wish to stop it.

use std::panic::resume_unwind;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering::Relaxed};

/// Counts of cases that a study has to solve. Whoever waits for the study may read them, and stop it, from another thread.
///
/// Studies that share a memo share their progress. Each piece of work has a number, so that a wish to stop one never stops
/// the next.
#[derive(Debug, Default)]
pub struct Progress {
    solved: AtomicUsize,
    known: AtomicUsize,
    job: AtomicU64,
    stopped: AtomicU64,
}

/// What a stopped study unwinds with: no panic, so no panic hook hears of it. What was solved stays remembered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stopped;

impl Progress {
    /// Begins a piece of work with a number greater than those before it.
    pub fn begin(&self, job: u64) {
        self.job.store(job, Relaxed);
        self.solved.store(0, Relaxed);
        self.known.store(0, Relaxed);
    }

    /// Wishes all work up to this number to stop.
    pub fn stop(&self, job: u64) {
        self.stopped.fetch_max(job, Relaxed);
    }

    /// Unwinds with [`Stopped`] if the work is to stop. No lock may be held.
    pub(super) fn go_on(&self) {
        if self.stopped.load(Relaxed) >= self.job.load(Relaxed).max(1) {
            resume_unwind(Box::new(Stopped));
        }
    }

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

#[cfg(test)]
mod tests {
    use super::*;
    use std::panic::{AssertUnwindSafe, catch_unwind};

    #[test]
    fn work_is_stopped_by_its_number() {
        let progress = Progress::default();
        let goes_on = || {
            let tried = catch_unwind(AssertUnwindSafe(|| progress.go_on()));
            tried.map_err(|why| assert_eq!(why.downcast_ref(), Some(&Stopped))).is_ok()
        };
        assert!(goes_on());
        progress.begin(4);
        progress.stop(3);
        assert!(goes_on(), "an earlier one was to stop");
        progress.stop(4);
        assert!(!goes_on());
        progress.begin(5);
        assert!(goes_on());
    }
}
