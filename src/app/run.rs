//! Running a train: by hand along its way, or at speed with a log of what happens.

use std::collections::BTreeSet;

use eframe::egui::{Painter, Pos2, Rect, Shape, Slider, Stroke, Ui, pos2};

use super::App;
use super::form::{FROM_ZERO, Form, MM, MM_PER_S};
use super::marks::mark_ui;
use super::names;
use super::theme::{SPACE, Tokens, heading, length_units, small, strong};
use crate::findings::Verdict;
use crate::layout::{Layout, RunId};
use crate::rails::NetId;
use crate::report::{amps, event_words, urge_words};
use crate::study::run::{Course, Event, Rolls, Running, Standing, run};

/// How far a key moves the train by hand, mm.
pub const STEP_MM: f64 = 10.0;

/// An event is seen just after the place where it comes about, mm: at that place itself nothing has changed yet.
const JUST_IN_MM: f64 = 0.01;

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
    pub position_mm: f64,
    /// The log of the last run, and the revision of the layout that it was about.
    log: Option<(u64, Vec<Event>)>,
    /// Where it is on the plan, if it is: of which layout, which way, and how far along that, mm.
    here: Option<((u64, Running, f64), Option<OnPlan>)>,
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
            here: None,
        }
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

/// The train on the plan as it stands now, for the tab and the canvas.
#[derive(Debug)]
struct OnPlan {
    course: Course,
    standing: Standing,
}

/// Moves the train by hand.
pub fn step(app: &mut App, by_mm: f64) {
    app.run.position_mm = (app.run.position_mm + by_mm).clamp(0.0, app.run.distance_mm.max(0.0));
}

/// The tab.
pub fn run_ui(ui: &mut Ui, app: &mut App) {
    let mut tab = std::mem::take(&mut app.run);
    tab.ui(ui, app);
    app.run = tab;
}

impl RunTab {
    fn ui(&mut self, ui: &mut Ui, app: &App) {
        let layout = app.doc.layout();
        let Some(running) = self.running(layout) else {
            ui.label(small(
                ui,
                "There is nothing to run yet. Lay track, and add a vehicle or a train under Layout.",
            ));
            return;
        };
        self.form_ui(ui, app, &running);
        self.here(app);
        match &self.here {
            Some((_, Some(here))) => standing_ui(ui, app, &here.standing),
            _ => drop(ui.label(small(ui, "It is not on the track."))),
        }
        ui.add_space(SPACE);
        ui.label(heading("At speed"));
        let button = ui.button("Run it");
        let button =
            button.on_hover_text("Runs the way at the settings now, and logs what happens");
        if button.clicked()
            && let Some(running) = self.running(layout)
        {
            self.log = Some((app.doc.revision(), run(layout, &app.derived.plan, &running)));
        }
        self.log_ui(ui, app);
    }

    fn form_ui(&mut self, ui: &mut Ui, app: &App, running: &Running) {
        let layout = app.doc.layout();
        let (mut rolls, mut from) = (running.rolls, running.run);
        let units = length_units(ui);
        let mut form = Form::new(ui, "Run");
        form.choice("What", &mut rolls, &Self::choices(layout));
        form.choice("From run", &mut from, &app.run_choices());
        form.number("At", &mut self.at_mm, MM, FROM_ZERO);
        form.tick("Against that run, towards its start", &mut self.against);
        form.tick("Rear first", &mut self.rear_first);
        form.number("Way", &mut self.distance_mm, MM, FROM_ZERO);
        form.number("Speed", &mut self.speed_mm_s, MM_PER_S, 1.0..=100_000.0);
        (self.rolls, self.run) = (Some(rolls), Some(from));
        ui.add_space(SPACE);
        ui.label(heading("By hand"));
        let way = 0.0..=self.distance_mm.max(1.0);
        let slider = Slider::new(&mut self.position_mm, way)
            .custom_formatter(move |at, _| units.mm(at))
            .custom_parser(move |text| super::form::length_typed(text, units));
        ui.spacing_mut().slider_width = (ui.available_width() - 90.0).max(80.0);
        ui.add(slider).accessible_name("Run: how far it has come");
        ui.horizontal(|ui| {
            let back = ui.button(format!("Back {}", units.mm(STEP_MM))).on_hover_text("[");
            let on = ui.button(format!("On {}", units.mm(STEP_MM))).on_hover_text("]");
            let by =
                STEP_MM * (f64::from(u8::from(on.clicked())) - f64::from(u8::from(back.clicked())));
            self.position_mm = (self.position_mm + by).clamp(0.0, self.distance_mm.max(0.0));
        });
    }

    /// Brings the train on the plan up to date, if the layout or the way has changed since.
    fn here(&mut self, app: &App) {
        let layout = app.doc.layout();
        let about =
            self.running(layout).map(|running| (app.doc.revision(), running, self.position_mm));
        if self.here.as_ref().map(|(about, _)| *about) == about {
            return;
        }
        self.here = about.map(|about| {
            let plan = &app.derived.plan;
            let here = Course::new(layout, plan, &about.1).map(|course| OnPlan {
                standing: course.at(layout, plan, self.position_mm),
                course,
            });
            (about, here)
        });
    }

