//! Readings of instruments for each trace, the place they hold for, and where to put the leads.

use eframe::egui::{Grid, Label, ScrollArea, Ui};

use super::super::names::capital;
use super::super::theme::{SPACE, TIGHT, heading, small, strong, tokens};
use super::commands::Command;
use super::lines::{compared, trips_s};
use super::model::Model;
use super::scene::Scene;
use super::waves::{Waves, is_shown, look, swatch};
use crate::layout::{Rail, Senses, TripKind};
use crate::report::ms;
use crate::signal::Stretch;
use crate::study::scope::{Scope, Signal, Trace, value_at};

/// The name of a trace.
pub(super) fn signal_name(model: &Model, scene: &Scene, signal: Signal) -> String {
    let [before, beyond] = model.sides();
    match signal {
        Signal::Rails(0) => format!("{before}, rail to rail"),
        Signal::Rails(_) => format!("{beyond}, rail to rail"),
        Signal::Gap(rail) => format!("Across the gap, {} rail", rail_word(rail)),
        Signal::P(at) => format!("{}, P", model.driver_at(scene, at)),
        Signal::M(at) => format!("{}, M", model.driver_at(scene, at)),
        Signal::Supply(at) => format!("{}, from its supply", model.driver_at(scene, at)),
        Signal::Trip(at) => {
            let trip = scene.gap.case(scene.stance.who).wiring.drivers[at].trip.as_ref();
            let sees = match trip.map(|trip| trip.kind) {
                Some(TripKind::Averaged { .. }) => "its trip's filter",
                Some(TripKind::Sampled { .. }) => "its trip's samples",
                _ => "its trip sees",
            };
            format!("{}, {sees}", model.driver_at(scene, at))
        }
        Signal::Load(0) => "The vehicle draws".to_owned(),
        Signal::Load(at) => format!("The vehicle draws, {}", at + 1),
    }
}

/// The name of a trace as a table has it: of a trip the current that it senses, before it filters or samples.
pub(super) fn column_name(model: &Model, scene: &Scene, signal: Signal) -> String {
    match signal {
        Signal::Trip(at) => format!("{}, its trip senses", model.driver_at(scene, at)),
        _ => signal_name(model, scene, signal),
    }
}

fn rail_word(rail: Rail) -> &'static str {
    match rail {
        Rail::Left => "left",
        Rail::Right => "right",
    }
}

/// Between which two points to measure a trace.
fn leads(model: &Model, scene: &Scene, signal: Signal) -> String {
    let [before, beyond] = model.sides();
    let in_series = |at, wire: &str| {
        format!(
            "meter in series with {wire} of {}, or a current clamp around it",
            model.driver_at(scene, at)
        )
    };
    match signal {
        Signal::Rails(side) => {
            let side = if side == 0 { before } else { beyond };
            format!("red lead on the right rail of {side}, black lead on its left rail")
        }
        Signal::Gap(rail) => {
            let rail = rail_word(rail);
            format!(
                "red lead on the {rail} rail in {before}, black lead on the {rail} rail in {beyond}"
            )
        }
        Signal::P(at) => in_series(at, "the wire from output P"),
        Signal::M(at) => in_series(at, "the wire from output M"),
        Signal::Supply(at) => in_series(at, "the positive supply lead"),
        Signal::Trip(at) => {
            let case = scene.gap.case(scene.stance.who);
            let senses = case.wiring.drivers[at].trip.as_ref().map(|trip| trip.senses);
            match senses {
                Some(Senses::LegP) => in_series(at, "the wire from output P"),
                Some(Senses::LegM) => in_series(at, "the wire from output M"),
                Some(Senses::LargerLeg) => in_series(at, "the output wire that carries more"),
                Some(Senses::SupplyLead) => in_series(at, "the positive supply lead"),
                Some(Senses::GroundReturn) => in_series(at, "the negative supply lead"),
                _ => "inside the driver: no lead reaches it".to_owned(),
            }
        }
        Signal::Load(_) => "inside the vehicle: no lead reaches it".to_owned(),
    }
}

/// A level with its unit, to three digits behind the point at most.
pub(super) fn level(signal: Signal, value: Option<f64>) -> String {
    let unit = if signal.is_voltage() { "V" } else { "A" };
    match value {
        None => "floats".to_owned(),
        Some(value) => {
            // No −0.
            let value = if value.abs() < 5e-4 { 0.0 } else { value };
            let digits = if value.abs() >= 10.0 { 1 } else { 2 };
            format!("{value:.digits$} {unit}")
        }
    }
}

/// For which place and which time the readings hold.
fn holds_words(model: &Model, scene: &Scene, held: bool) -> String {
    let stance = &scene.stance;
    let who = capital(&model.who(stance.who));
    let place = match &scene.stand {
        Some(_) => format!("{who} {} past the gap", model.units.mm(stance.lead_mm)),
        None => {
            format!("{who} {} past the gap, where it joins nothing", model.units.mm(stance.lead_mm))
        }
    };
    let load = if model.view.loaded { "with what it draws" } else { "without what it draws" };
    let time = if held { "the phases as chosen" } else { "in the long run, the phases drifting" };
    format!("{place}, {load}, {time}.")
}

