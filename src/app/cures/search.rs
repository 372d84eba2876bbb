//! The search for cures, without holding up the window.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::Instant;

use eframe::egui::Context;

use crate::app::checking::panic_words;
use crate::cure::{MOST_TRIED, Offers, Surgery, Together};
use crate::findings::{Checker, FindingId, Progress, Stopped};
use crate::layout::Layout;

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
enum Question {
    /// The cures of one finding.
    Of(FindingId),
    /// A set that ends all faults.
    All,
}

/// A layout and what is asked about it.
struct Asked {
    number: u64,
    revision: u64,
    question: Question,
    layout: Layout,
}

/// An answer.
enum Found {
    /// The cures of one finding. `None` if the layout does not have it.
    Of(FindingId, Option<Offers>),
    /// A set that ends all faults.
    All(Together),
    /// The search was stopped.
    Stopped,
    /// The search broke down.
    Broke(String),
}

/// Searches, in the caller or on a thread of its own.
enum Where {
    Here(Checker),
    There(There),
}

struct There {
    asked: Sender<Asked>,
    found: Receiver<(u64, u64, Found)>,
    progress: Arc<Progress>,
}

impl There {
    fn begin(ctx: Context) -> Option<There> {
        let (asked, inbox) = channel::<Asked>();
        let (outbox, found) = channel();
        let progress = Arc::new(Progress::default());
        let watched = Arc::clone(&progress);
        let spawned = std::thread::Builder::new().name("cures".into()).spawn(move || {
            let mut checker = Checker::watched(&watched);
            while let Ok(mut job) = inbox.recv() {
                // The newest question counts.
                while let Ok(newer) = inbox.try_recv() {
                    job = newer;
                }
                watched.begin(job.number);
                let answer = (job.number, job.revision, search(&mut checker, &job));
                if outbox.send(answer).is_err() {
                    return;
                }
                ctx.request_repaint();
            }
        });
        spawned.ok().map(|_| There { asked, found, progress })
    }
}

fn search(checker: &mut Checker, asked: &Asked) -> Found {
    let found = catch_unwind(AssertUnwindSafe(|| {
        checker.check(&asked.layout);
        let surgery = checker.last().map(Surgery::of);
        match (&asked.question, surgery) {
            (Question::Of(id), Some(surgery)) => {
                let findings = &surgery.report().findings;
                let finding = findings.iter().find(|f| f.id() == *id);
                let offers =
                    finding.map(|f| surgery.offers(f, MOST_TRIED.min(surgery.most_checked())));
                Found::Of(id.clone(), offers)
            }
            (Question::All, Some(surgery)) => {
                let cures = surgery.faults();
                Found::All(surgery.together(&cures))
            }
            (Question::Of(id), None) => Found::Of(id.clone(), None),
            (Question::All, None) => Found::All(Together::default()),
        }
    }));
    match found {
        Ok(found) => found,
        Err(why) if why.is::<Stopped>() => Found::Stopped,
        Err(panic) => {
            *checker = Checker::default();
            Found::Broke(panic_words(&*panic))
        }
    }
}

