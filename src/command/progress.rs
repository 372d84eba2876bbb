//! Progress of a long check on a terminal.

use std::io::Write;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::thread;
use std::time::Duration;

use gapwright::findings::Progress;

/// Waits between the lines of progress of a check.
pub struct Waits {
    /// Before the first word.
    pub first: Duration,
    /// Between words.
    pub next: Duration,
}

/// A word after a second, then five a second.
pub const WAITS: Waits = Waits { first: Duration::from_secs(1), next: Duration::from_millis(200) };

/// Takes a line of progress off a terminal.
pub const CLEAR: &str = "\r\u{1b}[K";

/// Does some work, and says on `terminal` how far it is while it takes long. Nothing of that stays there.
pub fn shown_while<T>(
    progress: &Progress,
    waits: &Waits,
    mut terminal: impl Write + Send,
    work: impl FnOnce() -> T,
) -> T {
    let (working, over) = channel::<()>();
    thread::scope(|scope| {
        // Dropped at the end of the work, also if it panics.
        let working = working;
        scope.spawn(move || {
            let mut wait = waits.first;
            let mut said = false;
            while over.recv_timeout(wait) == Err(RecvTimeoutError::Timeout) {
                // A terminal that is gone is no reason to stop.
                let _ = write!(terminal, "{CLEAR}{}", words(progress));
                let _ = terminal.flush();
                (wait, said) = (waits.next, true);
            }
            if said {
                let _ = write!(terminal, "{CLEAR}");
                let _ = terminal.flush();
            }
        });
        let done = work();
        drop(working);
        done
    })
}

fn words(progress: &Progress) -> String {
    let (solved, known) = progress.counts();
    match known {
        0 => "Looking at the track. Ctrl+C stops.".to_owned(),
        _ => format!("{solved} of {known} cases are solved. Ctrl+C stops."),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use std::panic::{AssertUnwindSafe, catch_unwind};
    use std::sync::mpsc::{Receiver, Sender};

    const AT_ONCE: Waits = Waits { first: Duration::ZERO, next: Duration::ZERO };

    /// Passes on what is written.
    struct Passes(Sender<String>);

    impl Write for Passes {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            // Nobody listens at the end of a test.
            let _ = self.0.send(String::from_utf8(bytes.to_vec()).unwrap());
            Ok(bytes.len())
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    fn said(from: &Receiver<String>, word: &str) {
        while !from.recv().unwrap().contains(word) {}
    }

    #[test]
    fn long_work_says_how_far_it_is_and_takes_its_line_away() {
        let progress = Progress::default();
        let (send, receive) = channel();
        let done = shown_while(&progress, &AT_ONCE, Passes(send), || {
            said(&receive, "Looking at the track");
            progress.expects(3);
            progress.has_solved();
            said(&receive, "1 of 3 cases are solved");
            7
        });
        assert_eq!(done, 7);
        assert_eq!(receive.try_iter().last().as_deref(), Some(CLEAR));
    }

    #[test]
    fn short_work_says_nothing() {
        let waits = Waits { first: Duration::MAX, next: Duration::ZERO };
        let (send, receive) = channel();
        shown_while(&Progress::default(), &waits, Passes(send), || ());
        assert_eq!(receive.try_iter().count(), 0);
    }

    #[test]
    fn work_that_panics_ends_it_as_well() {
        let (send, receive) = channel();
        let work = || {
            said(&receive, "Looking at the track");
            std::panic::panic_any("over")
        };
        let caught = catch_unwind(AssertUnwindSafe(|| {
            shown_while::<()>(&Progress::default(), &AT_ONCE, Passes(send), work);
        }));
        assert!(caught.is_err());
        assert_eq!(receive.try_iter().last().as_deref(), Some(CLEAR));
    }
}
