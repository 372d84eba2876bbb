//! Waveforms: rail voltages, driver currents and what the trips see, edge by edge, with cursors.
//!
//! Every trace is drawn from its exact stretches ([`Scope::stretches`]); nothing is sampled.

use eframe::egui::{
    self, Color32, DragValue, Id, Role, Slider, Stroke, Ui, Vec2b, WidgetInfo, vec2,
};
use egui_plot::{HLine, Line, LineStyle, Plot, PlotBounds, PlotPoints, VLine};

use super::super::names::shortened;
use super::super::theme::{SPACE, TIGHT, Tokens, heading, small, strong, tokens};
use super::commands::Command;
use super::lines::{conflicts, drawn, heights, trips_s};
use super::model::Model;
use super::readings::{self, signal_name};
use super::scene::Scene;
use crate::findings::Verdict;
use crate::layout::{Rail, TripKind};
use crate::report::ms;
use crate::signal::Stretch;
use crate::straddle::ix::DriverIx;
use crate::study::scope::{Scope, Signal, Trace};

/// Height of a plot, points.
const PLOT: f32 = 138.0;
/// Most stretches that are drawn at once.
const MOST_DRAWN: usize = 6000;
/// Shown where nothing changes over time, s.
const STILL_S: f64 = 0.01;
/// Shortest and longest span, s.
const SPANS_S: [f64; 2] = [1e-6, 10.0];

/// Choices for the waveforms.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Waves {
    /// Delay of each free pattern, as a fraction of its period; the first is the reference.
    pub delays: Vec<f64>,
    /// True if the phases stay as they are chosen; they drift otherwise.
    pub held: bool,
    /// Start of the span, s.
    pub from_s: f64,
    /// Length of the span, s; `None` for two periods of the slowest clock.
    pub span_s: Option<f64>,
    /// The part of the span that is zoomed to, s; `None` for all of it.
    pub zoom_s: Option<[f64; 2]>,
    /// The two cursors, s.
    pub cursors: [Option<f64>; 2],
    /// Traces that are shown, once one has chosen.
    pub shown: Option<Vec<Signal>>,
    /// Path of the file that the traces are to be written to, while it is asked.
    pub export: Option<String>,
}

impl Waves {
    /// The stretch of time that is shown, s.
    pub fn window_s(&self, scope: &Scope) -> (f64, f64) {
        let usual = scope.slowest_s().map_or(STILL_S, |slowest| 2.0 * slowest);
        let span_s = self.span_s.unwrap_or(usual).clamp(SPANS_S[0], SPANS_S[1]);
        (self.from_s, self.from_s + span_s)
    }

    /// The stretch of time that both plots show, s.
    pub fn seen_s(&self, scope: &Scope) -> [f64; 2] {
        let (from_s, to_s) = self.window_s(scope);
        self.zoom_s.unwrap_or([from_s, to_s])
    }

    /// Time of the first cursor, s: where the largest current begins to flow until one sets it.
    pub fn cursor_s(&self, scope: &Scope) -> f64 {
        self.cursors[0].unwrap_or_else(|| worst_s(self, scope))
    }
}

/// The middle of the first stretch of what is shown in the joint state of the largest current, s; the start without one.
pub(super) fn worst_s(waves: &Waves, scope: &Scope) -> f64 {
    let (from_s, to_s) = waves.window_s(scope);
    let worst = scope.worst_joint();
    let stretches = scope.stretches(&waves.delays, from_s, to_s);
    let first = stretches.iter().find(|stretch| stretch.joint == worst);
    first.map_or(from_s, |stretch| f64::midpoint(stretch.from_s, stretch.to_s))
}

/// True for a trace that is shown.
pub(super) fn is_shown(model: &Model, scene: &Scene, signal: Signal) -> bool {
    match &model.view.waves.shown {
        Some(shown) => shown.contains(&signal),
        None => is_usual(scene, signal),
    }
}

