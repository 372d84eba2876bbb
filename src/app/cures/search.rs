//! The search for cures, without holding up the window.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::Instant;

use eframe::egui::Context;

use super::Plan;
use super::matches::OldDesign;
use crate::app::checking::panic_words;
use crate::compare::{Comparison, Corrections, Step, matched};
use crate::cure::{self, MOST_TRIED, Offers, Surgery, Together};
use crate::findings::{Checker, FindingId, Progress, Report, Stopped, report_of, titles, words};
use crate::layout::{EntityId, Layout, and, shown};
use crate::planning;
use crate::report::Units;

/// A question about a layout.
#[derive(Debug, Clone, PartialEq)]
pub enum Question {
    /// The cures of one finding.
    Of(FindingId),
    /// The layout before and after a plan.
    Try(Plan),
    /// The same with the cheapest set of cures that ends all faults.
    All,
    /// The same with the cuts and feeds that keep the named stretches apart.
    Cuts,
    /// Another design as the old one and the layout as the new one.
    Design(Box<Design>),
}

/// Another design to compare with.
#[derive(Debug, Clone, PartialEq)]
pub struct Design {
    /// The design.
    pub old: Layout,
    /// The name of its file.
    pub file: String,
    /// Corrections of what is taken for the same.
    pub corrections: Corrections,
    /// Pairs listed before: old, new.
    pub known: Vec<(EntityId, EntityId)>,
}

/// A question with the layout that it is about.
struct Asked {
    number: u64,
    revision: u64,
    units: Units,
    question: Question,
    layout: Layout,
}

/// A layout before and after a plan.
pub struct Compared {
    /// The plan.
    pub plan: Plan,
    /// The old design, where two designs are compared.
    pub old: Option<OldDesign>,
    /// The layout before.
    pub was: Layout,
    /// The report before.
    pub before: Report,
    /// The layout after.
    pub after: Layout,
    /// The report after.
    pub report: Report,
    /// Faults that are left, with the reason.
    pub leaves: Vec<String>,
    /// A remark on the plan.
    pub remark: Option<&'static str>,
}

