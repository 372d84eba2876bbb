//! The form of the tool that places special work.

use eframe::egui::Ui;

use super::formation;
use super::state::{KINDS, Kind, SpecialTool, Target};
use crate::app::App;
use crate::app::form::{ANY, DEGREE, FROM_ZERO, Form, MM};
use crate::app::glossary::term;
use crate::app::theme::{SPACE, heading, small};
use crate::app::tools::{action, run_length_ui};
use crate::layout::laying::free_ends;
use crate::layout::{Frog, Layout, Rail, RunEnd, RunId, TrackEnd, roads};

/// Which way the roads leave.
const WAYS: [(RunEnd, &str); 2] = [(RunEnd::End, "To its end"), (RunEnd::Start, "To its start")];

/// Kinds of frog to choose from.
pub fn frog_choices(one_metal: bool) -> Vec<(Frog, String)> {
    let all = [
        (Frog::Insulated, "Insulated"),
        (Frog::Switched, "Switched"),
        (Frog::PowerRouting, "Power-routing"),
        (Frog::PowerRoutingWithContact, "Power-routing with contact"),
    ];
    all.into_iter()
        .filter(|(frog, _)| one_metal || !frog.is_one_metal())
        .map(|(frog, words)| (frog, words.to_owned()))
        .collect()
}

/// What kinds of frog do.
pub const FROG_HELP: &str = "Insulated: dead.\n\
    Switched: cut off all round, fed by a contact.\n\
    Power-routing: one metal with the points, fed by the rail that they touch.\n\
    Power-routing with contact: the same metal, and a contact feeds it besides.";

/// An end of track in words.
pub fn end_words(layout: &Layout, end: TrackEnd) -> String {
    let word = if end.end == RunEnd::Start { "start" } else { "end" };
    let place = roads::joint_of(layout, end)
        .and_then(|joint| layout.joints.get(&joint))
        .map_or_else(String::new, |j| format!(" ({:.0}, {:.0})", j.x_mm, j.y_mm));
    format!("{word} of run {}{place}", end.run)
}

/// The form of the tool that places special work.
pub fn special_ui(ui: &mut Ui, app: &mut App) {
    let mut tool = app.tools.special.clone();
    let mut form = Form::new(ui, "Special work").label_width(64.0);
    options_form(&mut form, &mut tool);
    let mut form = Form::new(ui, "Special work").label_width(64.0);
    formation::sizes_form(&mut form, &mut tool, app.doc.layout(), app.camera.units);
    ui.add_space(SPACE);
    ui.label(heading("By numbers"));
    let mut form = Form::new(ui, "Special work").label_width(64.0);
    let target = target_form(&mut form, &mut tool, app);
    if tool.kind != Kind::Buffer && !tool.kind.is_bridge() {
        run_length_ui(ui, app, tool.run);
    }
    if tool.kind == Kind::Loop {
        ui.horizontal_wrapped(|ui| {
            ui.label(small(ui, "It wants a"));
            term(ui, "reversing section");
        });
    }
    app.tools.special = tool;
    if action(ui, "Place it here", target.is_some())
        && let Some(target) = target
    {
        app.place_special(target);
        app.fit_if_out_of_sight();
    }
}

