//! The check that runs on every change, without holding up the window.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

use eframe::egui::Context;

use crate::findings::{Checker, Progress, Report, Stopped, Text, words};
use crate::layout::{Layout, shown};
use crate::report::{Tally, Units};

/// A quick check is waited for this long, so that what one sees is never a frame old.
const PATIENCE: Duration = Duration::from_millis(24);

/// A report with its words.
#[derive(Debug, Default)]
pub struct Checked {
    /// Revision of the document that it is about.
    pub revision: u64,
    /// What the check found.
    pub report: Report,
    /// The words of each finding, in the same order.
    pub words: Vec<Text>,
    /// What stands against each cut, and how many of what.
    pub tally: Tally,
    /// Why there is no report, if the check broke down.
    pub broke: Option<String>,
}

/// Revision of the document, and the units of the words.
type About = (u64, Units);

/// Checks a layout. `None` if the check was stopped; what it solved stays remembered.
fn run(checker: &mut Checker, (revision, units): About, layout: &Layout) -> Option<Checked> {
    let checked = catch_unwind(AssertUnwindSafe(|| {
        let mut report = checker.check(layout);
        let words = report.findings.iter().map(|f| shown_words(words(f, &report, layout, units)));
        let words = words.collect();
        // On the screen names are shown, and nowhere looked up.
        report.blocks.iter_mut().for_each(|block| block.name = shown(&block.name).into_owned());
        report.cuts.iter_mut().for_each(|cut| cut.name = shown(&cut.name).into_owned());
        let tally = Tally::of(&report);
        Checked { revision, report, words, tally, broke: None }
    }));
    match checked {
        Ok(checked) => Some(checked),
        Err(why) if why.is::<Stopped>() => None,
        Err(panic) => {
            *checker = Checker::default();
            let broke = Some(panic_words(&*panic));
            Some(Checked { revision, broke, ..Checked::default() })
        }
    }
}

/// The message of a panic as it is shown.
pub fn panic_words(panic: &(dyn Any + Send)) -> String {
    let why = panic
        .downcast_ref::<String>()
        .map(String::as_str)
        .or_else(|| panic.downcast_ref::<&str>().copied())
        .unwrap_or("no reason given");
    shown(why).into_owned()
}

/// The words of a finding as they are shown: names in them hold whatever someone has written.
fn shown_words(words: Text) -> Text {
    let escaped = |text: String| shown(&text).into_owned();
    Text {
        says: escaped(words.says),
        why: escaped(words.why),
        more: escaped(words.more),
        advice: words.advice.into_iter().map(escaped).collect(),
        cautions: words.cautions,
    }
}

enum Where {
    /// In the caller, before the frame goes on: for tests.
    Here(Checker),
    /// On a thread of its own.
    There(There),
}

/// A thread that checks.
struct There {
    jobs: Sender<(u64, About, Layout)>,
    answers: Receiver<(u64, Option<Checked>)>,
    progress: Arc<Progress>,
    /// Number of the last job that was sent.
    job: u64,
    /// Answers to jobs up to this number come too late: they were stopped.
    ignored: u64,
    /// When it was sent, and what it is about, until it is answered or stopped.
    waiting: Option<(Instant, About)>,
}

impl There {
    fn begin(ctx: Context) -> Option<Self> {
        let (jobs, inbox) = channel::<(u64, About, Layout)>();
        let (outbox, answers) = channel();
        let progress = Arc::new(Progress::default());
        let watched = Arc::clone(&progress);
        let spawned = std::thread::Builder::new().name("check".into()).spawn(move || {
            let mut checker = Checker::watched(&watched);
            while let Ok(mut job) = inbox.recv() {
                while let Ok(newer) = inbox.try_recv() {
                    job = newer;
                }
                watched.begin(job.0);
                if outbox.send((job.0, run(&mut checker, job.1, &job.2))).is_err() {
                    return;
                }
                ctx.request_repaint();
            }
        });
        spawned.ok()?;
        Some(Self { jobs, answers, progress, job: 0, ignored: 0, waiting: None })
    }

    /// Sends a layout to be checked. Older work that takes long gives way.
    fn send(&mut self, about: About, layout: &Layout) {
        if self.waiting.is_some_and(|(since, _)| since.elapsed() > LONG) {
            self.progress.stop(self.job);
        }
        self.job += 1;
        self.waiting = Some((Instant::now(), about));
        // A closed channel shows as a check that never becomes current; the strip says so.
        let _ = self.jobs.send((self.job, about, layout.clone()));
    }

    /// The answer to the last job, if it is there.
    fn answer(&mut self, patience: Duration) -> Option<Checked> {
        let mut latest = None;
        let mut wait = patience;
        while let Ok((job, checked)) = self.answers.recv_timeout(wait) {
            wait = Duration::ZERO;
            if job <= self.ignored {
                continue;
            }
            if job == self.job {
                self.waiting = None;
            }
            latest = checked.or(latest);
        }
        latest
    }
}

