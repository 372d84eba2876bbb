//! Running a train: by hand along its way, or at speed with a log of what happens.

mod plan;
mod play;
mod standing;

use eframe::egui::{Context, Slider, Ui};

use super::form::{FROM_ZERO, Form, MM, MM_PER_S};
use super::theme::{SPACE, heading, length_units, small, strong};
use super::{App, Tab, names};
use crate::layout::{CutId, Layout, RunId};
use crate::report::{event_words, standing_words};
use crate::study::run::{Course, Rolls, Running, Standing};
pub use plan::paint;
use play::{Log, Now};
use standing::standing_ui;

/// How far a key moves the train by hand, mm.
pub const STEP_MM: f64 = 10.0;

/// Track before a gap at which a train starts that is to run over it, and beyond it at which it ends, mm.
const AROUND_A_GAP_MM: f64 = 100.0;

/// Longest time that one frame of a run at speed may stand for, s: a window that was busy makes the train jump no farther.
const LONGEST_FRAME_S: f64 = 0.5;

/// What the Run tab holds.
#[derive(Debug)]
pub struct RunTab {
    rolls: Option<Rolls>,
    run: Option<RunId>,
    at_mm: f64,
    against: bool,
    rear_first: bool,
    speed_mm_s: f64,
    distance_mm: f64,
    /// How far it has come, mm.
    position_mm: f64,
    /// The last run that was worked out.
    log: Option<Log>,
    /// The moment of the log that is shown; `None` while the train is moved by hand.
    now: Option<Now>,
    /// The window's time at the last frame, s, while the train runs.
    playing: Option<f64>,
    /// The train on the plan, if it is there: of which layout and way.
    here: Option<((u64, Running), Option<OnPlan>)>,
}

impl Default for RunTab {
    fn default() -> Self {
        Self {
            rolls: None,
            run: None,
            at_mm: 300.0,
            against: false,
            rear_first: false,
            speed_mm_s: 150.0,
            distance_mm: 2000.0,
            position_mm: 0.0,
            log: None,
            now: None,
            playing: None,
            here: None,
        }
    }
}

/// The train on the plan as it stands now, for the tab and the canvas.
#[derive(Debug)]
struct OnPlan {
    course: Course,
    standing: Standing,
}

/// Moves the train by hand.
pub fn step(app: &mut App, by_mm: f64) {
    app.run.by_hand(app.run.position_mm + by_mm);
}

impl App {
    /// Puts the train's leading coupler at a place on a run, to go from there.
    pub fn place_train_at(&mut self, run: RunId, at_mm: f64) {
        self.run.run = Some(run);
        self.run.at_mm = (at_mm * 10.0).round() / 10.0;
        self.run.by_hand(0.0);
        if RunTab::choices(self.doc.layout()).is_empty() {
            self.tell("There is no train to place yet. Add a vehicle under Run or under Layout.");
        }
    }

    /// Puts the train before a gap, with a way that takes all of it over, and shows the tab.
    pub(super) fn run_over(&mut self, cut: CutId) {
        let layout = self.doc.layout();
        let Some(cut) = layout.cuts.get(&cut) else { return };
        let (run, at_mm) = (cut.run, cut.at_mm);
        let tab = &mut self.run;
        tab.run = Some(run);
        tab.against = false;
        tab.at_mm = (at_mm - AROUND_A_GAP_MM).max(0.0);
        let course = tab
            .running(layout)
            .and_then(|running| Course::new(layout, &self.derived.plan, &running));
        let train_mm = course.map_or(0.0, |course| course.length_mm());
        tab.distance_mm = (at_mm - tab.at_mm + train_mm + AROUND_A_GAP_MM).ceil();
        tab.by_hand(0.0);
        self.show_tab(Tab::Run);
    }

    /// Whether the tab that runs a train is shown and no control on it has the focus, so that its keys are free.
    pub(super) fn runs_by_key(&self) -> bool {
        let free = self.focus_before.is_none_or(|id| id == super::canvas::canvas_id());
        self.tab == Tab::Run && !self.settings.side_hidden && free
    }