/// True for the traces that are shown until one chooses: both sides, what the trips of the parties see, and the current of
/// those whose trip does not see it as it is.
fn is_usual(scene: &Scene, signal: Signal) -> bool {
    let case = scene.gap.case(scene.stance.who);
    let sides = |at: DriverIx| case.meeting.iter().any(|side| side.contains(&at));
    match signal {
        Signal::Rails(_) => true,
        Signal::Trip(at) => sides(at),
        // A trip that filters or samples shows little of the current itself.
        Signal::P(at) => {
            let kind = case.wiring.drivers[at].trip.as_ref().map(|trip| trip.kind);
            let sees = kind.is_some_and(|k| {
                !matches!(k, TripKind::Averaged { .. } | TripKind::Sampled { .. })
            });
            sides(at) && !sees
        }
        Signal::Gap(_) | Signal::M(_) | Signal::Supply(_) | Signal::Load(_) => false,
    }
}

/// How a trace is drawn: colour of its block, pattern, and width. Of two that lie on each other the first is wider, so that both are
/// seen.
pub(super) type Look = (Color32, LineStyle, f32);

/// The look of a trace.
pub(super) fn look(model: &Model, scene: &Scene, signal: Signal, t: &Tokens) -> Look {
    let (dashed, dotted) = (LineStyle::Dashed { length: 8.0 }, LineStyle::Dotted { spacing: 5.0 });
    let at = scene.gap.place.at;
    let blocks = [at.block_before, at.block_after];
    let colour = |block: usize| t.block(model.derived.looks.of(block));
    let of_driver = |driver: DriverIx| {
        let case = scene.gap.case(scene.stance.who);
        let side = (0..2).find(|side| case.meeting[*side].contains(&driver));
        side.map_or(t.text, |side| colour(blocks[side]))
    };
    let width = |side: usize| if side == 0 { 4.5 } else { 2.0 };
    let wide = |driver: DriverIx| {
        let case = scene.gap.case(scene.stance.who);
        width(usize::from(!case.meeting[0].contains(&driver)))
    };
    match signal {
        Signal::Rails(side) => (colour(blocks[side.min(1)]), LineStyle::Solid, width(side)),
        Signal::Gap(Rail::Left) => (t.text, LineStyle::Solid, 2.0),
        Signal::Gap(Rail::Right) => (t.text, dashed, 2.0),
        Signal::Trip(driver) => (of_driver(driver), LineStyle::Solid, wide(driver)),
        Signal::P(driver) => (of_driver(driver), dashed, wide(driver)),
        Signal::M(driver) => (of_driver(driver), dotted, wide(driver)),
        Signal::Supply(driver) => {
            (of_driver(driver), LineStyle::Dashed { length: 16.0 }, wide(driver))
        }
        Signal::Load(_) => (t.weak, dashed, 2.0),
    }
}

/// The waveforms with their controls and readings.
pub(super) fn waves_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    let Some(scene) = model.scene else { return };
    let scope = match &scene.scope {
        Ok(scope) => scope,
        Err(why) => {
            ui.label(heading("The circuit could not be solved"));
            ui.label(format!("No waveform is shown rather than a wrong one: {why}."));
            return;
        }
    };
    phases_ui(ui, model, scene, scope, commands);
    span_ui(ui, model, scope, commands);
    let waves = &model.view.waves;
    let (from_s, to_s) = waves.window_s(scope);
    let mut stretches = scope.stretches(&waves.delays, from_s, to_s);
    if stretches.len() > MOST_DRAWN {
        stretches.truncate(MOST_DRAWN);
        let end_s = stretches.last().map_or(to_s, |last| last.to_s);
        let words =
            format!("Drawn up to {}: beyond are too many edges. Choose a shorter span.", ms(end_s));
        ui.label(strong(words));
    }
    for (title, volts) in [("Volts", true), ("Amps", false)] {
        plot_ui(ui, model, scene, (title, volts), &stretches, commands);
    }
    let words = "Shaded under a bar: in conflict. A click sets cursor A, with Shift cursor B; a drag moves both plots, a drag \
                 with the right button zooms both, a double click shows all again.";
    ui.add(egui::Label::new(small(ui, words)).wrap());
    cursors_ui(ui, model, scope, commands);
    readings::readings_ui(ui, model, scene, scope, commands);
    super::export::export_ui(ui, model, scene, scope, commands);
}

