//! The Gap view: one gap, large. What stands on it, what it joins, what flows then, and what it does over time.
//!
//! The view is a function of a borrowed [`Model`] that returns [`Command`]s; only `commands.rs` changes the window. What is
//! shown of the circuit is worked out once per change, in [`scene::Scene`].

mod branches;
mod break_even;
mod card;
mod commands;
mod export;
mod lines;
mod model;
mod passing;
mod path;
mod play;
mod readings;
mod rush;
mod scene;
mod shell;
mod stage;
mod suspects;
mod suspects_form;
mod symbols;
mod trial;
mod trying;
mod waves;

use std::rc::Rc;

use eframe::egui::Ui;

use super::App;
use crate::drive::SetWord;
use crate::layout::{CutId, EntityId};
use crate::straddle::contacts::Facing;
use crate::study::scope::Who;
use commands::Command;
use model::Model;
use scene::Scene;

/// State of the Gap view.
#[derive(Default)]
pub struct View {
    /// True while it is shown in place of the plan.
    pub shown: bool,
    /// The gap that it shows, or showed last.
    cut: Option<CutId>,
    /// How what stands there stands; `None` until one chooses, for what is worst at the settings that are shown.
    standing: Option<Standing>,
    /// The wheels that touched as one chose before the worst place was asked for.
    kept_touch: Option<[bool; 2]>,
    /// True if what the vehicle draws is in the traces and currents.
    loaded: bool,
    /// The pair of settings of the card that is shown; `None` for the settings now.
    cell: Option<(SetWord, SetWord)>,
    /// What one sees beside the stage, and below it.
    left: Left,
    below: Below,
    waves: waves::Waves,
    /// What rolls over the gap, while it does, and whether at its largest speed.
    play: Option<play::Play>,
    fast: bool,
    /// What is tried out on a copy, if anything is.
    trial: Option<trial::Trial>,
    scene: Option<Rc<Scene>>,
    break_even: Option<break_even::BreakEven>,
    /// The hunt for a fault.
    hunting: suspects::Hunting,
}

/// Content of the panel beside the stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Left {
    /// The card of the gap.
    #[default]
    Card,
    /// The controls to try things out with.
    Trying,
    /// The hunt for a fault.
    Suspects,
}

/// Content below the stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Below {
    /// Traces over time.
    #[default]
    Waves,
    /// The schematic at one moment.
    Path,
    /// The first milliseconds after the wheels join the rails.
    Rush,
}

/// What stands at the gap, and how.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Standing {
    who: Who,
    facing: Facing,
    lead_mm: f64,
    touch: [bool; 2],
}

impl View {
    /// The gap that is looked at.
    fn gap(&self) -> Option<CutId> {
        self.cut
    }

    /// Closes what is open on top: the question for a file, else the view.
    pub fn close_topmost(&mut self) {
        if self.waves.export.take().is_none() {
            self.shown = false;
        }
    }

    /// Shows a pair of settings of the card; `None` for those now.
    fn show_cell(&mut self, cell: Option<(SetWord, SetWord)>) {
        self.cell = cell;
        (self.standing, self.play) = (None, None);
    }

    /// Shows another gap from its start.
    fn turn_to(&mut self, cut: CutId) {
        if self.cut != Some(cut) {
            let View { shown, loaded, left, below, fast, .. } = *self;
            // What is tried out is so at every gap.
            let trial = self.trial.take();
            let hunting = std::mem::take(&mut self.hunting);
            *self = View { shown, loaded, left, below, fast, trial, hunting, ..View::default() };
            self.cut = Some(cut);
        }
    }
}

impl App {
    /// Shows the settings as they are now, if others are looked at.
    pub(super) fn gap_as_set_now(&mut self) {
        self.gap.show_cell(None);
    }

    /// Shows a gap in the Gap view.
    pub(super) fn look_at_gap(&mut self, cut: CutId) {
        self.show_gap(Some(cut));
    }

    /// Shows the Gap view with a gap, or without any.
    fn show_gap(&mut self, cut: Option<CutId>) {
        if self.presenting {
            self.present(false);
        }
        match cut {
            Some(cut) => self.gap.turn_to(cut),
            None => self.gap.cut = None,
        }
        self.gap.shown = true;
        self.drag = None;
    }

    /// Shows the Gap view, or the plan again. The gap is the one that is selected, else the one shown last, else the
    /// first.
    pub(super) fn plan_or_gap(&mut self) {
        if self.gap.shown {
            self.gap.shown = false;
            return;
        }
        let cuts = &self.doc.layout().cuts;
        let selected = match self.selection.as_slice() {
            [EntityId::Cut(cut)] => Some(*cut),
            _ => None,
        };
        let last = self.gap.cut.filter(|cut| cuts.contains_key(cut));
        let cut = selected.or(last).or(cuts.keys().next().copied());
        self.show_gap(cut);
    }
}

/// The view in place of the plan and its panels.
pub fn gap_view_ui(ui: &mut Ui, app: &mut App) {
    trial::update(app, app.settings.units());
    play::update(app, ui.ctx());
    scene::update(app);
    suspects::update(app, ui.ctx());
    let commands: Vec<Command> = shell::view_ui(ui, &Model::of(app));
    let any = !commands.is_empty();
    for command in commands {
        commands::carry_out(app, ui.ctx(), command);
    }
    if any {
        ui.ctx().request_repaint();
    }
}
