//! The form for what was seen: what came, where it went, how the throttles were, what happened.

use eframe::egui::{self, Slider, Ui};

use super::super::form::choice_ui;
use super::super::names;
use super::super::theme::{TIGHT, small, strong};
use super::super::throttles::directions;
use super::commands::Command;
use super::suspects::Hunt;
use crate::diagnose::{self, Answer, Observation, Question, Throttles, answer_words};
use crate::job::Names;
use crate::layout::{Direction, DriverId, Layout, Setting, capital, shown};
use crate::study::run::Rolls;
use crate::study::{GuardId, Motion};

/// Frequency of what happens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum HowOften {
    /// Every time.
    #[default]
    Always,
    /// Some of the times.
    Sometimes,
    /// It was seen once.
    Once,
}

/// Fields of the form.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Form {
    rolls: Option<Rolls>,
    along: bool,
    throttles: Throttles,
    answer: Option<Answer>,
    how_often: HowOften,
}

impl Form {
    /// Fills in what is on the layout where nothing is filled in, or what is filled in is not there any more.
    pub fn begin(&mut self, layout: &Layout, hunt: &diagnose::Hunt) {
        let known = |rolls: &Rolls| match rolls {
            Rolls::Vehicle(id) => layout.vehicles.contains_key(id),
            Rolls::Train(id) => layout.trains.contains_key(id),
        };
        if !self.rolls.as_ref().is_some_and(known) {
            self.rolls = hunt.reach.rolls.first().copied();
            self.along = true;
        }
        let sides: Vec<DriverId> = hunt.reach.sides.into_iter().flatten().collect();
        if !self.throttles.keys().eq(sorted(&sides).iter()) {
            let now = |id: &DriverId| Some((*id, layout.drivers.get(id)?.setting));
            self.throttles = sides.iter().filter_map(now).collect();
        }
    }

    /// The observation, once all is filled in.
    fn observation(&self) -> Option<Observation> {
        let answer = self.answer.clone()?;
        let empty = matches!(&answer, Answer::Trips { empty: true, .. });
        let question = Question::Trial {
            rolls: self.rolls?,
            along: self.along,
            rear_first: false,
            speed_mm_s: None,
            motion: if empty { Motion::NoTrain } else { Motion::Moving },
            throttles: self.throttles.clone(),
        };
        let (times, of) = match self.how_often {
            HowOften::Always => (5, 5),
            HowOften::Sometimes => (2, 5),
            HowOften::Once => (1, 1),
        };
        Some(Observation { question, answer, times, of })
    }
}

fn sorted(ids: &[DriverId]) -> Vec<DriverId> {
    let mut ids = ids.to_vec();
    ids.sort_unstable();
    ids.dedup();
    ids
}

/// Answers to choose from, in their order.
fn answers(hunt: &diagnose::Hunt) -> Vec<Answer> {
    let trips = |guards: Vec<GuardId>| Answer::Trips { guards, empty: false };
    let mut answers = vec![Answer::Nothing, trips(Vec::new())];
    let sides: Vec<DriverId> = hunt.reach.sides.into_iter().flatten().collect();
    let sides = sorted(&sides);
    answers.extend(sides.iter().map(|&id| trips(vec![GuardId::Driver(id)])));
    if sides.len() > 1 {
        answers.push(trips(sides.iter().map(|&id| GuardId::Driver(id)).collect()));
    }
    answers.push(Answer::Trips { guards: Vec::new(), empty: true });
    answers.extend([Answer::Stalls, Answer::Backwards, Answer::ChangesSpeed]);
    answers
}

/// The form.
pub(super) fn form_ui(
    ui: &mut Ui,
    (names, hunt): (Names, &diagnose::Hunt),
    form: &Form,
    commands: &mut Vec<Command>,
) {
    let mut new = form.clone();
    ui.label(strong("What I saw"));
    let layout = names.layout;
    let vehicles =
        layout.vehicles.keys().map(|&id| (Some(Rolls::Vehicle(id)), names.thing(id.into())));
    let trains = layout.trains.keys().map(|&id| (Some(Rolls::Train(id)), names.thing(id.into())));
    let rolls: Vec<(Option<Rolls>, String)> = vehicles.chain(trains).collect();
    let blocks = hunt.reach.blocks.each_ref().map(|block| shown(block).into_owned());
    let ways = [(true, format!("into {}", blocks[1])), (false, format!("into {}", blocks[0]))];
    ui.horizontal_wrapped(|ui| {
        let id = egui::Id::unique("what came");
        choice_ui(ui, id, "What came", &mut new.rolls, &rolls, Some(150.0));
        let id = egui::Id::unique("where it went");
        choice_ui(ui, id, "Where it went", &mut new.along, &ways, Some(150.0));
    });
    for (id, setting) in &mut new.throttles {
        throttle_ui(ui, layout, *id, setting);
    }
    let happened: Vec<(Option<Answer>, String)> = answers(hunt)
        .into_iter()
        .map(|answer| {
            let words = capital(&answer_words(names, &answer));
            (Some(answer), words)
        })
        .collect();
    let often = [
        (HowOften::Always, "every time".to_owned()),
        (HowOften::Sometimes, "sometimes".to_owned()),
        (HowOften::Once, "seen once".to_owned()),
    ];
    ui.horizontal_wrapped(|ui| {
        let id = egui::Id::unique("what happened");
        choice_ui(ui, id, "What happened", &mut new.answer, &happened, Some(190.0));
        let id = egui::Id::unique("how often");
        choice_ui(ui, id, "How often", &mut new.how_often, &often, Some(100.0));
        let seen = new.observation();
        let add = ui.add_enabled(seen.is_some(), egui::Button::new("Add"));
        let add = add.on_disabled_hover_text("Choose what happened first");
        if let Some(seen) = seen.filter(|_| add.clicked()) {
            commands.push(Command::Hunt(Hunt::Saw(seen)));
            new.answer = None;
        }
    });
    if new != *form {
        commands.push(Command::Hunt(Hunt::Form(new)));
    }
    ui.add_space(TIGHT);
}

/// The setting of a throttle in the trial.
fn throttle_ui(ui: &mut Ui, layout: &Layout, id: DriverId, setting: &mut Setting) {
    let Some(driver) = layout.drivers.get(&id) else { return };
    ui.horizontal_wrapped(|ui| {
        let name = names::driver_name(layout, id);
        ui.label(small(ui, &name));
        let choices: Vec<(Direction, String)> = directions(&driver.drive)
            .iter()
            .map(|&direction| (direction, names::direction_word(direction).to_owned()))
            .collect();
        let of = egui::Id::unique(("direction seen", id));
        let words = format!("Direction of {name} then");
        choice_ui(ui, of, &words, &mut setting.direction, &choices, Some(90.0));
        if matches!(setting.direction, Direction::Forward | Direction::Reverse) {
            let mut percent = setting.throttle * 100.0;
            // Beside a long name it still fits into the card of a projector.
            ui.spacing_mut().slider_width = 80.0;
            let slider = Slider::new(&mut percent, 0.0..=100.0).suffix(" %").fixed_decimals(0);
            let words = format!("Throttle of {name} then");
            if ui.add(slider).accessible_name(&words).changed() {
                setting.throttle = (percent / 100.0).clamp(0.0, 1.0);
            }
        }
    });
}
