//! The hunt for a fault at this gap: observations, suspects by probability, and the next tests.

use std::collections::BTreeMap;
use std::sync::Arc;

use eframe::egui::{Context, Label, Ui};

use super::super::App;
use super::super::aside::Aside;
use super::super::theme::{SPACE, TIGHT, heading, small, strong};
use super::Left;
use super::commands::Command;
use super::model::Model;
use super::suspects_form::{Form, form_ui};
use super::trial::{self, Tried};
use crate::diagnose::{
    self, Answer, Class, Diagnosis, Fault, Next, Observation, Past, Question, Standing,
    answer_words, question_words,
};
use crate::job::Names;
use crate::layout::{CutId, Edit, Layout, capital, shown};
use crate::report::{
    alike_words, cautions_of, diagnosis_words, observation_words, status_words, told, whole_percent,
};

/// Number of times that a trial is made before it is told.
const REPEATS: u32 = 3;

/// A request of the hunt.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Hunt {
    /// Something was seen.
    Saw(Observation),
    /// An observation was a mistake: its number.
    Forget(usize),
    /// What is known of the past.
    Past(Past),
    /// The form is filled in otherwise.
    Form(Form),
    /// Suppose a fault on a copy, and show it on the stage.
    Suppose(Fault),
    /// The fault is confirmed: the layout is to be drawn so.
    Draw(Fault),
}

type Found = Result<Arc<diagnose::Hunt>, String>;

/// The state of the hunt.
#[derive(Default)]
pub struct Hunting {
    /// Observations by gap.
    seen: BTreeMap<CutId, Vec<Observation>>,
    past: Past,
    pub(super) form: Form,
    /// The hunt with the revision of the layout and the gap that it is about.
    hunt: Option<(u64, CutId, Found)>,
    waits: Option<(u64, CutId, Aside<Found>)>,
    /// Conclusions; `None` until they are worked out anew.
    known: Option<Diagnosis>,
}

impl Hunting {
    /// The hunt, if it is about this state of the layout and this gap.
    fn current(&self, revision: u64, cut: CutId) -> Option<&Found> {
        let (at, of, found) = self.hunt.as_ref()?;
        (*at == revision && *of == cut).then_some(found)
    }

    /// Takes the hunt, once it is there.
    fn take(&mut self) {
        let Some((at, of, work)) = &self.waits else { return };
        let Some(found) = work.answer() else { return };
        let found = found.unwrap_or_else(|why| Err(format!("The hunt for what is wrong: {why}.")));
        self.hunt = Some((*at, *of, found));
        (self.known, self.waits) = (None, None);
    }

    fn seen_at(&self, cut: CutId) -> &[Observation] {
        self.seen.get(&cut).map_or(&[], Vec::as_slice)
    }
}

fn hunt(layout: &Layout, cut: CutId) -> Found {
    let found = diagnose::Hunt::of(layout, cut);
    found.map(Arc::new).map_err(|why| capital(&format!("{why}.")))
}

/// Brings the hunt up to date with the layout, where it is shown.
pub(super) fn update(app: &mut App, ctx: &Context) {
    let (Some(cut), revision) = (app.gap.cut, app.doc.revision()) else { return };
    if !app.gap.shown || app.gap.left != Left::Suspects {
        return;
    }
    let is_here = app.check.is_here();
    let hunting = &mut app.gap.hunting;
    hunting.take();
    let waits = hunting.waits.as_ref().is_some_and(|(at, of, _)| *at == revision && *of == cut);
    if hunting.current(revision, cut).is_none() && !waits {
        hunting.known = None;
        let layout = app.doc.layout().clone();
        let work = Aside::begin(("hunt", is_here), ctx, move |_| hunt(&layout, cut));
        hunting.waits = Some((revision, cut, work));
        hunting.take();
    }
    let hunting = &mut app.gap.hunting;
    if hunting.known.is_none()
        && let Some(Ok(found)) = hunting.current(revision, cut).cloned()
    {
        let known = found.after(hunting.past, hunting.seen_at(cut));
        hunting.form.begin(app.doc.layout(), &found);
        hunting.known = Some(known);
    }
}