/// A check that takes longer than this says how far it is and can be stopped.
pub const LONG: Duration = Duration::from_secs(1);

/// State of an unfinished check.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Going {
    /// It has only begun.
    Briefly,
    /// It takes long: cases solved, cases known so far.
    Long(usize, usize),
    /// It was stopped.
    Stopped,
}

/// Runs the check and holds its latest answer.
pub struct Checking {
    at: Where,
    sent: About,
    /// Subject of the check that was stopped last.
    stopped: Option<About>,
    /// The latest answer. It may be about an older revision: see [`Checking::is_current`].
    pub latest: Arc<Checked>,
}

impl Checking {
    fn with(at: Where) -> Self {
        Self { at, sent: (0, Units::Metric), stopped: None, latest: Arc::default() }
    }

    /// Checks in the caller.
    pub fn here() -> Self {
        Self::with(Where::Here(Checker::default()))
    }

    /// Checks on a thread of its own, which wakes the window up when it is done.
    pub fn there(ctx: Context) -> Self {
        There::begin(ctx).map_or_else(Self::here, |there| Self::with(Where::There(there)))
    }

    /// Sees to it that this revision is checked, and takes in what is done.
    pub fn update(&mut self, revision: u64, units: Units, layout: &Layout) {
        let about = (revision, units);
        let is_new = self.sent != about;
        self.sent = about;
        match &mut self.at {
            Where::Here(checker) => {
                if is_new && let Some(checked) = run(checker, about, layout) {
                    self.latest = Arc::new(checked);
                }
            }
            Where::There(there) => {
                if is_new {
                    there.send(about, layout);
                }
                let patience = if is_new { PATIENCE } else { Duration::ZERO };
                if let Some(checked) = there.answer(patience) {
                    self.latest = Arc::new(checked);
                }
            }
        }
    }

    /// State of the check of the layout as drawn; `None` once it is over.
    pub fn going(&self) -> Option<Going> {
        if self.stopped == Some(self.sent) {
            return Some(Going::Stopped);
        }
        let Where::There(there) = &self.at else { return None };
        let (since, _) = there.waiting?;
        if since.elapsed() < LONG {
            return Some(Going::Briefly);
        }
        let (solved, known) = there.progress.counts();
        Some(Going::Long(solved, known))
    }

    /// Stops the check that is going on.
    pub fn stop(&mut self) {
        if let Where::There(there) = &mut self.at
            && there.waiting.take().is_some()
        {
            there.progress.stop(there.job);
            there.ignored = there.job;
            self.stopped = Some(self.sent);
        }
    }

    /// Checks again what was not checked to the end.
    pub fn again(&mut self) {
        self.stopped = None;
        self.sent = (0, Units::Metric);
    }

    /// Whether checks are done in the caller.
    pub fn is_here(&self) -> bool {
        matches!(self.at, Where::Here(_))
    }

    /// Whether the latest answer is about this revision.
    pub fn is_current(&self, revision: u64) -> bool {
        self.latest.revision == revision
    }

    /// True once any layout was checked.
    pub fn has_looked(&self) -> bool {
        self.latest.revision > 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::load;

    fn club() -> Layout {
        let text = include_str!("../../sample-layouts/club.gapwright");
        load(text).unwrap_or_else(|why| panic!("{why:?}")).layout
    }

    /// Waits for the check of a revision, as long as that takes.
    fn wait(checking: &mut Checking, revision: u64, layout: &Layout) {
        while !checking.is_current(revision) {
            checking.update(revision, Units::Metric, layout);
            std::thread::yield_now();
        }
    }

    #[test]
    fn a_stopped_check_says_so_and_goes_on_when_asked() {
        let layout = club();
        let mut checking = Checking::there(Context::default());
        assert!(!checking.has_looked());
        checking.update(1, Units::Metric, &layout);
        assert!(matches!(checking.going(), Some(Going::Briefly | Going::Long(..))));
        checking.stop();
        assert_eq!(checking.going(), Some(Going::Stopped));
        // Nothing comes of it, and nothing is taken for an answer.
        checking.update(1, Units::Metric, &layout);
        assert_eq!(checking.going(), Some(Going::Stopped));
        assert!(!checking.has_looked());
        checking.again();
        wait(&mut checking, 1, &layout);
        assert_eq!(checking.going(), None);
        assert_eq!(checking.latest.tally.faults.len(), 1);
    }

    #[test]
    fn an_edit_after_a_stop_is_checked() {
        let layout = club();
        let mut checking = Checking::there(Context::default());
        checking.update(1, Units::Metric, &layout);
        checking.stop();
        wait(&mut checking, 2, &layout);
        assert_eq!(checking.going(), None);
    }
}