    fn log_ui(&mut self, ui: &mut Ui, app: &App) {
        let Some((revision, events)) = &self.log else { return };
        if *revision != app.doc.revision() {
            ui.label(small(ui, "The layout has changed since. Run it again."));
            return;
        }
        for (n, event) in events.iter().enumerate() {
            let words = format!(
                "{}, {:.1} s: {}",
                app.camera.units.mm(event.position_mm.round()),
                event.time_s,
                event_words(app.doc.layout(), event, app.camera.units)
            );
            let line = ui.push_id(("log", n), |ui| ui.selectable_label(false, words)).inner;
            if line.on_hover_text("Puts the train there").clicked() {
                self.position_mm = (event.position_mm + JUST_IN_MM).min(self.distance_mm);
            }
        }
    }
}

/// What it joins, and what comes of it.
fn standing_ui(ui: &mut Ui, app: &App, here: &Standing) {
    let layout = app.doc.layout();
    ui.horizontal(|ui| {
        mark_ui(ui, here.verdict, 7.0);
        let what = match here.verdict {
            Verdict::Clear => "clear here".to_owned(),
            verdict => format!("{} here, {} at the peak", verdict.word(), amps(here.peak_a())),
        };
        ui.label(strong(what));
    });
    ui.label(urge_words(here.urge));
    for cut in &here.cuts {
        ui.label(format!("Over {}", names::entity_name(layout, (*cut).into())));
    }
    for group in &here.groups {
        let rail = |side: usize| {
            let nets = &group.nets[side];
            let names: BTreeSet<String> = nets.iter().map(|net| net_words(app, *net)).collect();
            let names: Vec<String> = names.into_iter().collect();
            match names.len() {
                0 => "nothing".to_owned(),
                one if one < nets.len() => format!("both rails of {}", names.join(" with ")),
                _ => names.join(" with "),
            }
        };
        let whose = group
            .vehicles
            .first()
            .map_or_else(String::new, |id| names::entity_name(layout, (*id).into()));
        let live = match group.live {
            Some(true) => ", live",
            Some(false) => ", dead",
            None => "",
        };
        let joins = if group.joins() { "joins" } else { "stands on" };
        ui.label(format!(
            "{whose} {joins}: on the left {}, on the right {}{live}",
            rail(0),
            rail(1)
        ));
    }
}

/// What a rail belongs to: its block, or else its name in the plan.
fn net_words(app: &App, net: NetId) -> String {
    let plan = &app.derived.plan;
    let block = plan.blocks.iter().position(|block| {
        block.nets.iter().any(|&of| plan.nets.get(of).is_some_and(|of| of.id == net))
    });
    match block {
        Some(block) => plan.block_name(app.doc.layout(), block),
        None => format!("rail {net}"),
    }
}

/// Draws the train: each axle across the track, the whole as a band along it, marked where it joins nets.
pub fn paint(painter: &Painter, app: &App, canvas: Rect, t: &Tokens) {
    let Some((_, Some(here))) = &app.run.here else { return };
    let at = |behind_mm: f64, left_mm: f64| -> Option<Pos2> {
        let place = here.course.place(here.standing.position_mm, behind_mm)?;
        let pose = app.derived.curves.get(&place.run)?.at(place.at_mm);
        let left = if place.along { left_mm } else { -left_mm };
        Some(app.camera.to_screen(canvas, pose.left_by(left)))
    };
    // From afar it stays wide enough to be seen.
    let half = (app.doc.layout().gauge_mm * 0.75).max(5.0 / app.camera.scale);
    let length = here.course.length_mm();
    let steps = 24;
    let mut outline: Vec<Pos2> = Vec::new();
    for side in [half, -half] {
        let mut edge: Vec<Pos2> = (0..=steps)
            .filter_map(|k| at(length * f64::from(k) / f64::from(steps), side))
            .collect();
        if side < 0.0 {
            edge.reverse();
        }
        outline.append(&mut edge);
    }
    let joins = here.standing.groups.iter().any(|group| group.joins());
    let width = if joins { 3.0 } else { 1.5 };
    let colour = t.verdict(here.standing.verdict);
    painter.add(Shape::closed_line(outline, Stroke::new(width, colour)));
    for (behind_mm, picks_up) in here.course.axles() {
        if let (Some(a), Some(b)) = (at(behind_mm, half * 0.66), at(behind_mm, -half * 0.66)) {
            let middle = pos2(f32::midpoint(a.x, b.x), f32::midpoint(a.y, b.y));
            painter.line_segment([a, b], Stroke::new(2.0, t.text));
            // Filled where it picks up.
            if picks_up {
                painter.circle_filled(middle, 2.5, t.text);
            } else {
                painter.circle_stroke(middle, 2.5, Stroke::new(1.0, t.text));
            }
        }
    }
}