/// Carries out a request of the hunt.
pub(super) fn carry_out(app: &mut App, ctx: &Context, request: Hunt) {
    let Some(cut) = app.gap.cut else { return };
    let hunting = &mut app.gap.hunting;
    match request {
        Hunt::Saw(observation) => {
            hunting.seen.entry(cut).or_default().push(observation);
            hunting.known = None;
        }
        Hunt::Forget(at) => {
            if let Some(seen) = hunting.seen.get_mut(&cut).filter(|seen| at < seen.len()) {
                seen.remove(at);
            }
            hunting.known = None;
        }
        Hunt::Past(past) => {
            hunting.past = past;
            hunting.known = None;
        }
        Hunt::Form(form) => hunting.form = form,
        Hunt::Suppose(fault) => {
            let tried = app.gap.trial.as_ref().map(|trial| trial.tried.clone());
            let tried = Tried { fault: Some(fault), ..tried.unwrap_or_default() };
            trial::try_out(app, ctx, tried);
        }
        Hunt::Draw(fault) => draw(app, &fault),
    }
}

/// Draws the layout as it is with a fault, as one step.
fn draw(app: &mut App, fault: &Fault) {
    let words = {
        let names = Names { layout: app.doc.layout(), plan: &app.derived.plan };
        fault.says(names)
    };
    let Some(edits) = fault.edits(app.doc.layout()) else {
        app.tell_bad("That is not so any more: the layout has changed.");
        return;
    };
    if app.edit("draw the fault that was found", Edit::Batch(edits)).is_some() {
        app.gap.trial = None;
        app.gap.scene = None;
        app.tell(format!("The layout is drawn so: {words}. The card says what cures it."));
    }
}

/// The panel.
pub(super) fn suspects_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    ui.label(heading("What is wrong here?"));
    let hint = "Say what happens at this gap on the real layout. Every fault that could be there is worked out by \
                its circuit, and held against what you saw.";
    ui.add(Label::new(small(ui, hint)).wrap());
    let Some(cut) = model.view.gap() else { return };
    let hunting = &model.view.hunting;
    let found = hunting.current(model.drawn_revision, cut);
    let found = match found {
        None => {
            ui.horizontal(|ui| {
                ui.spinner();
                ui.label("Working out what each fault would show");
            });
            return;
        }
        Some(Err(why)) => {
            ui.add_space(SPACE);
            ui.add(Label::new(why.as_str()).wrap());
            return;
        }
        Some(Ok(found)) => found,
    };
    let Some(known) = &hunting.known else { return };
    let names = found.names();
    let seen = hunting.seen_at(cut);
    ui.add_space(SPACE);
    seen_ui(ui, (names, found), seen, commands);
    form_ui(ui, (names, found), &hunting.form, commands);
    past_ui(ui, hunting.past, commands);
    ui.add_space(SPACE);
    known_ui(ui, names, (seen, known), commands);
    next_ui(ui, (names, found), &known.next, commands);
}

/// The observations, each with a button to take it back.
fn seen_ui(
    ui: &mut Ui,
    (names, hunt): (Names, &diagnose::Hunt),
    seen: &[Observation],
    commands: &mut Vec<Command>,
) {
    if seen.is_empty() {
        return;
    }
    ui.label(strong("Seen"));
    for (at, observed) in seen.iter().enumerate() {
        ui.horizontal_wrapped(|ui| {
            let words = format!("{}. {}", at + 1, observation_words(names, hunt, observed));
            ui.add(Label::new(shown(&words)).wrap());
            let name = format!("Forget observation {}", at + 1);
            if ui.small_button("Forget").accessible_name(&name).on_hover_text(&name).clicked() {
                commands.push(Command::Hunt(Hunt::Forget(at)));
            }
        });
    }
    ui.add_space(TIGHT);
}