/// The relative phases: a slider for each pattern after the first, and whether they stay.
fn phases_ui(
    ui: &mut Ui,
    model: &Model,
    scene: &Scene,
    scope: &Scope,
    commands: &mut Vec<Command>,
) {
    let free = scope.free();
    let waves = &model.view.waves;
    if free.is_empty() {
        ui.label(small(ui, "At these settings no driver switches: nothing changes over time."));
        return;
    }
    if free.len() == 1 {
        ui.label(small(
            ui,
            "All that switches runs in one known pattern: there is no phase to choose.",
        ));
        return;
    }
    ui.horizontal_wrapped(|ui| {
        ui.label(strong("Phases"));
        for (held, words, tip) in [
            (
                false,
                "Drift",
                "Readings are those of the long run, in which the clocks drift through every phase",
            ),
            (true, "Stay as below", "Readings are those of clocks that keep this one phase"),
        ] {
            if ui.selectable_label(waves.held == held, words).on_hover_text(tip).clicked() {
                commands.push(Command::Waves(Waves { held, ..waves.clone() }));
            }
        }
        if free.len() == 2 {
            delay_ui(ui, model, scene, (scope, 1), commands);
        }
    });
    if free.len() > 2 {
        for at in 1..free.len() {
            ui.horizontal(|ui| delay_ui(ui, model, scene, (scope, at), commands));
        }
    }
}

/// How late a pattern is.
fn delay_ui(
    ui: &mut Ui,
    model: &Model,
    scene: &Scene,
    (scope, at): (&Scope, usize),
    commands: &mut Vec<Command>,
) {
    let free = scope.free();
    let waves = &model.view.waves;
    let names = free[at].members.iter().map(|(at, _)| model.driver_at(scene, DriverIx(*at)));
    let words = shortened(&names.collect::<Vec<_>>().join(", "), 30);
    let mut percent = waves.delays.get(at).copied().unwrap_or(0.0) * 100.0;
    ui.spacing_mut().slider_width = 120.0;
    ui.label(small(ui, format!("{words} late by")));
    let slider = ui
        .add(Slider::new(&mut percent, 0.0..=100.0).suffix(" %").max_decimals(1))
        .on_hover_text("Of its own period, against the driver that is named first")
        .accessible_name(format!("Phase of {words}"));
    if slider.changed() && percent.is_finite() {
        let mut delays = waves.delays.clone();
        delays.resize(free.len(), 0.0);
        delays[at] = percent / 100.0;
        commands.push(Command::Waves(Waves { delays, ..waves.clone() }));
    }
}

/// The controls of the span of time.
fn span_ui(ui: &mut Ui, model: &Model, scope: &Scope, commands: &mut Vec<Command>) {
    let waves = &model.view.waves;
    let (from_s, to_s) = waves.window_s(scope);
    let (mut from, mut span) = (from_s * 1e3, (to_s - from_s) * 1e3);
    ui.horizontal_wrapped(|ui| {
        let number = |value| DragValue::new(value).suffix(" ms").speed(0.05).max_decimals(4);
        ui.label(small(ui, "From"));
        let from_field = ui.add(number(&mut from)).accessible_name("Shown from");
        ui.label(small(ui, "for"));
        let span_field = ui
            .add(number(&mut span).range(SPANS_S[0] * 1e3..=SPANS_S[1] * 1e3))
            .accessible_name("Shown for");
        let mut new = waves.clone();
        if from_field.changed() && from.is_finite() {
            new.from_s = (from / 1e3).clamp(-1e3, 1e3);
        }
        if span_field.changed() && span.is_finite() {
            new.span_s = Some(span / 1e3);
        }
        for (words, factor) in [("Shorter", 0.5), ("Longer", 2.0)] {
            if ui.button(words).clicked() {
                new.span_s = Some(((to_s - from_s) * factor).clamp(SPANS_S[0], SPANS_S[1]));
            }
        }
        if (new.from_s, new.span_s) != (waves.from_s, waves.span_s) {
            // Another span is another picture.
            new.zoom_s = None;
        }
        let tip = "Two periods of the slowest driver, without zoom";
        if ui.button("Usual span").on_hover_text(tip).clicked() {
            (new.from_s, new.span_s, new.zoom_s) = (0.0, None, None);
        }
        let mut loaded = model.view.loaded;
        let tip = "What the motor or the decoder draws is added. The verdict leaves it out: a conflict flows without it";
        if ui.checkbox(&mut loaded, "With what it draws").on_hover_text(tip).changed() {
            commands.push(Command::Loaded(loaded));
        }
        if new != *waves {
            commands.push(Command::Waves(new));
        }
    });
}