/// The kind of special work, its sizes and its frogs.
fn options_form(form: &mut Form<'_>, tool: &mut SpecialTool) {
    let was = tool.kind;
    form.choice("Kind", &mut tool.kind, &KINDS.map(|(kind, word)| (kind, word.to_owned())));
    if tool.kind != was && tool.kind.crossing().is_some() && tool.frog.is_one_metal() {
        tool.frog = Frog::Insulated;
    }
    let is_formation = tool.kind.is_formation();
    if matches!(tool.kind, Kind::Turnout | Kind::Curved) || is_formation || tool.lays_second() {
        let hands = [(Rail::Left, "Left".to_owned()), (Rail::Right, "Right".to_owned())];
        form.choice("Hand", &mut tool.hand, &hands)
            .on_hover_text("To which side the diverging road goes, seen from the points (X)");
    }
    let is_turnout = matches!(
        tool.kind,
        Kind::Turnout | Kind::Curved | Kind::Wye | Kind::ThreeWay | Kind::Crossover
    );
    if is_formation || (is_turnout && tool.kind != Kind::Wye) {
        form.choice(
            "Roads go",
            &mut tool.towards,
            &WAYS.map(|(end, words)| (end, words.to_owned())),
        )
        .on_hover_text("Towards which end of the run; at a free end of track they go outwards");
    }
    if is_turnout || is_formation || tool.kind.crossing().is_some() {
        let choices = frog_choices(is_turnout || is_formation);
        form.choice("Frogs", &mut tool.frog, &choices).on_hover_text(FROG_HELP);
    }
    if is_turnout {
        form.number("Turn", &mut tool.turn_deg, DEGREE, 0.5..=120.0)
            .on_hover_text("How far the diverging road turns away by its end");
        if tool.kind != Kind::Crossover {
            let radius = tool.length_mm / tool.turn_deg.to_radians();
            form.number("Length", &mut tool.length_mm, MM, 10.0..=1e5).on_hover_text(format!(
                "Length of each road that is laid. Beside a straight road its radius is {radius:.0} mm."
            ));
        }
        if tool.kind == Kind::Curved {
            form.number("Through", &mut tool.through_deg, DEGREE, -120.0..=120.0).on_hover_text(
                "How far the through road turns, at an end of track; left is positive",
            );
        }
    }
    if tool.kind.crossing().is_some() {
        form.number("Angle", &mut tool.angle_deg, DEGREE, -170.0..=170.0)
            .on_hover_text("At which the second road crosses, where it is laid; left is positive");
        form.number("Length", &mut tool.length_mm, MM, 10.0..=1e5)
            .on_hover_text("Of the second road on each side, where it is laid");
    }
    if tool.kind.is_bridge() {
        form.number("Bridge", &mut tool.bridge_mm, MM, 10.0..=1e4);
        if tool.kind == Kind::Turntable {
            form.text("Roads at", &mut tool.bearings, "angles").on_hover_text(
                "Bearings in degrees, counter-clockwise, from the road that is there or from the plan's right",
            );
        } else {
            form.whole("Roads", &mut tool.roads, 1..=29);
            form.number("Spacing", &mut tool.spacing_mm, MM, ANY)
                .on_hover_text("From one road to the next; to the left is positive");
        }
        form.number("Length", &mut tool.road_mm, MM, 10.0..=1e5)
            .on_hover_text("Of each road that is laid");
    }
}

/// The place where it goes, as typed.
fn target_form(form: &mut Form<'_>, tool: &mut SpecialTool, app: &App) -> Option<Target> {
    let layout = app.doc.layout();
    let ends: Vec<(Option<TrackEnd>, String)> =
        free_ends(layout).into_iter().map(|end| (Some(end), end_words(layout, end))).collect();
    let runs: Vec<(Option<RunId>, String)> =
        app.run_choices().into_iter().map(|(id, words)| (Some(id), words)).collect();
    let mut target = None;
    if tool.kind == Kind::Buffer {
        form.choice("End", &mut tool.end, &ends);
        target = tool.end.map(Target::End);
    } else if tool.kind.is_bridge() {
        let mut places = vec![(None, "a place on the plan".to_owned())];
        places.extend(ends);
        form.choice("At", &mut tool.end, &places);
        if tool.end.is_none() {
            form.number("x", &mut tool.x_mm, MM, ANY);
            form.number("y", &mut tool.y_mm, MM, ANY);
        }
        target = Some(tool.end.map_or(Target::Ground(tool.x_mm, tool.y_mm), Target::End));
    } else {
        form.choice("Run", &mut tool.run, &runs);
        form.number("At", &mut tool.at_mm, MM, FROM_ZERO)
            .on_hover_text("Distance along the run from its start");
        let beside = tool.kind == Kind::Crossover;
        if (beside && !tool.lays_second) || tool.kind.crossing().is_some() {
            let first = if beside { "the run beside it" } else { "a road that is laid" };
            let mut others = vec![(None, first.to_owned())];
            others.extend(runs);
            form.choice(if beside { "To" } else { "Crosses" }, &mut tool.other, &others);
        }
        if let Some(run) = tool.run {
            target = Some(Target::On(run, tool.at_mm, tool.other));
        }
    }
    target
}
