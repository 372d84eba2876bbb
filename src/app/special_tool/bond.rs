//! Bonding rails.

use eframe::egui::Ui;

use crate::app::form::{FROM_ZERO, Form, MM};
use crate::app::theme::{SPACE, heading};
use crate::app::tools::{action, caution_ui};
use crate::app::{App, names};
use crate::layout::edit::{Edit, Entity};
use crate::layout::{Bond, BondId, Rail, RunId, Spot};

/// State of the tool that bonds rails.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BondTool {
    /// The place that was clicked first.
    pub from: Option<Spot>,
    /// Typed places: run, distance, rail.
    pub typed: [(Option<RunId>, f64, Rail); 2],
}

impl Default for BondTool {
    fn default() -> Self {
        Self { from: None, typed: [(None, 0.0, Rail::Left), (None, 0.0, Rail::Left)] }
    }
}

impl App {
    /// Bonds two places.
    pub fn bond(&mut self, from: Spot, to: Spot) {
        let bond = Bond { id: BondId(0), from, to };
        let made = self.edit("bond two rails", Edit::Add(Entity::Bond(bond)));
        if let Some(id) = made.and_then(|made| made.last().copied()) {
            self.selection = vec![id];
        }
    }

    /// A click with the tool that bonds.
    pub fn bond_click(&mut self, spot: Spot) {
        match self.tools.bond.from.take() {
            Some(from) => self.bond(from, spot),
            None => self.tools.bond.from = Some(spot),
        }
    }
}

/// The form of the tool that bonds.
pub fn bond_ui(ui: &mut Ui, app: &mut App) {
    let runs: Vec<(Option<RunId>, String)> =
        app.run_choices().into_iter().map(|(id, words)| (Some(id), words)).collect();
    let rails = [(Rail::Left, "Left rail".to_owned()), (Rail::Right, "Right rail".to_owned())];
    if let Some(from) = app.tools.bond.from {
        ui.label(format!("From {}. Click where it goes to.", names::spot_words(app, from)));
    }
    let mut typed = app.tools.bond.typed;
    ui.label(heading("By numbers"));
    for (word, (run, at_mm, rail)) in ["From", "To"].into_iter().zip(&mut typed) {
        let mut form = Form::new(ui, format!("Bond {}", word.to_lowercase())).label_width(64.0);
        form.choice(&format!("{word} run"), run, &runs);
        form.number("At", at_mm, MM, FROM_ZERO);
        form.choice("Rail", rail, &rails);
    }
    app.tools.bond.typed = typed;
    let spot =
        |(run, at_mm, rail): (Option<RunId>, f64, Rail)| run.map(|run| Spot { run, at_mm, rail });
    let both = spot(typed[0]).zip(spot(typed[1]));
    if action(ui, "Bond them", both.is_some())
        && let Some((from, to)) = both
    {
        app.bond(from, to);
    }
    ui.add_space(SPACE);
    caution_ui(
        ui,
        "A bond joins two rails for good. Soldering: power off, good air, and a heat sink on plastic sleepers.",
    );
}