/// The table of readings.
pub(super) fn readings_ui(
    ui: &mut Ui,
    model: &Model,
    scene: &Scene,
    scope: &Scope,
    commands: &mut Vec<Command>,
) {
    let waves = &model.view.waves;
    let held = if waves.held { scope.held(&waves.delays) } else { None };
    let shares: &[f64] = held.as_deref().unwrap_or_else(|| scope.drifting());
    ui.label(heading("Readings"));
    ui.add(Label::new(small(ui, holds_words(model, scene, held.is_some()))).wrap());
    if waves.held && held.is_none() {
        ui.label(small(
            ui,
            "These clocks repeat together too seldom for one phase to have readings of its own.",
        ));
    }
    let (from_s, to_s) = waves.window_s(scope);
    let stretches = scope.stretches(&waves.delays, from_s, to_s);
    let row = Row { scope, shares, stretches: &stretches, named: name_width(ui, waves) };
    ScrollArea::horizontal().id_salt("readings").show(ui, |ui| {
        Grid::new("readings").striped(true).spacing([GAP, TIGHT]).min_col_width(0.0).show(
            ui,
            |ui| {
                let heads = [
                    ("Trace", row.named),
                    ("at A", NUMBER),
                    ("at B", NUMBER),
                    ("Averaging meter", METER),
                    ("True-RMS meter", METER),
                    ("Peak", NUMBER),
                ];
                for (head, width) in heads {
                    if head != "at B" || waves.cursors[1].is_some() {
                        narrow(ui, width, |ui| drop(ui.add(Label::new(strong(head)).wrap())));
                    }
                }
                ui.end_row();
                for trace in &scope.traces {
                    row_ui(ui, model, scene, (trace, &row), commands);
                    ui.end_row();
                }
            },
        );
    });
    leads_ui(ui, model, scene, scope);
    trips_ui(ui, model, scene, scope);
    ranges_ui(ui, model, scene);
    caution_ui(ui);
}

/// Widths of the columns with a number and with a meter, points, and space between columns.
const NUMBER: f32 = 56.0;
const METER: f32 = 72.0;
const GAP: f32 = 12.0;

/// Width of the column of names, so that the whole table is in sight.
fn name_width(ui: &Ui, waves: &Waves) -> f32 {
    let numbers = if waves.cursors[1].is_some() { 3.0 } else { 2.0 };
    let others = numbers * (NUMBER + GAP) + 2.0 * (METER + GAP);
    (ui.available_width() - others - 4.0).clamp(150.0, 330.0)
}

/// Puts something into a cell of a fixed width.
fn narrow(ui: &mut Ui, width: f32, add: impl FnOnce(&mut Ui)) {
    ui.vertical(|ui| {
        ui.set_width(width);
        add(ui);
    });
}

/// Shared values of the rows of the table.
struct Row<'a> {
    scope: &'a Scope,
    shares: &'a [f64],
    stretches: &'a [Stretch],
    /// Width of the names, points.
    named: f32,
}

/// The level of a trace at a time, s: of a trip that filters or samples, what that makes of its current.
fn level_at(
    scene: &Scene,
    row: &Row,
    (trace, waves): (&Trace, &Waves),
    time_s: f64,
) -> Option<f64> {
    match compared(scene, row.scope, (trace, waves), row.stretches) {
        Some(points) => value_at(&points, time_s),
        None => {
            let joint = row.scope.joint_at(&waves.delays, time_s);
            trace.levels.get(joint).copied().flatten()
        }
    }
}

/// The largest figure that a trace reaches: of a trip, what it compares with its threshold at the worst phase.
fn peak_of(model: &Model, scene: &Scene, trace: &Trace, peak: f64) -> f64 {
    let judged = scene.judged.as_ref().filter(|_| !model.view.loaded);
    match trace.signal {
        Signal::Trip(at) => {
            judged.and_then(|judged| judged.drivers.get(at)?.trip_compares_a).unwrap_or(peak)
        }
        _ => peak,
    }
}

