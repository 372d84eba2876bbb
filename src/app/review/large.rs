//! One finding in letters that a room can read.

use eframe::egui::{FontFamily, Label, RichText, Ui, vec2};

use super::super::findings::cause;
use super::super::marks::mark_ui;
use super::super::theme::{bold, tokens};
use super::cure::Cure;
use super::model::{Item, Model};
use crate::findings::{Class, Text, state_words, weight};
use crate::layout::{capital, shown};
use crate::report::{amps, times};

/// Size of letters of which a capital is 1/200 of the distance of the last row, points at the usual size.
const BODY: f32 = 12.0;
/// Sizes of the number and the headline against those.
const NUMBER: f32 = 1.7;
const HEADLINE: f32 = 1.12;

/// Letters of the view.
pub(super) struct Letters {
    pub factor: f32,
}

impl Letters {
    /// Text in the size of the body.
    pub fn body(&self, text: impl Into<String>) -> RichText {
        RichText::new(text).size(BODY * self.factor)
    }

    /// The same in bold.
    pub fn strong(&self, text: impl Into<String>) -> RichText {
        self.body(text).family(bold())
    }

    fn sized(&self, text: impl Into<String>, by: f32, family: FontFamily) -> RichText {
        RichText::new(text).size(BODY * self.factor * by).family(family)
    }
}

/// The same text with each number kept on one line with what follows it: "13 A".
fn together(text: &str) -> String {
    let mut kept = String::with_capacity(text.len());
    let mut before = ' ';
    for c in text.chars() {
        kept.push(if c == ' ' && before.is_ascii_digit() { '\u{a0}' } else { c });
        before = c;
    }
    kept
}

/// The finding that is shown.
pub(super) fn large_ui(ui: &mut Ui, model: &Model) {
    let Some(item) = model.item() else { return };
    let letters = Letters { factor: model.factor };
    ui.spacing_mut().item_spacing = vec2(8.0, 4.0 * model.factor);
    number_ui(ui, &letters, item);
    let cause = together(&capital(cause(&item.words.says)));
    ui.add(Label::new(letters.sized(cause, HEADLINE, bold())).wrap());
    ui.separator();
    decision_ui(ui, &letters, item);
    lineup_ui(ui, &letters, model, item);
    cure_ui(ui, &letters, model, item.words);
    if !item.words.why.is_empty() {
        ui.separator();
        ui.add(Label::new(letters.body(together(&item.words.why))).wrap());
    }
}

/// The number, the verdict and the place.
fn number_ui(ui: &mut Ui, letters: &Letters, item: &Item) {
    let t = tokens(ui);
    let fault = item.finding.class == Class::Fault;
    let colour = if fault { t.verdict(item.finding.verdict) } else { t.text };
    ui.horizontal_wrapped(|ui| {
        if fault {
            mark_ui(ui, item.finding.verdict, 6.0 * letters.factor);
        }
        let situation = item.finding.situation().filter(|_| item.finding.class != Class::Note);
        let peak = situation.map(|s| s.peak_a()).filter(|amps| *amps > 0.0);
        let words = match peak {
            Some(peak) => together(&format!("{}, {}", capital(weight(item.finding)), amps(peak))),
            None => capital(weight(item.finding)),
        };
        ui.label(letters.sized(words, NUMBER, bold()).color(colour));
    });
    let place = match item.finding.places.len() {
        0 | 1 => item.place.clone(),
        2 => format!("{} and 1 more place", item.place),
        n => format!("{} and {} more places", item.place, n - 1),
    };
    ui.add(Label::new(letters.body(place).color(t.weak)).wrap());
}

/// The cheapest cure and what it leaves, or the advice.
fn cure_ui(ui: &mut Ui, letters: &Letters, model: &Model, words: &Text) {
    match &model.view.cure {
        Cure::Unknown => {}
        Cure::Searching => {
            ui.horizontal(|ui| {
                ui.spinner();
                ui.label(letters.body("Looking for cures."));
            });
            ui.ctx().request_repaint();
        }
        Cure::None(why) => {
            ui.label(letters.strong("No proved cure"));
            ui.add(Label::new(letters.body(why)).wrap());
            for line in &words.advice {
                let numbered = line.starts_with(|c: char| c.is_ascii_digit());
                let line = if numbered { line.clone() } else { format!("• {line}") };
                ui.add(Label::new(letters.body(line)).wrap());
            }
        }
        Cure::First(first) => {
            ui.label(letters.strong(format!("Cure, proved: {} min", first.plan.minutes)));
            for line in &first.plan.says {
                ui.add(Label::new(letters.body(line)).wrap());
            }
            let after = match first.others {
                0 => "After it, this finding is gone and no fault is new.".to_owned(),
                1 => "After it, this finding and 1 more are gone, and no fault is new.".to_owned(),
                n => format!("After it, this finding and {n} more are gone, and no fault is new."),
            };
            ui.add(Label::new(letters.body(after)).wrap());
            if !first.makes.is_empty() {
                let words = format!("New after it, as rules or notes: {}.", first.makes);
                ui.add(Label::new(letters.body(words)).wrap());
            }
            if let Some([before, after]) = first.margin {
                let words = format!(
                    "Current there: {} the trip before, {} after.",
                    times(1.0 - before),
                    times(1.0 - after)
                );
                ui.add(Label::new(letters.body(words)).wrap());
            }
            for line in &first.plan.also {
                ui.add(Label::new(letters.body(line.as_str())).wrap());
            }
            if first.more > 0 {
                let word = if first.more == 1 { "cure" } else { "cures" };
                let words = format!("{} more {word} in the list of findings.", first.more);
                ui.add(Label::new(letters.body(words).color(tokens(ui).weak)).wrap());
            }
        }
    }
}

/// The decision.
fn decision_ui(ui: &mut Ui, letters: &Letters, item: &Item) {
    let t = tokens(ui);
    let Some(decision) = item.decision else {
        ui.label(letters.body("Nothing is decided yet.").color(t.weak));
        return;
    };
    ui.add(Label::new(letters.strong(state_words(decision))).wrap());
    if !decision.decision.trim().is_empty() {
        ui.add(Label::new(letters.body(shown(decision.decision.trim()))).wrap());
    }
    if let Some(again) = &item.again {
        let warned = letters.strong(again).color(t.verdict(crate::findings::Verdict::Caution));
        ui.add(Label::new(warned).wrap());
    }
    if !decision.notes.trim().is_empty() {
        for line in decision.notes.trim().lines() {
            ui.add(Label::new(letters.body(shown(line)).color(t.weak)).wrap());
        }
    }
}

/// The finding in the lineup that was chosen for it.
fn lineup_ui(ui: &mut Ui, letters: &Letters, model: &Model, item: &Item) {
    let Some(id) = item.decision.and_then(|decision| decision.lineup) else { return };
    let Some(lineup) = model.lineups.iter().find(|lineup| lineup.id == id) else { return };
    let words = match model.view.lineup.words(&item.id) {
        Some(words) => words,
        None => "it is being worked out".to_owned(),
    };
    let name = lineup_name(lineup);
    ui.add(Label::new(letters.body(format!("In {name} {words}."))).wrap());
}

/// The name of a lineup, or what it is called without one.
pub(super) fn lineup_name(lineup: &crate::layout::Lineup) -> String {
    match lineup.name.trim() {
        "" => format!("lineup {}", lineup.id),
        name => shown(name).into_owned(),
    }
}
