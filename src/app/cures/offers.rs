//! The cures of the finding that is open, and the button for all faults.

use eframe::egui::{Align, Label, Layout as Flow, Margin, Ui};

use super::search::{Question, Said};
use super::{Command, Plan};
use crate::app::App;
use crate::app::theme::{TIGHT, card, small, strong, tokens};
use crate::cure::Offer;
use crate::findings::{Class, Finding, titles};

/// The cures of a finding.
pub fn offers_ui(ui: &mut Ui, app: &mut App, finding: &Finding) {
    let mut commands = Vec::new();
    let revision = app.doc.revision();
    // The report on the screen may be one edit old for a moment.
    if !app.check.is_current(revision) {
        return;
    }
    let said = app.cures.of(revision, app.doc.layout(), &finding.id());
    match said {
        Said::Searching => {
            ui.horizontal(|ui| {
                ui.spinner();
                ui.label("Looking for cures.");
                if ui.button("Stop looking").clicked() {
                    commands.push(Command::Stop);
                }
            });
            ui.ctx().request_repaint();
        }
        Said::Nothing(None) => drop(ui.label(small(ui, "The search for cures was stopped."))),
        Said::Nothing(Some(why)) => {
            ui.label(format!(
                "The search for cures broke down: {why}. Save the layout and report it."
            ));
        }
        Said::Offers(offers) => {
            if offers.offers.is_empty() {
                ui.label(strong("No proved cure"));
                let why = offers.no_cure.as_ref().map(crate::cure::NoCure::says);
                ui.add(Label::new(why.unwrap_or_default()).wrap());
            } else {
                ui.label(strong("Cures, each proved")).on_hover_text(
                    "Each was made on a copy of the layout and checked: this finding is gone and nothing is worse anywhere.",
                );
                for (n, offer) in offers.offers.iter().enumerate() {
                    offer_ui(ui, n, offer, finding, &mut commands);
                }
            }
        }
    }
    app.cure(commands);
}

fn offer_ui(ui: &mut Ui, n: usize, offer: &Offer, finding: &Finding, commands: &mut Vec<Command>) {
    let t = tokens(ui);
    card(t).inner_margin(Margin::same(8)).show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.horizontal(|ui| {
            ui.label(strong(format!("{} min", offer.work.minutes)));
            ui.label(small(ui, needs_words(offer)));
            ui.with_layout(Flow::right_to_left(Align::Center), |ui| {
                let says = offer.says.join(" ");
                if named(ui, "Apply", &format!("Apply cure {}: {says}", n + 1)) {
                    commands.push(Command::Apply(Plan::of(offer)));
                }
                if named(ui, "Try it", &format!("Try cure {}: {says}", n + 1)) {
                    commands.push(Command::Try(Plan::of(offer)));
                }
            });
        });
        for line in &offer.says {
            ui.add(Label::new(line).wrap());
        }
        let others = offer.ends.iter().filter(|id| **id != finding.id()).count();
        if others > 0 {
            let s = if others == 1 { "" } else { "s" };
            ui.label(small(ui, format!("It ends {others} more finding{s}.")));
        }
        if !offer.makes.is_empty() {
            ui.label(small(
                ui,
                format!("New after it, as rules or notes: {}.", titles(&offer.makes).join(", ")),
            ));
        }
        for line in &offer.also {
            ui.add(Label::new(small(ui, *line)).wrap());
        }
    });
    ui.add_space(TIGHT);
}

/// A button with a longer name for those who hear it.
fn named(ui: &mut Ui, word: &str, name: &str) -> bool {
    let button = ui.button(word);
    button
        .widget_info(|| eframe::egui::WidgetInfo::labeled(eframe::egui::Role::Button, true, name));
    button.clicked()
}

fn needs_words(offer: &Offer) -> String {
    format!("takes: {}", offer.work.needs.word())
}

/// Progress of a comparison; else the button that cures all faults, if there are any.
pub fn all_ui(ui: &mut Ui, app: &mut App) {
    let revision = app.doc.revision();
    let mut commands = Vec::new();
    if let Some(question) = app.cures.prepares(revision) {
        let words = match question {
            Question::All => "Looking for the cheapest set of cures.",
            Question::Cuts => "Planning the cuts.",
            Question::Design(..) => "Comparing the designs.",
            Question::Of(_) | Question::Try(_) => "Working out before and after.",
        };
        ui.horizontal(|ui| {
            ui.spinner();
            ui.label(words);
            if ui.button("Stop looking").clicked() {
                commands.push(Command::Stop);
            }
        });
        ui.ctx().request_repaint();
    } else {
        let mut findings = app.check.latest.report.findings.iter();
        let is_fault = findings.any(|f| f.class == Class::Fault);
        let help = "Looks for the cheapest set of changes that ends all faults, and shows it before and after";
        if is_fault
            && app.check.is_current(revision)
            && ui.button("Cure all faults…").on_hover_text(help).clicked()
        {
            commands.push(Command::TryAll);
        }
    }
    app.cure(commands);
}