    /// Lets the train run, or stops it where it is.
    pub(super) fn play_or_pause(&mut self, ctx: &Context) {
        let mut tab = std::mem::take(&mut self.run);
        tab.play_or_pause(self, ctx);
        self.run = tab;
    }
}

/// A button on a gap's card that runs a train over the gap.
pub fn over_gap_ui(ui: &mut Ui, app: &mut App, cut: CutId) {
    let button = ui.button("Run a train over it");
    if button.on_hover_text("Puts the train before this gap and shows the tab Run").clicked() {
        app.run_over(cut);
    }
}

/// The tab.
pub fn run_ui(ui: &mut Ui, app: &mut App) {
    let mut tab = std::mem::take(&mut app.run);
    let adds = tab.ui(ui, app);
    app.run = tab;
    if adds {
        super::listing::add_vehicle_ui(ui, app);
    }
}

impl RunTab {
    fn choices(layout: &Layout) -> Vec<(Rolls, String)> {
        let trains = layout.trains.keys().map(|&id| (Rolls::Train(id), id.into()));
        let vehicles = layout.vehicles.keys().map(|&id| (Rolls::Vehicle(id), id.into()));
        trains.chain(vehicles).map(|(rolls, id)| (rolls, names::entity_name(layout, id))).collect()
    }

    /// What runs and how, on a layout that has something to run and somewhere to run it.
    fn running(&self, layout: &Layout) -> Option<Running> {
        let there = Self::choices(layout);
        let rolls = self.rolls.filter(|r| there.iter().any(|(rolls, _)| rolls == r));
        let run = self.run.filter(|run| layout.runs.contains_key(run));
        Some(Running {
            rolls: rolls.or(there.first().map(|(rolls, _)| *rolls))?,
            run: run.or(layout.runs.keys().next().copied())?,
            at_mm: self.at_mm,
            along: !self.against,
            rear_first: self.rear_first,
            speed_mm_s: self.speed_mm_s,
            distance_mm: self.distance_mm,
            pushed: false,
        })
    }
}

impl RunTab {
    /// The tab itself. Returns whether there is track and nothing to run on it yet.
    fn ui(&mut self, ui: &mut Ui, app: &App) -> bool {
        let layout = app.doc.layout();
        let Some(running) = self.running(layout) else {
            ui.label(small(
                ui,
                "There is nothing to run yet. Lay track, and add a vehicle or a train under Layout.",
            ));
            return !layout.runs.is_empty();
        };
        self.form_ui(ui, app, &running);
        self.advance(ui.ctx(), app);
        self.speed_ui(ui, app);
        ui.add_space(SPACE);
        self.here(app);
        match self.on_plan() {
            Some(here) => standing_ui(ui, app, self.standing(here)),
            None => drop(ui.label(small(ui, "It is not on the track."))),
        }
        ui.add_space(SPACE);
        self.log_ui(ui, app);
        false
    }

