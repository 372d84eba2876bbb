//! The check that runs on every change, without holding up the window.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::Duration;

use eframe::egui::Context;

use crate::findings::{Checker, Report, Text, words};
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

fn run(checker: &mut Checker, (revision, units): About, layout: &Layout) -> Checked {
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
    checked.unwrap_or_else(|panic| {
        *checker = Checker::default();
        let why = panic
            .downcast_ref::<String>()
            .map(String::as_str)
            .or_else(|| panic.downcast_ref::<&str>().copied())
            .unwrap_or("no reason given");
        Checked { revision, broke: Some(shown(why).into_owned()), ..Checked::default() }
    })
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
    There { jobs: Sender<(About, Layout)>, answers: Receiver<Checked> },
}

/// Runs the check and holds its latest answer.
pub struct Checking {
    at: Where,
    sent: About,
    /// The latest answer. It may be about an older revision: see [`Checking::is_current`].
    pub latest: Arc<Checked>,
}

impl Checking {
    /// Checks in the caller.
    pub fn here() -> Self {
        Self {
            at: Where::Here(Checker::default()),
            sent: (0, Units::Metric),
            latest: Arc::default(),
        }
    }

    /// Checks on a thread of its own, which wakes the window up when it is done.
    pub fn there(ctx: Context) -> Self {
        let (jobs, inbox) = channel::<(About, Layout)>();
        let (outbox, answers) = channel();
        let spawned = std::thread::Builder::new().name("check".into()).spawn(move || {
            let mut checker = Checker::default();
            while let Ok(mut job) = inbox.recv() {
                while let Ok(newer) = inbox.try_recv() {
                    job = newer;
                }
                if outbox.send(run(&mut checker, job.0, &job.1)).is_err() {
                    return;
                }
                ctx.request_repaint();
            }
        });
        if spawned.is_err() {
            return Self::here();
        }
        Self {
            at: Where::There { jobs, answers },
            sent: (0, Units::Metric),
            latest: Arc::default(),
        }
    }

    /// Sees to it that this revision is checked, and takes in what is done.
    pub fn update(&mut self, revision: u64, units: Units, layout: &Layout) {
        let about = (revision, units);
        match &mut self.at {
            Where::Here(checker) => {
                if self.sent != about {
                    self.sent = about;
                    self.latest = Arc::new(run(checker, about, layout));
                }
            }
            Where::There { jobs, answers } => {
                if self.sent != about {
                    self.sent = about;
                    // A closed channel shows as a check that never becomes current; the strip says so.
                    let _ = jobs.send((about, layout.clone()));
                    if let Ok(answer) = answers.recv_timeout(PATIENCE) {
                        self.latest = Arc::new(answer);
                    }
                }
                while let Ok(answer) = answers.try_recv() {
                    self.latest = Arc::new(answer);
                }
            }
        }
    }

    /// Whether checks are done in the caller.
    pub fn is_here(&self) -> bool {
        matches!(self.at, Where::Here(_))
    }

    /// Whether the latest answer is about this revision.
    pub fn is_current(&self, revision: u64) -> bool {
        self.latest.revision == revision
    }
}