/// An answer.
enum Found {
    /// The cures of one finding. `None` if the layout does not have it.
    Of(FindingId, Option<Offers>),
    /// A comparison.
    Compared(Box<Compared>),
    /// There is nothing to compare, in words; `true` if something failed.
    Nothing(String, bool),
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
    let found = catch_unwind(AssertUnwindSafe(|| match &asked.question {
        Question::Of(id) => {
            let surgery = Surgery::of(&checker.study(&asked.layout));
            let findings = &surgery.report().findings;
            let finding = findings.iter().find(|f| f.id() == *id);
            let most = MOST_TRIED.min(surgery.most_checked());
            Found::Of(id.clone(), finding.map(|f| surgery.offers(f, most)))
        }
        Question::Try(plan) => compared(checker, asked, plan.clone()),
        Question::All => all(checker, asked),
        Question::Cuts => cuts(checker, asked),
        Question::Design(with) => design(checker, asked, with),
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

/// The layout before and after a plan.
fn compared(checker: &mut Checker, asked: &Asked, plan: Plan) -> Found {
    let after = match cure::applied(&asked.layout, &plan.jobs) {
        Ok(after) => after,
        Err(refused) => return Found::Nothing(format!("Could not try it: {refused}"), true),
    };
    let study = checker.study(&asked.layout);
    let report = report_of(&study.revised(after.clone()));
    let before = report_of(&study);
    let (leaves, remark, old, was) = (Vec::new(), None, None, asked.layout.clone());
    let two = Compared { plan, old, was, before, after, report, leaves, remark };
    Found::Compared(Box::new(two))
}

/// Another design beside the layout, with the work from that one to this.
fn design(checker: &mut Checker, asked: &Asked, with: &Design) -> Found {
    let Design { old, file, corrections, known } = with;
    let matched = match matched(old, &asked.layout, corrections) {
        Ok(matched) => matched,
        Err(why) => return Found::Nothing(format!("Could not match the designs: {why}."), true),
    };
    let comparison = Comparison::from(&checker.study(old), matched);
    let layouts = [old, &asked.layout];
    let design = OldDesign::of(file, layouts, (&comparison, corrections), known);
    let says = comparison.steps.iter().map(step_words).collect();
    let (minutes, remark) = (comparison.minutes(), comparison.order_words());
    Found::Compared(Box::new(Compared {
        plan: Plan { jobs: Vec::new(), says, minutes, also: Vec::new() },
        old: Some(design),
        was: old.clone(),
        before: comparison.old,
        after: comparison.design,
        report: comparison.new,
        leaves: Vec::new(),
        remark: Some(remark).filter(|_| !comparison.steps.is_empty()),
    }))
}

/// A step of the work, with what it makes for a while.
fn step_words(step: &Step) -> String {
    let words = shown(&step.says);
    let minutes = step.minutes;
    if step.makes.is_empty() {
        return format!("{words} ({minutes} min)");
    }
    let makes = and(&titles(&step.makes));
    format!("{words} ({minutes} min) After it stands what neither design has: {makes}.")
}

/// The layout before and after the cheapest set of cures; why not, if there is none.
fn all(checker: &mut Checker, asked: &Asked) -> Found {
    let surgery = Surgery::of(&checker.study(&asked.layout));
    let set = surgery.together(&surgery.faults());
    let leaves = reasons(&set, surgery.report(), asked);
    if set.jobs.is_empty() {
        let why = leaves.into_iter().next().unwrap_or_default();
        return Found::Nothing(format!("No cure of any fault could be proved. {why}"), false);
    }
    let plan = Plan {
        minutes: set.work.map_or(0, |work| work.minutes),
        also: crate::job::also(&set.jobs).into_iter().map(str::to_owned).collect(),
        jobs: set.jobs,
        says: set.says,
    };
    let remark = (!set.exhaustive)
        .then_some("Whether a cheaper set does the same was not searched to the end.");
    match compared(checker, asked, plan) {
        Found::Compared(two) => Found::Compared(Box::new(Compared { leaves, remark, ..*two })),
        other => other,
    }
}

/// Faults that a set leaves, with the reason.
fn reasons(set: &Together, report: &Report, asked: &Asked) -> Vec<String> {
    let said = set.leaves.iter().map(|(id, why)| {
        let finding = report.findings.iter().find(|f| f.id() == *id);
        let says = finding
            .map_or_else(|| id.to_string(), |f| words(f, report, &asked.layout, asked.units).says);
        shown(&format!("{says}. {why}")).into_owned()
    });
    said.collect()
}

/// The layout before and after its cuts and feeds are planned; why not, if they cannot be.
fn cuts(checker: &mut Checker, asked: &Asked) -> Found {
    let layout = &asked.layout;
    let planned =
        match planning::finished_with(layout, &planning::wishes_of(layout), checker.memo()) {
            Ok(found) => found.planned,
            Err(why) => return Found::Nothing(why.to_string(), true),
        };
    if planned.jobs.is_empty() {
        let done = "Nothing is to be done: every named stretch is cut off and fed by itself.";
        return Found::Nothing(done.to_owned(), false);
    }
    let mut also: Vec<String> = crate::report::sequences(&planned);
    also.extend(crate::report::together(&planned));
    also.push(crate::report::bound(&planned).to_owned());
    let (jobs, reasons): (Vec<_>, Vec<_>) = planned.jobs.into_iter().unzip();
    let says = cure::sentences(layout, &jobs).into_iter().zip(reasons);
    let says = says.map(|(says, why)| format!("{says} It {why}.")).collect();
    let minutes = crate::job::work(&jobs).minutes;
    compared(checker, asked, Plan { jobs, says, minutes, also })
}

/// State of the search for the cures of a finding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Said<'a> {
    /// It is going on.
    Searching,
    /// Its cures.
    Offers(&'a Offers),
    /// It was stopped, or broke down for this reason.
    Nothing(Option<&'a str>),
}

/// A comparison, or why there is none: the words, and whether something failed.
pub type Prepared = Result<Box<Compared>, (String, bool)>;

/// The search for cures and its latest answers.
pub struct Search {
    at: Where,
    number: u64,
    /// The last question: revision, question, time.
    asked: Option<(u64, Question, Instant)>,
    /// The cures of one finding at a revision.
    of: Option<(u64, FindingId, Offers)>,
    /// A comparison, or the words where there is none, until it is taken.
    compared: Option<(u64, Prepared)>,
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
        Search { at, number: 0, asked: None, of: None, compared: None, broke: None, stopped: None }
    }

    /// The cures of a finding: asks for them if they are not there.
    pub fn of(&mut self, revision: u64, layout: &Layout, id: &FindingId) -> Said<'_> {
        let question = Question::Of(id.clone());
        let known = self.of.as_ref().is_some_and(|(at, of, _)| *at == revision && of == id);
        let going =
            self.asked.as_ref().is_some_and(|(at, asked, _)| *at == revision && *asked == question);
        let stopped = self.stopped == Some((revision, question.clone()));
        // A comparison is not given up for a finding that is opened meanwhile.
        if !known && !going && !stopped && self.prepares(revision).is_none() {
            self.ask((revision, Units::Metric), question, layout);
        }
        if known || self.of.as_ref().is_some_and(|(at, of, _)| *at == revision && of == id) {
            return self.of.as_ref().map_or(Said::Searching, |(.., offers)| Said::Offers(offers));
        }
        if stopped || self.broke.is_some() {
            return Said::Nothing(self.broke.as_deref());
        }
        Said::Searching
    }

    /// Asks for a comparison.
    pub fn prepare(&mut self, about: (u64, Units), question: Question, layout: &Layout) {
        self.compared = None;
        self.ask(about, question, layout);
    }

    /// The comparison of this revision that is looked for.
    pub fn prepares(&self, revision: u64) -> Option<&Question> {
        let asked = self.asked.as_ref().filter(|(at, ..)| *at == revision);
        asked
            .map(|(_, question, _)| question)
            .filter(|question| !matches!(question, Question::Of(_)))
    }

    /// Takes the comparison of this revision, once it is there.
    pub fn take_compared(&mut self, revision: u64) -> Option<Prepared> {
        let (at, compared) = self.compared.take()?;
        (at == revision).then_some(compared)
    }

    fn ask(&mut self, (revision, units): (u64, Units), question: Question, layout: &Layout) {
        self.stop_progress();
        self.number += 1;
        (self.broke, self.stopped) = (None, None);
        self.asked = Some((revision, question.clone(), Instant::now()));
        let (number, layout) = (self.number, layout.clone());
        let asked = Asked { number, revision, units, question, layout };
        match &mut self.at {
            Where::Here(checker) => {
                let found = search(checker, &asked);
                self.take(self.number, revision, found);
            }
            // A closed channel shows as a search that never ends; it can be stopped.
            Where::There(there) => drop(there.asked.send(asked)),
        }
    }

    /// Collects answers.
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
        let is_comparison = self.prepares(revision).is_some();
        self.asked = None;
        match found {
            Found::Of(id, Some(offers)) => self.of = Some((revision, id, offers)),
            Found::Of(_, None) => self.broke = Some("the finding is gone".to_owned()),
            Found::Compared(two) => self.compared = Some((revision, Ok(two))),
            Found::Nothing(why, bad) => self.compared = Some((revision, Err((why, bad)))),
            Found::Stopped => {}
            Found::Broke(why) if is_comparison => {
                let why =
                    format!("The comparison broke down: {why}. Save the layout and report it.");
                self.compared = Some((revision, Err((why, true))));
            }
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