    fn form_ui(&mut self, ui: &mut Ui, app: &App, running: &Running) {
        let layout = app.doc.layout();
        let (mut rolls, mut from) = (running.rolls, running.run);
        let units = length_units(ui);
        let mut form = Form::new(ui, "Run");
        form.choice("What", &mut rolls, &Self::choices(layout));
        form.choice("From run", &mut from, &app.run_choices());
        form.number("At", &mut self.at_mm, MM, FROM_ZERO)
            .on_hover_text("Where its front is at first. A click on a run puts it there");
        form.tick("Against that run, towards its start", &mut self.against);
        form.tick("Rear first", &mut self.rear_first);
        form.number("Way", &mut self.distance_mm, MM, FROM_ZERO);
        form.number("Speed", &mut self.speed_mm_s, MM_PER_S, 1.0..=100_000.0);
        let changed = form.changed.is_some();
        (self.rolls, self.run) = (Some(rolls), Some(from));
        if changed {
            self.by_hand(self.position_mm);
        }
        ui.add_space(SPACE);
        ui.label(heading("By hand"));
        let way = 0.0..=self.distance_mm.max(1.0);
        let mut position = self.position_mm;
        let slider = Slider::new(&mut position, way)
            .custom_formatter(move |at, _| units.mm(at))
            .custom_parser(move |text| super::form::length_typed(text, units));
        ui.spacing_mut().slider_width = (ui.available_width() - 90.0).max(80.0);
        let slid = ui.add(slider).accessible_name("Run: how far it has come");
        ui.horizontal(|ui| {
            let back = ui.button(format!("Back {}", units.mm(STEP_MM))).on_hover_text("[");
            let on = ui.button(format!("On {}", units.mm(STEP_MM))).on_hover_text("]");
            let by =
                STEP_MM * (f64::from(u8::from(on.clicked())) - f64::from(u8::from(back.clicked())));
            position += by;
            if slid.changed() || by != 0.0 {
                self.by_hand(position);
            }
        });
    }

    /// The buttons that let it run.
    fn speed_ui(&mut self, ui: &mut Ui, app: &App) {
        ui.add_space(SPACE);
        ui.label(heading("At speed"));
        ui.horizontal_wrapped(|ui| {
            let words = if self.playing.is_some() { "Pause" } else { "Play" };
            if ui.button(strong(words)).on_hover_text("Space, while no control is in use").clicked()
            {
                self.play_or_pause(app, ui.ctx());
            }
            let back = ui.button("Event back").on_hover_text("To the event before this one");
            let on = ui.button("Next event").on_hover_text("To the next event of the run");
            if back.clicked() {
                self.step_event(app, false);
            }
            if on.clicked() {
                self.step_event(app, true);
            }
            if ui.button("To the start").clicked() {
                self.by_hand(0.0);
            }
            let all = ui.button("Run it").on_hover_text(
                "Works out the whole way at the settings now, and logs what happens",
            );
            if all.clicked() {
                self.playing = None;
                self.now = None;
                self.work_out(app);
            }
        });
    }

    /// Moves the train by hand to so far along its way, mm.
    fn by_hand(&mut self, position_mm: f64) {
        self.position_mm = position_mm.clamp(0.0, self.distance_mm.max(0.0));
        (self.now, self.playing) = (None, None);
    }

    fn about(&self, app: &App) -> Option<(u64, Running)> {
        Some((app.doc.revision(), self.running(app.doc.layout())?))
    }

    /// Works the run out anew.
    fn work_out(&mut self, app: &App) {
        let about = self.about(app);
        self.log = about.and_then(|about| Log::of(app.doc.layout(), &app.derived.plan, about));
    }

    /// The log, worked out anew if the layout or the way has changed since.
    fn current_log(&mut self, app: &App) -> Option<&Log> {
        let about = self.about(app)?;
        if !self.log.as_ref().is_some_and(|log| log.is_about(about)) {
            self.now = None;
            self.work_out(app);
        }
        self.log.as_ref()
    }

    fn play_or_pause(&mut self, app: &App, ctx: &Context) {
        if self.playing.take().is_some() {
            return;
        }
        let (now, position) = (self.now, self.position_mm);
        let Some(log) = self.current_log(app) else { return };
        let begins = now.unwrap_or_else(|| log.at_position(position));
        // From its end it begins anew.
        let over = begins.event + 1 >= log.events.len();
        let begins = if over { log.at_time(0.0) } else { begins };
        self.show(begins);
        self.playing = Some(ctx.input(|i| i.time));
    }