/// What the search says of a finding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Said<'a> {
    /// It is going on.
    Searching,
    /// Its cures.
    Offers(&'a Offers),
    /// It was stopped, or broke down for this reason.
    Nothing(Option<&'a str>),
}

/// The search for cures and its latest answers.
pub struct Search {
    at: Where,
    number: u64,
    /// What was asked last, and when.
    asked: Option<(u64, Question, Instant)>,
    /// The cures of one finding at a revision.
    of: Option<(u64, FindingId, Offers)>,
    /// A set that ends all faults, until it is taken.
    all: Option<(u64, Together)>,
    broke: Option<String>,
    /// The question that was stopped.
    stopped: Option<(u64, Question)>,
}

impl Search {
    /// Searches in the caller: for tests.
    pub fn here() -> Search {
        Search::with(Where::Here(Checker::default()))
    }

    /// Searches on a thread of its own, which wakes the window up.
    pub fn there(ctx: Context) -> Search {
        There::begin(ctx).map_or_else(Search::here, |there| Search::with(Where::There(there)))
    }

    fn with(at: Where) -> Search {
        Search { at, number: 0, asked: None, of: None, all: None, broke: None, stopped: None }
    }

    /// The cures of a finding: asks for them if they are not there.
    pub fn of(&mut self, revision: u64, layout: &Layout, id: &FindingId) -> Said<'_> {
        let question = Question::Of(id.clone());
        let known = self.of.as_ref().is_some_and(|(at, of, _)| *at == revision && of == id);
        let going =
            self.asked.as_ref().is_some_and(|(at, asked, _)| *at == revision && *asked == question);
        let stopped = self.stopped == Some((revision, question.clone()));
        // A set for all faults is not given up for a finding that is opened meanwhile.
        if !known && !going && !stopped && !self.wants_all(revision) {
            self.ask(revision, question, layout);
        }
        if known || self.of.as_ref().is_some_and(|(at, of, _)| *at == revision && of == id) {
            return self.of.as_ref().map_or(Said::Searching, |(.., offers)| Said::Offers(offers));
        }
        if stopped || self.broke.is_some() {
            return Said::Nothing(self.broke.as_deref());
        }
        Said::Searching
    }

    /// Asks for a set that ends all faults.
    pub fn ask_for_all(&mut self, revision: u64, layout: &Layout) {
        self.all = None;
        self.ask(revision, Question::All, layout);
    }

    /// True while a set for all faults of this revision is looked for.
    pub fn wants_all(&self, revision: u64) -> bool {
        self.asked.as_ref().is_some_and(|(at, asked, _)| *at == revision && *asked == Question::All)
    }

    /// Takes the set for all faults of this revision, once it is there.
    pub fn take_all(&mut self, revision: u64) -> Option<Together> {
        let (at, set) = self.all.take()?;
        (at == revision).then_some(set)
    }

    fn ask(&mut self, revision: u64, question: Question, layout: &Layout) {
        self.stop_progress();
        self.number += 1;
        (self.broke, self.stopped) = (None, None);
        self.asked = Some((revision, question.clone(), Instant::now()));
        let asked = Asked { number: self.number, revision, question, layout: layout.clone() };
        match &mut self.at {
            Where::Here(checker) => {
                let found = search(checker, &asked);
                self.take(self.number, revision, found);
            }
            // A closed channel shows as a search that never ends; it can be stopped.
            Where::There(there) => drop(there.asked.send(asked)),
        }
    }

    /// Takes in what is found.
    pub fn update(&mut self) {
        let Where::There(there) = &self.at else { return };
        let found: Vec<(u64, u64, Found)> = there.found.try_iter().collect();
        for (number, revision, found) in found {
            self.take(number, revision, found);
        }
    }

    fn take(&mut self, number: u64, revision: u64, found: Found) {
        if number != self.number {
            return;
        }
        self.asked = None;
        match found {
            Found::Of(id, Some(offers)) => self.of = Some((revision, id, offers)),
            Found::Of(_, None) => self.broke = Some("the finding is gone".to_owned()),
            Found::All(set) => self.all = Some((revision, set)),
            Found::Stopped => {}
            Found::Broke(why) => self.broke = Some(why),
        }
    }

    /// Gives the search up.
    pub fn stop(&mut self) {
        self.stop_progress();
        if let Some((revision, question, _)) = self.asked.take() {
            self.stopped = Some((revision, question));
        }
        // An answer that comes all the same is too late.
        self.number += 1;
    }

    fn stop_progress(&mut self) {
        if let Where::There(there) = &self.at
            && self.asked.is_some()
        {
            there.progress.stop(self.number);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::load;

    #[test]
    fn a_search_on_a_thread_answers_and_can_be_stopped() {
        let text = include_str!("../../../sample-layouts/brake-idle.gapwright");
        let layout = load(text).unwrap_or_else(|why| panic!("{why:?}")).layout;
        let report = crate::findings::check(&layout);
        let id = report.findings[0].id();
        let mut search = Search::there(Context::default());
        assert_eq!(search.of(1, &layout, &id), Said::Searching);
        search.stop();
        assert_eq!(search.of(1, &layout, &id), Said::Nothing(None), "until it is asked anew");
        // Another revision is another question.
        while search.of(2, &layout, &id) == Said::Searching {
            search.update();
            std::thread::yield_now();
        }
        let Said::Offers(offers) = search.of(2, &layout, &id) else { panic!("no offers") };
        assert_eq!(offers.offers[0].jobs.len(), 2);
    }
}