/// One plot: volts or amps.
fn plot_ui(
    ui: &mut Ui,
    model: &Model,
    scene: &Scene,
    (title, volts): (&str, bool),
    stretches: &[Stretch],
    commands: &mut Vec<Command>,
) {
    let Ok(scope) = &scene.scope else { return };
    let t = tokens(ui);
    let waves = &model.view.waves;
    let seen_s = waves.seen_s(scope);
    let (left, right) = (seen_s[0] * 1e3, seen_s[1] * 1e3);
    let shown: Vec<&Trace> = (scope.traces.iter())
        .filter(|trace| trace.signal.is_voltage() == volts && is_shown(model, scene, trace.signal))
        .collect();
    let (least, most) = heights(&shown, stretches);
    let names = shown.iter().map(|trace| signal_name(model, scene, trace.signal));
    let said = format!(
        "{title} over time: {}. Shown from {} ms to {} ms",
        names.collect::<Vec<_>>().join("; "),
        short(left),
        short(right)
    );
    let y = if volts { "V" } else { "A" };
    let plot = Plot::new(title)
        .height(PLOT)
        .link_cursor(Id::unique("gap waves cursor"), [true, false])
        .allow_scroll(false)
        .allow_zoom(Vec2b::new(true, false))
        .allow_drag(Vec2b::new(true, false))
        .y_axis_min_width(46.0)
        .x_axis_formatter(|mark, _| format!("{} ms", short(mark.value)))
        .y_axis_formatter(move |mark, _| format!("{} {y}", short(mark.value)))
        .label_formatter(move |at| match at {
            egui_plot::HoverPosition::NearDataPoint { plot_name, position, .. } => {
                Some(format!("{plot_name}\n{} {y} at {} ms", short(position.y), short(position.x)))
            }
            egui_plot::HoverPosition::Elsewhere { .. } => None,
        });
    let plot = plot.show(ui, |plot| {
        // Both plots are as wide as either was zoomed to, and as high as their traces.
        plot.set_plot_bounds(PlotBounds::from_min_max([left, least], [right, most]));
        conflicts(plot, scope, stretches, most, t);
        for trace in shown {
            let (colour, style, width) = look(model, scene, trace.signal, t);
            let name = signal_name(model, scene, trace.signal);
            for piece in drawn(scene, scope, (trace, waves), stretches) {
                let line = Line::new(name.clone(), PlotPoints::from(piece));
                plot.line(line.color(colour).width(width).style(style).allow_band(false));
            }
            if let Some(threshold) = trace.threshold_a {
                let line = HLine::new(format!("threshold of {name}"), threshold);
                plot.hline(line.color(colour).width(1.0).style(LineStyle::dashed_dense()));
            }
            if let Some(acts_s) = trips_s(scene, trace, stretches) {
                let line = VLine::new(format!("{name}: acts"), acts_s * 1e3);
                plot.vline(line.color(t.verdict(Verdict::Short)).width(2.5));
            }
        }
        for (name, at_s, style) in [
            ("cursor A", Some(waves.cursor_s(scope)), LineStyle::Solid),
            ("cursor B", waves.cursors[1], LineStyle::dashed_dense()),
        ] {
            if let Some(at_s) = at_s {
                plot.vline(VLine::new(name, at_s * 1e3).color(t.accent).width(1.5).style(style));
            }
        }
    });
    plot.response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &said));
    let shift = ui.input(|i| i.modifiers.shift);
    let new = pointed(waves, (&plot.response, &plot.transform), seen_s, shift);
    commands.extend(new.map(Command::Waves));
}