    /// Lets as much of the run pass as the window's clock has gone on.
    fn advance(&mut self, ctx: &Context, app: &App) {
        let Some(before_s) = self.playing else { return };
        let about = self.about(app);
        let (Some(now), Some(log)) = (self.now, self.log.as_ref()) else {
            self.playing = None;
            return;
        };
        if about.is_none_or(|about| !log.is_about(about)) {
            // The layout has changed under the train: it stays where it is.
            self.by_hand(self.position_mm);
            return;
        }
        let time_s = ctx.input(|i| i.time);
        let passed_s = (time_s - before_s).clamp(0.0, LONGEST_FRAME_S);
        let next = log.at_time(now.time_s + passed_s);
        let over = next.event + 1 >= log.events.len();
        self.show(next);
        self.playing = (!over).then_some(time_s);
        if !over {
            ctx.request_repaint();
        }
    }

    fn step_event(&mut self, app: &App, on: bool) {
        let (now, position) = (self.now, self.position_mm);
        self.playing = None;
        let Some(log) = self.current_log(app) else { return };
        let event = match now {
            Some(now) if on => now.event + 1,
            Some(now) => now.event.saturating_sub(1),
            None => log.at_position(position).event,
        };
        let now = log.at_event(event);
        self.show(now);
    }

    /// Shows a moment of the log.
    fn show(&mut self, now: Now) {
        let Some(log) = &self.log else { return };
        self.position_mm = log.position_mm(now).clamp(0.0, self.distance_mm.max(0.0));
        self.now = Some(now);
    }

    /// Brings the train on the plan up to date, if the layout, the way or its place has changed since.
    fn here(&mut self, app: &App) {
        let layout = app.doc.layout();
        let plan = &app.derived.plan;
        let about = self.about(app);
        let position_mm = self.position_mm;
        match (&mut self.here, about) {
            (Some((was, Some(here))), Some(about)) if *was == about => {
                if here.standing.position_mm != position_mm.min(here.course.distance_mm) {
                    here.standing = here.course.at(layout, plan, position_mm);
                }
            }
            (here, about) => {
                *here = about.map(|about| {
                    let on_plan = Course::new(layout, plan, &about.1).map(|course| OnPlan {
                        standing: course.at(layout, plan, position_mm),
                        course,
                    });
                    (about, on_plan)
                });
            }
        }
    }

    fn on_plan(&self) -> Option<&OnPlan> {
        self.here.as_ref()?.1.as_ref()
    }

    /// How things are where the train is: as the log has it while that leads the train, with what has tripped by then.
    fn standing<'a>(&'a self, here: &'a OnPlan) -> &'a Standing {
        let logged = self.now.and_then(|now| self.log.as_ref()?.standing(now));
        logged.unwrap_or(&here.standing)
    }

    /// What is said beside the train: the log's last line while that leads it, and how things are there.
    fn words(&self, app: &App) -> String {
        let Some(here) = self.on_plan() else { return String::new() };
        let now = self.now.and_then(|now| self.log.as_ref()?.events.get(now.event));
        match now {
            Some(event) => event_words(app.doc.layout(), event, app.camera.units),
            None => standing_words(self.standing(here)),
        }
    }

    fn log_ui(&mut self, ui: &mut Ui, app: &App) {
        let about = self.about(app);
        let Some(log) = &self.log else { return };
        if about.is_none_or(|about| !log.is_about(about)) {
            ui.label(small(ui, "The layout or the way has changed since. Run it again."));
            return;
        }
        if !log.meets_a_gap() {
            ui.label("It meets no gap on this way.");
        }
        let mut wanted = None;
        for (n, event) in log.events.iter().enumerate() {
            let words = format!(
                "{}, {:.1} s: {}",
                app.camera.units.mm(event.position_mm.round()),
                event.time_s,
                event_words(app.doc.layout(), event, app.camera.units)
            );
            let now = self.now.is_some_and(|now| now.event == n);
            let line = ui.push_id(("log", n), |ui| ui.selectable_label(now, words)).inner;
            if line.on_hover_text("Puts the train there").clicked() {
                wanted = Some(log.at_event(n));
            }
        }
        if let Some(now) = wanted {
            self.playing = None;
            self.show(now);
        }
    }
}
