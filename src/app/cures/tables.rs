//! Tables of a comparison: every train against every gap, and what the verdicts rest on.

use eframe::egui::{Grid, Label, ScrollArea, Ui};

use crate::app::marks::mark_ui;
use crate::app::theme::{SPACE, small, strong, tokens};
use crate::compare::{Cell, Crossings};
use crate::findings::Report;
use crate::job::Names;
use crate::layout::stated::{Alike, alike, stated};
use crate::layout::{Layout, and, shown};
use crate::rails::Plan;

/// Content of the tables.
pub struct Tables {
    crossings: Crossings,
    /// Names of what passes.
    passers: Vec<String>,
    /// The values of the layout after, those that are alike together.
    values: Vec<Alike>,
}

impl Tables {
    /// The tables of two layouts with their reports.
    pub fn of(layouts: [&Layout; 2], [old, new]: [&Report; 2]) -> Tables {
        let crossings = Crossings::of(old, new);
        let passers = crossings.passers.iter().map(|passer| passer.name(layouts)).collect();
        let plan = Plan::derive(layouts[1]);
        let names = Names { layout: layouts[1], plan: &plan };
        let mut values = alike(&stated(layouts[1]), |id| names.thing(id));
        // Assumed values come first: a meter can replace them.
        values.sort_by_key(|value| !value.source.starts_with("assumed"));
        Tables { crossings, passers, values }
    }
}

/// Every train against every gap.
pub(super) fn trains_ui(ui: &mut Ui, tables: &Tables, height: f32) {
    let crossings = &tables.crossings;
    ScrollArea::both().id_salt("trains").max_height(height).auto_shrink(false).show(ui, |ui| {
        let told = crossings.worth_telling().count();
        if told > 0 {
            Grid::new("trains at the gaps").striped(true).spacing([18.0, 8.0]).show(ui, |ui| {
                ui.label(small(ui, "with agreeing throttles"));
                for name in &tables.passers {
                    ui.label(strong(name));
                }
                ui.end_row();
                for row in crossings.worth_telling() {
                    ui.label(strong(&row.name));
                    for cell in &row.cells {
                        cell_ui(ui, *cell);
                    }
                    ui.end_row();
                }
            });
            ui.add_space(SPACE);
        }
        let clear = crossings.rows.len() - told;
        let more = if told > 0 { " more" } else { "" };
        let words = match clear {
            0 if told == 0 => "There is no gap.".to_owned(),
            0 => return,
            1 => format!("1{more} gap is clear for every train on both sides."),
            n => format!("{n}{more} gaps are clear for every train on both sides."),
        };
        ui.label(words);
    });
}

/// The verdicts of one train at one gap.
fn cell_ui(ui: &mut Ui, cell: [Cell; 2]) {
    let t = tokens(ui);
    ui.horizontal(|ui| {
        for (n, cell) in cell.into_iter().enumerate() {
            if n == 1 {
                ui.label("then");
            }
            match cell.verdict() {
                Some(verdict) => {
                    mark_ui(ui, verdict, 7.0);
                    ui.label(strong(cell.word()).color(t.verdict(verdict)));
                }
                None => drop(ui.label(small(ui, cell.word()))),
            }
        }
    });
}

/// The values that the verdicts rest on, with their sources.
pub(super) fn values_ui(ui: &mut Ui, tables: &Tables, height: f32) {
    ScrollArea::vertical().id_salt("values").max_height(height).auto_shrink(false).show(ui, |ui| {
        ui.label(small(
            ui,
            "Values of the layout on the right. A verdict that changes within the range of an assumed value is called not \
             known. The papers' findings say what else holds for every verdict.",
        ));
        for Alike { what, value, source, of } in &tables.values {
            let words = format!("{what}: {value}, {source}. {}", shown(&and(of)));
            ui.add(Label::new(words).wrap());
        }
    });
}