/// The choices once a plot was zoomed, moved or clicked; `None` if it was not.
fn pointed(
    waves: &Waves,
    (response, transform): (&egui::Response, &egui_plot::PlotTransform),
    seen_s: [f64; 2],
    shift: bool,
) -> Option<Waves> {
    let bounds = transform.bounds();
    let to = [bounds.min()[0] / 1e3, bounds.max()[0] / 1e3];
    let moved = (0..2).any(|at| (to[at] - seen_s[at]).abs() > 1e-6 * (seen_s[1] - seen_s[0]));
    if response.double_clicked() {
        return Some(Waves { zoom_s: None, ..waves.clone() });
    }
    if moved && to[1] - to[0] >= SPANS_S[0] * 0.01 {
        return Some(Waves { zoom_s: Some(to), ..waves.clone() });
    }
    let at = response.interact_pointer_pos().filter(|_| response.clicked())?;
    let mut cursors = waves.cursors;
    cursors[usize::from(shift)] = Some(transform.value_from_position(at).x / 1e3);
    Some(Waves { cursors, ..waves.clone() })
}

/// A number of an axis.
pub(super) fn short(value: f64) -> String {
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// The cursors as numbers, and their difference.
fn cursors_ui(ui: &mut Ui, model: &Model, scope: &Scope, commands: &mut Vec<Command>) {
    let waves = &model.view.waves;
    let a_s = waves.cursor_s(scope);
    ui.horizontal_wrapped(|ui| {
        let mut cursors = waves.cursors;
        for (at, name, value) in [(0, "Cursor A", Some(a_s)), (1, "Cursor B", waves.cursors[1])] {
            ui.label(small(ui, name));
            let mut shown = value.unwrap_or(a_s) * 1e3;
            let field = ui
                .add(DragValue::new(&mut shown).suffix(" ms").speed(0.01).max_decimals(4))
                .accessible_name(name);
            if field.changed() && shown.is_finite() {
                cursors[at] = Some(shown / 1e3);
            }
        }
        if ui
            .button("Worst moment")
            .on_hover_text("Cursor A to where the most current flows")
            .clicked()
        {
            cursors[0] = None;
        }
        if let Some(b_s) = waves.cursors[1] {
            let apart = (b_s - a_s).abs();
            let rate = if apart > 0.0 { format!(", {:.1} Hz", 1.0 / apart) } else { String::new() };
            ui.label(strong(format!("{} apart{rate}", ms(apart))));
            if ui.button("Without B").clicked() {
                cursors[1] = None;
            }
        }
        if cursors != waves.cursors {
            commands.push(Command::Waves(Waves { cursors, ..waves.clone() }));
        }
    });
    ui.add_space(TIGHT);
}

/// A short sample of a trace's line.
pub(super) fn swatch(ui: &mut Ui, (colour, style, width): Look) {
    let (rect, _) = ui.allocate_exact_size(vec2(26.0, SPACE * 2.0), egui::Sense::hover());
    let y = rect.center().y;
    let ends = [egui::pos2(rect.left(), y), egui::pos2(rect.right(), y)];
    let dash: &[f32] = match style {
        LineStyle::Solid => &[],
        LineStyle::Dotted { .. } => &[2.0, 3.0],
        LineStyle::Dashed { length } if length > 10.0 => &[12.0, 4.0],
        LineStyle::Dashed { .. } => &[6.0, 4.0],
    };
    super::super::marks::dashed(ui.painter(), &ends, Stroke::new(width, colour), dash);
}
