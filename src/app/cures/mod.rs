//! Cures in the window: what is offered for the finding that is open, and a set for all faults; each tried before and after,
//! side by side, and applied as one step.

mod offers;
mod search;
mod tables;
mod trial;

pub use offers::{all_ui, offers_ui};
use search::Question;
pub use search::{Said, Search};
pub use trial::{Trial, trial_ui};

use super::App;
use crate::cure::{Offer, as_one_edit};
use crate::job::Job;
use crate::layout::Layout;

/// Jobs, and what they are called in the history.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The jobs, in order.
    pub jobs: Vec<Job>,
    /// The same as sentences.
    pub says: Vec<String>,
    /// About how long it takes, minutes.
    pub minutes: u32,
    /// Side effects, a sentence each.
    pub also: Vec<String>,
}

impl Plan {
    /// An offered cure.
    pub fn of(offer: &Offer) -> Plan {
        Plan {
            jobs: offer.jobs.clone(),
            says: offer.says.clone(),
            minutes: offer.work.minutes,
            also: offer.also.iter().map(|&line| line.to_owned()).collect(),
        }
    }
}

/// A request of the rooms of cures.
#[derive(Debug, Clone, PartialEq)]
pub enum Command {
    /// Shows the layout before and after it.
    Try(Plan),
    /// Does it, as one step.
    Apply(Plan),
    /// Looks for a set that ends all faults, and shows it before and after.
    TryAll,
    /// Gives the search up.
    Stop,
    /// Shows something else below the two plans.
    Below(trial::Below),
    /// Closes the comparison.
    Close,
}

impl App {
    /// True while the layout is compared with its copy after some jobs.
    pub(super) fn is_trying(&self) -> bool {
        self.trial.is_some()
    }

    /// Looks for a set that ends all faults; the list of findings says so.
    pub(super) fn cure_all(&mut self) {
        self.show_tab(super::Tab::Findings);
        self.cure(vec![Command::TryAll]);
    }

    /// Plans the cuts and feeds that keep the named stretches apart, and shows the layout before and after.
    pub(super) fn plan_cuts(&mut self) {
        self.show_tab(super::Tab::Findings);
        self.prepare(Question::Cuts);
    }

    /// Compares another design with the layout, and shows both.
    pub(super) fn compare_with(&mut self, old: Layout, file: String) {
        self.show_tab(super::Tab::Findings);
        self.prepare(Question::Design(Box::new(old), file));
    }

    fn prepare(&mut self, question: Question) {
        let about = (self.doc.revision(), self.settings.units());
        self.cures.prepare(about, question, self.doc.layout());
    }

    /// Carries out requests of the rooms of cures.
    pub(super) fn cure(&mut self, commands: Vec<Command>) {
        for command in commands {
            match command {
                Command::Try(plan) => self.prepare(Question::Try(plan)),
                Command::Apply(plan) => self.apply_plan(&plan),
                Command::TryAll => self.prepare(Question::All),
                Command::Stop => self.cures.stop(),
                Command::Below(below) => {
                    if let Some(trial) = &mut self.trial {
                        trial.below = below;
                    }
                }
                Command::Close => self.trial = None,
            }
        }
    }

    fn apply_plan(&mut self, plan: &Plan) {
        self.trial = None;
        match as_one_edit(self.doc.layout(), &plan.jobs) {
            Ok(edit) => {
                let what = match &plan.says[..] {
                    [one] => in_the_history(one),
                    several => format!("do {} jobs", several.len()),
                };
                if self.edit(&what, edit).is_some() {
                    let done = match &plan.says[..] {
                        few if few.len() <= 3 => few.join(" "),
                        many => format!("{} jobs. Undo takes them back as one.", many.len()),
                    };
                    self.tell(format!("Done on the plan: {done}"));
                }
            }
            Err(refused) => self.tell_bad(format!("Could not apply it: {refused}")),
        }
    }
}

/// Name of a step in the history: the sentence without its full stop and its brackets.
fn in_the_history(sentence: &str) -> String {
    let bare = sentence.split(" (").next().unwrap_or(sentence).trim_end_matches('.');
    let mut chars = bare.chars();
    match chars.next() {
        Some(first) => first.to_lowercase().collect::<String>() + chars.as_str(),
        None => "cure".to_owned(),
    }
}
