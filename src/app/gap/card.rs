//! The card of the gap: the settings now, every pair of settings, and how each vehicle passes.

use eframe::egui::{Label, Ui};

use super::super::card::{grid_ui, situation_ui, summary_ui};
use super::super::marks::mark_ui;
use super::super::names;
use super::super::theme::{SPACE, TIGHT, heading, small, strong, tokens};
use super::break_even::break_even_ui;
use super::commands::Command;
use super::model::Model;
use super::passing::passing_ui;
use super::rush::rush_card_ui;
use crate::findings::{Class, CutReport, Facing, PassAt, PassReport, Trips};
use crate::report::{ms, percent};
use crate::study::scope::Who;

/// Most findings that the card repeats.
const MOST_FINDINGS: usize = 4;

/// The card.
pub(super) fn card_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    ui.label(heading("Crossing this gap"));
    let Some(cut) = model.cut else {
        ui.add(Label::new(no_report(model)).wrap());
        return;
    };
    ui.scope(|ui| summary_ui(ui, cut));
    findings_ui(ui, model, cut);
    ui.add_space(SPACE);
    let sides = model.sides();
    if cut.card.is_empty() {
        ui.label(small(ui, "There are no pairs of settings here: a side has no driver."));
    } else {
        let mut cell = model.view.cell;
        grid_ui(ui, &mut cell, cut, &sides);
        if cell != model.view.cell {
            commands.push(Command::Cell(cell));
        }
    }
    ui.add_space(SPACE);
    let chosen = model.view.cell.and_then(|(a, b)| cut.card.iter().find(|c| c.a == a && c.b == b));
    let layout = model.source.layout;
    match chosen {
        Some(cell) => {
            let title = format!("{} {}, {} {}", sides[0], cell.a.word(), sides[1], cell.b.word());
            situation_ui(ui, layout, &title, &cell.situation);
            rush_card_ui(ui, model);
        }
        None => {
            situation_ui(ui, layout, "At the settings now", &cut.now);
            rush_card_ui(ui, model);
            passing_ui(ui, model);
        }
    }
    ui.add_space(SPACE);
    passes_ui(ui, model, &cut.passes_now, commands);
    break_even_ui(ui, model, commands);
}

/// Findings at this gap: faults, and rules for operators.
fn findings_ui(ui: &mut Ui, model: &Model, cut: &CutReport) {
    let t = tokens(ui);
    let checked = model.source.checked;
    let all = checked.report.findings.iter().zip(&checked.words);
    let here: Vec<_> = all.filter(|(finding, _)| finding.cuts().contains(&cut.id)).collect();
    ui.add_space(SPACE);
    for (finding, words) in here.iter().take(MOST_FINDINGS) {
        ui.horizontal_wrapped(|ui| {
            let word = match finding.class {
                Class::Fault => {
                    mark_ui(ui, finding.verdict, 7.0);
                    strong(finding.verdict.plain()).color(t.verdict(finding.verdict))
                }
                Class::Rule => strong("operating rule"),
                Class::Note => strong("note"),
            };
            ui.label(word);
            ui.label(strong(finding.kind.title()));
        });
        // The place, which they name first, is this one.
        let says = words.says.split_once(": ").map_or(&*words.says, |(_, cause)| cause);
        ui.add(Label::new(names::capital(says)).wrap());
        ui.add_space(TIGHT);
    }
    let more = here.len().saturating_sub(MOST_FINDINGS);
    if more > 0 {
        ui.label(small(ui, format!("{more} more are under Findings.")));
    }
}

/// Why the report has nothing about the gap.
fn no_report(model: &Model) -> &'static str {
    if model.source.is_checked {
        "The check does not judge this gap: a side of it has no driver, or a driver there is shorted with no train. The \
         findings say which."
    } else {
        "This gap is not checked yet."
    }
}

/// How each vehicle and each train passes at the settings now.
fn passes_ui(ui: &mut Ui, model: &Model, passes: &[PassReport], commands: &mut Vec<Command>) {
    ui.label(heading("What passes now"));
    if passes.is_empty() {
        ui.label(small(ui, "Nothing on the layout joins the two sides of this gap."));
        return;
    }
    for pass in passes {
        pass_ui(ui, model, pass, commands);
        ui.add_space(TIGHT);
    }
    let words = "In either direction the same wheels join the same rails: what decides is which way round it stands, and \
                 that is named where it matters.";
    ui.add(Label::new(small(ui, words)).wrap());
}

fn pass_ui(ui: &mut Ui, model: &Model, pass: &PassReport, commands: &mut Vec<Command>) {
    let t = tokens(ui);
    let who = match (pass.train, pass.vehicle) {
        (Some(train), _) => Who::Train(train),
        (None, Some(vehicle)) => Who::Vehicle(vehicle),
        (None, None) => Who::StandIn,
    };
    let name = model.who(who);
    ui.horizontal_wrapped(|ui| {
        mark_ui(ui, pass.verdict, 7.0);
        ui.label(strong(pass.verdict.plain()).color(t.verdict(pass.verdict)));
        let button = ui.button(names::capital(&name)).on_hover_text("Stands it over the gap");
        if let (true, Some(scene)) = (button.clicked(), model.scene) {
            commands.push(super::stage::stand_best(scene, who, faces(pass.facing)));
        }
    });
    for words in pass_words(model, pass) {
        ui.add(Label::new(small(ui, words)).wrap());
    }
}

/// A facing of the report on the ruler.
fn faces(facing: Facing) -> crate::straddle::contacts::Facing {
    match facing {
        Facing::AToB => crate::straddle::contacts::Facing::FrontAhead,
        Facing::BToA => crate::straddle::contacts::Facing::RearAhead,
    }
}

/// How a vehicle passes: span of the straddle, trips at its speeds, wheels that must touch.
fn pass_words(model: &Model, pass: &PassReport) -> Vec<String> {
    let mut lines = Vec::new();
    let length = model.units.mm(pass.straddle_mm);
    lines.push(format!("Straddles the gap for {length}."));
    let at = |pass: &PassAt| match (pass.speed_mm_s, pass.time_s) {
        (Some(speed), Some(time)) => {
            let trips = trips_words(pass.trips, pass.trips_share);
            format!("{}/s, {} over the gap: {trips}", model.units.mm(speed), ms(time))
        }
        _ => format!("Standing there: {}", trips_words(pass.trips, pass.trips_share)),
    };
    if pass.slow.speed_mm_s == pass.fast.speed_mm_s {
        lines.push(format!("{}. {}.", at(&pass.slow), at(&pass.standing)));
    } else {
        lines.push(format!("{}. {}. {}.", at(&pass.slow), at(&pass.fast), at(&pass.standing)));
    }
    let fewest = pass.wheels.iter().flatten().copied().min().unwrap_or(0);
    if fewest == 1 {
        lines.push("On some rail a single wheel makes the joint: it breaks where that wheel does not touch.".to_owned());
    } else if fewest > 1 {
        lines.push(format!("At least {fewest} wheels stand on each rail that it joins."));
    }
    if let Some(stall) = pass.stall_mm.filter(|stall| *stall > 0.0) {
        lines.push(format!("For {} it closes no circuit and stalls.", model.units.mm(stall)));
    }
    lines
}

fn trips_words(trips: Trips, share: f64) -> String {
    match trips {
        Trips::No => "no trip acts".to_owned(),
        Trips::Sometimes => format!("a trip acts sometimes, in {} of passes", percent(share)),
        Trips::Yes => "a trip acts".to_owned(),
    }
}