fn past_ui(ui: &mut Ui, past: Past, commands: &mut Vec<Command>) {
    ui.horizontal_wrapped(|ui| {
        ui.label(small(ui, "Before:"));
        for (of, words) in [
            (Past::Unknown, "not known"),
            (Past::Worked, "it worked, nothing was changed"),
            (Past::NeverWorked, "it never worked"),
        ] {
            if ui.selectable_label(past == of, words).clicked() {
                commands.push(Command::Hunt(Hunt::Past(of)));
            }
        }
    });
}

/// The suspects.
fn known_ui(
    ui: &mut Ui,
    names: Names,
    (seen, known): (&[Observation], &Diagnosis),
    commands: &mut Vec<Command>,
) {
    ui.label(heading("Suspects"));
    if seen.is_empty() {
        let words = "Nothing was seen yet. Add what you saw, or try one of these:";
        ui.add(Label::new(words).wrap());
        return;
    }
    ui.add(Label::new(shown(&diagnosis_words(known))).wrap());
    ui.add_space(TIGHT);
    for (at, class) in told(known).enumerate() {
        let sure = at == 0 && known.standing == Standing::Sure;
        class_ui(ui, names, (class, sure), commands);
    }
    ui.label(small(ui, format!("{}  Something else", whole_percent(known.outside))));
    for line in alike_words(known) {
        ui.add(Label::new(small(ui, shown(&line))).wrap());
    }
}

fn class_ui(ui: &mut Ui, names: Names, (class, sure): (&Class, bool), commands: &mut Vec<Command>) {
    ui.horizontal_wrapped(|ui| {
        ui.label(strong(whole_percent(class.share)));
        ui.label(strong(shown(&class.repair.0)));
    });
    let Some(first) = class.suspects.first() else { return };
    let status = status_words(first);
    let says = first.fault.says(names);
    ui.add(Label::new(small(ui, shown(&format!("{says}: {status}.")))).wrap());
    if first.fault != Fault::AsDrawn {
        ui.horizontal(|ui| {
            let on_stage = ui.small_button("Show it on the stage");
            let name = format!("Show it on the stage: {says}");
            if on_stage.on_hover_text("Tries it out on a copy").accessible_name(&name).clicked() {
                commands.push(Command::Hunt(Hunt::Suppose(first.fault.clone())));
            }
            let words = if sure { "It is so: draw it" } else { "Draw it so" };
            let name = format!("{words}: {says}");
            let tip = "Makes the layout as it is with this fault, as one step: then the card says what cures it";
            if ui.small_button(words).on_hover_text(tip).accessible_name(&name).clicked() {
                commands.push(Command::Hunt(Hunt::Draw(first.fault.clone())));
            }
        });
    }
    ui.add_space(TIGHT);
}

/// The next tests, with a button for each answer.
fn next_ui(
    ui: &mut Ui,
    (names, hunt): (Names, &diagnose::Hunt),
    next: &[Next],
    commands: &mut Vec<Command>,
) {
    if next.is_empty() {
        return;
    }
    ui.add_space(SPACE);
    ui.label(heading("Try next"));
    for (at, test) in next.iter().enumerate() {
        let is_trial = matches!(test.question, Question::Trial { .. });
        let words = format!(
            "{}. {}{} ({} min).",
            at + 1,
            question_words(names, hunt, &test.question),
            if is_trial { ", three times" } else { "" },
            test.minutes
        );
        ui.add(Label::new(shown(&words)).wrap());
        ui.horizontal_wrapped(|ui| {
            let mut answers: Vec<Answer> = test.tells.iter().map(|tells| tells.0.clone()).collect();
            answers.sort();
            for answer in answers {
                let says = capital(&answer_words(names, &answer));
                let name = format!("{says}, test {}", at + 1);
                if ui.button(shown(&says)).accessible_name(&name).clicked() {
                    let of = if is_trial { REPEATS } else { 1 };
                    let question = test.question.clone();
                    let observation = Observation { question, answer, times: of, of };
                    commands.push(Command::Hunt(Hunt::Saw(observation)));
                }
            }
        });
        for caution in cautions_of(&test.question) {
            ui.add(Label::new(small(ui, caution.line())).wrap());
        }
        ui.add_space(TIGHT);
    }
}
