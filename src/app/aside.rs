//! Work beside the window: one piece on a thread of its own, with how far it is, a wish to stop it, and its answer.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering::Relaxed};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::sync::{Arc, Mutex};

use eframe::egui::Context;

use super::checking::panic_words;

/// Progress of a piece of work, and the wish to stop it.
#[derive(Debug, Default)]
pub struct Steps {
    done: AtomicUsize,
    of: AtomicUsize,
    next: Mutex<String>,
    stopped: AtomicBool,
}

impl Steps {
    /// Says what comes next, after so many steps of so many. False if the work is to stop.
    pub fn next(&self, done: usize, of: usize, what: &str) -> bool {
        self.done.store(done, Relaxed);
        self.of.store(of, Relaxed);
        if let Ok(mut next) = self.next.lock() {
            what.clone_into(&mut next);
        }
        !self.stopped.load(Relaxed)
    }

    /// Wishes the work to stop before its next step.
    pub fn stop(&self) {
        self.stopped.store(true, Relaxed);
    }

    /// True once the work is to stop.
    pub fn is_stopped(&self) -> bool {
        self.stopped.load(Relaxed)
    }

    /// Progress in words; empty before the first step.
    pub fn words(&self) -> String {
        let what = self.next.lock().map(|next| next.clone()).unwrap_or_default();
        match self.of.load(Relaxed) {
            0 => String::new(),
            of => format!("{what}, {} of {of}", (self.done.load(Relaxed) + 1).min(of)),
        }
    }
}

/// Work beside the window, until its answer is taken.
#[derive(Debug)]
pub struct Aside<T> {
    answer: Receiver<Result<T, String>>,
    steps: Arc<Steps>,
}

impl<T: Send + 'static> Aside<T> {
    /// Begins a piece of work: on a thread of its own, which wakes the window at the end, or before this returns if it is to
    /// be done `here`, as in tests.
    pub fn begin(
        (name, here): (&str, bool),
        ctx: &Context,
        work: impl FnOnce(&Steps) -> T + Send + 'static,
    ) -> Aside<T> {
        let (send, answer) = channel();
        let steps = Arc::new(Steps::default());
        let (own, ctx, out) = (Arc::clone(&steps), ctx.clone(), send.clone());
        let work = move || {
            let done = catch_unwind(AssertUnwindSafe(|| work(&own)));
            let done = done.map_err(|panic| {
                format!("it broke down: {}. Save the layout and report it", panic_words(&*panic))
            });
            // Nobody waits for it any more if it cannot be sent.
            let _ = out.send(done);
            ctx.request_repaint();
        };
        if here {
            work();
        } else if std::thread::Builder::new().name(name.to_owned()).spawn(work).is_err() {
            let why = "the system gives the program no thread. Try again".to_owned();
            let _ = send.send(Err(why));
        }
        Aside { answer, steps }
    }

    /// The answer or the reason of a failure, once; `None` while the work goes on.
    pub fn answer(&self) -> Option<Result<T, String>> {
        match self.answer.try_recv() {
            Ok(answer) => Some(answer),
            Err(TryRecvError::Empty) => None,
            Err(TryRecvError::Disconnected) => Some(Err("it ended without an answer".to_owned())),
        }
    }

    /// Progress of the work.
    pub fn steps(&self) -> &Steps {
        &self.steps
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn waited<T: Send + 'static>(work: &Aside<T>) -> Result<T, String> {
        loop {
            match work.answer() {
                Some(answer) => return answer,
                None => std::thread::yield_now(),
            }
        }
    }

    #[test]
    fn work_answers_stops_and_says_why_it_broke_down() {
        let ctx = Context::default();
        for here in [true, false] {
            let work = Aside::begin(("sum", here), &ctx, |steps| {
                assert!(steps.next(0, 2, "Adding"));
                2 + 2
            });
            assert_eq!(waited(&work), Ok(4));
            assert_eq!(work.steps().words(), "Adding, 1 of 2");
            let work: Aside<()> = Aside::begin(("fault", here), &ctx, |_| panic!("no {}", "sum"));
            assert!(waited(&work).is_err_and(|why| why.contains("broke down: no sum")));
        }
        let work = Aside::begin(("endless", false), &ctx, |steps| {
            while steps.next(0, 1, "Waiting") {
                std::thread::yield_now();
            }
            steps.is_stopped()
        });
        work.steps().stop();
        assert_eq!(waited(&work), Ok(true));
    }
}