fn row_ui(
    ui: &mut Ui,
    model: &Model,
    scene: &Scene,
    (trace, row): (&Trace, &Row),
    commands: &mut Vec<Command>,
) {
    let waves = &model.view.waves;
    let t = tokens(ui);
    let signal = trace.signal;
    let name = signal_name(model, scene, signal);
    let mut shown = is_shown(model, scene, signal);
    ui.horizontal(|ui| {
        ui.set_width(row.named);
        ui.spacing_mut().item_spacing.x = 4.0;
        let tick = ui.checkbox(&mut shown, "").on_hover_text("Draw it");
        if tick.accessible_name(format!("Draw: {name}")).changed() {
            let Ok(scope) = &scene.scope else { return };
            let all = scope.traces.iter().map(|trace| trace.signal);
            let old = all.filter(|other| is_shown(model, scene, *other) && *other != signal);
            let list = old.chain(shown.then_some(signal)).collect();
            let waves = model.view.waves.clone();
            commands.push(Command::Waves(Waves { shown: Some(list), ..waves }));
        }
        swatch(ui, look(model, scene, signal, t));
        ui.add(Label::new(&name).truncate());
    });
    let at = |time_s: f64| level(signal, level_at(scene, row, (trace, waves), time_s));
    let cursors = [("A", Some(waves.cursor_s(row.scope))), ("B", waves.cursors[1])];
    for (cursor, at_s) in cursors {
        if let Some(words) = at_s.map(at) {
            let said = format!("{name}, at {cursor}: {words}");
            ui.label(strong(words)).accessible_name(said);
        }
    }
    match trace.reading(row.shares) {
        Some(reading) => {
            for (what, value) in [
                ("averaging meter", reading.mean),
                ("true-RMS meter", reading.rms),
                ("peak", peak_of(model, scene, trace, reading.peak)),
            ] {
                let words = level(signal, Some(value));
                ui.label(&words).accessible_name(format!("{name}, {what}: {words}"));
            }
        }
        None => {
            let tip =
                "In some moments nothing joins the two points: what a meter shows then is chance";
            ui.label("floats").on_hover_text(tip);
            ui.label("");
            ui.label("");
        }
    }
}

/// Places of the leads for each trace.
fn leads_ui(ui: &mut Ui, model: &Model, scene: &Scene, scope: &Scope) {
    ui.add_space(TIGHT);
    ui.label(heading("Where to put the leads"));
    for trace in scope.traces.iter().filter(|trace| is_shown(model, scene, trace.signal)) {
        let name = signal_name(model, scene, trace.signal);
        let words = format!("{name}: {}.", leads(model, scene, trace.signal));
        ui.add(Label::new(small(ui, words)).wrap());
    }
}

/// How far readings can be off from one pass to the next where one clock holds a phase that nobody knows.
fn ranges_ui(ui: &mut Ui, model: &Model, scene: &Scene) {
    let Some(judged) = scene.judged.as_ref().filter(|_| !model.view.loaded) else { return };
    for (at, driver) in judged.drivers.pairs() {
        let legs = [Signal::P(at), Signal::M(at), Signal::Supply(at)];
        for (signal, figures) in legs.into_iter().zip(&driver.figures) {
            let Some(range) = figures.range.filter(|_| figures.peak > 0.01) else { continue };
            let words = format!(
                "{}: the phase is one that nobody knows. A true-RMS meter shows {} to {}, an averaging one {} to {}.",
                signal_name(model, scene, signal),
                level(signal, Some(range.rms.min)),
                level(signal, Some(range.rms.max)),
                level(signal, Some(range.mean.min)),
                level(signal, Some(range.mean.max)),
            );
            ui.add(Label::new(small(ui, words)).wrap());
        }
    }
}

/// When the trip of a driver acts in the long run, s; `None` if it does not.
fn judged_s(model: &Model, scene: &Scene, signal: Signal) -> Option<f64> {
    let Signal::Trip(at) = signal else { return None };
    let judged = scene.judged.as_ref().filter(|_| !model.view.loaded)?;
    judged.drivers.get(at)?.trip_after_s
}

/// When each trip acts within the span.
fn trips_ui(ui: &mut Ui, model: &Model, scene: &Scene, scope: &Scope) {
    let waves = &model.view.waves;
    let (from_s, to_s) = waves.window_s(scope);
    let stretches = scope.stretches(&waves.delays, from_s, to_s);
    ui.add_space(TIGHT);
    for trace in &scope.traces {
        let (Signal::Trip(_), Some(threshold)) = (trace.signal, trace.threshold_a) else {
            continue;
        };
        let name = signal_name(model, scene, trace.signal);
        let acts = trips_s(scene, trace, &stretches);
        let words = match acts {
            Some(at_s) => format!(
                "{name}: with its threshold at {} it acts {} after the start of what is shown.",
                level(trace.signal, Some(threshold)),
                ms(at_s - from_s)
            ),
            None => {
                let later =
                    judged_s(model, scene, trace.signal).map_or_else(String::new, |after_s| {
                        format!(
                            ", but {} after the wheels join the rails, at the worst phase",
                            ms(after_s)
                        )
                    });
                format!(
                    "{name}: its threshold is {}; within what is shown it does not act{later}.",
                    level(trace.signal, Some(threshold))
                )
            }
        };
        ui.add(Label::new(small(ui, words)).wrap());
    }
}

/// Cautions for measuring.
fn caution_ui(ui: &mut Ui) {
    ui.add_space(SPACE);
    ui.add(
        Label::new(
            "Caution: the clips of an oscilloscope that is plugged into the mains are joined to earth and to each other. \
             Clipped to two rails they are a short themselves, through the driver. Take two probes and show their \
             difference, or a meter that runs on a battery. An ammeter in series carries the whole current: set it to its \
             largest range first. Leave what is on mains voltage to those who are licensed for it.",
        )
        .wrap(),
    );
}
